"""The store on a migrated database of its own for each test, on SQLite and on PostgreSQL."""

from collections.abc import Iterator

import pytest

from service.store.store import Store


@pytest.fixture
def url(database_url: str) -> str:
    """A fresh database."""
    return database_url


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    """The store on it."""
    found = Store(database_url)
    yield found
    found.close()
