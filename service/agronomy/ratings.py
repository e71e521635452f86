"""What each result means: a class of one named table, or why it has none.

Every result of the soil gets a finding: rated by the crop's calibration, withheld because the method or the sample
cannot be trusted, or not rated because it is an input of another step or no table knows the method.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy import borderline, validity
from service.agronomy.calibration import (
    SPANS,
    Calibrations,
    CropTables,
    Entry,
    Ladder,
    prepare_calibrations,
    word_ladder,
)
from service.agronomy.findings import Finding, Note, Reason, Word
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import ClassRow, Crop, Library, weakest
from service.agronomy.units import scaled

NOT_STATED = "not_stated"
DOSED = frozenset(("P", "K", "S", "SO4-S", "Zn", "Fe", "Mn", "Cu", "B"))
"""Analytes that an amount rests on: unrated for want of a method, they withhold something."""

USED_FOR: Mapping[str, Note] = {
    analyte: Note(f"finding.used_for_{use}")
    for use, analytes in {
        "salinity": ("EC", "TDS", "Cl", "SO4"),
        "sodium": ("Na", "Ca", "Mg", "SAR", "ESP", "CEC", "HCO3", "CO3"),
        "lime": ("lime", "CaCO3", "buffer_pH"),
        "texture": ("sand", "silt", "clay", "texture", "gravel"),
        "soil": ("SP", "bulk_density"),
        "safety": ("Pb", "As", "Cd", "Se", "Mo"),
        "nitrogen": ("NO3-N", "NH4-N"),
        "organic_matter": ("OM", "OC"),
    }.items()
    for analyte in analytes
}
"""Results that another step reads: not rated here, and nothing is missing by that."""

USED_BY_METHOD: Mapping[str, Note] = {
    "saturated_paste_extract": Note("finding.used_for_salinity"),
    "home_kit": Note("finding.observation_only"),
    "probe": Note("finding.observation_only"),
}
"""Methods whose figures no fertility table can use, whatever the analyte."""

NO_TABLE = Note("finding.no_table")
OTHER_LAYER = Note("finding.other_layer")


class Rated(NamedTuple):
    """Findings in the order of the results sent, and the reasons that the decision must weigh."""

    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...]


def rate(case: Case) -> Rated:
    """A finding for every soil result.

    Values are compared with class limits as whole millionths; a censored value is rated only when its whole interval
    lies in one class. With ``case.explain`` the neighbouring class near a limit and the rival tables are added.
    Layers below the main one are never rated: they feed the nitrogen budget.
    """
    calibrations = case.library.index(prepare_calibrations)
    tables = calibrations.tables(case)
    invalid, doubts = validity.judge(case)
    reasons = [*_choice(case, calibrations), *(verdict.reason for verdict in invalid.values()), *doubts]
    findings = []
    entries, voids = tables.entries, case.voids
    for result in case.soil:
        entry = entries.get((result.analyte, result.method))
        if entry is None or result.index in voids or result.index in invalid or result.text is not None:
            findings.append(_unrated(case, result, tables, invalid, reasons))
            continue
        at = entry.ladder.rung_of(result)
        if at < 0:
            findings.append(_no_class(result, entry.ladder, at, reasons))
        else:
            findings.append(_rated(case, result, entry, at))
    findings.extend(_bare(result, "not_rated", OTHER_LAYER) for result in case.layers)
    return Rated(tuple(findings), tuple(reasons))


def _choice(case: Case, calibrations: Calibrations) -> tuple[Reason, ...]:
    """A calibration asked for by name that no table has: said, and the usual one is used."""
    wanted = case.submission.options.calibration
    if wanted is None or wanted in calibrations.by_name:
        return ()
    ask = Note("ask.calibration", {"known": tuple(sorted(calibrations.by_name))})
    return (Reason("calibration_unknown", "warning", None, {"calibration": wanted}, ask, "/options/calibration"),)


def _rated(case: Case, result: Measurement, entry: Entry, at: int) -> Finding:
    ladder, rivals = entry
    rung = ladder.rungs[at]
    explain = case.explain
    return Finding(
        result.analyte,
        result.method,
        _reported(result),
        result.reported.qualifier,
        _understood(result),
        rung.rating,
        "rated",
        (case.weakened.get(result.index) or rung.why) if case.weakened else rung.why,
        rung.rating_in_source,
        rung.band,
        borderline.neighbour(case, result, ladder, at) if explain else None,
        ladder.calibration,
        rung.table,
        rung.sources,
        rung.verification,
        entry.rivals_on(result) if explain and rivals else (),
        result.index,
        result.depth_in,
    )


def _reported(result: Measurement) -> Quantity | str | None:
    sent = result.reported
    return sent.text if sent.value is None else Quantity(sent.value, sent.unit or "")


def _understood(result: Measurement) -> Quantity | str | None:
    if result.value is not None:
        return Quantity(result.value, result.unit)
    if result.text is not None:
        return result.text
    return Quantity(result.low if result.reported.qualifier == ">" else result.high, result.unit)


def _bare(result: Measurement, status: str, why: Note) -> Finding:
    """A finding without a class."""
    return Finding(
        result.analyte,
        result.method,
        _reported(result),
        result.reported.qualifier,
        _understood(result),
        None,
        status,
        why,
        index=result.index,
        depth=result.depth_in,
    )


def _no_class(result: Measurement, ladder: Ladder, at: int, reasons: list[Reason]) -> Finding:
    """A value in a gap of the printed table, or a censored one that spans several classes."""
    pointer = f"/results/{result.index}"
    if at == SPANS:
        values = {"qualifier": result.reported.qualifier, "limit": _understood(result)}
        ask = Note("ask.lower_limit")
        reasons.append(Reason("censored_across_classes", "withhold", result.analyte, values, ask, pointer))
        return _bare(result, "not_rated", Note("finding.censored_across_classes", values))
    reasons.append(Reason("between_classes", "info", result.analyte, pointer=pointer))
    finding = _bare(result, "not_rated", ladder.gap(result))
    nearest = ladder.rungs[0]
    finding.calibration, finding.table = ladder.calibration, nearest.table
    finding.sources, finding.verification = nearest.sources, nearest.verification
    return finding


def _unrated(
    case: Case,
    result: Measurement,
    tables: CropTables,
    invalid: Mapping[int, validity.Verdict],
    reasons: list[Reason],
) -> Finding:
    """The finding of a result that no class table of this crop is asked about."""
    if result.index in case.voids:
        return _bare(result, "withheld", case.voids[result.index])
    verdict = invalid.get(result.index)
    if verdict is not None:
        finding = _bare(result, "withheld", verdict.why)
        finding.sources, finding.verification = verdict.sources, verdict.verification
        return finding
    if result.analyte == "pH":
        return _acidity(case, result)
    if result.method == NOT_STATED and result.analyte in tables.methods:
        return _bare(result, "not_rated", _order(result, tables, reasons, "method_not_stated"))
    if result.analyte in tables.methods and result.text is None and result.method not in USED_BY_METHOD:
        return _bare(result, "not_rated", _order(result, tables, reasons, "no_table_for_method"))
    if result.method in USED_BY_METHOD:
        return _bare(result, "not_rated", USED_BY_METHOD[result.method])
    return _bare(result, "not_rated", USED_FOR.get(result.analyte, NO_TABLE))


def _order(result: Measurement, tables: CropTables, reasons: list[Reason], code: str) -> Note:
    """A method that this crop's tables do not know, or nobody named: say which one they do know."""
    known = tuple(Word("method", method) for method in tables.methods[result.analyte])
    values = {"method": Word("method", result.method), "known": known}
    severity = "withhold" if result.analyte in DOSED else "info"
    ask = Note(f"ask.{code}", values)
    reasons.append(Reason(code, severity, result.analyte, values, ask, f"/results/{result.index}/method"))
    return Note(f"finding.{code}", values)


class Acidity(NamedTuple):
    """The words for soil pH, made ready."""

    ladder: Ladder


def prepare_acidity(library: Library) -> Acidity:
    """Read the ``pH`` ladder of ``classes``."""
    return Acidity(word_ladder(row for row in library.rows("classes", ClassRow) if row.ladder == "pH"))


def _acidity(case: Case, result: Measurement) -> Finding:
    """The word for the soil's pH, and how it stands to the range in which the crop does well."""
    ladder = case.library.index(prepare_acidity).ladder
    at = ladder.rung_of(result) if result.text is None else SPANS
    if at < 0:
        return _bare(result, "not_rated", USED_FOR["lime"])
    finding = _rated(case, result, Entry(ladder, ()), at)
    crop = case.crop
    if crop is not None and crop.pH_range is not None and result.index not in case.weakened:
        finding.why = _against_range(result, crop, ladder.rungs[at].rating)
        if crop.pH_source is not None:
            finding.sources = tuple(dict.fromkeys((*finding.sources, *crop.pH_source.sources)))
            finding.verification = weakest((finding.verification or "", crop.pH_source.verification))
    return finding


def _against_range(result: Measurement, crop: Crop, rating: str) -> Note:
    low, high = crop.pH_range or (0.0, 0.0)
    values = {"rating": Word("rating", rating), "crop": Word("crop", crop.id), "low": low, "high": high}
    if scaled(result.high) < scaled(low):
        return Note("finding.ph_below_range", values)
    if scaled(result.low) > scaled(high):
        code = "finding.ph_above_range_intolerant" if "lime_intolerant" in crop.traits else "finding.ph_above_range"
        return Note(code, values)
    return Note("finding.ph_in_range", values)
