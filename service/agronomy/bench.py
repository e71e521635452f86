"""What the checks of laboratory figures share: the case, the tolerances, and the place to write findings down."""

from collections.abc import Iterable
from typing import Any

from service.agronomy.findings import Check, Note, Reason
from service.agronomy.quality_limits import Limits
from service.agronomy.sample import Case, Measurement
from service.agronomy.units import scaled
from service.agronomy.vocabulary import Vocabulary

EXTRACT = "saturated_paste_extract"
type_of_figures = dict[str, Any]


class Bench:
    """One report being checked. ``voids`` starts with what the door found."""

    __slots__ = ("case", "checks", "limits", "reasons", "vocabulary", "voids", "weakened")

    def __init__(self, case: Case) -> None:
        self.case = case
        self.limits = case.library.index(Limits.of)
        self.vocabulary = case.library.index(Vocabulary.of)
        self.checks: list[Check] = []
        self.reasons: list[Reason] = []
        self.voids: dict[int, Note] = dict(case.voids)
        self.weakened: dict[int, Note] = {}

    def figure(self, analyte: str, *methods: str) -> float | None:
        """The exact figure of the main layer, canonical unit; None when missing, censored, a word or voided."""
        found = self.case.find(analyte, *methods)
        return None if found is None or found.index in self.voids else found.value

    def report(self, check: str, status: str, figures: type_of_figures) -> None:
        """Write a check down; passes are kept only where an explanation was asked for."""
        if self.case.explain or status in ("warn", "fail"):
            self.checks.append(Check(check, status, figures, Note(f"check.{check}.{status}", figures)))

    def compare(self, check: str, good: bool, figures: type_of_figures) -> bool:
        """Write down pass or warn; answers whether it passed."""
        self.report(check, "pass" if good else "warn", figures)
        return good

    def reason(self, code: str, severity: str, analyte: str | None, values: type_of_figures) -> None:
        """Add a reason with the question or order that would settle it."""
        self.reasons.append(Reason(code, severity, analyte, values, Note(f"ask.{code}", values)))

    def void(self, measurements: Iterable[Measurement | None], code: str, values: type_of_figures) -> None:
        """Take results out of use; the first reason found for a result stays."""
        note = Note(f"void.{code}", values)
        for measurement in measurements:
            if measurement is not None:
                self.voids.setdefault(measurement.index, note)

    def weaken(self, measurements: Iterable[Measurement | None], code: str, values: type_of_figures) -> None:
        """Keep results in use with a caution."""
        note = Note(f"weak.{code}", values)
        for measurement in measurements:
            if measurement is not None:
                self.weakened.setdefault(measurement.index, note)

    def limit(self, check: str, name: str) -> float:
        """One tolerance of ``quality-limits``."""
        return self.limits.figure(check, name)

    def within(self, value: float, check: str, low: str, high: str) -> bool:
        """Whether a figure lies between two tolerances, ends included."""
        limits = self.limits.scaled
        return limits[check, low] <= scaled(value) <= limits[check, high]

    def above(self, value: float, check: str, name: str) -> bool:
        """Whether a figure is above a tolerance."""
        return scaled(value) > self.limits.scaled[check, name]
