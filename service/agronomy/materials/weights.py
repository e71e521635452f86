"""Amounts of a material as people weigh and measure them: rounded once, doses that add up to the whole."""

from collections.abc import Mapping, Sequence
from math import floor
from typing import NamedTuple

from service.agronomy.findings import Note
from service.agronomy.materials import measures
from service.agronomy.materials.stock import Stock
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_1000_FT2, Units, significant

STEPS = (1000.0, 500.0, 100.0, 50.0, 10.0, 5.0, 1.0, 0.5, 0.25, 0.1, 0.05, 0.01, 0.005, 0.001)
"""How finely weights may be named; the coarsest that stays within `FINE` is taken. A way of printing, not a figure."""
FINE = 0.015
HAIR = 1e-9
OUNCES_PER_LB = 16
WHOLE_LB = 0.995
"""What reads as one pound is told in pounds."""
SMALL_BED_M2 = SQUARE_METRES_PER_1000_FT2 / 2
"""Below half of 1,000 square feet rates are told per 100."""

MOST_MEASURES: Mapping[str, float] = {"pint": 48.0, "L": 24.0}
"""Beyond so many nobody measures a whole amount by the pint or litre: it is weighed. How it is told, not a figure."""


class Weights(NamedTuple):
    """A whole amount and its doses, in one unit, that add up."""

    whole: Quantity
    doses: tuple[Quantity, ...]


def weigh(case: Case, doses: Sequence[float], per: str = "") -> Weights:
    """Doses in g as lb or oz, kg or g; ``per`` is added to the unit (``/tree``)."""
    whole = sum(doses)
    unit, grams = _unit(case, whole)
    exact = [dose / grams for dose in doses]
    step = _step(min(exact, default=0.0))
    given = [_nearest(dose, step) for dose in exact]
    return Weights(
        Quantity(significant(sum(given), 6), unit + per),
        tuple(Quantity(significant(dose, 6), unit + per) for dose in given),
    )


def _unit(case: Case, grams: float) -> tuple[str, float]:
    """The unit that fits and its g: ounces below one pound, grams below one kilogram."""
    if case.units.system == "metric":
        return ("kg", 1000.0) if grams >= 1000.0 else ("g", 1.0)
    return ("lb", GRAMS_PER_LB) if grams >= GRAMS_PER_LB else ("oz", GRAMS_PER_LB / OUNCES_PER_LB)


def _step(value: float) -> float:
    """The coarsest step that moves a value by less than `FINE`."""
    return next((step for step in STEPS if step / 2 <= value * FINE), STEPS[-1])


def _nearest(value: float, step: float) -> float:
    return max(floor(value / step + 0.5 + HAIR), 1) * step


def rate(case: Case, g_m2: float) -> Quantity:
    """A rate per area; in US units per 100 square feet on a small bed, in ounces below one pound."""
    if case.units.system != "us_garden":
        return case.units.rate(g_m2)
    area = "100 ft2" if case.area_m2 is not None and case.area_m2 < SMALL_BED_M2 else "1000 ft2"
    units = case.library.index(Units.of)
    pounds = units.convert(g_m2, "g/m2", f"lb/{area}")
    if pounds >= WHOLE_LB:
        return Quantity(significant(pounds), f"lb/{area}")
    return Quantity(significant(pounds * OUNCES_PER_LB), f"oz/{area}")


def household(case: Case, stock: Stock, grams: float) -> Note | None:
    """The same in kitchen measures; None where it is weighed or nobody knows its bulk density."""
    found = measures.household(stock.row, grams, case.units.system)
    return None if found is None or _too_many(found.values["amount"]) else found


def _too_many(measured: Quantity) -> bool:
    return measured.value > MOST_MEASURES.get(measured.unit, measured.value)
