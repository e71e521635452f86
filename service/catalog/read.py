"""Reads one CSV of rows or one TOML, strictly: the row dataclass is the schema.

Unknown or missing columns, a word where a number belongs, a row without source or mark are faults.
"""

import csv
import hashlib
import tomllib
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from datetime import date
from pathlib import Path
from typing import Any

from service.agronomy.findings import EditionRef
from service.agronomy.tables import VERIFICATION_ORDER, Row
from service.catalog.errors import CatalogError, Fault

BOOKKEEPING = ("table", "line")
TEXT = "utf-8-sig"
"""UTF-8 with or without the mark that spreadsheets put in front."""


def digest(data: bytes) -> str:
    """SHA-256 in hex: the identity of an edition."""
    return hashlib.sha256(data).hexdigest()


def read_toml(path: Path, faults: list[Fault]) -> dict[str, Any]:
    """A TOML file as a dict; an unreadable one is a fault and reads as empty."""
    try:
        return tomllib.loads(path.read_text(TEXT))
    except OSError:
        faults.append(Fault(path, None, None, "the file is missing", "a TOML file of this name"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        faults.append(Fault(path, None, None, f"not valid TOML ({problem})", "TOML in UTF-8"))
    return {}


def key_line(path: Path, key: str) -> int | None:
    """The line on which a key or a heading of a TOML file stands, for naming a fault."""
    for number, text in enumerate(path.read_text(TEXT).splitlines(), 1):
        if text.strip().strip("[]").partition("=")[0].strip() == key:
            return number
    return None


def read_rows(path: Path, kind: type[Row], ref: EditionRef, faults: list[Fault]) -> tuple[Row, ...]:
    """The rows of one CSV file as dataclasses of ``kind``; faults are added to the list, never raised."""
    try:
        with path.open(encoding=TEXT, newline="") as stream:
            reader = csv.reader(stream, strict=True)
            header = next(reader, [])
            if not _header_fits(path, kind, header, faults):
                return ()
            plan = [(name, *columns_of(kind)[name]) for name in header]
            rows = ((reader.line_num, cells) for cells in reader if any(cells))
            found = (_row(path, line, kind, plan, cells, ref, faults) for line, cells in rows)
            return tuple(row for row in found if row is not None)
    except (csv.Error, UnicodeDecodeError) as problem:
        faults.append(Fault(path, None, None, f"not valid CSV ({problem})", SAVED_AS))
        return ()


SAVED_AS = "a file saved as CSV, UTF-8, with commas between the cells"


def _header_fits(path: Path, kind: type[Row], header: typing.Sequence[str], faults: list[Fault]) -> bool:
    columns = columns_of(kind)
    before = len(faults)
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        faults.append(Fault(path, 1, None, "the cells are not separated by commas", SAVED_AS))
        return False
    known = ", ".join(columns)
    unknown = (name for name in header if name not in columns)
    faults.extend(Fault(path, 1, name, "unknown column", f"one of {known}") for name in unknown)
    for name, (_, required) in columns.items():
        if required and name not in header:
            faults.append(Fault(path, 1, name, "the column is missing", f"a column headed {name}"))
    if len(set(header)) != len(header):
        faults.append(Fault(path, 1, None, "a column stands twice", "each column once"))
    return len(faults) == before


def _row(
    path: Path,
    line: int,
    kind: type[Row],
    plan: "list[tuple[str, Callable[[str], Any], bool]]",
    cells: list[str],
    ref: EditionRef,
    faults: list[Fault],
) -> Row | None:
    if len(cells) != len(plan):
        wrong = f"{len(cells)} cells under {len(plan)} columns"
        faults.append(Fault(path, line, None, wrong, "one cell for each column, those with commas in quotes"))
        return None
    values: dict[str, Any] = {"table": ref, "line": line}
    before = len(faults)
    for (name, parse, required), text in zip(plan, cells, strict=True):
        if text:
            try:
                values[name] = parse(text)
            except ValueError as problem:
                faults.append(Fault(path, line, name, f"{text!r} cannot be read", str(problem)))
        elif required:
            faults.append(Fault(path, line, name, "the cell is blank", "a value"))
    if len(faults) > before:
        return None
    row = kind(**values)
    if row.verification not in VERIFICATION_ORDER:
        faults.append(Fault(path, line, "verification", repr(row.verification), "read, computed, practice or memory"))
    return row


Columns = Mapping[str, tuple[Callable[[str], Any], bool]]
_PLANS: dict[type[Row], Columns] = {}


def columns_of(kind: type[Row]) -> Columns:
    """Column name -> (parser, required), worked out once for each row class."""
    if kind not in _PLANS:
        _PLANS[kind] = _plan(kind)
    return _PLANS[kind]


def _plan(kind: type[Row]) -> Columns:
    hints = typing.get_type_hints(kind)
    return {
        item.name: (_parser(hints[item.name]), item.default is MISSING and item.default_factory is MISSING)
        for item in fields(kind)
        if item.name not in BOOKKEEPING
    }


def _parser(hint: Any) -> Callable[[str], Any]:
    if isinstance(hint, types.UnionType):
        hint = next(part for part in typing.get_args(hint) if part is not type(None))
    origin = typing.get_origin(hint)
    if origin is tuple:
        return _words
    if origin is not None and issubclass(origin, Mapping):
        return _figures
    return _PARSERS[hint]


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError("a number with a decimal point") from None
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError("a finite number")
    return value


def _whole(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise ValueError("a whole number") from None


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError("a date as 2025-01-31") from None


def _truth(text: str) -> bool:
    if text.lower() not in ("true", "false"):  # a spreadsheet writes them large
        raise ValueError("true or false")
    return text.lower() == "true"


def _text(text: str) -> str:
    if text != text.strip():
        raise ValueError("text without spaces around it")
    return text


def _words(text: str) -> tuple[str, ...]:
    words = tuple(text.split("|"))
    if any(word == "" or word != word.strip() for word in words):
        raise ValueError("words separated by | without spaces around them")
    return words


def _figures(text: str) -> Mapping[str, float]:
    figures: dict[str, float] = {}
    for part in text.split(";"):
        name, equals, value = part.partition("=")
        if not equals or not name.strip() or name.strip() in figures:
            raise ValueError("figures as a=1;b=2, each name once")
        figures[name.strip()] = _number(value)
    return figures


_PARSERS: Mapping[Any, Callable[[str], Any]] = {
    float: _number,
    int: _whole,
    bool: _truth,
    str: _text,
    date: _day,
}


def raise_if(faults: list[Fault]) -> None:
    """Raises `CatalogError` when there is any fault."""
    if faults:
        raise CatalogError(faults)
