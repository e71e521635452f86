"""Strict reading: every kind of slip in a table file is named with file, line and column, and nothing is guessed."""

from pathlib import Path

import pytest

from service.agronomy.findings import EditionRef
from service.agronomy.tables import Band
from service.catalog.errors import Fault
from service.catalog.read import read_rows

REF = EditionRef("ratings-demo", "2025-01-01", "")
HEADER = "calibration,analyte,method,unit,rating,lower,upper,lower_inclusive,sources,place,verification"
GOOD = "demo,P,olsen,mg/kg,low,,8,true,one|two,table 1,read"


def read(folder: Path, *lines: str) -> tuple[list[Band], list[Fault]]:
    path = folder / "2025-01-01.csv"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    faults: list[Fault] = []
    return list(read_rows(path, Band, REF, faults)), faults  # type: ignore[arg-type]


def test_good_row_is_typed(tmp_path: Path) -> None:
    """Numbers, booleans, lists and blanks arrive as what the dataclass says, and the row knows its line."""
    rows, faults = read(tmp_path, HEADER, GOOD)
    assert faults == []
    assert rows[0].upper == 8.0
    assert rows[0].lower is None
    assert rows[0].lower_inclusive is True
    assert rows[0].sources == ("one", "two")
    assert rows[0].line == 2
    assert rows[0].table == REF


@pytest.mark.parametrize(
    ("lines", "column"),
    [
        ((HEADER.replace("upper,", "uper,"), GOOD), "uper"),
        ((HEADER.replace(",verification", ""), GOOD.replace(",read", "")), "verification"),
        ((HEADER, GOOD.replace(",8,", ",eight,")), "upper"),
        ((HEADER, GOOD.replace(",8,", ",nan,")), "upper"),
        ((HEADER, GOOD.replace("true", "yes")), "lower_inclusive"),
        ((HEADER, GOOD.replace(",read", ",seen")), "verification"),
        ((HEADER, GOOD.replace("one|two", "")), "sources"),
        ((HEADER, GOOD.replace("one|two", "one|")), "sources"),
        ((HEADER, GOOD.replace("olsen", " olsen")), "method"),
        ((HEADER, GOOD + ",extra"), None),
        ((HEADER, "demo,P"), None),
        ((HEADER.replace(",", ";"), GOOD.replace(",", ";")), None),
        ((HEADER + ",rating", GOOD + ",low"), None),
    ],
)
def test_slips_are_named(tmp_path: Path, lines: tuple[str, ...], column: str | None) -> None:
    """Each slip gives a fault with the file, the line, the column where there is one, and what is expected."""
    _, faults = read(tmp_path, *lines)
    assert faults, lines
    assert faults[0].column == column
    assert faults[0].file.name == "2025-01-01.csv"
    assert faults[0].line in (1, 2)
    assert faults[0].right


def test_what_a_spreadsheet_writes_is_read(tmp_path: Path) -> None:
    """A mark in front of the text, TRUE in capitals and rows of blanks are what common spreadsheets save."""
    rows, faults = read(tmp_path, "\ufeff" + HEADER, GOOD.replace("true", "TRUE"), "," * HEADER.count(","))
    assert faults == []
    assert [row.lower_inclusive for row in rows] == [True]
