"""Amounts of a material as people weigh and measure them: rounded once, doses that add up to the whole."""

from collections.abc import Mapping, Sequence
from math import floor, inf
from typing import NamedTuple

from service.agronomy.findings import Note
from service.agronomy.materials import measures
from service.agronomy.materials.stock import Stock
from service.agronomy.rounding import HAIR, NO_MORE, finer, step_of, weighed
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_1000_FT2, Units, significant

OUNCES_PER_LB = 16
WHOLE_LB = 0.995
"""What reads as one pound is told in pounds."""
SMALL_BED_M2 = SQUARE_METRES_PER_1000_FT2 / 2
"""Below half of 1,000 square feet rates are told per 100."""

CLOSE = 0.025
"""Share of a dose that may be lost or won by naming it more roughly: how it is printed, not a figure."""
MOST_MEASURES: Mapping[str, float] = {"pint": 48.0, "L": 24.0}
"""Beyond so many nobody measures a whole amount by the pint or litre: it is weighed. How it is told, not a figure."""


class Weights(NamedTuple):
    """A whole amount and its doses, in one unit, that add up."""

    whole: Quantity
    doses: tuple[Quantity, ...]


def weigh(
    case: Case, doses: Sequence[float], per: str = "", most: Sequence[float] = (), most_whole: float = inf
) -> Weights:
    """Doses in g as lb or oz, kg or g: the whole rounded once, the doses shared out so that they add up to it.

    Args:
        per: added to the unit (``/tree``).
        most: what no dose may be rounded above, g, dose by dose. most_whole: the same of the whole.
    """
    whole = sum(doses)
    unit, grams = _unit(case, whole)
    exact = [dose / grams for dose in doses]
    limits = [max(limit / grams, dose) for limit, dose in zip(most or [inf] * len(exact), exact, strict=True)]
    amount = weighed(whole / grams, unit, min(most_whole / grams, sum(limits)))
    given = shared_out(exact, amount, limits, unit)
    return Weights(
        Quantity(significant(sum(given), 6), unit + per),
        tuple(Quantity(significant(dose, 6), unit + per) for dose in given),
    )


def shared_out(exact: Sequence[float], whole: float, limits: Sequence[float], unit: str) -> list[float]:
    """Doses in the coarsest step of people in which they add up to the whole and none passes its limit.

    By the largest remainder: each gets its whole steps, what is left goes to those that lost most. A step coarser than
    that of the smallest dose is taken where it moves none by more than `CLOSE`.
    """
    own = step_of(min(exact, default=0.0), unit)
    for step in finer(unit, step_of(whole, unit)):
        count = _times(whole, step)
        counts = None if count is None else _counts(exact, count, limits, step)
        if counts is not None and (step <= own or _close(exact, counts, step)):
            return [count * step for count in counts]
    return list(exact)


def _close(exact: Sequence[float], counts: Sequence[int], step: float) -> bool:
    return all(abs(count * step - dose) <= CLOSE * dose for count, dose in zip(counts, exact, strict=True))


def _times(whole: float, step: float) -> int | None:
    """How many steps a whole is, if it is that."""
    count = round(whole / step)
    return count if abs(count * step - whole) <= HAIR * max(whole, step) else None


def _counts(exact: Sequence[float], whole: int, limits: Sequence[float], step: float) -> list[int] | None:
    """Steps for each dose, at least one; ``None`` where the limits leave no room for them all."""
    counts = [max(floor(dose / step + HAIR), 1) for dose in exact]
    while sum(counts) != whole:
        up = 1 if sum(counts) < whole else -1
        free = [
            (up * (exact[place] / step - count), -place)
            for place, count in enumerate(counts)
            if ((count + 1) * step <= limits[place] * NO_MORE if up > 0 else count > 1)
        ]
        if not free:
            return None
        counts[-max(free)[1]] += up
    return counts


def _unit(case: Case, grams: float) -> tuple[str, float]:
    """The unit that fits and its g: ounces below one pound, grams below one kilogram."""
    if case.units.system == "metric":
        return ("kg", 1000.0) if grams >= 1000.0 else ("g", 1.0)
    return ("lb", GRAMS_PER_LB) if grams >= GRAMS_PER_LB * WHOLE_LB else ("oz", GRAMS_PER_LB / OUNCES_PER_LB)


def rate(case: Case, g_m2: float, most: float = inf) -> Quantity:
    """A rate per area; in US units per 100 square feet on a small bed, in ounces below one pound.

    ``most``: what it may not be rounded above, g/m2.
    """
    units = case.library.index(Units.of)
    unit = case.units.rate(g_m2).unit
    if case.units.system == "us_garden":
        area = "100 ft2" if case.area_m2 is not None and case.area_m2 < SMALL_BED_M2 else "1000 ft2"
        pounds = units.convert(g_m2, "g/m2", f"lb/{area}")
        unit = f"{'lb' if pounds >= WHOLE_LB else 'oz'}/{area}"
    one = units.convert(1.0, "g/m2", unit)
    return Quantity(weighed(g_m2 * one, unit, most * one), unit)


def household(case: Case, stock: Stock, grams: float) -> Note | None:
    """The same in kitchen measures; None where it is weighed or nobody knows its bulk density."""
    found = measures.household(stock.row, grams, case.units.system)
    return None if found is None or _too_many(found.values["amount"]) else found


def _too_many(measured: Quantity) -> bool:
    return measured.value > MOST_MEASURES.get(measured.unit, measured.value)
