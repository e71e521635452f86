"""What all tests share: the shipped catalogue, read once, and the library in force on a fixed day."""

from datetime import date
from pathlib import Path

import pytest

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog, load_catalog

pytest_plugins = ["databases", "offices"]

ROOT = Path(__file__).resolve().parents[1]
DAY = date(2026, 4, 20)


@pytest.fixture(scope="session")
def catalog() -> Catalog:
    """Every shipped table and crop."""
    return load_catalog([ROOT / "crops"])


@pytest.fixture(scope="session")
def library(catalog: Catalog) -> Library:
    """The tables in force on 20 April 2026."""
    return catalog.library(DAY)
