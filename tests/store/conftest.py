"""A migrated database of its own for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.settings import shipped
from service.store.migrate import migrate
from service.store.store import Store


@pytest.fixture
def url(tmp_path: Path) -> str:
    """A migrated SQLite file."""
    found = f"sqlite:///{tmp_path / 'saltbush.db'}"
    migrate(found, shipped("migrations"))
    return found


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """The store on it."""
    found = Store(url)
    yield found
    found.close()
