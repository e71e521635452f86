"""A season's rate spread over its windows and written down as a recommendation in the client's units."""

from datetime import date
from typing import NamedTuple

from service.agronomy import timing
from service.agronomy.doses import AREAL, Dose
from service.agronomy.findings import Finding, Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.plot import Plot
from service.agronomy.reference import Cited
from service.agronomy.submission import Quantity
from service.agronomy.tables import Row, weakest


class Spread(NamedTuple):
    """A rate in base units with its doses: the whole season's, or what the windows that remain hold of it."""

    total: float
    rate: Quantity
    portions: tuple[timing.Portion, ...]
    areal: bool
    whole: bool = True


def spread(plot: Plot, dose: Dose, need: float, nutrient: str, today: date, ledger: Ledger) -> Spread:
    """Doses of a season's need from a day on; one undated dose where the row names no schedule.

    Args:
        need: g/m2 or g per tree for the season, above zero.
    """
    areal = dose.base == AREAL
    setting, schedule = plot.setting, dose.row.schedule
    portions, whole = (), True
    if schedule:
        caps = setting.caps(nutrient) if areal else ()
        portions, whole = timing.plan(setting, schedule, need, caps, today)
    if not portions:
        return Spread(need, shown(plot, need, areal), (), areal)
    total = sum(portion.rate for portion in portions)
    rate = shown(plot, total, areal)
    if ledger.explain:
        _explain(plot, need, rate, portions, areal, ledger)
    return Spread(total, rate, portions, areal, whole)


def _explain(
    plot: Plot, need: float, rate: Quantity, portions: tuple[timing.Portion, ...], areal: bool, ledger: Ledger
) -> None:
    rows: list[Row] = [portion.row for portion in portions]
    if portions[0].cap is not None:
        rows.append(portions[0].cap.row)
    inputs = {"season": shown(plot, need, areal).value, "doses": len(portions)}
    ledger.step("windows_left", "plan", inputs, rate.value, rate.unit, *rows)


def shown(plot: Plot, rate: float, areal: bool) -> Quantity:
    """A rate as the client reads it."""
    return plot.case.units.rate(rate) if areal else plot.case.units.per_tree(rate)


def recommend_spread(
    plot: Plot, nutrient: str, text: Note, dose: Dose, doses: Spread, ledger: Ledger, finding: Finding | None = None
) -> Recommendation:
    """The recommendation of a nutrient: rate, total for the area, doses, steps and citations."""
    basis = joined(ledger.cited(), finding)
    return Recommendation(
        "nutrient",
        nutrient,
        text,
        rate=doses.rate,
        for_area=plot.case.units.total(doses.total) if doses.areal else None,
        applications=timing.applications(plot.case, doses.portions, doses.areal),
        because=tuple(ledger.steps),
        sources=basis.sources,
        verification=basis.verification,
        calibration=dose.row.calibration,
        table=dose.row.table,
        base_rate=doses.total,
    )


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
