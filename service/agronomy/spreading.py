"""A season's rate spread over its windows and written down as a recommendation in the client's units."""

from datetime import date
from typing import NamedTuple

from service.agronomy import timing
from service.agronomy.doses import AREAL, Dose
from service.agronomy.findings import Finding, Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.plot import Plot, cited
from service.agronomy.reference import Cited
from service.agronomy.submission import Quantity
from service.agronomy.tables import Row, weakest


class Spread(NamedTuple):
    """A rate in base units with its doses: the whole season's, or what the windows that remain hold of it."""

    total: float
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
    if not schedule:
        return Spread(need, (), areal)
    caps = setting.caps(nutrient) if areal else ()
    portions, whole = timing.plan(setting, schedule, need, caps, today)
    if not portions:
        return Spread(need, (), areal)
    total = sum(portion.rate for portion in portions)
    rows: list[Row] = [portion.row for portion in portions]
    if portions[0].cap is not None:
        rows.append(portions[0].cap.row)
    if ledger.explain:
        inputs = {"season": shown(plot, need, areal).value, "doses": len(portions)}
        rate = shown(plot, total, areal)
        ledger.step("windows_left", "windows_left", inputs, rate.value, rate.unit, *rows)
    else:
        ledger.use(*rows)
    return Spread(total, portions, areal, whole)


def shown(plot: Plot, rate: float, areal: bool) -> Quantity:
    """A rate as the client reads it."""
    return plot.case.units.rate(rate) if areal else plot.case.units.per_tree(rate)


def recommend_spread(
    plot: Plot, nutrient: str, text: Note, dose: Dose, doses: Spread, ledger: Ledger, finding: Finding | None = None
) -> Recommendation:
    """The recommendation of a nutrient: rate, total for the area, doses, steps and citations."""
    basis = joined(cited(plot.case, ledger), finding)
    return Recommendation(
        "nutrient",
        nutrient,
        text,
        rate=shown(plot, doses.total, doses.areal),
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
