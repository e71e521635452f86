"""An office with a database of its own and a clock that tests may set."""

from collections.abc import Iterator
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
def office(tmp_path: Path, catalog: Catalog, texts: Catalogue) -> Iterator[Office]:
    """An office on the morning of 20 April 2026."""
    url = f"sqlite:///{tmp_path / 'saltbush.db'}"
    migrate(url, shipped("migrations"))
    store = Store(url)
    yield Office(catalog, "engine-1", store, texts, now=lambda: MOMENT)
    store.close()
