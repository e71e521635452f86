"""The house rules that a reader must be able to rely on."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "service"
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "service",
    "crops",
    "migrations",
    "tests",
    "openapi",
}
LONGEST_FILE = 400


def test_the_core_loads_no_framework() -> None:
    """A fresh interpreter that imports the core has loaded neither web framework, nor database, nor schemas."""
    heavy = ("flask", "sqlalchemy", "marshmallow", "babel", "orjson", "numpy")
    code = f"import service.agronomy.interpret, sys; print([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_imports_obey_the_floors() -> None:
    """The contract in pyproject.toml holds."""
    script = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_file_is_too_long() -> None:
    """No module of the package is longer than 400 lines."""
    sizes = {path.relative_to(ROOT): path.read_text("utf-8").count("\n") for path in SOURCE.rglob("*.py")}
    assert {path: size for path, size in sizes.items() if size > LONGEST_FILE} == {}


def test_top_level_holds_only_what_was_agreed() -> None:
    """Nothing but the agreed names stands at the top of the repository."""
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=True).stdout
    found = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in found if not name.startswith(".")} <= TOP_LEVEL
