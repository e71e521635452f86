"""How sure a class is: the chance that the true value lies in the class next door.

P(beyond a limit) = Phi(-|limit - value| / u), u being one standard deviation of the method. The error is taken as
normal; for analytes whose error grows with the value (nitrate) as lognormal with the same relative deviation.
"""

from math import erf, log, log1p, sqrt
from statistics import NormalDist
from typing import NamedTuple

from service.agronomy.calibration import Ladder
from service.agronomy.findings import Borderline
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import Library

LOGNORMAL = frozenset(("NO3-N",))
ROOT_TWO = sqrt(2.0)


class Window(NamedTuple):
    """The probabilities between which the other class is named, and how many deviations away that ends."""

    low: float
    high: float
    reach: float


def prepare_window(library: Library) -> Window:
    """Read the factors ``borderline_probability_low`` and ``borderline_probability_high``."""
    reference = reference_of(library)
    low = reference.factor("borderline_probability_low").value
    return Window(low, reference.factor("borderline_probability_high").value, -NormalDist().inv_cdf(low))


def probability_beyond(value: float, limit: float, deviation: float) -> float:
    """Chance that the true value lies on the other side of a class limit.

    Args:
        value: reported figure. limit, deviation: same unit; the deviation is one standard deviation, above zero.

    Returns:
        Phi(-|limit - value| / deviation), 0 to 0.5.
    """
    return 0.5 * (1.0 - erf(abs(limit - value) / deviation / ROOT_TWO))


def probability_beyond_lognormal(value: float, limit: float, relative: float) -> float:
    """The same for an error that is a share of the value.

    Args:
        value, limit: same unit, above zero. relative: standard deviation divided by the value.

    Returns:
        Phi(-|ln limit - ln value| / sqrt(ln(1 + relative^2))), 0 to 0.5.
    """
    return probability_beyond(log(value), log(limit), sqrt(log1p(relative * relative)))


def neighbour(case: Case, result: Measurement, ladder: Ladder, at: int) -> Borderline | None:
    """The likelier neighbouring class, when the chance of it lies within the window of the factors table.

    ``None`` for a censored figure, for a method without a stated uncertainty, and where the next class is missing
    from the table or bears the same rating.
    """
    value, deviation = result.value, result.uncertainty
    if value is None or deviation <= 0.0:
        return None
    window = case.library.index(prepare_window)
    rung = ladder.rungs[at]
    near = None
    # Twice the reach: a quick way out that also leaves room for the skew of the lognormal.
    reach = 2.0 * window.reach * deviation
    for step, limit in ((-1, rung.lower), (1, rung.upper)):
        if limit is None or abs(limit - value) > reach or not 0 <= at + step < len(ladder.rungs):
            continue
        other = ladder.rungs[at + step]
        low, high = (other, rung) if step < 0 else (rung, other)
        if other.rating == rung.rating or low.last + 1 < high.first:
            continue
        chance = _chance(result, value, limit, deviation)
        if window.low <= chance <= window.high and (near is None or chance > near.probability):
            near = Borderline(other.rating, round(chance, 2))
    return near


def _chance(result: Measurement, value: float, limit: float, deviation: float) -> float:
    if result.analyte in LOGNORMAL and value > 0.0 and limit > 0.0:
        return probability_beyond_lognormal(value, limit, deviation / value)
    return probability_beyond(value, limit, deviation)
