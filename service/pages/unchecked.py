"""The rows that nobody has checked against print yet, as a page for the person who will."""

from collections.abc import Sequence
from typing import NamedTuple

from service.catalog.catalog import Catalog
from service.catalog.effects import figures, named
from service.catalog.worklist import Item, worklist
from service.pages.ladders import Warrant, warrant
from service.pages.rows import PER_PAGE
from service.render.words import Words


class Due(NamedTuple):
    """One row to check. ``page``: the page of its table that it stands on."""

    table: str
    title: str
    line: int
    page: int
    name: str
    rides: str
    crops: int
    warrant: Warrant
    figures: str


class Unchecked(NamedTuple):
    """One page of the list: its rows, how many there are in all, the tables they stand in."""

    rows: tuple[Due, ...]
    total: int
    tables: tuple[tuple[str, int], ...]
    page: int
    pages: int


def unchecked(catalog: Catalog, table: str, page: int, words: Words) -> Unchecked:
    """Rows marked memory or practice, the weightiest first; of one table or of all."""
    items = worklist(catalog)
    counts: dict[str, int] = {}
    for item in items:
        counts[item.row.table.id] = counts.get(item.row.table.id, 0) + 1
    listed = [item for item in items if table in ("", item.row.table.id)]
    pages = max(1, -(-len(listed) // PER_PAGE))
    page = min(max(page, 1), pages)
    shown = listed[(page - 1) * PER_PAGE : page * PER_PAGE]
    rows = tuple(_due(item, catalog, words) for item in shown)
    return Unchecked(rows, len(listed), tuple(sorted(counts.items())), page, pages)


def _due(item: Item, catalog: Catalog, words: Words) -> Due:
    row = item.row
    table = catalog.tables[row.table.id]
    place = _place(table.editions[row.table.edition][1], row.line)
    rides = words.text(f"page.library.rides.{item.rides.replace(' ', '_')}")
    return Due(
        table.id,
        table.title,
        row.line,
        1 + place // PER_PAGE,
        named(row).replace("_", " "),
        rides,
        item.crops,
        warrant(row),
        figures(row).replace("_", " "),
    )


def _place(rows: Sequence[object], line: int) -> int:
    return next(place for place, row in enumerate(rows) if getattr(row, "line", 0) == line)
