"""Measures beside a weight: spoons, cups and pints or millilitres and litres, and whole bags to buy.

A measured volume is good to the scatter of its bulk density; it stands beside the weight, never instead of it.
"""

from math import ceil
from typing import NamedTuple

from service.agronomy.findings import Note
from service.agronomy.submission import Quantity
from service.agronomy.tables import MaterialRow
from service.agronomy.units import METRES_PER_INCH

LITRES_PER_GALLON = 231 * METRES_PER_INCH**3 * 1000
"""The US gallon is 231 cubic inches."""
LITRES_PER_CUBIC_FOOT = (12 * METRES_PER_INCH) ** 3 * 1000
METRIC, LIQUID, BULK = "metric", "solution", "bulk"
WEIGHED = frozenset(("micronutrient",))
"""Categories that are always weighed: a heaped spoon of a trace element is another dose."""
ONE_PART_IN = 1e-9
"""A bag that is short by so little is a full bag: binary fractions."""


class Measure(NamedTuple):
    """One vessel: its unit, what it holds, and up to how many of it anybody counts."""

    unit: str
    litres: float
    most: float


_SPOONS = (
    Measure("tsp", LITRES_PER_GALLON / 768, 3),
    Measure("tbsp", LITRES_PER_GALLON / 256, 4),
    Measure("cup", LITRES_PER_GALLON / 16, 8),
)
KITCHEN = (*_SPOONS, Measure("pint", LITRES_PER_GALLON / 8, 200))
"""Dry material of a household: above so many pints nobody measures, it is weighed."""
TANK = (*_SPOONS, Measure("gal", LITRES_PER_GALLON, 5000))
HEAP = (
    *_SPOONS[:2],
    Measure("cup", LITRES_PER_GALLON / 16, 16),
    Measure("ft3", LITRES_PER_CUBIC_FOOT, 27),
    Measure("yd3", LITRES_PER_CUBIC_FOOT * 27, 5000),
)
LEAST_ML = 5.0
FINE_ML = 100.0
MOST_LITRES = 100.0
"""The same end for litres as for pints: dry material of a household."""


def volume_litres(row: MaterialRow | None, grams: float) -> float | None:
    """The volume of so much of a material, L = g / 1000 / (kg/L); None without a bulk density."""
    if row is None or not row.bulk_density_kg_L:
        return None
    return grams / 1000 / row.bulk_density_kg_L


def household(row: MaterialRow | None, grams: float, system: str) -> Note | None:
    """A weight in kitchen measures, with the scatter of the bulk density either way in percent.

    Cups and pints, or mL and L; gallons for what is liquid, cubic feet and yards for what comes by the heap; never
    handfuls. None for what must be weighed: no bulk density or scatter in the table, a trace element, less than the
    smallest spoon, more than anybody measures out.

    Args:
        row: the material. grams: how much of it. system: us_garden, us_field, metric.
    """
    litres = volume_litres(row, grams)
    if row is None or litres is None or row.density_range_pct is None or row.category in WEIGHED:
        return None
    measure = _metric(litres, row.form) if system == METRIC else _vessels(litres, row.form)
    if measure is None:
        return None
    return Note("material.household", {"amount": measure, "scatter": row.density_range_pct})


def _metric(litres: float, form: str) -> Quantity | None:
    ml = litres * 1000
    if ml < LEAST_ML or (litres > MOST_LITRES and form not in (LIQUID, BULK)):
        return None
    if litres < 1:
        step = LEAST_ML if ml < FINE_ML else 2 * LEAST_ML
        return Quantity(round(ml / step) * step, "mL")
    return Quantity(quarter(litres), "L")


def _vessels(litres: float, form: str) -> Quantity | None:
    """The first vessel of which a handy number is enough."""
    for measure in TANK if form == LIQUID else HEAP if form == BULK else KITCHEN:
        count = litres / measure.litres
        if count < measure.most:
            return Quantity(quarter(count), measure.unit) if count >= 1 / 8 else None
    return None


def quarter(count: float) -> float:
    """To the quarter below ten, to the whole above: finer than that nobody measures."""
    return float(round(count)) if count >= 10 else max(round(count * 4) / 4, 0.25)


def bags(grams: float, bag_kg: float) -> tuple[int, float]:
    """Whole bags that hold so much, and what is left over, g. Bags hold more than nothing."""
    size = bag_kg * 1000
    count = ceil(grams / size * (1 - ONE_PART_IN))
    return count, max(count * size - grams, 0.0)
