"""Irrigation water: each problem rated by the published guideline, with SAR, its adjusted form and RSC."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.acidity import residual_sodium_carbonate
from service.agronomy.conductivity import dissolved_salts, ec_from_dissolved_salts, nitrogen_in_water, salt_load
from service.agronomy.findings import Water, WaterHazard, Word
from service.agronomy.ledger import Ledger
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.salt_effects import boron_threshold, tell_boron_rival
from service.agronomy.sample import Case
from service.agronomy.sodicity import adjusted_sar, calcium_expected, sar
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, WaterGuidelineRow
from service.agronomy.units import METRES_PER_INCH, Units, scaled, significant

NONE, SOME, SEVERE = "none", "slight_to_moderate", "severe"
INFILTRATION = "infiltration"
UNITLESS = ("SAR", "pH")
WOODY_ONLY = frozenset(("sodium_surface", "chloride_surface"))
GRAVER = frozenset(("salinity", INFILTRATION))
"""Problems of which a severe restriction asks for something else than a slight one."""
MM_PER_INCH = METRES_PER_INCH * 1000
MM_PER_FOOT = 12 * MM_PER_INCH


class Guideline(NamedTuple):
    """One guideline row with its limits in millionths; SAR bounds only for infiltration."""

    row: WaterGuidelineRow
    none: int | None
    severe: int | None
    sar_lower: int
    sar_upper: int


def guidelines_of(library: Library) -> tuple[Guideline, ...]:
    """The guideline rows prepared for comparison."""
    return tuple(
        Guideline(
            row,
            None if row.none_limit is None else scaled(row.none_limit),
            None if row.severe_limit is None else scaled(row.severe_limit),
            scaled_end(row.sar_lower, -FAR),
            scaled_end(row.sar_upper, FAR),
        )
        for row in library.rows("water-guidelines", WaterGuidelineRow)
    )


def restriction(guideline: Guideline, value: float) -> str:
    """``none``, ``slight_to_moderate`` or ``severe``; a figure on a limit belongs to the middle class, as printed."""
    x = scaled(value)
    none, severe = guideline.none, guideline.severe
    if guideline.row.worse == "outside":
        inside = (none is None or x >= none) and (severe is None or x <= severe)
        return NONE if inside else SOME
    if guideline.row.worse == "lower":
        x, none, severe = -x, None if none is None else -none, None if severe is None else -severe
    if none is not None and x < none:
        return NONE
    return SEVERE if severe is not None and x > severe else SOME


def assess(case: Case) -> Water | None:
    """Every problem of the irrigation water that the figures allow to judge; ``None`` without an analysis."""
    if not case.water:
        return None
    ledger = Ledger(case.explain)
    values = _values(case, ledger)
    water_sar, adjusted = _ratios(case, values, ledger)
    if water_sar is not None:
        values["SAR"] = water_sar
    hazards = _hazards(case, values, ledger)
    rsc = _rsc(case, values, hazards, ledger)
    _boron_for_crop(case, values, ledger)
    _loads(case, values, ledger)
    irrigation = case.submission.site.irrigation_water
    if irrigation is not None and irrigation.source == "softened":
        ledger.note("water.softened")
    if INFILTRATION not in {hazard.problem for hazard in hazards}:
        ledger.note("water.infiltration_unknown")
    return Water(
        tuple(hazards),
        None if water_sar is None else round(water_sar, 2),
        None if adjusted is None else round(adjusted, 2),
        None if rsc is None else round(rsc, 2),
        tuple(ledger.notes),
        tuple(ledger.steps),
    )


def sodic_water(case: Case) -> float | None:
    """The SAR of water whose sodium and salt together severely slow its soaking in (FAO29 table 1); else ``None``."""
    silent = Ledger(False)
    values = _values(case, silent)
    EC, (ratio, _) = values.get("EC"), _ratios(case, values, silent)
    if EC is None or ratio is None:
        return None
    rows = [each for each in case.library.index(guidelines_of) if each.row.problem == INFILTRATION]
    return ratio if any(applies(each, ratio) and restriction(each, EC) == SEVERE for each in rows) else None


def _values(case: Case, ledger: Ledger) -> dict[str, float]:
    """Exact figures by analyte; EC from dissolved solids when no EC was sent. Censored figures rate nothing."""
    values = {
        analyte: found[0].value
        for analyte, found in case.water_by_analyte.items()
        if found and found[0].value is not None
    }
    exact: dict[str, float] = {analyte: value for analyte, value in values.items() if value is not None}
    if "EC" not in exact and "TDS" in exact:
        formula = reference_of(case.library).formula("tds")
        exact["EC"] = ec_from_dissolved_salts(exact["TDS"], **_tds_figures(formula.coefficients))
        ledger.step("ec_from_tds", "tds", {"TDS": exact["TDS"]}, round(exact["EC"], 2), "dS/m", formula)
        ledger.note("water.ec_from_tds", TDS=Quantity(exact["TDS"], "mg/L"))
    return exact


def _tds_figures(coefficients: Mapping[str, float]) -> dict[str, float]:
    return {"low": coefficients["low"], "high": coefficients["high"], "ec_limit": coefficients["limit_dS_m"]}


def _ratios(case: Case, values: Mapping[str, float], ledger: Ledger) -> tuple[float | None, float | None]:
    """SAR and its adjusted form. A reported SAR stands in when the ions are missing."""
    Na, Ca, Mg = values.get("Na"), values.get("Ca"), values.get("Mg")
    if Na is None or Ca is None or Mg is None or Ca + Mg <= 0:
        return values.get("SAR"), None
    plain = sar(Na, Ca, Mg)
    if ledger.explain:
        ledger.step(
            "water_sar", "sar", {"Na": round(Na, 3), "Ca": round(Ca, 3), "Mg": round(Mg, 3)}, round(plain, 2), "1"
        )
    HCO3, EC = values.get("HCO3"), values.get("EC")
    if not HCO3 or not EC or Ca <= 0:
        return plain, None
    formula = reference_of(case.library).formula("adj")
    if not formula.coefficients:
        return plain, None
    Ca_x = calcium_expected(HCO3, Ca, EC, **formula.coefficients)
    adjusted = adjusted_sar(Na, Ca_x, Mg)
    inputs = {"HCO3": HCO3, "Ca": Ca, "EC": EC}
    ledger.step("calcium_expected", "adj", inputs, round(Ca_x, 2), "meq/L", formula)
    ledger.step("adjusted_sar", "adj", {"Na": Na, "Ca_x": round(Ca_x, 2), "Mg": Mg}, round(adjusted, 2), "1", formula)
    return plain, adjusted


def _hazards(case: Case, values: Mapping[str, float], ledger: Ledger) -> list[WaterHazard]:
    hazards: list[WaterHazard] = []
    judged: set[str] = set()
    water_sar = values.get("SAR")
    for guideline in case.library.index(guidelines_of):
        row = guideline.row
        value = values.get(row.parameter)
        if value is None or row.problem in judged or not applies(guideline, water_sar):
            continue
        if row.parameter == "EC" and row.problem == "salinity" and not case.find_water("EC"):
            continue  # an EC reckoned from dissolved solids does not go before the solids' own row
        judged.add(row.problem)
        word = restriction(guideline, value)
        unit = "1" if row.parameter in UNITLESS else row.unit
        hazards.append(WaterHazard(row.problem, word, Quantity(round(value, 3), unit), row.sources, row.verification))
        if ledger.explain:
            inputs = {row.parameter: value, "none": row.none_limit, "severe": row.severe_limit}
            ledger.step("water_restriction", "infilt" if row.sar_upper else "restriction", inputs, word, "", row)
        if word != NONE and _concerns(case, row.problem):
            code = f"water.{row.problem}_severe" if word == SEVERE and row.problem in GRAVER else f"water.{row.problem}"
            ledger.note(code, restriction=Word("restriction", word))
    return hazards


def _concerns(case: Case, problem: str) -> bool:
    """Sodium and chloride taken up by roots are a matter of trees and woody plants (FAO29 table 1, footnotes)."""
    return problem not in WOODY_ONLY or case.crop is None or "woody" in case.crop.traits


def applies(guideline: Guideline, water_sar: float | None) -> bool:
    """An infiltration row is chosen by the SAR, so without a SAR infiltration is not judged."""
    if guideline.row.sar_lower is None and guideline.row.sar_upper is None:
        return guideline.row.problem != INFILTRATION
    return water_sar is not None and guideline.sar_lower <= scaled(water_sar) < guideline.sar_upper


def _rsc(case: Case, values: Mapping[str, float], hazards: list[WaterHazard], ledger: Ledger) -> float | None:
    """Residual sodium carbonate. Carbonate nobody measured is not zero: the figure is then the least it can be."""
    HCO3, Ca, Mg = values.get("HCO3"), values.get("Ca"), values.get("Mg")
    if HCO3 is None or Ca is None or Mg is None:
        return None
    CO3 = values.get("CO3")
    if CO3 is None:
        ledger.note("water.carbonate_not_tested")
    rsc = residual_sodium_carbonate(CO3 or 0.0, HCO3, Ca, Mg)
    reference = reference_of(case.library)
    row = reference.ladder("rsc").at(rsc)
    inputs = {"CO3": CO3, "HCO3": HCO3, "Ca": Ca, "Mg": Mg}
    ledger.step("rsc", "rsc", inputs, round(rsc, 2), "meq/L", reference.formula("rsc"), *([row] if row else []))
    if row is not None and (CO3 is not None or row.name != NONE):
        hazards.append(
            WaterHazard(
                "residual_sodium_carbonate", row.name, Quantity(round(rsc, 2), "meq/L"), row.sources, row.verification
            )
        )
        if row.name != NONE:
            ledger.note("water.residual_sodium_carbonate", restriction=Word("restriction", row.name))
    return rsc


def _boron_for_crop(case: Case, values: Mapping[str, float], ledger: Ledger) -> None:
    """Boron of the water against what the crop bears in soil water, into which water concentrates."""
    boron, row = values.get("B"), case.crop.boron if case.crop else None
    threshold = boron_threshold(row) if row else None
    if boron is None or row is None or threshold is None:
        return
    over = scaled(boron) > scaled(threshold)
    ledger.step("water_boron_crop", "boron_threshold", {"B": boron, "threshold": threshold}, over, "", row)
    if over:
        ledger.note("water.boron_over_crop", B=Quantity(boron, "mg/L"), threshold=Quantity(threshold, "mg/L"))
        tell_boron_rival(case, row, boron, ledger)


def _loads(case: Case, values: Mapping[str, float], ledger: Ledger) -> None:
    """Salt and nitrogen that a season's water brings, when its depth is known; else nitrogen for each foot of it."""
    irrigation = case.submission.site.irrigation_water
    if irrigation is None or irrigation.applied is None:
        _nitrogen(case, values, MM_PER_FOOT, "water.nitrogen_each", ledger)
        return
    mm = case.library.index(Units.of).inches(irrigation.applied) * MM_PER_INCH
    if "EC" in values:
        formula = reference_of(case.library).formula("tds")
        tds = values.get("TDS") or dissolved_salts(values["EC"], **_tds_figures(formula.coefficients))
        load = salt_load(tds, mm)
        ledger.step(
            "salt_load", "saltload", {"TDS": round(tds), "water_mm": round(mm)}, round(load, 1), "g/m2", formula
        )
        ledger.note("water.salt_load", load=about(case.units.rate(load)))
    _nitrogen(case, values, mm, "water.nitrogen_credit", ledger)


def _nitrogen(case: Case, values: Mapping[str, float], mm: float, code: str, ledger: Ledger) -> None:
    if "NO3-N" not in values:
        return
    formula = reference_of(case.library).formula("nwater")
    credit = nitrogen_in_water(values["NO3-N"], mm)
    inputs = {"NO3_N": values["NO3-N"], "water_mm": round(mm)}
    ledger.step("water_nitrogen", "nwater", inputs, round(credit, 2), "g/m2", formula)
    ledger.note(code, credit=about(case.units.rate(credit)), water=case.units.water(mm))


def about(quantity: Quantity) -> Quantity:
    """A quantity as it is told aside from any dose: two significant figures, since publishers round differently."""
    return Quantity(significant(quantity.value, 2), quantity.unit)
