"""What each result means: a class of one named table, or why it has none.

Every result of the soil gets a finding: rated by the crop's calibration, withheld because the method or the sample
cannot be trusted, or not rated because it is an input of another step or no table knows the method.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy import borderline, validity
from service.agronomy.calibration import (
    SPANS,
    AcidityTold,
    Aside,
    Calibrations,
    CropTables,
    Entry,
    Ladder,
    prepare_calibrations,
    word_ladder,
)
from service.agronomy.doses import Dose, prepare_doses
from service.agronomy.findings import Finding, Note, Reason, Word
from service.agronomy.lime_state import LABORATORY_PH
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

PASTE_EXTRACT = "saturated_paste_extract"

SOLUBLE = Note("finding.used_for_salinity")
OTHER_PH = Note("finding.other_ph_scale")
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
    # This loop runs for every result of every submission: what can be looked up is not worked out.
    entries, asides, stopped = tables.entries, tables.asides, case.voids.keys() | invalid.keys()
    findings = []
    for result in case.soil:
        key = (result.analyte, result.method)
        if result.index in stopped or result.text is not None:
            findings.append(_stopped(case, result, invalid))
        elif key in entries:
            findings.append(_by_table(case, result, entries[key], reasons))
        else:
            aside = asides.get(key)
            if aside is None:
                aside = asides[key] = _aside(result, tables)
            if aside.acidity:
                findings.append(_acidity(case, result, tables))
            else:
                findings.append(_bare(result, "not_rated", aside.why))
                if aside.reason is not None:
                    reasons.append(_pointed(case, result, aside.reason, entries))
    findings.extend(_bare(result, "not_rated", OTHER_LAYER) for result in case.layers)
    return Rated(tuple(findings), tuple(reasons))


def _pointed(case: Case, result: Measurement, reason: Reason, entries: Mapping[tuple[str, str], Entry]) -> Reason:
    """A reason with its pointer; without an ask where the same nutrient was sent by a method that the tables know."""
    pointer = f"/results/{result.index}/method"
    if any((each.analyte, each.method) in entries for each in case.by_analyte.get(result.analyte, ())):
        return reason._replace(severity="info", ask=None, pointer=pointer)
    return reason._replace(pointer=pointer)


def _choice(case: Case, calibrations: Calibrations) -> tuple[Reason, ...]:
    """A calibration asked for by name that no table has: said, and the usual one is used."""
    wanted = case.submission.options.calibration
    if wanted is None or wanted in calibrations.by_name:
        return ()
    ask = Note("ask.calibration", {"known": tuple(sorted(calibrations.by_name))})
    return (Reason("calibration_unknown", "warning", None, {"calibration": wanted}, ask, "/options/calibration"),)


def _by_table(case: Case, result: Measurement, entry: Entry, reasons: list[Reason]) -> Finding:
    """The finding of a result that the crop's table covers."""
    ladder = entry.ladder
    at = ladder.rung_of(result)
    if at < 0:
        return _no_class(result, ladder, at, reasons)
    if entry.rivals and ladder.rungs[at].rating in SHORT:
        entry = _that_can_answer(case, result, entry)
        ladder = entry.ladder
        at = ladder.rung_of(result)
    rivals = entry.rivals
    rung = ladder.rungs[at]
    explain = case.explain
    sent = result.reported
    reported = sent.text if sent.value is None else Quantity(sent.value, sent.unit or "")
    return Finding(
        result.analyte,
        result.method,
        reported,
        sent.qualifier,
        _understood(result, reported),
        rung.rating,
        "rated",
        case.weakened.get(result.index, rung.why) if case.weakened else rung.why,
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


SHORT = frozenset(("very_low", "low", "medium"))
NUTRIENTS: Mapping[str, str] = {"P": "P2O5", "K": "K2O", "SO4-S": "S"}
"""What a short analyte is dosed as; any other under its own name."""


def _that_can_answer(case: Case, result: Measurement, entry: Entry) -> Entry:
    """The table in charge of a short value: of those that call it short too, the first whose publisher has a rate.

    A class without an amount helps nobody, and class and amount never come from two publishers. A table that the
    client asked for by name stays in charge.
    """
    crop = case.crop
    if crop is None or case.submission.options.calibration == entry.ladder.calibration:
        return entry
    doses = case.library.index(prepare_doses).of_crop(crop).get(NUTRIENTS.get(result.analyte, result.analyte), ())
    dosed = {dose.row.calibration for dose in doses if _gives(dose, result)}
    if not dosed or entry.ladder.calibration in dosed:
        return entry
    for ladder in entry.rivals:
        at = ladder.rung_of(result)
        if at >= 0 and ladder.calibration in dosed and ladder.rungs[at].rating in SHORT:
            others = (entry.ladder, *(rival for rival in entry.rivals if rival is not ladder))
            return Entry(ladder, others)
    return entry


def _gives(dose: Dose, result: Measurement) -> bool:
    """Whether a rate row has an amount for a test: a figure above zero, or an equation."""
    row = dose.row
    if row.basis_analyte != result.analyte or row.basis_method not in (None, "", result.method):
        return False
    return dose.covers(result) and (bool(row.equation) or bool(dose.high))


def _understood(result: Measurement, reported: Quantity | str | None) -> Quantity | str | None:
    value = result.value
    if value is not None:
        sent = result.reported
        # Most laboratories report in the unit of the table already: the same pair serves twice.
        return reported if sent.value == value and sent.unit == result.unit else Quantity(value, result.unit)
    if result.text is not None:
        return result.text
    return Quantity(result.low if result.reported.qualifier == ">" else result.high, result.unit)


def _bare(result: Measurement, status: str, why: Note) -> Finding:
    """A finding without a class."""
    sent = result.reported
    reported = sent.text if sent.value is None else Quantity(sent.value, sent.unit or "")
    understood = _understood(result, reported)
    method, index, depth = result.method, result.index, result.depth_in
    # By place, not by name: this is made for every result of every submission.
    return Finding(
        result.analyte, method, reported, sent.qualifier, understood, None, status, why,
        None, None, None, None, None, (), None, (), index, depth,
    )  # fmt: skip


def _no_class(result: Measurement, ladder: Ladder, at: int, reasons: list[Reason]) -> Finding:
    """A value in a gap of the printed table, or a censored one that spans several classes."""
    pointer = f"/results/{result.index}"
    if at == SPANS:
        values = {"qualifier": result.reported.qualifier, "limit": _understood(result, None)}
        ask = Note("ask.lower_limit")
        reasons.append(Reason("censored_across_classes", "withhold", result.analyte, values, ask, pointer))
        return _bare(result, "not_rated", Note("finding.censored_across_classes", values))
    reasons.append(Reason("between_classes", "info", result.analyte, pointer=pointer))
    finding = _bare(result, "not_rated", ladder.gap(result))
    nearest = ladder.rungs[0]
    finding.calibration, finding.table = ladder.calibration, nearest.table
    finding.sources, finding.verification = nearest.sources, nearest.verification
    return finding


def _stopped(case: Case, result: Measurement, invalid: Mapping[int, validity.Verdict]) -> Finding:
    """A result that is not used, or that is a word and no figure."""
    if result.index in case.voids:
        return _bare(result, "withheld", case.voids[result.index])
    verdict = invalid.get(result.index)
    if verdict is None:
        return _bare(result, "not_rated", _use(result))
    finding = _bare(result, "withheld", verdict.why)
    finding.sources, finding.verification = verdict.sources, verdict.verification
    return finding


def _aside(result: Measurement, tables: CropTables) -> Aside:
    """What becomes of results of this analyte and method, which the crop's class tables do not cover."""
    if result.analyte == "pH":
        return Aside(OTHER_PH, acidity=result.method in LABORATORY_PH)
    if result.method == PASTE_EXTRACT:
        return Aside(USED_FOR.get(result.analyte, SOLUBLE))
    known = tables.methods.get(result.analyte)
    if known is None:
        return Aside(_use(result))
    # A method that this crop's tables do not know, or that nobody named: say which one they do know.
    code = "method_not_stated" if result.method == NOT_STATED else "no_table_for_method"
    values = {"method": Word("method", result.method), "known": tuple(Word("method", method) for method in known)}
    severity = "withhold" if result.analyte in DOSED else "info"
    reason = Reason(code, severity, result.analyte, values, Note(f"ask.{code}", values))
    return Aside(Note(f"finding.{code}", values), reason)


def _use(result: Measurement) -> Note:
    return USED_FOR.get(result.analyte, NO_TABLE)


def prepare_acidity(library: Library) -> Ladder:
    """The words for soil pH: the ``pH`` ladder of ``classes``."""
    return word_ladder(row for row in library.rows("classes", ClassRow) if row.ladder == "pH")


def _acidity(case: Case, result: Measurement, tables: CropTables) -> Finding:
    """The word for the soil's pH, and how it stands to the range in which the crop does well."""
    ladder = case.library.index(prepare_acidity)
    finding = _by_table(case, result, Entry(ladder, ()), [])
    crop = case.crop
    if crop is None or crop.pH_range is None or finding.rating is None or result.index in case.weakened:
        return finding
    low, high = crop.pH_range
    place = "below" if scaled(result.high) < scaled(low) else "above" if scaled(result.low) > scaled(high) else "in"
    told = tables.acidity.get((finding.rating, place))
    if told is None:
        told = tables.acidity[finding.rating, place] = _against_range(crop, finding, place)
    finding.why, finding.sources, finding.verification = told
    return finding


def _against_range(crop: Crop, finding: Finding, place: str) -> AcidityTold:
    """The sentence on a pH and the crop's own range, with what both rest on. Alkaline is not by itself a defect."""
    low, high = crop.pH_range or (None, None)
    values = {"rating": Word("rating", finding.rating or ""), "crop": Word("crop", crop.id), "low": low, "high": high}
    code = f"finding.ph_{place}_range"
    if place == "above" and "lime_intolerant" in crop.traits:
        code = "finding.ph_above_range_intolerant"
    sources, verification = finding.sources, finding.verification
    if crop.pH_source is not None:
        sources = tuple(dict.fromkeys((*sources, *crop.pH_source.sources)))
        verification = weakest((verification or "", crop.pH_source.verification))
    return AcidityTold(Note(code, values), sources, verification)
