"""The worked cases of every crop, run through the contract and the core as any submission is."""

from datetime import date

import pytest

from service.catalog.catalog import Catalog, load_catalog
from service.commands.crops_cases import run_cases
from service.settings import shipped

DAY = date(2026, 4, 20)
CROPS = sorted(path.name for path in shipped("crops").iterdir() if path.is_dir() and path.name != "_shared")


@pytest.fixture(scope="module")
def shipped_catalog() -> Catalog:
    return load_catalog([shipped("crops")])


@pytest.mark.parametrize("crop", CROPS)
def test_worked_cases_come_out(shipped_catalog: Catalog, crop: str) -> None:
    """Each crop has at least one case; its source stands in the case itself."""
    for edition in shipped_catalog.crop_editions[crop]:
        folder = shipped_catalog.files[crop, edition].folder
        assert [str(fault) for fault in run_cases(folder, crop, shipped_catalog, DAY)] == []
