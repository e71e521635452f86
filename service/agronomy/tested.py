"""Nutrients dosed by a soil test: the rate comes from the same calibration that gave the class.

*None needed* is an answer of its own. A low class whose publisher prints no rate stays without one.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from service.agronomy.doses import Dose
from service.agronomy.dosing import Missing, rate_of
from service.agronomy.findings import Finding, Note, Reason, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.plot import Plot
from service.agronomy.reference import reference_of
from service.agronomy.sample import Measurement
from service.agronomy.spreading import joined, recommend_spread, spread
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled


class Words(dict[str, Word]):
    """Rating words, each made once."""

    def __missing__(self, rating: str) -> Word:
        made = self[rating] = Word("rating", rating)
        return made


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
TEST_WORDS = {nutrient: Word("analyte", analytes[0]) for nutrient, analytes in TESTS.items()} | {
    "S": Word("subject", "S")
}
"""What a sentence calls the nutrient that was tested: phosphorus, not phosphate."""
SUBJECT_WORDS = {nutrient: Word("subject", nutrient) for nutrient in ("N", *TESTS)}
RATING_WORDS = Words()
ENOUGH = frozenset(("sufficient", "high", "very_high", "excessive", "toxic"))


NARROW = frozenset(("Mn", "Cu"))
"""Trace elements that stay for years and harm if overdone: no amount from a figure that is only a bound."""


class Tested(NamedTuple):
    """One nutrient's class and the measurement behind it."""

    plot: Plot
    nutrient: str
    finding: Finding
    measurement: Measurement

    def values(self, **more: Any) -> dict[str, Any]:
        """What every sentence about it may name."""
        return {
            "nutrient": TEST_WORDS[self.nutrient],
            "rating": RATING_WORDS[self.finding.rating or ""],
            "value": self._shown(),
            "crop": self.plot.setting.crop_word,
            **more,
        }

    def _shown(self) -> object:
        """The figure, and that it lies below the laboratory's limit where that is all that is known."""
        found, understood = self.measurement, self.finding.understood
        below = found.value is None and found.reported.qualifier == "<"
        return Note("rec.value_below", {"value": understood}) if below else understood


class Answer(NamedTuple):
    """A recommendation for one nutrient and reasons for the decision."""

    recommendation: Recommendation
    reasons: tuple[Reason, ...] = ()


type_of_words = Callable[[Tested, str], str]
"""Chooses the sentence of an outcome: ``none``, ``needed`` or ``no_rate``."""


def rated(plot: Plot, nutrient: str, findings: Mapping[str, Finding]) -> Tested | None:
    """The class that decides a nutrient; ``None`` when its test is missing, withheld or not rated."""
    for analyte in TESTS[nutrient]:
        finding = findings.get(analyte)
        if finding is not None:
            measurement = plot.case.find(analyte, finding.method or "")
            if measurement is not None:
                return Tested(plot, nutrient, finding, measurement)
    return None


def recommend_tested(tested: Tested, words: type_of_words) -> Answer:
    """How much of a nutrient, by the rows of the calibration that rated it; or none; or that no rate is printed."""
    plot, nutrient, finding, measurement = tested
    ledger = Ledger(plot.case.explain)
    for dose in plot.setting.tested(nutrient, finding.calibration, finding.analyte, finding.method):
        if dose.covers(measurement):
            break
    else:
        outcome = "none" if finding.rating in ENOUGH else "no_rate"
        return Answer(_plain(tested, outcome, words, ledger))
    if nutrient in NARROW and not measurement.exact:
        return Answer(_plain(tested, "none" if finding.rating in ENOUGH else "no_rate", words, ledger))
    need = rate_of(plot, dose, measurement, ledger)
    if isinstance(need, Missing):
        return Answer(_lacking(tested, dose, need, ledger))
    if scaled(need) == 0:
        return Answer(_plain(tested, "none", words, ledger))
    if measurement.depth_in is None and plot.case.depth_in is None:
        return _without_depth(tested, ledger)
    doses = spread(plot, dose, need, nutrient, plot.case.as_of, ledger)
    more: object = ""
    if not doses.complete:
        missing = Quantity(round(doses.rate.value - doses.left.value, 3), doses.rate.unit)
        more = Note("rec.more_next_year", {"left": doses.left, "missing": missing})
    text = Note(words(tested, "needed"), tested.values(rate=doses.rate, more=more))
    return Answer(recommend_spread(plot, nutrient, text, dose, doses, ledger, finding))


def _plain(tested: Tested, outcome: str, words: type_of_words, ledger: Ledger) -> Recommendation:
    """None needed, or a low class without a printed rate: no figure either way."""
    code, kind = words(tested, outcome), "none_needed" if outcome == "none" else "practice"
    return _told(tested, kind, code, ledger, **_retest(tested, code, ledger))


def _retest(tested: Tested, code: str, ledger: Ledger) -> dict[str, int]:
    """When to look again at a soil that is overfull."""
    if code != "rec.p_excess":
        return {}
    row = reference_of(tested.plot.case.library).factor("retest_years_routine")
    ledger.use(row)
    return {"years": int(row.value)}


def _told(tested: Tested, kind: str, code: str, ledger: Ledger, **more: Any) -> Recommendation:
    """A recommendation in words only."""
    finding = tested.finding
    basis = joined(ledger.cited(), finding)
    return Recommendation(
        kind,
        tested.nutrient,
        Note(code, tested.values(**more)),
        because=tuple(ledger.steps),
        sources=basis.sources,
        verification=basis.verification,
        calibration=finding.calibration,
        table=basis.table,
    )


def _lacking(tested: Tested, dose: Dose, missing: Missing, ledger: Ledger) -> Recommendation:
    """A rate that hangs on something nobody sent: the rule in words, and what to send."""
    row = dose.row
    ledger.use(row)
    per_unit = None
    if dose.low is not None:
        per_unit = Quantity(round(tested.plot.setting.within(dose) / dose.factor, 2), row.rate_unit)
    code = f"rec.needs_{missing.what}"
    return _told(tested, "practice", code, ledger, per_unit=per_unit, yield_unit=Quantity(1, row.yield_unit))


def _without_depth(tested: Tested, ledger: Ledger) -> Answer:
    """A class needs no depth, an amount per area does."""
    finding = tested.finding
    pointer = f"/results/{finding.index}/depth"
    reason = Reason("depth_unknown", "withhold", finding.analyte, {}, Note("ask.depth"), pointer)
    ledger.steps.clear()
    return Answer(_told(tested, "practice", "rec.depth_unknown", ledger), (reason,))
