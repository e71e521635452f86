"""How finely rates and doses are named: no finer than a spreader can be set. The exact figures stay in the steps.

The steps are working figures of the table ``factors``. Doses are rounded so that together they are the rounded whole,
and never up beyond the cap that they keep.
"""

from collections.abc import Iterable, Mapping
from math import floor, inf
from typing import NamedTuple

from service.agronomy.reference import reference_of
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library
from service.agronomy.timing import Portion
from service.agronomy.units import ClientUnits, significant

FACTORS: Mapping[str, str] = {
    "lb/1000 ft2": "dose_step_lb_1000_ft2",
    "lb/acre": "dose_step_lb_acre",
    "g/m2": "dose_step_g_m2",
    "kg/ha": "dose_step_kg_ha",
}
MACRO = frozenset(("N", "P2O5", "K2O"))
"""Nutrients given by the pound; the others are given by the ounce and keep three figures."""
NO_MORE = 1 + 1e-5
"""What passes a cap by less keeps it: the last digits of a solver and of binary fractions."""
FINE = 0.015
"""Share of an amount that may be lost to keep a cap before it is named more finely."""
HAIR = 1e-6
"""Half a millionth decides nothing: keeps float noise from turning a half up or down."""


class Rounding(NamedTuple):
    """The step of each unit in which rates are named."""

    steps: Mapping[str, float]

    def rate(self, units: ClientUnits, nutrient: str, base: float, areal: bool) -> Quantity:
        """A rate in base units (g/m2, g/tree) as the client reads it."""
        if not areal:
            return units.per_tree(base)
        exact = units.rate(base)
        step = self.steps.get(exact.unit) if nutrient in MACRO else None
        if step is None or exact.value < step:
            return exact
        return _times(_nearest(exact.value, step), step, exact.unit)

    def doses(
        self, units: ClientUnits, nutrient: str, portions: Iterable[Portion], areal: bool
    ) -> tuple[tuple[Quantity, ...], Quantity]:
        """The doses as the client reads them, and their sum: what one dose loses by rounding the next one gets."""
        found: list[Quantity] = []
        exact_sum = given = 0.0
        for portion in portions:
            exact = units.rate(portion.rate) if areal else units.per_tree(portion.rate)
            exact_sum += exact.value
            step = self.steps.get(exact.unit) if areal and nutrient in MACRO else None
            if step is None or exact.value < step:
                found.append(exact)
            else:
                most = None if portion.cap is None else units.rate(portion.cap.g_m2).value
                found.append(_times(_count(exact_sum - given, step, most), step, exact.unit))
            given += found[-1].value
        return tuple(found), Quantity(significant(given, 4), found[-1].unit)


def _nearest(value: float, step: float) -> int:
    return floor(value / step + 0.5 + HAIR)


def _count(value: float, step: float, most: float | None) -> int:
    """How many steps are nearest to a value, at least one, and none too many for a cap."""
    count = max(_nearest(value, step), 1)
    return count if most is None else max(min(count, floor(most / step + HAIR)), 1)


def _times(count: int, step: float, unit: str) -> Quantity:
    return Quantity(significant(count * step, 6), unit)


_BY_THE_POUND = ((1000.0, 10.0), (100.0, 1.0), (10.0, 0.5), (1.0, 0.1), (0.2, 0.05), (0.05, 0.01), (0.0, 0.001))
WEIGHED: Mapping[str, tuple[tuple[float, float], ...]] = {
    "lb": _BY_THE_POUND,
    "kg": _BY_THE_POUND,
    "oz": ((8.0, 0.5), (1.0, 0.1), (0.2, 0.05), (0.05, 0.01), (0.0, 0.001)),
    "g": ((100.0, 5.0), (10.0, 1.0), (5.0, 0.5), (1.0, 0.1), (0.2, 0.05), (0.05, 0.01), (0.0, 0.001)),
}
"""From what amount on people weigh in what step; each step is a multiple of the next. A way of printing, no figure."""


def step_of(value: float, unit: str) -> float:
    """The step in which people weigh so much of a unit (``lb``, ``oz/tree``, ``kg/ha``)."""
    steps = WEIGHED.get(unit.split("/")[0], _BY_THE_POUND)
    return next((step for least, step in steps if value >= least), steps[-1][1])


def finer(unit: str, step: float) -> tuple[float, ...]:
    """A step and all finer ones of its unit."""
    return tuple(each for _, each in WEIGHED.get(unit.split("/")[0], _BY_THE_POUND) if each <= step)


def weighed(value: float, unit: str, most: float = inf) -> float:
    """An amount as people weigh it, rounded once; not above ``most``, for which it may be named more finely."""
    step = step_of(value, unit)
    found = max(_nearest(value, step), 1) * step
    if found <= most * NO_MORE:
        return significant(found, 6)
    kept = (floor(most * NO_MORE / each) * each for each in finer(unit, step))
    return significant(next((each for each in kept if each >= value * (1 - FINE)), most), 6)


def prepare_rounding(library: Library) -> Rounding:
    """Read the steps from the table ``factors``."""
    reference = reference_of(library)
    return Rounding({unit: reference.factor(name).value for unit, name in FACTORS.items()})
