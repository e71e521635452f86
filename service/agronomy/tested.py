"""Nutrients dosed by a soil test: the rate comes from the same calibration that gave the class.

*None needed* is an answer of its own. A low class whose publisher prints no rate stays without one.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from service.agronomy import timing
from service.agronomy.doses import AREAL, Dose, Setting
from service.agronomy.dosing import Missing, rate_of
from service.agronomy.findings import Finding, Note, Reason, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.sample import Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import weakest
from service.agronomy.units import scaled

TESTS: Mapping[str, tuple[str, ...]] = {
    "P2O5": ("P",),
    "K2O": ("K",),
    "S": ("SO4-S", "S"),
    "Zn": ("Zn",),
    "Fe": ("Fe",),
    "Mn": ("Mn",),
    "Cu": ("Cu",),
    "B": ("B",),
}
"""The analytes whose class decides a nutrient, the preferred first."""
ENOUGH = frozenset(("sufficient", "high", "very_high", "excessive", "toxic"))


class Tested(NamedTuple):
    """One nutrient's class and the measurement behind it."""

    setting: Setting
    nutrient: str
    finding: Finding
    measurement: Measurement

    @property
    def values(self) -> dict[str, object]:
        """What every sentence about it may name."""
        return {
            "nutrient": Word("nutrient", self.nutrient),
            "rating": Word("rating", self.finding.rating or "unknown"),
            "value": self.finding.understood,
            "crop": Word("crop", self.setting.crop.id),
        }


class Answer(NamedTuple):
    """A recommendation for one nutrient and reasons for the decision."""

    recommendation: Recommendation
    reasons: tuple[Reason, ...] = ()


type_of_words = Callable[[Tested, str], str]
"""Chooses the sentence of an outcome: ``none``, ``needed`` or ``no_rate``."""


def rated(setting: Setting, nutrient: str, findings: Mapping[str, Finding]) -> Tested | None:
    """The class that decides a nutrient; ``None`` when its test is missing, withheld or not rated."""
    for analyte in TESTS[nutrient]:
        finding = findings.get(analyte)
        if finding is not None:
            measurement = setting.case.find(analyte, finding.method or "")
            if measurement is not None:
                return Tested(setting, nutrient, finding, measurement)
    return None


def recommend_tested(tested: Tested, words: type_of_words) -> Answer:
    """How much of a nutrient, by the rows of the calibration that rated it; or none; or that no rate is printed."""
    setting = tested.setting
    ledger = Ledger(setting.case.explain)
    rows = _rows(tested)
    dose = next((dose for dose in rows if dose.covers(tested.measurement)), None)
    if dose is None:
        outcome = "none" if tested.finding.rating in ENOUGH else "no_rate"
        return Answer(_plain(tested, outcome, words, ledger, None))
    need = rate_of(setting, dose, tested.measurement, ledger)
    if isinstance(need, Missing):
        return Answer(_lacking(tested, dose, need, ledger))
    if scaled(need) == 0:
        return Answer(_plain(tested, "none", words, ledger, dose))
    if tested.measurement.depth_in is None and setting.case.depth_in is None:
        return _without_depth(tested)
    return Answer(_needed(tested, dose, need, words, ledger))


def _rows(tested: Tested) -> Sequence[Dose]:
    """The rate rows of the same calibration for this test and setting."""
    finding = tested.finding
    return [
        dose
        for dose in tested.setting.fitting(tested.nutrient)
        if dose.row.calibration == finding.calibration
        and dose.row.basis_analyte == finding.analyte
        and dose.row.basis_method in (None, "", finding.method)
    ]


def _plain(tested: Tested, outcome: str, words: type_of_words, ledger: Ledger, dose: Dose | None) -> Recommendation:
    """None needed, or a low class without a printed rate: no figure either way."""
    finding = tested.finding
    row = dose.row if dose is not None else None
    ledger.use(row)
    cited = ledger.cited()
    return Recommendation(
        "none_needed" if outcome == "none" else "practice",
        tested.nutrient,
        Note(words(tested, outcome), tested.values),
        because=tuple(ledger.steps),
        sources=tuple(dict.fromkeys((*finding.sources, *cited.sources))),
        verification=weakest((finding.verification or "", cited.verification or "")),
        calibration=finding.calibration,
        table=cited.table or finding.table,
    )


def _lacking(tested: Tested, dose: Dose, missing: Missing, ledger: Ledger) -> Recommendation:
    """A rate that hangs on something nobody sent: the rule in words, and what to send."""
    ledger.use(dose.row)
    cited = ledger.cited()
    row = dose.row
    per_unit = Quantity(tested.setting.within(dose) / dose.factor, row.rate_unit) if dose.low is not None else None
    values = {**tested.values, "per_unit": per_unit, "yield_unit": row.yield_unit}
    return Recommendation(
        "practice",
        tested.nutrient,
        Note(f"rec.needs_{missing.what}", values),
        sources=cited.sources,
        verification=cited.verification,
        calibration=row.calibration,
        table=row.table,
    )


def _without_depth(tested: Tested) -> Answer:
    """A class needs no depth, an amount per area does."""
    finding = tested.finding
    pointer = f"/results/{finding.index}/depth"
    reason = Reason("depth_unknown", "withhold", finding.analyte, {}, Note("ask.depth"), pointer)
    text = Note("rec.depth_unknown", tested.values)
    return Answer(
        Recommendation(
            "practice",
            tested.nutrient,
            text,
            sources=finding.sources,
            verification=finding.verification,
            calibration=finding.calibration,
            table=finding.table,
        ),
        (reason,),
    )


def _needed(tested: Tested, dose: Dose, need: float, words: type_of_words, ledger: Ledger) -> Recommendation:
    setting, row = tested.setting, dose.row
    units = setting.case.units
    caps = timing.caps_on(setting, tested.nutrient) if dose.base == AREAL else ()
    plan = timing.plan(setting, row.schedule, need, caps) if row.schedule else None
    total = plan.total if plan is not None and plan.portions else need
    if plan is not None:
        ledger.use(*plan.rows)
    cited = ledger.cited()
    show = units.rate if dose.base == AREAL else units.per_tree
    return Recommendation(
        "nutrient",
        tested.nutrient,
        Note(words(tested, "needed"), {**tested.values, "rate": show(total), "per": row.per}),
        rate=show(total),
        for_area=units.total(total) if dose.base == AREAL else None,
        applications=timing.applications(setting, plan.portions, dose.base) if plan else (),
        because=tuple(ledger.steps),
        sources=tuple(dict.fromkeys((*tested.finding.sources, *cited.sources))),
        verification=weakest((tested.finding.verification or "", cited.verification or "")),
        calibration=row.calibration,
        table=row.table,
        base_rate=total,
    )
