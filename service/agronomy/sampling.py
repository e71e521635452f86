"""How many cores a composite sample needs."""

from math import atan, ceil, cos, pi, sin, sqrt, tan
from statistics import NormalDist
from typing import NamedTuple

from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Step

NORMAL_ABOVE = 1000
"""Degrees of freedom above which Student's t is the normal deviate to three figures."""


class Cores(NamedTuple):
    """The count, Student's t at that count, and the steps."""

    cores: int
    t: float
    steps: tuple[Step, ...]


def cores_needed(cv_pct: float, error_pct: float, confidence_pct: float) -> Cores:
    """The smallest number of cores whose mean is within the error, n >= (t * CV / E)^2 with t at n - 1.

    Args:
        cv_pct: coefficient of variation between cores, percent, above 0 up to 1000.
        error_pct: relative error of the mean to be tolerated, percent, above 0.
        confidence_pct: two-sided confidence, percent, 50 to 99.9.

    Formula row cores_needed (normal data). CV 50, error 25, confidence 95 gives 18. Raises OutOfRange.
    """
    if not 0 < cv_pct <= 1000:
        raise OutOfRange("cv_pct", "0 < x <= 1000")
    if not 1 <= error_pct <= 1000:
        raise OutOfRange("error_pct", "1 <= x <= 1000")
    if not 50 <= confidence_pct <= 99.9:
        raise OutOfRange("confidence_pct", "50 <= x <= 99.9")
    ratio = cv_pct / error_pct
    probability = confidence_pct / 100
    z = NormalDist().inv_cdf((1 + probability) / 2)
    cores = max(2, ceil((z * ratio) ** 2))
    while cores < (student_t(probability, cores - 1) * ratio) ** 2:
        cores += 1
    t = student_t(probability, cores - 1)
    inputs = {"CV": cv_pct, "E": error_pct, "confidence": confidence_pct, "t": t}
    return Cores(cores, t, (Step("cores", "cores_needed", inputs, cores, "1"),))


def student_t(probability: float, freedom: int) -> float:
    """Two-sided Student's t for a whole number of degrees of freedom, by halving the exact series.

    Series: Abramowitz and Stegun 26.7.3 and 26.7.4.
    """
    if freedom > NORMAL_ABOVE:
        return NormalDist().inv_cdf((1 + probability) / 2)
    low, high = 0.0, pi / 2
    for _ in range(60):
        middle = (low + high) / 2
        if _within(middle, freedom) < probability:
            low = middle
        else:
            high = middle
    return tan((low + high) / 2) * sqrt(freedom)


def _within(angle: float, freedom: int) -> float:
    """Probability that abs(t) is below tan(angle) * sqrt(freedom)."""
    square = cos(angle) ** 2
    odd = freedom % 2 == 1
    term = cos(angle) if odd else 1.0
    total = 0.0
    for k in range(1 + odd, freedom, 2):
        total += term
        term *= square * k / (k + 1)
    if odd:
        return (angle + sin(angle) * total) * 2 / pi
    return sin(angle) * total


def probability_within(t: float, freedom: int) -> float:
    """Probability that a Student variable lies between -t and t."""
    return _within(atan(t / sqrt(freedom)), freedom)
