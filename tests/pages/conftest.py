"""The pages on an application of their own, with the real words and the committed contract where there is one."""

import json
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog
from service.pages import blueprint
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def contract() -> dict[str, Any]:
    """The published contract."""
    found: dict[str, Any] = json.loads((ROOT / "openapi" / "openapi.json").read_text("utf-8"))
    return found


@pytest.fixture(scope="session")
def client(contract: dict[str, Any], library: Library, catalog: Catalog) -> FlaskClient:
    """A client of an application that has the pages and nothing else."""
    catalogue = Catalogue()
    words = {language: Words(language, catalogue, library.index(labels)[language]) for language in catalogue.languages}
    app = Flask(__name__, static_folder=None)
    pages = blueprint(words.__getitem__, lambda: contract, lambda: library, lambda: catalog, catalogue.languages)
    app.register_blueprint(pages)
    return app.test_client()
