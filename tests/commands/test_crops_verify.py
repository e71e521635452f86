"""From the work-list to a signed edition."""

import csv
import shutil
import tomllib
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from service.catalog.catalog import load_catalog
from service.catalog.worklist import WEIGHTS, worklist
from service.commands import main

ROOT = Path(__file__).resolve().parents[2]
FIRST, LATER = "2025-01-01", "2027-01-01"
TABLE = "ratings-colorado"
SIGNER = ["--by", "B. Second"]
READER = ["--by", "A. Reader", "--on", "2026-11-02", "--copy", "county library, printing of 2014"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("SALTBUSH_CROP_FOLDERS", raising=False)
    copied = tmp_path / "library"
    return Path(shutil.copytree(ROOT / "crops", copied, ignore=shutil.ignore_patterns("editions.csv")))


@pytest.fixture
def verify(folder: Path) -> Callable[..., int]:
    return lambda *arguments: main(["crops", "verify", *arguments, "--folder", str(folder)])


def line_of(folder: Path, start: str) -> str:
    lines = (folder / "_shared" / TABLE / f"{FIRST}.csv").read_text("utf-8").splitlines()
    return str(next(number for number, line in enumerate(lines, 1) if line.startswith(start)))


def test_worklist_puts_the_weightiest_first(folder: Path) -> None:
    """Weight is what rides on the row times the crops that use it; only rows not read in print are listed."""
    items = worklist(load_catalog([folder]))
    assert items
    assert [item.weight for item in items] == sorted((item.weight for item in items), reverse=True)
    assert {item.row.verification for item in items} <= {"memory", "practice"}
    assert all(item.weight == WEIGHTS[item.rides] * item.crops for item in items)
    assert items[0].rides == "cap or safety"
    classes = {item.row.table.id: item for item in items if item.rides == "ratings"}
    catalog = load_catalog([folder])
    users = [crop for crop in catalog.crops.values() if any(row.table.id == TABLE for row in crop.sufficiency)]
    assert 0 < classes[TABLE].crops <= len(users)


def test_worklist_as_a_spreadsheet(verify: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert verify("--table", TABLE, "--limit", "0", "--csv") == 0
    rows = list(csv.DictReader(capsys.readouterr().out.splitlines()))
    assert {row["table"] for row in rows} == {TABLE}
    assert all(row["line"].isdigit() and row["sources"] for row in rows)


def test_checks_make_a_signed_edition(
    folder: Path, verify: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    """A confirmed row is marked read; a corrected one has the printed figure; the old edition stays as it was."""
    low, medium = (
        line_of(folder, "colorado,field,P,olsen,mg/kg,low"),
        line_of(folder, "colorado,field,P,olsen,mg/kg,medium"),
    )
    high = line_of(folder, "colorado,field,P,olsen,mg/kg,high")
    before = (folder / "_shared" / TABLE / f"{FIRST}.csv").read_bytes()
    assert verify("record", TABLE, low, *READER) == 0
    assert verify("record", TABLE, medium, *READER, "--correct", "upper=16", "--note", "a slip of memory") == 0
    assert verify("record", TABLE, high, *READER, "--correct", "lower=16") == 0
    listed = [item.row.line for item in worklist(load_catalog([folder])) if item.row.table.id == TABLE]
    assert not {int(low), int(medium), int(high)} & set(listed)

    assert verify("sign", TABLE, "--edition", LATER, *SIGNER) == 0
    signed = tomllib.loads((folder / "_shared" / TABLE / f"{LATER}.signed.toml").read_text("utf-8"))
    assert (signed["by"], signed["alone"]) == ("B. Second", False)
    catalog = load_catalog([folder])
    rows = {row.line: row for row in catalog.tables[TABLE].editions[LATER][1]}
    old = {row.line: row for row in catalog.tables[TABLE].editions[FIRST][1]}
    assert (folder / "_shared" / TABLE / f"{FIRST}.csv").read_bytes() == before
    assert {rows[int(line)].verification for line in (low, medium, high)} == {"read"}
    assert (rows[int(medium)].upper, old[int(medium)].upper) == (16, 15)  # type: ignore[attr-defined]
    assert rows.keys() == old.keys()
    untouched = [line for line in rows if str(line) not in (low, medium, high)]
    assert {rows[line].verification for line in untouched} == {old[line].verification for line in untouched}

    written = (folder / "CHANGES.md").read_text("utf-8")
    entry = written[written.index(f"## {LATER}") : written.index("## 2025-01-01")]
    assert "3 rows checked by A. Reader on 2026-11-02 in county library, printing of 2014." in entry
    assert "Signed by B. Second." in entry
    assert f"Line {medium}: upper corrected to 16. a slip of memory" in entry
    assert "15–16 ppm (Colorado): was high, now medium." in entry
    assert catalog.library(date(2026, 12, 31)).editions[TABLE].edition == FIRST
    assert catalog.library(date(2027, 1, 1)).editions[TABLE].edition == LATER
    capsys.readouterr()
    assert verify("sign", TABLE, "--edition", "2028-01-01", *SIGNER) == 1
    assert "nothing new was checked" in capsys.readouterr().err


def test_nobody_signs_the_own_check_within_a_day(
    folder: Path, verify: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    """Dual control, as for the release of a class (OWASP API6:2023: no approval of one's own work)."""
    low = line_of(folder, "colorado,field,P,olsen,mg/kg,low")
    copy = ["--copy", "county library, printing of 2014"]
    yesterday, before = ((date.today() - timedelta(days=days)).isoformat() for days in (1, 2))
    assert verify("record", TABLE, low, "--by", "A. Reader", "--on", yesterday, *copy) == 0
    assert verify("sign", TABLE, "--edition", LATER, "--by", "a. reader ") == 1
    assert "somebody else has to sign" in capsys.readouterr().err
    checks = folder / "_shared" / TABLE / f"{FIRST}.checks.csv"
    checks.write_text(checks.read_text("utf-8").replace(yesterday, before), "utf-8")
    assert verify("sign", TABLE, "--edition", LATER, "--by", "A. Reader") == 0
    assert "Signed by A. Reader, alone a day after the own check." in (folder / "CHANGES.md").read_text("utf-8")
    signed = tomllib.loads((folder / "_shared" / TABLE / f"{LATER}.signed.toml").read_text("utf-8"))
    assert signed["alone"] is True


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("record", "no-such-table", "2", *READER), "no shared table"),
        (("record", TABLE, "9999", *READER), "no row on line 9999"),
        (("record", TABLE, "2", *READER, "--correct", "uper=3"), "'uper' is no column"),
        (("record", TABLE, "2", *READER, "--correct", "upper=three"), "upper cannot be 'three'; expected a number"),
        (("record", TABLE, "2", *READER, "--correct", "upper"), "write it as upper=18"),
        (("record", TABLE, "2", *READER, "--correct", "verification=read"), "no column to correct"),
        (("record", TABLE, "2", *READER, "--correct", "sources=made-up"), "'made-up' is no source"),
        (("record", "words", "2", *READER), "names no printed work"),
        (("sign", TABLE, "--edition", LATER, *SIGNER), "nothing new was checked"),
    ],
)
def test_what_cannot_be_recorded_says_why(
    verify: Callable[..., int], folder: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], why: str
) -> None:
    """Status 1, and nothing is written."""
    assert verify(*arguments) == 1
    assert why in capsys.readouterr().err
    assert list(folder.rglob("*.checks.csv")) == []


def test_a_row_that_changed_since_it_was_checked_is_not_signed(
    folder: Path, verify: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert verify("record", TABLE, "2", *READER) == 0
    path = folder / "_shared" / TABLE / f"{FIRST}.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join([lines[0], lines[2], lines[1], *lines[3:]]), "utf-8")
    capsys.readouterr()
    assert verify("sign", TABLE, "--edition", LATER, *SIGNER) == 1
    assert "line 2 is not the row that A. Reader checked on 2026-11-02" in capsys.readouterr().err


def test_a_correction_that_breaks_the_row_makes_no_edition(folder: Path, verify: Callable[..., int]) -> None:
    """A required cell cannot be corrected to blank."""
    assert verify("record", TABLE, "2", *READER, "--correct", "calibration=") == 0
    assert verify("sign", TABLE, "--edition", LATER, *SIGNER) == 1
    assert not (folder / "_shared" / TABLE / f"{LATER}.csv").exists()


def test_an_earlier_day_is_refused(verify: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert verify("record", TABLE, "2", *READER) == 0
    assert verify("sign", TABLE, "--edition", "2024-01-01", *SIGNER) == 1
    assert f"must be later than {FIRST}" in capsys.readouterr().err
