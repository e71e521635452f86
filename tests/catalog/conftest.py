"""A copy of the shipped tables that a test may spoil, and small ways of changing one file of it."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
Change = Callable[[str, str, str], Path]


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The shipped tables, without the list of released editions."""
    folder = tmp_path / "crops"
    shutil.copytree(ROOT / "crops", folder, ignore=shutil.ignore_patterns("editions.csv"))
    return folder


@pytest.fixture
def change(copy: Path) -> Change:
    """Replaces a text that must stand in a file of the copy."""

    def replace(file: str, old: str, new: str) -> Path:
        path = copy / file
        text = path.read_text("utf-8")
        assert old in text, f"{old!r} does not stand in {file}"
        path.write_text(text.replace(old, new, 1), "utf-8")
        return path

    return replace
