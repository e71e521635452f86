"""The rate equations that table rows choose by name. Coefficients are the row's own; here is only the algebra.

Every function returns a rate in the row's own unit (normally lb of nutrient per acre), never below zero: a negative
result means that the soil and the credits cover the need. An equation is used with its own credits only.
"""

from collections.abc import Mapping
from itertools import pairwise

from service.agronomy.errors import OutOfRange, TableError

type_of_coefficients = Mapping[str, float]


def _not_below_zero(rate: float) -> float:
    return rate if rate > 0.0 else 0.0


def _given(coefficients: type_of_coefficients, name: str) -> float:
    try:
        return coefficients[name]
    except KeyError as error:
        raise TableError(f"equation without its coefficient {name}") from error


def _positive(value: float, field: str) -> float:
    if value < 0.0:
        raise OutOfRange(field, "0 <= x")
    return value


def yield_nitrate_om(
    coefficients: type_of_coefficients,
    expected_yield: float,
    nitrate_mg_kg: float,
    om_pct: float,
    credits_rate: float = 0.0,
) -> float:
    """N = base + per_yield*EY - per_nitrate*NO3N - per_om_yield*EY*OM - credits.

    Nebraska and Colorado corn. The nitrate term covers the root zone: no per-foot credit may be added to it.

    Args:
        coefficients: ``base``, ``per_yield``, ``per_nitrate``, ``per_om_yield``, ``om_min``, ``om_max``.
        expected_yield: in the row's yield unit. nitrate_mg_kg: depth-weighted mean NO3-N of the profile, mg/kg.
        om_pct: organic matter, %, held between ``om_min`` and ``om_max``. credits_rate: in the row's rate unit.

    Sources: unl-ec117, csu-0538.
    Raises: OutOfRange for a negative input.
    """
    _positive(expected_yield, "expected_yield")
    _positive(nitrate_mg_kg, "nitrate_mg_kg")
    om = min(max(om_pct, coefficients.get("om_min", om_pct)), coefficients.get("om_max", om_pct))
    return _not_below_zero(
        _given(coefficients, "base")
        + _given(coefficients, "per_yield") * expected_yield
        - _given(coefficients, "per_nitrate") * nitrate_mg_kg
        - _given(coefficients, "per_om_yield") * expected_yield * om
        - credits_rate
    )


def yield_profile_nitrate_om(
    coefficients: type_of_coefficients,
    expected_yield: float,
    profile_nitrate: float,
    om_pct: float,
    credits_rate: float = 0.0,
) -> float:
    """N = per_yield*YG - per_om*OM - profile nitrate + residue debit - credits.

    Kansas wheat, corn and sorghum; Washington dryland wheat (with its residue debit as a negative credit).

    Args:
        coefficients: ``per_yield``, ``per_om``.
        profile_nitrate: nitrate-N of the profile in the row's rate unit. om_pct: organic matter, %.

    Sources: ksu-mf2586, ksu-wheat-gbt, wsu-wheatlife.
    Raises: OutOfRange for a negative input.
    """
    _positive(expected_yield, "expected_yield")
    _positive(om_pct, "om_pct")
    return _not_below_zero(
        _given(coefficients, "per_yield") * expected_yield
        - _given(coefficients, "per_om") * om_pct
        - _positive(profile_nitrate, "profile_nitrate")
        - credits_rate
    )


def yield_profile_nitrate(
    coefficients: type_of_coefficients, expected_yield: float, profile_nitrate: float, credits_rate: float = 0.0
) -> float:
    """N = per_yield*YG - profile nitrate - credits. Montana small grains, Arizona and Texas cotton.

    Args:
        coefficients: ``per_yield``. profile_nitrate: nitrate-N of the profile in the row's rate unit.

    Sources: msu-eb0161, ua-az1200, tamu-cotton-swfp.
    Raises: OutOfRange for a negative input.
    """
    _positive(expected_yield, "expected_yield")
    need = _given(coefficients, "per_yield") * expected_yield
    return _not_below_zero(need - _positive(profile_nitrate, "profile_nitrate") - credits_rate)


def nitrate_shortfall(coefficients: type_of_coefficients, nitrate_mg_kg: float) -> float:
    """N = (threshold - NO3N) * factor: enough to lift the top foot to the threshold. Chile pepper side-dressing.

    Args:
        coefficients: ``threshold`` mg/kg, ``factor`` rate unit per mg/kg. nitrate_mg_kg: NO3-N before side-dressing.

    Source: ua-veg-guidelines sec. 3.13.
    Raises: OutOfRange for a negative input.
    """
    short = _given(coefficients, "threshold") - _positive(nitrate_mg_kg, "nitrate_mg_kg")
    return _not_below_zero(short * _given(coefficients, "factor"))


def per_age(coefficients: type_of_coefficients, age_years: float) -> float:
    """Dose per tree = per_year * age, at most ``cap``. Backyard fruit trees.

    Source: usu-roper-2017 (1 oz N per year of age, at most 8 oz).
    Raises: OutOfRange for a negative age.
    """
    dose = _given(coefficients, "per_year") * _positive(age_years, "age_years")
    return min(dose, coefficients.get("cap", dose))


def per_trunk_inch(coefficients: type_of_coefficients, trunk_diameter_in: float) -> float:
    """Dose per tree = per_inch * trunk diameter (1 ft above ground), at most ``cap``. Stone fruit.

    Source: csu-7612.
    Raises: OutOfRange for a negative diameter.
    """
    dose = _given(coefficients, "per_inch") * _positive(trunk_diameter_in, "trunk_diameter_in")
    return min(dose, coefficients.get("cap", dose))


def linear_in_test(coefficients: type_of_coefficients, test: float) -> float:
    """Rate = intercept + slope*test (slope below zero); zero from ``zero_at`` on. Kansas zinc.

    Source: ksu-mf2586 (11.5 - 11.25*Zn).
    Raises: OutOfRange for a negative test.
    """
    if _positive(test, "test") >= coefficients.get("zero_at", float("inf")):
        return 0.0
    return _not_below_zero(_given(coefficients, "intercept") + _given(coefficients, "slope") * test)


def yield_and_test(coefficients: type_of_coefficients, expected_yield: float, test: float) -> float:
    """Rate = base + per_yield*YG + per_test*test + per_yield_test*YG*test (the last two below zero).

    Kansas phosphorus. Zero from ``zero_at`` on; a positive result is at least ``minimum``.

    Source: ksu-mf2586.
    Raises: OutOfRange for a negative input.
    """
    _positive(expected_yield, "expected_yield")
    if _positive(test, "test") >= coefficients.get("zero_at", float("inf")):
        return 0.0
    rate = _not_below_zero(
        _given(coefficients, "base")
        + _given(coefficients, "per_yield") * expected_yield
        + _given(coefficients, "per_test") * test
        + _given(coefficients, "per_yield_test") * expected_yield * test
    )
    return max(rate, coefficients.get("minimum", 0.0)) if rate > 0.0 else 0.0


def per_yield_unit(rate_per_unit: float, expected_yield: float) -> float:
    """Rate = rate per unit of yield * expected yield. Alfalfa phosphorus and removal rates.

    Sources: msu-alfalfa-1998, wsu-alfalfa-removal.
    Raises: OutOfRange for a negative yield.
    """
    return rate_per_unit * _positive(expected_yield, "expected_yield")


AT = "at_"


def interpolate(coefficients: type_of_coefficients, test: float) -> float:
    """Rate on the straight line between the printed points ``at_<test>=<rate>``; flat beyond the last point.

    Source: msu-eb0161, whose tables are printed at points and meant to be interpolated.
    Raises: OutOfRange for a negative test; TableError for fewer than two points.
    """
    points = sorted((float(name[len(AT) :]), rate) for name, rate in coefficients.items() if name.startswith(AT))
    if len(points) < 2:
        raise TableError("interpolation without two points")
    if _positive(test, "test") <= points[0][0]:
        return points[0][1]
    for (left, rate_left), (right, rate_right) in pairwise(points):
        if test <= right:
            return rate_left + (rate_right - rate_left) * (test - left) / (right - left)
    return points[-1][1]


def lime_addition(coefficients: type_of_coefficients, lime_pct: float) -> float:
    """Phosphate added for free lime: ``lime_per_pct`` for each 1 %, at most at ``lime_pct_max``. Idaho potato.

    Source: ui-bul840.
    Raises: OutOfRange for a negative lime content.
    """
    counted = min(_positive(lime_pct, "lime_pct"), coefficients.get("lime_pct_max", lime_pct))
    return coefficients.get("lime_per_pct", 0.0) * counted
