"""An office with a database of its own and a clock that tests may set."""

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.catalog.catalog import Catalog
from service.desk.office import Office
from service.render.catalogue import Catalogue
from service.settings import shipped
from service.store.migrate import migrate
from service.store.store import Store

MOMENT = datetime(2026, 4, 20, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="session")
def texts() -> Catalogue:
    """All language catalogues."""
    return Catalogue()


@pytest.fixture
def make_office(tmp_path: Path, catalog: Catalog, texts: Catalogue) -> Iterator[Callable[[], Office]]:
    """Makes offices on the morning of 20 April 2026, each with an empty database."""
    blank = tmp_path / "blank.db"
    migrate(f"sqlite:///{blank}", shipped("migrations"))
    made: list[Store] = []

    def make() -> Office:
        path = tmp_path / f"saltbush-{len(made)}.db"
        shutil.copy(blank, path)
        made.append(Store(f"sqlite:///{path}"))
        return Office(catalog, "engine-1", made[-1], texts, now=lambda: MOMENT)

    yield make
    for store in made:
        store.close()


@pytest.fixture
def office(make_office: Callable[[], Office]) -> Office:
    """One such office."""
    return make_office()
