"""The rate that one row gives for one submission: read from its range, or reckoned by the equation it names.

The answer is in base units (g/m2 or g per tree), or a word for what is missing. Nothing missing is taken as zero.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from service.agronomy import equations, nitrogen_credits
from service.agronomy.doses import Dose
from service.agronomy.errors import TableError, UnitMismatch, UnknownUnit
from service.agronomy.findings import Word
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import lime_of
from service.agronomy.plot import Plot
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.units import Units


class Missing(NamedTuple):
    """What a row needs and nobody sent: yield_goal, nitrate, deep_nitrate, usable_nitrate, om, age, trunk."""

    what: str


class Inputs(NamedTuple):
    """What an equation is given."""

    plot: Plot
    dose: Dose
    test: float | None
    ledger: Ledger


def rate_of(plot: Plot, dose: Dose, measurement: Measurement | None, ledger: Ledger) -> float | Missing:
    """The rate of a row in base units, with its step. Raises TableError for an equation nobody knows."""
    row = dose.row
    if not row.equation:
        rate = plot.setting.within(dose)
        if ledger.explain:
            _explain_row(dose, rate, ledger)
        return rate
    equation = EQUATIONS.get(row.equation)
    if equation is None:
        raise TableError(f"no equation named {row.equation}")
    given = equation(Inputs(plot, dose, _test(measurement), ledger))
    if isinstance(given, Missing):
        return given
    rate, inputs = given
    ledger.step("equation", row.equation, {**row.coefficients, **inputs}, round(rate, 2), row.rate_unit, row)
    return rate * dose.factor


def _explain_row(dose: Dose, rate: float, ledger: Ledger) -> None:
    """The step of a rate read from a row: a range, one figure, or none."""
    row = dose.row
    inputs: dict[str, float | None] = {}
    name = "rate_none"
    if rate:
        name = "rate_row" if row.rate_high not in (None, row.rate_low) else "rate_fixed"
        inputs = {"low": row.rate_low, "high": row.rate_high}
    ledger.step(name, "rate_of", inputs, round(rate / dose.factor, 3), row.rate_unit, row)


def _test(measurement: Measurement | None) -> float | None:
    """The figure an equation may use: the value, the reporting limit of ``<``, the least that is sure of ``>``."""
    if measurement is None:
        return None
    if measurement.value is not None:
        return measurement.value
    return measurement.low if measurement.high == float("inf") else measurement.high


type_of_outcome = tuple[float, dict[str, float | None]] | Missing


def expected_yield(case: Case, unit: str) -> float | None:
    """The yield goal in a row's unit (``ton/acre``, ``1000 lb/acre``); ``None`` when not sent or of another kind."""
    goal = case.submission.target.yield_goal
    if goal is None:
        return None
    head, _, rest = unit.partition(" ")
    number, plain = (float(head), rest) if head.isdigit() else (1.0, unit)
    try:
        return case.library.index(Units.of).convert(goal.value, goal.unit, plain) / number
    except (UnknownUnit, UnitMismatch):
        return None


def _om(case: Case) -> float | None:
    om = case.find("OM")
    return om.value if om is not None else None


def _yield_nitrate_om(given: Inputs) -> type_of_outcome:
    row, case = given.dose.row, given.plot.case
    goal, om = expected_yield(case, row.yield_unit), _om(case)
    nitrate = _root_zone_nitrate(given)
    if goal is None or om is None or nitrate is None:
        return Missing("yield_goal" if goal is None else "om" if om is None else _no_nitrate(case))
    own = _own_credits(given)
    rate = equations.yield_nitrate_om(row.coefficients, goal, nitrate, om, own)
    return rate, {"yield": goal, "nitrate": nitrate, "om": om, "credits": own}


def _no_nitrate(case: Case) -> str:
    """Why an equation lacks its nitrate: what was sent cannot be used, or it was not sent deep enough."""
    return "usable_nitrate" if nitrogen_credits.nitrate_withheld(case) else "deep_nitrate"


def _root_zone_nitrate(given: Inputs) -> float | None:
    """Mean nitrate of a profile deep enough, else the publisher's default; a shallow sample alone would mislead.

    No default stands in for a result that was sent and withheld.
    """
    plot, coefficients = given.plot, given.dose.row.coefficients
    if nitrogen_credits.nitrate_withheld(plot.case):
        return None
    profile = nitrogen_credits.nitrate_profile(plot.case)
    if profile is not None and profile.bottom >= coefficients.get("nitrate_depth_in", 0.0):
        return profile.mean
    default = coefficients.get("nitrate_default")
    if plot.setting.sand:
        default = coefficients.get("nitrate_default_sand", default)
    return _assumed(given, default, "mg/kg")


def _assumed(given: Inputs, default: float | None, unit: str) -> float | None:
    """A publisher's default, said aloud in the sentence and in a step."""
    if default is None:
        return None
    row, ledger = given.dose.row, given.ledger
    values = {"nitrate": Quantity(default, unit), "publisher": Word("calibration", row.calibration)}
    sent = nitrogen_credits.nitrate_profile(given.plot.case)
    if sent is None:
        ledger.note("rec.n_more_assumed", **values)
    else:
        reach = given.plot.case.units.depth(sent.bottom)
        ledger.note("rec.n_more_assumed_shallow", depth=reach, **values)
    ledger.step("nitrate_assumed", row.equation, {"nitrate": default}, default, unit, row)
    return default


def _yield_profile_nitrate_om(given: Inputs) -> type_of_outcome:
    row, case = given.dose.row, given.plot.case
    goal, om, profile = expected_yield(case, row.yield_unit), _om(case), _profile_nitrate(given)
    if goal is None or om is None or profile is None:
        return Missing("yield_goal" if goal is None else "om" if om is None else _no_nitrate(case))
    own = _own_credits(given)
    rate = equations.yield_profile_nitrate_om(row.coefficients, goal, profile, om, own)
    return rate, {"yield": goal, "profile": profile, "om": om, "credits": own}


def _yield_profile_nitrate(given: Inputs) -> type_of_outcome:
    row = given.dose.row
    goal, profile = expected_yield(given.plot.case, row.yield_unit), _profile_nitrate(given)
    if goal is None or profile is None:
        return Missing("yield_goal" if goal is None else _no_nitrate(given.plot.case))
    own = _own_credits(given)
    rate = equations.yield_profile_nitrate(row.coefficients, goal, profile, own)
    return rate, {"yield": goal, "profile": profile, "credits": own}


def _profile_nitrate(given: Inputs) -> float | None:
    """Nitrate-N of the profile, lb/acre: by the publisher's factor, else the general one; else its default."""
    row, case = given.dose.row, given.plot.case
    if nitrogen_credits.nitrate_withheld(case):
        return None
    profile = nitrogen_credits.nitrate_profile(case)
    depth = row.coefficients.get("profile_depth_in")
    per_foot = nitrogen_credits.per_foot(case.library, row.calibration)
    if profile is None or per_foot is None or (depth is not None and profile.bottom < depth):
        return _assumed(given, row.coefficients.get("profile_default"), nitrogen_credits.LB_ACRE)
    return (profile if depth is None else profile.to(depth)).amount(per_foot.value)


def _own_credits(given: Inputs) -> float:
    """The credits that the equation's own publisher gives, and what manure put on every year brings, lb/acre."""
    row, plot, ledger = given.dose.row, given.plot, given.ledger
    credit = nitrogen_credits.previous_crop(plot, row.calibration, False, ledger)
    credit += nitrogen_credits.organic_nitrogen(plot, ledger)
    return credit + nitrogen_credits.water_nitrate(plot, row.calibration, "credit_water" in row.coefficients, ledger)


def _nitrate_shortfall(given: Inputs) -> type_of_outcome:
    nitrate = given.plot.case.find(nitrogen_credits.NITRATE)
    if nitrate is None or nitrate.index in given.plot.case.weakened:
        return Missing("nitrate")
    value = max(nitrate.low, 0.0)
    return equations.nitrate_shortfall(given.dose.row.coefficients, value), {"nitrate": value}


def _per_age(given: Inputs) -> type_of_outcome:
    age = given.plot.case.submission.target.condition.age_years
    return Missing("age") if age is None else (equations.per_age(given.dose.row.coefficients, age), {"age": age})


def _per_trunk_inch(given: Inputs) -> type_of_outcome:
    trunk = given.plot.case.submission.target.condition.trunk_diameter
    if trunk is None:
        return Missing("trunk")
    inches = given.plot.case.library.index(Units.of).inches(trunk)
    return equations.per_trunk_inch(given.dose.row.coefficients, inches), {"trunk": inches}


def _per_yield_unit(given: Inputs) -> type_of_outcome:
    goal = expected_yield(given.plot.case, given.dose.row.yield_unit)
    if goal is None:
        return Missing("yield_goal")
    per_unit = given.plot.setting.within(given.dose) / given.dose.factor
    return equations.per_yield_unit(per_unit, goal), {"yield": goal, "per_unit": per_unit}


def _yield_and_test(given: Inputs) -> type_of_outcome:
    goal = expected_yield(given.plot.case, given.dose.row.yield_unit)
    if goal is None or given.test is None:
        return Missing("yield_goal" if goal is None else "test")
    rate = equations.yield_and_test(given.dose.row.coefficients, goal, given.test)
    return rate, {"yield": goal, "test": given.test}


def _linear_in_test(given: Inputs) -> type_of_outcome:
    if given.test is None:
        return Missing("test")
    return equations.linear_in_test(given.dose.row.coefficients, given.test), {"test": given.test}


def _interpolate(given: Inputs) -> type_of_outcome:
    coefficients = given.dose.row.coefficients
    if given.test is None:
        return Missing("test")
    rate = equations.interpolate(coefficients, given.test)
    if "lime_per_pct" not in coefficients:
        return rate, {"test": given.test}
    lime = lime_of(given.plot.case).percent
    if lime is None:
        return Missing("lime")
    return rate + equations.lime_addition(coefficients, lime), {"test": given.test, "lime": lime}


EQUATIONS: Mapping[str, Callable[[Inputs], type_of_outcome]] = {
    "yield_nitrate_om": _yield_nitrate_om,
    "yield_profile_nitrate_om": _yield_profile_nitrate_om,
    "yield_profile_nitrate": _yield_profile_nitrate,
    "nitrate_shortfall": _nitrate_shortfall,
    "per_age": _per_age,
    "per_trunk_inch": _per_trunk_inch,
    "per_yield_unit": _per_yield_unit,
    "yield_and_test": _yield_and_test,
    "linear_in_test": _linear_in_test,
    "interpolate": _interpolate,
}
"""The equations that a rate row may name."""
