"""How finely rates and doses are named: no finer than a spreader can be set. The exact figures stay in the steps.

The steps are working figures of the table ``factors``. Doses are rounded so that together they are the rounded whole,
and never up beyond the cap that they keep.
"""

from collections.abc import Iterable, Mapping
from math import floor
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


def prepare_rounding(library: Library) -> Rounding:
    """Read the steps from the table ``factors``."""
    reference = reference_of(library)
    return Rounding({unit: reference.factor(name).value for unit, name in FACTORS.items()})
