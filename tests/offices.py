"""Offices with databases of their own and a clock that tests may set."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from databases import Databases

from service.catalog.catalog import Catalog
from service.desk.office import Office
from service.render.catalogue import Catalogue
from service.store.store import Store

MOMENT = datetime(2026, 4, 20, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="session")
def texts() -> Catalogue:
    """All language catalogues."""
    return Catalogue()


def _offices(new_database: Callable[[], str], catalog: Catalog, texts: Catalogue) -> Iterator[Callable[[], Office]]:
    made: list[Store] = []

    def make() -> Office:
        made.append(Store(new_database()))
        return Office(catalog, "engine-1", made[-1], texts, now=lambda: MOMENT)

    yield make
    for store in made:
        store.close()


@pytest.fixture
def make_office(new_database: Callable[[], str], catalog: Catalog, texts: Catalogue) -> Iterator[Callable[[], Office]]:
    """Makes offices on the morning of 20 April 2026, each with an empty database: on SQLite, then on PostgreSQL."""
    yield from _offices(new_database, catalog, texts)


@pytest.fixture
def make_sqlite_office(tmp_path: Path, catalog: Catalog, texts: Catalogue) -> Iterator[Callable[[], Office]]:
    """The same on SQLite alone."""
    yield from _offices(Databases("sqlite", tmp_path), catalog, texts)


@pytest.fixture
def office(make_office: Callable[[], Office]) -> Office:
    """One such office."""
    return make_office()
