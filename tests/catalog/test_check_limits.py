"""A folder of one's own may bring a stricter cap; one that would raise a shared hard cap is refused by the check."""

from datetime import date
from pathlib import Path

import pytest

from service.agronomy.caps import Caps
from service.catalog.catalog import load_catalog
from service.catalog.check import check_catalog
from service.catalog.errors import Fault

HEADER = "limit,subject,uses,stages,when,per,maximum,unit,hard,action,sources,place,verification,note\n"
OWN = "our_{name},{subject},{uses},,{when},{per},{maximum},{unit},{hard},refuse,practice,,practice,\n"
SHIPPED = "_shared/application-limits/2025-01-01.csv"


def add(folder: Path, **row: object) -> Path:
    """A table of one's own beside the shipped one, with one row more."""
    table = folder / "_shared" / "limits-ours"
    table.mkdir(exist_ok=True)
    about = 'title = "Ours"\npurpose = "Caps of our own"\nrows = "limit"\nextends = "application-limits"\n'
    (table / "about.toml").write_text(about, "utf-8")
    given = {"name": "cap", "uses": "", "when": "", "hard": "true"} | row
    path = table / "2025-01-01.csv"
    path.write_text(HEADER + OWN.format(**given), "utf-8")
    return path


def raised(folder: Path) -> list[Fault]:
    return [fault for fault in check_catalog(load_catalog([folder])) if "raises the hard cap" in fault.wrong]


def test_a_looser_cap_is_refused_at_its_place(copy: Path) -> None:
    """The shipped cap on phosphate is 300 lb/acre and year."""
    path = add(copy, subject="P2O5", per="year", maximum=301, unit="lb/acre")
    (fault,) = raised(copy)
    assert (fault.file, fault.line, fault.column) == (path, 2, "maximum")
    assert "p2o5_year" in fault.wrong


@pytest.mark.parametrize(
    "row",
    [
        {"subject": "P2O5", "per": "year", "maximum": 300, "unit": "lb/acre"},
        {"subject": "P2O5", "per": "year", "maximum": 6.8, "unit": "lb/1000 ft2"},
        {"subject": "P2O5", "per": "application", "maximum": 400, "unit": "lb/acre"},
        {"subject": "N", "per": "year", "maximum": 5, "unit": "lb/1000 ft2", "uses": "lawn"},
        {"subject": "N", "per": "year", "maximum": 200, "unit": "g/tree", "uses": "fruit"},
        {"subject": "Mn", "per": "once", "maximum": 40, "unit": "lb/acre"},
    ],
)
def test_a_stricter_cap_or_one_on_something_else_is_welcome(copy: Path, row: dict[str, object]) -> None:
    add(copy, **row)
    assert raised(copy) == []


def test_a_shared_limit_is_not_redefined(copy: Path) -> None:
    path = add(copy, subject="N", per="year", maximum=1, unit="lb/1000 ft2", hard="false")
    path.write_text(path.read_text("utf-8").replace("our_cap", "n_lawn_year"), "utf-8")
    assert [fault.line for fault in raised(copy)] == [2]


def test_an_added_cap_never_loosens(copy: Path) -> None:
    """Even unchecked: every hard row holds by itself, so a looser one beside it changes nothing."""
    add(copy, subject="P2O5", per="year", maximum=9000, unit="lb/acre")
    caps = load_catalog([copy]).library(date(2026, 4, 20)).index(Caps.of).by_subject["P2O5"]
    assert {cap.printed.value for cap in caps} >= {300, 9000}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("year,300,lb/acre,true", "year,300,lb/acre,false", "missing or no longer hard"),
        ("p2o5_year,", "phosphate_year,", "missing or no longer hard"),
        ("year,300,lb/acre,true", "year,400,lb/acre,true", "raises the hard cap"),
        ("p2o5_year,P2O5,", "p2o5_year,K2O,", "subject of a hard cap is no longer 'P2O5'"),
        ("p2o5_year,P2O5,,", "p2o5_year,P2O5,lawn,", "uses of a hard cap is no longer ''"),
        ("n_lawn_year,N,lawn|turf,", "n_lawn_year,N,lawn,", "uses of a hard cap is no longer 'lawn|turf'"),
        ("p2o5_year,P2O5,,,", "p2o5_year,P2O5,,dormant,", "stages of a hard cap is no longer ''"),
        ("p2o5_year,P2O5,,,,", "p2o5_year,P2O5,,,seed_row,", "when of a hard cap is no longer ''"),
        ("p2o5_year,P2O5,,,,year,", "p2o5_year,P2O5,,,,application,", "per of a hard cap is no longer 'year'"),
        ("p2o5_year,P2O5,,,,year,300,lb/acre", "p2o5_year,P2O5,,,,year,300,lb/tree", "measures something else"),
        ("p2o5_year,P2O5,,,,year,300,lb/acre", "p2o5_year,P2O5,,,,year,300,lb/1000 ft2", "raises the hard cap"),
    ],
)
def test_no_edition_loses_a_cap(copy: Path, old: str, new: str, said: str) -> None:
    """So no pin of an edition, old or new, finds a table without it."""
    shipped = copy / SHIPPED
    later = shipped.with_name("2027-01-01.csv")
    text = shipped.read_text("utf-8")
    assert old in text
    later.write_text(text, "utf-8")
    before = {fault.wrong for fault in check_catalog(load_catalog([copy]))}
    later.write_text(text.replace(old, new), "utf-8")
    faults = [fault for fault in check_catalog(load_catalog([copy])) if fault.wrong not in before]
    assert any(said in fault.wrong and fault.file == later for fault in faults)
