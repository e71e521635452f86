"""A season's rate spread over its windows and written down as a recommendation in the client's units.

The rate is always the whole season's need; the doses are those that can still be given. Where they hold less, that is
said. Steps keep the exact figures; rates and doses are named no finer than a spreader can be set.
"""

from datetime import date
from typing import NamedTuple

from service.agronomy import timing
from service.agronomy.doses import AREAL, Dose
from service.agronomy.findings import Finding, Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.plot import Plot
from service.agronomy.reference import Cited, reference_of
from service.agronomy.rounding import prepare_rounding, weighed
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimitRow, Row, weakest
from service.agronomy.units import GRAMS_PER_LB, METRES_PER_INCH, SQUARE_METRES_PER_ACRE, Units, scaled, significant


class Spread(NamedTuple):
    """A season's need with its doses.

    Attributes:
        season: the whole need, g/m2 or g/tree. total: what the doses hold of it.
        rate, left: both as the client reads them.
        rates: the doses as the client reads them, one for each portion.
        whole: no window has passed. later: the doses are next year's.
    """

    season: float
    total: float
    rate: Quantity
    left: Quantity
    portions: tuple[timing.Portion, ...]
    rates: tuple[Quantity, ...]
    areal: bool
    whole: bool = True
    later: bool = False

    @property
    def complete(self) -> bool:
        """Whether the doses hold the whole need, as the client reads both."""
        return scaled(self.left.value) >= scaled(self.rate.value)


NITROGEN = "N"
WATER_IN = "urea_water_in"
MM_PER_M = 1000.0
FIELDS = frozenset(("field", "forage"))
WHOLE_FROM = 10.0
"""Totals from here up are named in the steps in which people weigh: how a figure is printed, not what it is."""


def spread(plot: Plot, dose: Dose, need: float, nutrient: str, today: date, ledger: Ledger) -> Spread:
    """Doses of a season's need from a day on; one undated dose where the row names no schedule.

    Args:
        need: g/m2 or g per tree for the season, above zero.
    """
    areal = dose.base == AREAL
    setting, schedule = plot.setting, dose.row.schedule
    planned = timing.Plan((), True)
    if schedule:
        caps = setting.caps(nutrient) if areal else ()
        least = _least(plot) if areal else 0.0
        planned = timing.plan(setting, schedule, need, caps, today, least, made_up=nutrient != NITROGEN)
    portions = planned.portions
    rounding = plot.case.library.index(prepare_rounding)
    rate = rounding.rate(plot.case.units, nutrient, need, areal)
    if not portions:
        return Spread(need, need, rate, rate, (), (), areal)
    total = sum(portion.rate for portion in portions)
    rates, left = rounding.doses(plot.case.units, nutrient, portions, areal)
    if scaled(total) == scaled(need) and len(portions) == 1:
        rates, left = (rate,), rate
    if ledger.explain:
        _explain(plot, need, shown(plot, total, areal), portions, areal, ledger)
    return Spread(need, total, rate, left, portions, rates, areal, planned.whole, planned.later)


def _least(plot: Plot) -> float:
    """The smallest dose worth a pass over a field, g/m2; none for lawns, beds and trees."""
    if plot.setting.crop.kind not in FIELDS:
        return 0.0
    floor = reference_of(plot.case.library).factor("small_dose_floor")
    return floor.value * GRAMS_PER_LB / SQUARE_METRES_PER_ACRE


def _explain(
    plot: Plot, need: float, rate: Quantity, portions: tuple[timing.Portion, ...], areal: bool, ledger: Ledger
) -> None:
    rows: list[Row] = [portion.row for portion in portions]
    if portions[0].cap is not None:
        rows.append(portions[0].cap.row)
    if any(portion.apart for portion in portions):
        rows += [timing.dose_gap(plot.case.library), timing.split_interval(plot.case.library)]
    inputs = {"season": shown(plot, need, areal).value, "doses": len(portions)}
    ledger.step("windows_left", "plan", inputs, rate.value, rate.unit, *rows)


def shown(plot: Plot, rate: float, areal: bool) -> Quantity:
    """A rate as the client reads it."""
    return plot.case.units.rate(rate) if areal else plot.case.units.per_tree(rate)


def recommend_spread(
    plot: Plot, nutrient: str, text: Note, dose: Dose, doses: Spread, ledger: Ledger, finding: Finding | None = None
) -> Recommendation:
    """The recommendation of a nutrient: rate, total for the area, doses, steps and citations."""
    watering = _watering(plot, doses, ledger) if nutrient == NITROGEN else ()
    basis = joined(ledger.cited(), finding)
    return Recommendation(
        "nutrient",
        nutrient,
        text,
        rate=doses.rate,
        for_area=area_total(plot, doses.rate) if doses.areal else None,
        applications=timing.applications(plot.case, doses.portions, doses.rates, watering),
        because=tuple(ledger.steps),
        sources=basis.sources,
        verification=basis.verification,
        calibration=dose.row.calibration,
        table=dose.row.table,
        base_rate=doses.season,
        in_full=not doses.complete or doses.later,
        base_doses=tuple([portion.rate for portion in doses.portions]),
    )


def _watering(plot: Plot, doses: Spread, ledger: Ledger) -> tuple[Note, ...]:
    """The water that brings a surface dose into the ground, by ``application-limits``; urea and ammonium on lime."""
    row = plot.case.library.index(prepare_water_in)
    if row is None or all(portion.row.when in timing.WORKED_IN for portion in doses.portions):
        return ()
    ledger.use(row)
    depth = plot.case.library.index(Units.of).inches(Quantity(row.maximum, row.unit))
    code = "how.water_in_limy" if plot.setting.calcareous else "how.water_in"
    if plot.setting.crop.kind in FIELDS:
        code = "how.water_or_rain"
    return (Note(code, {"depth": plot.case.units.water(depth * METRES_PER_INCH * MM_PER_M)}),)


def prepare_water_in(library: Library) -> LimitRow | None:
    """The water that surface urea needs at once: a row of ``application-limits``."""
    return next((row for row in library.rows("application-limits", LimitRow) if row.limit == WATER_IN), None)


def area_total(plot: Plot, rate: Quantity) -> Quantity | None:
    """A rate, as the client reads it, for the whole area, rounded once."""
    case = plot.case
    if case.area_m2 is None:
        return None
    units = case.library.index(Units.of)
    grams = units.areal(rate) * case.area_m2
    unit = case.units.mass(grams).unit
    total = units.convert(grams, "g", unit)
    return Quantity(weighed(total, unit) if total >= WHOLE_FROM else significant(total), unit)


def in_words(kind: str, subject: str, text: Note) -> Recommendation:
    """Advice of common practice that carries no figure."""
    return Recommendation(kind, subject, text, sources=("practice",), verification="practice")


def joined(basis: Cited, finding: Finding | None) -> Cited:
    """What a class and the rate for it rest on together."""
    if finding is None:
        return basis
    sources = finding.sources
    if basis.sources and basis.sources != sources:
        sources = tuple(dict.fromkeys((*sources, *basis.sources)))
    verification = finding.verification
    if basis.verification != verification:
        verification = weakest((verification or "", basis.verification or ""))
    return Cited(sources, verification, basis.table or finding.table)
