"""Rows of any table as cells, and two editions beside each other."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import date
from typing import Any, NamedTuple

from service.agronomy.tables import Row
from service.catalog.compare import Difference
from service.catalog.comparison import Comparison
from service.catalog.effects import named
from service.pages.ladders import Warrant, warrant
from service.render.words import Words

TOLD_APART = frozenset(("table", "line", "sources", "place", "verification", "note"))
"""Columns that are not figures of the row: told in the last cell, as everywhere on these pages."""
PER_PAGE = 80


class Cells(NamedTuple):
    """One row: its line in the file, its cells in the order of the columns, what it rests on."""

    line: int
    cells: tuple[str, ...]
    warrant: Warrant


class Sheet(NamedTuple):
    """Rows of one page of a table; columns that are blank in all of them are left out."""

    columns: tuple[str, ...]
    rows: tuple[Cells, ...]
    page: int
    pages: int


class Cell(NamedTuple):
    """One column that differs."""

    column: str
    before: str
    after: str


class Changed(NamedTuple):
    """A row that came, went or changed: in words, with its cells."""

    name: str
    line: int
    cells: tuple[Cell, ...]
    columns: tuple[tuple[str, str], ...]


class Changes(NamedTuple):
    """What differs in one table."""

    table: str
    changed: tuple[Changed, ...]
    removed: tuple[Changed, ...]
    added: tuple[Changed, ...]


def sheet(rows: Sequence[Row], page: int) -> Sheet:
    """One page of rows; a page beyond the last is the last."""
    pages = max(1, -(-len(rows) // PER_PAGE))
    page = min(max(page, 1), pages)
    shown = rows[(page - 1) * PER_PAGE : page * PER_PAGE]
    names = tuple(name for name in _columns(shown) if any(cell(getattr(row, name)) for row in shown))
    return Sheet(names, tuple(_cells(row, names) for row in shown), page, pages)


def _columns(rows: Iterable[Row]) -> tuple[str, ...]:
    first = next(iter(rows), None)
    return tuple(item.name for item in fields(first) if item.name not in TOLD_APART) if first else ()


def _cells(row: Row, names: Iterable[str]) -> Cells:
    return Cells(row.line, tuple(cell(getattr(row, name)) for name in names), warrant(row))


def cell(value: Any) -> str:
    """A cell as it stands in the file; blank is blank."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"
    if isinstance(value, tuple | frozenset):
        return ", ".join(cell(each) for each in value)
    if isinstance(value, Mapping):
        return "; ".join(f"{name} = {cell(each)}" for name, each in value.items())
    return value.isoformat() if isinstance(value, date) else str(value)


def changes(found: Comparison) -> tuple[Changes, ...]:
    """Tables in which anything differs, row by row."""
    told = (_changes(name, difference) for name, difference in found.tables.items())
    return tuple(each for each in told if each.changed or each.removed or each.added)


def _changes(table: str, difference: Difference) -> Changes:
    changed = tuple(
        Changed(
            named(before),
            after.line,
            tuple(Cell(name, cell(getattr(before, name)), cell(getattr(after, name))) for name in columns),
            (),
        )
        for before, after, columns in difference.changed
    )
    removed, added = (tuple(_whole(row) for row in rows) for rows in (difference.removed, difference.added))
    return Changes(table, changed, removed, added)


def _whole(row: Row) -> Changed:
    names = (item.name for item in fields(row) if item.name not in ("table", "line"))
    columns = tuple((name, text) for name in names if (text := cell(getattr(row, name))))
    return Changed(named(row), row.line, (), columns)


def effects(found: Comparison, words: Words) -> tuple[str, ...]:
    """Whose answers change and how, one sentence each."""
    return tuple(words.say(effect.sentence) for effect in found.effects)
