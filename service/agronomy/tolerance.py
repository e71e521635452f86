"""Response of crops to salt: the threshold-and-slope line and the S-curves. Plain numbers in and out."""

import sys
from math import exp, log
from typing import NamedTuple

from service.agronomy.errors import OutOfRange

# The largest number whose exponential a float can hold.
LARGEST_EXPONENT = log(sys.float_info.max)


def relative_yield(ECe_dS_m: float, threshold_dS_m: float, slope_pct_per_dS_m: float) -> float:
    """Yield as a percentage of that on the same ground without salt, %.

    100 - slope x (ECe - threshold) above the threshold, else 100; never below 0. Root-zone mean ECe, plants past the
    seedling stage, chloride salts. Sources MH1977, FAO61. Raises OutOfRange.

    The same line serves chloride (meq/L) and boron (mg/L) with their own thresholds.

    >>> round(relative_yield(3.8, 1.7, 12), 1)
    74.8
    """
    if min(ECe_dS_m, threshold_dS_m) < 0:
        raise OutOfRange("ECe", "0 <= x")
    if slope_pct_per_dS_m <= 0:
        raise OutOfRange("slope", "0 < x")
    return min(100.0, max(0.0, 100 - slope_pct_per_dS_m * (ECe_dS_m - threshold_dS_m)))


def ece_for_yield(relative_yield_pct: float, threshold_dS_m: float, slope_pct_per_dS_m: float) -> float:
    """The ECe at which this relative yield is left, dS/m: threshold + (100 - Y) / slope. Range 0 <= Y <= 100.

    >>> round(ece_for_yield(50, 2.5, 9.9), 2)
    7.55
    """
    if not 0 <= relative_yield_pct <= 100:
        raise OutOfRange("relative yield", "0 <= x <= 100")
    if slope_pct_per_dS_m <= 0:
        raise OutOfRange("slope", "0 < x")
    return threshold_dS_m + (100 - relative_yield_pct) / slope_pct_per_dS_m


def s_curve(ECe_dS_m: float, C50_dS_m: float, p: float) -> float:
    """Relative yield by the S-curve 100 / (1 + (ECe / C50)^p), %. Source VG1993; p is near 3. Raises OutOfRange.

    The power is taken through logarithms: a steep curve far from C50 ends at 0 or 100 instead of overflowing.
    """
    if ECe_dS_m < 0 or C50_dS_m <= 0 or p <= 0:
        raise OutOfRange("ECe, C50, p", "0 <= ECe, 0 < C50, 0 < p")
    if ECe_dS_m == 0:
        return 100.0
    power = p * (log(ECe_dS_m) - log(C50_dS_m))
    smaller = exp(-abs(power))
    return 100 * (smaller if power > 0 else 1.0) / (1 + smaller)


class SCurve(NamedTuple):
    """Half-yield concentration (dS/m), steepness (1/(dS/m)) and salt tolerance index of one crop."""

    C50: float
    s: float
    tolerance: float


def s_curve_of(
    threshold_dS_m: float, slope_pct_per_dS_m: float, *, c50_factor: float, c50_offset: float, s_factor: float
) -> SCurve:
    """The S-curve that goes with a threshold and a slope.

    C50 = c50_factor x (0.5 / b + threshold) + c50_offset, s = s_factor x b, tolerance = C50 + s x C50; b is the
    slope as a fraction. Source STEPPUHN2005 (the sign of the offset is recalled and fits barley). Raises OutOfRange.
    """
    if slope_pct_per_dS_m <= 0:
        raise OutOfRange("slope", "0 < x")
    b = slope_pct_per_dS_m / 100
    C50 = c50_factor * (0.5 / b + threshold_dS_m) + c50_offset
    s = s_factor * b
    return SCurve(C50, s, C50 + s * C50)


def steep_s_curve(ECe_dS_m: float, curve: SCurve) -> float:
    """Relative yield by the S-curve 100 / (1 + (ECe / C50)^exp(s x C50)), %. Source STEPPUHN2005."""
    return s_curve(ECe_dS_m, curve.C50, _steepness(curve))


def ece_on_curve(relative_yield_pct: float, curve: SCurve) -> float:
    """The ECe at which the S-curve leaves this relative yield, dS/m: `steep_s_curve` read backwards.

    Range 0 < Y < 100: nothing is ever wholly lost or wholly untouched on it.

    >>> round(ece_on_curve(50, SCurve(17.53, 0.076, 18.87)), 2)
    17.53
    """
    if not 0 < relative_yield_pct < 100:
        raise OutOfRange("relative yield", "0 < x < 100")
    return float(curve.C50 * (100 / relative_yield_pct - 1) ** (1 / _steepness(curve)))


def _steepness(curve: SCurve) -> float:
    return exp(min(curve.s * curve.C50, LARGEST_EXPONENT))
