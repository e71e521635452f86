"""Two editions of a table or a crop beside each other: rows that differ, and whose answers change."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from service.agronomy.findings import Note
from service.agronomy.tables import (
    AmountRow,
    Band,
    BoronToleranceRow,
    ChlorideToleranceRow,
    Crop,
    Row,
    SaltToleranceRow,
)
from service.catalog.catalog import Catalog
from service.catalog.compare import Difference, compare_rows
from service.catalog.effects import Effect, crop_effects, table_effects

POINTED = (Band, AmountRow, SaltToleranceRow, BoronToleranceRow, ChlorideToleranceRow)
"""Rows that reach an answer only through a crop that points to them."""


class Comparison(NamedTuple):
    """``tables``: by name (a shared table has one), what differs. ``effects``: whose answers change, and how."""

    id: str
    before: str
    after: str
    tables: dict[str, Difference]
    effects: tuple[Effect, ...]


def compare_editions(catalog: Catalog, name: str, before: str, after: str) -> Comparison:
    """Two editions of one table or crop.

    Raises:
        KeyError: there is no such table, crop or edition.
    """
    if name in catalog.tables:
        return _tables(catalog, name, before, after)
    editions = catalog.crop_editions[name]
    one, other = editions[before], editions[after]
    differences = {table: compare_rows(_rows(one, table), _rows(other, table)) for table in CROP_TABLES}
    effects = crop_effects({name: one}, {name: other})
    return Comparison(name, before, after, differences, _told(effects, differences.values()))


def _tables(catalog: Catalog, name: str, before: str, after: str) -> Comparison:
    table = catalog.tables[name]
    old, new = table.editions[before][1], table.editions[after][1]
    difference = compare_rows(old, new)
    if any(isinstance(row, POINTED) for row in (*old, *new)):
        crops = [catalog.library(date.max, {name: edition}).crops for edition in (before, after)]
        effects = crop_effects(*crops)
    else:
        effects = table_effects(old, new, difference)
    return Comparison(name, before, after, {name: difference}, _told(effects, [difference]))


CROP_TABLES = ("sufficiency", "amounts", "salt_tolerance", "boron_tolerance", "chloride_tolerance")


def _rows(crop: Crop, table: str) -> list[Row]:
    rows: dict[str, Iterable[Row | None]] = {
        "sufficiency": crop.sufficiency,
        "amounts": crop.amounts,
        "salt_tolerance": (crop.salt, *crop.salt_rivals),
        "boron_tolerance": (crop.boron,),
        "chloride_tolerance": (crop.chloride,),
    }
    return [row for row in rows[table] if row is not None]


def _told(effects: list[Effect], differences: Iterable[Difference]) -> tuple[Effect, ...]:
    """The effects, and how many rows differ without one; that nothing changes is said too."""
    marks = sum(not changed.figures for difference in differences for changed in difference.changed)
    unseen = [Effect((), Note("change.marks", {"count": marks}))] if marks else []
    return tuple(effects or [Effect((), Note("change.nothing"))]) + tuple(unseen)
