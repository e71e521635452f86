"""Editions that kept interpretations rest on must stay; what merely lay beside them may go."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from service.catalog.catalog import load_catalog
from service.catalog.errors import CatalogError
from service.desk.callers import OPEN_CALLER
from service.desk.editions import hold_editions, lost_editions
from service.desk.issue import issue
from service.desk.office import Office

ROOT = Path(__file__).resolve().parents[2]
ADDED = ROOT / "tests" / "plugin" / "hardpan_tables" / "crops"
HOPS = {
    "sample": {"depth": {"top": 0, "bottom": 12, "unit": "in"}},
    "results": [{"analyte": "P", "method": "olsen", "value": 8, "unit": "mg/kg"}],
    "target": {"crop": "hop"},
    "options": {"as_of": "2026-04-20"},
}
APPLE = {**HOPS, "target": {"crop": "apple"}}


@pytest.fixture
def with_hops(office: Office) -> Office:
    """The office with the folder of another county beside the shipped one."""
    return replace(office, catalog=load_catalog([ROOT / "crops", ADDED]))


def test_what_a_kept_interpretation_used_must_stay(with_hops: Office, office: Office) -> None:
    """The crop, its classes and its rates are missed; each is named with its edition."""
    issue(OPEN_CALLER, json.dumps(HOPS).encode(), with_hops)
    assert list(lost_editions(with_hops.catalog, with_hops.records)) == []
    lost = {tuple(item) for item in lost_editions(office.catalog, with_hops.records)}
    names = {"hop", "ratings-hardpan", "amounts-hardpan", "calibrations-hardpan"}
    assert {("hop", "2026-01-01"), ("ratings-hardpan", "2026-01-01")} <= lost
    assert {name for name, _ in lost} <= names
    with pytest.raises(CatalogError, match="hop: edition 2026-01-01 is gone, but kept interpretations rest on it"):
        hold_editions(office.catalog, with_hops.records)


def test_what_nobody_used_may_go(with_hops: Office, office: Office) -> None:
    """An apple was judged while the hop's folder lay beside: the folder may be taken away again."""
    issue(OPEN_CALLER, json.dumps(APPLE).encode(), with_hops)
    lost = {item.id for item in lost_editions(office.catalog, with_hops.records)}
    assert not lost & {"hop", "ratings-hardpan", "amounts-hardpan"}


def test_an_edition_of_a_shipped_table_must_stay_though_a_newer_one_exists(office: Office, tmp_path: Path) -> None:
    """A new edition does not stand for the one that was used."""
    issue(OPEN_CALLER, json.dumps(APPLE).encode(), office)
    copy = tmp_path / "crops"
    shutil.copytree(ROOT / "crops", copy, ignore=shutil.ignore_patterns("editions.csv"))
    table = copy / "_shared" / "classes"
    (table / "2025-01-01.csv").rename(table / "2026-03-01.csv")
    assert [tuple(item) for item in lost_editions(load_catalog([copy]), office.records)] == [("classes", "2025-01-01")]


def test_an_empty_database_misses_nothing(make_office: Callable[[], Office]) -> None:
    office = make_office()
    hold_editions(office.catalog, office.records)
