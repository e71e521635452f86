"""Where a laboratory method may be trusted: the soil's pH and free lime against the method-validity table.

An acid phosphorus extract is spent on lime, so a Bray figure from a limy soil is withheld by name and never
converted. What the soil is must be known: without pH and lime such a figure cannot be trusted either.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.calibration import OPEN_HIGH, OPEN_LOW
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.lime_state import LABORATORY_PH, lime_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import Library, ValidityRow
from service.agronomy.units import scaled

FED = frozenset(("P", "K", "S", "SO4-S", "Zn", "Fe", "Mn", "Cu"))
"""Analytes whose lack would go unseen while their figure is withheld."""
CALCAREOUS, REJECT, CAUTION = "calcareous", "reject", "caution"


class Soil(NamedTuple):
    """What decides whether a method holds: pH as millionths, free lime; ``None`` where nobody tested."""

    pH: int | None
    calcareous: bool | None


class Verdict(NamedTuple):
    """A result that is not used, why, and what to order instead."""

    why: Note
    reason: Reason
    sources: tuple[str, ...]
    verification: str


class Rule(NamedTuple):
    """A row that can stop or weaken a result, with its pH bounds in millionths: ``low <= pH < high``."""

    row: ValidityRow
    bounded: bool
    low: int
    high: int


type_of_rules = Mapping[str, Mapping[str, tuple[Rule, ...]]]


def prepare_validity(library: Library) -> type_of_rules:
    """The rules of ``method-validity`` that can stop or weaken a result: analyte -> method -> rules."""
    doubtful: dict[str, dict[str, tuple[Rule, ...]]] = {}
    for row in library.rows("method-validity", ValidityRow):
        if row.verdict in (REJECT, CAUTION):
            methods = doubtful.setdefault(row.analyte, {})
            methods[row.method] = (*methods.get(row.method, ()), _rule(row))
    return doubtful


def _rule(row: ValidityRow) -> Rule:
    low = OPEN_LOW if row.pH_lower is None else scaled(row.pH_lower)
    high = OPEN_HIGH if row.pH_upper is None else scaled(row.pH_upper)
    return Rule(row, row.pH_lower is not None or row.pH_upper is not None, low, high)


def soil_of(case: Case) -> Soil:
    """pH and free lime of the main layer."""
    pH = case.find("pH", *LABORATORY_PH)
    value = pH.value if pH is not None else None
    return Soil(None if value is None else scaled(value), lime_of(case).calcareous)


class Judged(NamedTuple):
    """Results that their own method rules out in this soil, by index, and mild doubts as reasons."""

    invalid: Mapping[int, Verdict]
    doubts: tuple[Reason, ...]


NO_DOUBT = Judged({}, ())


def judge(case: Case) -> Judged:
    """Which results of the soil their own method rules out or weakens here; empty for most reports."""
    suspects = [
        (result, methods[result.method])
        for analyte, methods in case.library.index(prepare_validity).items()
        for result in case.by_analyte.get(analyte, ())
        if result.method in methods
    ]
    if not suspects:
        return NO_DOUBT
    soil = soil_of(case)
    invalid: dict[int, Verdict] = {}
    doubts = []
    for result, rules in suspects:
        verdict = _verdict(result, rules, soil)
        if verdict is not None:
            invalid[result.index] = _answered(case, result, verdict)
        elif any(rule.row.verdict == CAUTION and applies(rule, soil) for rule in rules):
            values = {"method": Word("method", result.method)}
            doubts.append(Reason("method_caution", "info", result.analyte, values, None, f"/results/{result.index}"))
    return Judged(invalid, tuple(doubts))


def _answered(case: Case, result: Measurement, verdict: Verdict) -> Verdict:
    """The same verdict, without an ask where the laboratory sent the method to order too: then nothing is missing."""
    instead = verdict.why.values["instead"].word
    if not any(each.method == instead for each in case.by_analyte.get(result.analyte, ())):
        return verdict
    return verdict._replace(reason=verdict.reason._replace(severity="info", ask=None))


def _verdict(result: Measurement, rules: tuple[Rule, ...], soil: Soil) -> Verdict | None:
    doubtful = None
    for rule in rules:
        if rule.row.verdict == REJECT:
            holds = applies(rule, soil)
            if holds:
                return _rejected(result, rule.row, "method_not_valid")
            doubtful = rule.row if holds is None else doubtful
    if doubtful is None:
        return None
    return _rejected(result, doubtful, "method_needs_ph" if soil.pH is None else "method_not_valid")


def applies(rule: Rule, soil: Soil) -> bool | None:
    """Whether a rule speaks of this soil; ``None`` when its pH or lime would decide and is not known.

    Where nobody tested for lime, a rule about limy soil that names a pH holds in doubt; one that names none is left
    to the rules that go by pH.
    """
    in_range: bool | None = True
    if rule.bounded:
        in_range = None if soil.pH is None else rule.low <= soil.pH < rule.high
    if rule.row.when == "" or in_range is False:
        return in_range
    if rule.row.when != CALCAREOUS or soil.calcareous is False:
        return False
    if soil.calcareous:
        return in_range
    return None if soil.pH is None or rule.bounded else False


def _rejected(result: Measurement, row: ValidityRow, code: str) -> Verdict:
    instead = Word("method", row.order_instead)
    values = {"analyte": Word("analyte", result.analyte), "method": Word("method", result.method), "instead": instead}
    asked = "ask.order_method_or_ph" if code == "method_needs_ph" else "ask.order_method"
    short = "_if_short" if result.analyte in FED else ""
    ask = Note(f"{asked}{short}", values)
    return Verdict(
        Note(f"finding.{code}", values),
        Reason(code, "withhold", result.analyte, values, ask, f"/results/{result.index}"),
        row.sources,
        row.verification,
    )
