"""Checks against print: who read which row in which copy, kept beside the edition, and the edition that they make.

``2025-01-01.checks.csv`` has one line for each row that was found as printed, and one for each cell that was not.
"""

import csv
import fcntl
import json
import os
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from service.agronomy.findings import EditionRef
from service.agronomy.tables import ROW_KINDS
from service.catalog.catalog import CHECKS, Catalog, Table
from service.catalog.errors import CatalogError, Fault
from service.catalog.read import TEXT, columns_of, digest, read_rows
from service.settings import PACKED

COLUMNS = ("line", "row", "by", "on", "copy", "column", "corrected_to", "note")
SIGNED = ".signed.toml"
ALONE = timedelta(days=2)
"""Checks bear a day and no hour: on the second day after, 24 hours have passed for certain."""
UNPRINTED = {"practice", "computed"}


class Check(NamedTuple):
    """One line: ``row`` is a fingerprint of the row as it stood; blank ``column`` means that all of it was right."""

    line: int
    row: str
    by: str
    on: str
    copy: str
    column: str = ""
    corrected_to: str = ""
    note: str = ""


class CheckError(Exception):
    """A check that cannot be recorded or an edition that cannot be made; its text says what would be right."""


def read_checks(folder: Path, edition: str) -> list[Check]:
    """The checks of one edition of a table, oldest first."""
    path = folder / f"{edition}{CHECKS}"
    if not path.exists():
        return []
    with path.open(encoding=TEXT, newline="") as stream:
        return [Check(int(raw["line"]), *(raw[name] for name in COLUMNS[1:])) for raw in csv.DictReader(stream)]


def checked_lines(folder: Path, edition: str) -> set[int]:
    """Lines of an edition that were checked."""
    return {check.line for check in read_checks(folder, edition)}


def record(table: Table, catalog: Catalog, check: Check, corrections: Mapping[str, str]) -> list[Check]:
    """Keep what somebody found in print about one row of the newest edition.

    Raises:
        CheckError: no such row or column, a cell that cannot be read, a row without a printed source, or tables of an
            installed copy, which the next installation would put back.
    """
    if table.folder.is_relative_to(PACKED):
        raise CheckError(
            f"{table.folder} belongs to the installed program; copy the tables and name them with --folder"
        )
    header, rows = _raw(table.folder / f"{table.newest}.csv")
    if check.line not in rows:
        raise CheckError(f"{table.id} {table.newest} has no row on line {check.line}; rows begin on line 2")
    cells = {**rows[check.line], **corrections}
    known = columns_of(ROW_KINDS[table.rows])
    for column, text in corrections.items():
        if column not in header or column == "verification":
            raise CheckError(f"{column!r} is no column to correct; the table has {', '.join(header)}")
        try:
            known[column][0](text) if text else None
        except ValueError as problem:
            raise CheckError(f"{column} cannot be {text!r}; expected {problem}") from None
    sources = set(cells["sources"].split("|"))
    if not sources - UNPRINTED:
        raise CheckError("this row names no printed work; say which it was read in with --correct sources=ID")
    if unknown := sorted(sources - set(catalog.sources)):
        raise CheckError(f"{unknown[0]!r} is no source; add it to sources.csv first")
    stamped = check._replace(row=_fingerprint(rows[check.line]))
    found = [stamped._replace(column=name, corrected_to=text) for name, text in corrections.items()] or [stamped]
    _append(table.folder / f"{table.newest}{CHECKS}", found)
    return found


def sign(table: Table, edition: date, by: str, on: date) -> Path:
    """The newest edition with its checks worked in, as a new one: confirmed rows are marked read.

    Args:
        by: who signs: somebody else than whoever checked a row, or the same person once a day has passed.
        on: the day of signing; it is written down beside the edition with the name.

    Raises:
        CheckError: nothing was checked, the day is not later, a row changed since it was checked, or the signer's own
            check is too fresh.
        CatalogError: the corrected rows cannot be read.
    """
    before = table.folder / f"{table.newest}.csv"
    checks = read_checks(table.folder, table.newest)
    header, rows = _raw(before)
    if not any(rows[check.line]["verification"] != "read" or check.column for check in checks if check.line in rows):
        raise CheckError(f"nothing new was checked in {table.id} {table.newest}")
    if edition.isoformat() <= table.newest[:10]:
        raise CheckError(f"the new edition must be later than {table.newest}")
    alone = _mind_own(checks, by, on)
    originals = {line: _fingerprint(cells) for line, cells in rows.items()}
    for check in checks:
        if originals.get(check.line) != check.row:
            raise CheckError(f"{before}, line {check.line} is not the row that {check.by} checked on {check.on}")
        if check.column:
            rows[check.line][check.column] = check.corrected_to
        rows[check.line]["verification"] = "read"
    path = table.folder / f"{edition.isoformat()}.csv"
    _write_rows(path, header, rows.values())
    _refuse_unreadable(path, table)
    carried = [check._replace(row=_fingerprint(rows[check.line]), column="", corrected_to="") for check in checks]
    _write(table.folder / f"{edition.isoformat()}{CHECKS}", list(dict.fromkeys(carried)))
    _write_signature(path, by, on, alone)
    return path


def _mind_own(checks: Iterable[Check], by: str, on: date) -> bool:
    """Whether somebody signs what they checked themselves. Raises CheckError before a whole day lies between."""
    own = [check for check in checks if check.by.strip().casefold() == by.strip().casefold()]
    fresh = [check for check in own if on - date.fromisoformat(check.on) < ALONE]
    if fresh:
        first = date.fromisoformat(max(check.on for check in fresh)) + ALONE
        raise CheckError(f"{by} checked line {fresh[0].line}; somebody else has to sign, or {by} from {first} on")
    return bool(own)


def _write_signature(path: Path, by: str, on: date, alone: bool) -> None:
    """Who signed an edition, when, and whether it was somebody who had checked rows of it."""
    text = f"by = {json.dumps(by, ensure_ascii=False)}\non = {on.isoformat()}\nalone = {str(alone).lower()}\n"
    path.with_suffix(SIGNED).write_text(text, "utf-8")


def _raw(path: Path) -> tuple[list[str], dict[int, dict[str, str]]]:
    """The columns and, by line, the cells of an edition as they are written."""
    with path.open(encoding=TEXT, newline="") as stream:
        reader = csv.DictReader(stream)
        rows = [(reader.line_num, raw) for raw in reader]
        return list(reader.fieldnames or ()), dict(rows)


def _fingerprint(cells: Mapping[str, str]) -> str:
    return digest("\0".join(f"{name}={text}" for name, text in sorted(cells.items())).encode())[:12]


def _append(path: Path, checks: Iterable[Check]) -> None:
    """Add lines at the end; two who record at once wait for each other."""
    with path.open("a", encoding="utf-8", newline="") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        writer = csv.writer(stream, lineterminator="\n")
        if stream.seek(0, os.SEEK_END) == 0:
            writer.writerow(COLUMNS)
        writer.writerows(checks)


def _write(path: Path, checks: Iterable[Check]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(checks)


def _write_rows(path: Path, header: list[str], rows: Iterable[Mapping[str, str]]) -> None:
    with path.open("x", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, header, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _refuse_unreadable(path: Path, table: Table) -> None:
    faults: list[Fault] = []
    read_rows(path, ROW_KINDS[table.rows], EditionRef(table.id, path.stem, ""), faults)
    if faults:
        path.unlink()
        raise CatalogError(faults)
