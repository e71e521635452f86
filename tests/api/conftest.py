"""The whole application on a database of its own."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.catalog.catalog import Catalog
from service.desk.engine import engine_id
from service.desk.office import Office
from service.render.catalogue import Catalogue
from service.settings import Settings, shipped
from service.store.migrate import migrate
from service.store.store import Store


@pytest.fixture(scope="session")
def office_of_all(catalog: Catalog) -> Office:
    """Tables and words, read once; no database."""
    return Office(catalog, engine_id(), None, Catalogue())


@pytest.fixture
def app(tmp_path: Path, office_of_all: Office) -> Iterator[Flask]:
    """The application with an empty database."""
    settings = Settings(data=tmp_path)
    migrate(settings.database_url, shipped("migrations"))
    store = Store(settings.database_url)
    yield create_app(settings, replace(office_of_all, store=store))
    store.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client on this machine."""
    return app.test_client()
