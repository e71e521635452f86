"""Rows that nobody has checked against print yet, the weightiest first."""

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from service.agronomy.tables import Crop, Row
from service.catalog.catalog import Catalog, Table
from service.catalog.signoff import checked_lines

UNCHECKED = ("memory", "practice")
RIDES = {
    "cap or safety": ("limit", "safety_level", "caution", "always_person", "release_rule"),
    "amounts": (
        *("amount", "credit", "schedule", "organic", "material", "equivalent", "lime_rate", "sulfur_rate"),
        *("leaching", "formula", "factor", "material_rule"),
    ),
    "ratings": (
        *("band", "class", "salt_tolerance", "boron_tolerance", "chloride_tolerance", "dilution", "water_guideline"),
        *("validity", "method", "fault", "check_limit", "k_table", "texture", "texture_property"),
    ),
    "notes": ("analyte", "unit", "word", "calibration", "conflict", "feel", "sampling", "retention"),
}
RIDES_ON = {kind: name for name, kinds in RIDES.items() for kind in kinds}
WEIGHTS = {"cap or safety": 8, "amounts": 4, "ratings": 2, "notes": 1}


class Item(NamedTuple):
    """One row to check: its weight is the crops that use it times what rides on it."""

    weight: int
    crops: int
    rides: str
    row: Row


def worklist(catalog: Catalog) -> list[Item]:
    """Rows of the newest editions marked memory or practice, not yet checked, the weightiest first."""
    uses = Counter(use for crop in catalog.crops.values() for use in _used(crop))
    items = [item for table in catalog.tables.values() for item in _items(table, uses, len(catalog.crops))]
    return sorted(items, key=lambda item: (-item.weight, item.row.verification, item.row.table, item.row.line))


def _items(table: Table, uses: Counter[tuple[str, int]], crops: int) -> Iterator[Item]:
    rows = table.editions[table.newest][1]
    done = checked_lines(table.folder, table.newest)
    rides = RIDES_ON[table.rows]
    for row in rows:
        if row.verification in UNCHECKED and row.line not in done:
            count = uses[table.id, row.line] if table.rows in POINTED else crops
            yield Item(count * WEIGHTS[rides], count, rides, row)


POINTED = ("band", "amount", "salt_tolerance", "boron_tolerance", "chloride_tolerance")
"""Kinds that only the crops use that point to them; everything else is used for every crop."""


def _used(crop: Crop) -> set[tuple[str, int]]:
    tolerances = (crop.salt, *crop.salt_rivals, crop.boron, crop.chloride)
    rows: list[Row] = [*crop.sufficiency, *crop.amounts, *(row for row in tolerances if row is not None)]
    return {(row.table.id, row.line) for row in rows}
