"""Where a laboratory method may be trusted: the soil's pH and free lime against the method-validity table.

An acid phosphorus extract is spent on lime, so a Bray figure from a limy soil is withheld by name and never
converted. What the soil is must be known: without pH and lime such a figure cannot be trusted either.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.findings import Note, Reason, Word
from service.agronomy.lime_state import LABORATORY_PH, lime_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import Library, ValidityRow
from service.agronomy.units import scaled

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


type_of_rows = Mapping[tuple[str, str], tuple[ValidityRow, ...]]


def prepare_validity(library: Library) -> type_of_rows:
    """The rows of ``method-validity`` that can stop or weaken a result, by analyte and method."""
    doubtful: dict[tuple[str, str], tuple[ValidityRow, ...]] = {}
    for row in library.rows("method-validity", ValidityRow):
        if row.verdict in (REJECT, CAUTION):
            key = (row.analyte, row.method)
            doubtful[key] = (*doubtful.get(key, ()), row)
    return doubtful


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
    rows_of = case.library.index(prepare_validity)
    suspects = [result for result in case.soil if (result.analyte, result.method) in rows_of]
    if not suspects:
        return NO_DOUBT
    soil = soil_of(case)
    invalid: dict[int, Verdict] = {}
    doubts = []
    for result in suspects:
        rows = rows_of[result.analyte, result.method]
        verdict = None if result.index in case.voids else _verdict(result, rows, soil)
        if verdict is not None:
            invalid[result.index] = verdict
        elif any(row.verdict == CAUTION and applies(row, soil) for row in rows):
            values = {"method": Word("method", result.method)}
            doubts.append(Reason("method_caution", "info", result.analyte, values, None, f"/results/{result.index}"))
    return Judged(invalid, tuple(doubts))


def _verdict(result: Measurement, rows: tuple[ValidityRow, ...], soil: Soil) -> Verdict | None:
    rejecting = [(row, applies(row, soil)) for row in rows if row.verdict == REJECT]
    for row, holds in rejecting:
        if holds:
            return _rejected(result, row, "method_not_valid")
    for row, holds in rejecting:
        if holds is None:
            return _rejected(result, row, "method_needs_ph" if soil.pH is None else "method_not_valid")
    return None


def applies(row: ValidityRow, soil: Soil) -> bool | None:
    """Whether a row speaks of this soil; ``None`` when its pH or lime would decide and is not known.

    ``pH_lower <= pH < pH_upper``. Where nobody tested for lime, a row about limy soil that names a pH holds in
    doubt; one that names none is left to the rows that go by pH.
    """
    in_range = _in_range(row, soil.pH)
    if row.when == "" or in_range is False:
        return in_range
    if row.when != CALCAREOUS or soil.calcareous is False:
        return False
    if soil.calcareous:
        return in_range
    return None if soil.pH is None or row.pH_lower is not None else False


def _in_range(row: ValidityRow, pH: int | None) -> bool | None:
    if row.pH_lower is None and row.pH_upper is None:
        return True
    if pH is None:
        return None
    below = row.pH_lower is not None and pH < scaled(row.pH_lower)
    above = row.pH_upper is not None and pH >= scaled(row.pH_upper)
    return not (below or above)


def _rejected(result: Measurement, row: ValidityRow, code: str) -> Verdict:
    method = Word("method", result.method)
    values = {"method": method, "instead": Word("method", row.order_instead)}
    ask = Note("ask.order_method", {"instead": Word("method", row.order_instead)})
    if code == "method_needs_ph":
        ask = Note("ask.order_method_or_ph", {"instead": Word("method", row.order_instead)})
    return Verdict(
        Note(f"finding.{code}", values),
        Reason(code, "withhold", result.analyte, values, ask, f"/results/{result.index}"),
        row.sources,
        row.verification,
    )
