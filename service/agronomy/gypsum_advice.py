"""Gypsum for a sodic soil: the amount, its doses and the washing between them, or the reasons why there is none."""

from service.agronomy.amendments import amendment, standing_turf
from service.agronomy.findings import Note, Recommendation, Salinity, Sodium
from service.agronomy.gypsum_need import GypsumNeed, dissolving_water, gypsum_question
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import lime_of
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import SODIC, EspReading, SarReading
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled

STRUCTURE_SYMPTOMS = frozenset(("ponding", "crusting", "slow_infiltration"))


def gypsum_advice(
    case: Case,
    sodium: Sodium,
    salinity: Salinity | None,
    sar_reading: SarReading | None,
    esp_reading: EspReading | None,
    ledger: Ledger,
) -> Recommendation | None:
    """The gypsum it takes, or ``None`` with the reasons added to the ledger.

    Asked for by a sodic soil, or by one on the way there (SAR at or above the working line) that seals or ponds.
    """
    if not _called_for(case, sodium, sar_reading):
        return None
    need, obstacles = gypsum_question(case, esp_reading)
    _tell_other_calcium(case, ledger)
    if need is None:
        ledger.note("sodium.gypsum_withheld")
        ledger.notes.extend(obstacles)
        return None
    if need.rate <= 0:
        ledger.note("sodium.gypsum_own", own=round(need.own, 1), need=round(need.to_replace, 1))
        return None
    return _amount(case, need, salinity)


def _called_for(case: Case, sodium: Sodium, sar_reading: SarReading | None) -> bool:
    if sodium.sodium_class == SODIC:
        return True
    if sar_reading is None or sar_reading.value is None:
        return False
    line = scaled(reference_of(case.library).factor("gypsum_useless_below_sar").value)
    return scaled(sar_reading.value) >= line and bool(STRUCTURE_SYMPTOMS.intersection(case.submission.site.symptoms))


def _tell_other_calcium(case: Case, ledger: Ledger) -> None:
    """Other calcium for the same work: the soil's own gypsum, and its lime when sulfur sets it free."""
    if not lime_of(case).calcareous:
        return
    if case.find("gypsum") is None:
        ledger.note("sodium.gypsum_content")
    sulfur = reference_of(case.library).equivalents().get("elemental_sulfur")
    if sulfur is not None and not standing_turf(case):
        ledger.use(sulfur)
        ledger.note("sodium.sulfur_option", times=round(1 / sulfur.mass_per_mass_gypsum, 1))


def wash_after_dose(case: Case, need: GypsumNeed, salinity: Salinity | None) -> Quantity:
    """The water that goes on after each dose: what the salt results say, at the least what dissolves the dose."""
    leaching = salinity.leaching if salinity is not None else None
    if leaching is not None and leaching.kind == "reclamation":
        return leaching.depth
    return case.units.water(dissolving_water(case, need.dose))


def _amount(case: Case, need: GypsumNeed, salinity: Salinity | None) -> Recommendation:
    ledger = Ledger(case.explain)
    _explain(case, need, ledger)
    water = wash_after_dose(case, need, salinity)
    values = {
        "ESP": round(need.esp, 1),
        "wanted": need.wanted,
        "depth": case.units.depth(need.thickness_in),
        "density": need.layer.bulk_density,
        "how": Note("rec.gypsum_on_turf" if standing_turf(case) else "rec.gypsum_work_in"),
        "water": water,
    }
    text = Note("rec.gypsum_usual_density" if need.layer.assumed else "rec.gypsum", values)
    return amendment(case, "gypsum", text, need.rate, ledger, {"water": water})


def _explain(case: Case, need: GypsumNeed, ledger: Ledger) -> None:
    if not case.explain:
        return
    reference = reference_of(case.library)
    wanted, efficiency, purity = (
        reference.factor("gypsum_esp_wanted_default_pct"),
        reference.factor("gypsum_efficiency_default"),
        reference.factor("gypsum_purity_default_pct"),
    )
    ledger.use(reference.formula("gr"), reference.formula("gypsum_rate"), wanted, efficiency, purity)
    inputs = {"ESP": round(need.esp, 1), "ESP_wanted": need.wanted, "CEC": need.cec}
    ledger.step("gypsum_sodium", "gr", inputs, round(need.to_replace, 3), "meq/100 g", reference.formula("gr"), wanted)
    if need.own:
        left = max(0.0, need.to_replace - need.own)
        inputs = {"GR": round(need.to_replace, 3), "own": need.own}
        ledger.step("gypsum_less_own", "gr", inputs, round(left, 3), "meq/100 g", reference.formula("gr"))
    inputs = {
        "GR": round(need.to_replace - need.own, 3),
        "depth": need.thickness_in,
        "bulk_density": need.layer.bulk_density,
        "efficiency": efficiency.value,
        "purity": purity.value,
    }
    rows = (reference.formula("gypsum_rate"), efficiency)
    ledger.step("gypsum_rate", "gypsum_rate", inputs, round(need.rate, 1), "g/m2", *rows)
    if need.layer.assumed:
        density = reference.factor("soil_bulk_density_default")
        ledger.step("bulk_density_assumed", "gypsum_rate", {}, density.value, "g/cm3", density)
    solubility = reference.factor("gypsum_solubility_meq_L")
    inputs = {"dose": round(need.dose, 1), "solubility": solubility.value}
    water = round(dissolving_water(case, need.dose), 1)
    ledger.step("gypsum_water", "water_to_dissolve", inputs, water, "mm", solubility)
