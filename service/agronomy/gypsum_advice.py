"""Gypsum for a sodic soil: the amount when every figure it needs is sound, else the reasons why there is none."""

from service.agronomy.amendments import Layer, amendment, layer_of
from service.agronomy.findings import Note, Recommendation, Sodium
from service.agronomy.ground import drainage_obstacles
from service.agronomy.gypsum import gypsum_rate, sodium_to_replace
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import lime_of
from service.agronomy.reference import Reference, reference_of
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import EspReading, SarReading, cec_of
from service.agronomy.units import scaled

STRUCTURE_SYMPTOMS = frozenset(("ponding", "crusting", "slow_infiltration"))


def gypsum_advice(
    case: Case, sodium: Sodium, sar_reading: SarReading | None, esp_reading: EspReading | None, ledger: Ledger
) -> Recommendation | None:
    """The gypsum it takes, or ``None`` with the reasons added to the ledger.

    Asked for by a sodic soil, or by one on the way there (SAR at or above the working line) that seals or ponds.
    """
    reference = reference_of(case.library)
    if not _called_for(case, sodium, sar_reading, reference):
        return None
    obstacles = _obstacles(case, esp_reading)
    layer, cec = layer_of(case), cec_of(case, lime_of(case))
    if obstacles or layer is None or cec.value is None or esp_reading is None:
        ledger.note("sodium.gypsum_withheld")
        ledger.notes.extend(obstacles)
        return None
    wanted = reference.factor("gypsum_esp_wanted_default_pct")
    if scaled(esp_reading.esp.value) <= scaled(wanted.value):
        ledger.note("sodium.gypsum_not_by_esp", ESP=round(esp_reading.esp.value, 1), wanted=wanted.value)
        return None
    return _amount(case, esp_reading.esp.value, cec.value, layer, reference)


def _called_for(case: Case, sodium: Sodium, sar_reading: SarReading | None, reference: Reference) -> bool:
    if sodium.sodium_class == "sodic":
        return True
    if sar_reading is None or sar_reading.value is None:
        return False
    line = scaled(reference.factor("gypsum_useless_below_sar").value)
    return scaled(sar_reading.value) >= line and bool(STRUCTURE_SYMPTOMS.intersection(case.submission.site.symptoms))


def _obstacles(case: Case, esp_reading: EspReading | None) -> list[Note]:
    found = drainage_obstacles(case)
    cec = cec_of(case, lime_of(case))
    if cec.why_not:
        found.append(Note(cec.why_not))
    if esp_reading is None:
        found.append(Note("sodium.gypsum_needs_esp"))
    elif esp_reading.low != esp_reading.high:
        found.append(Note("sodium.gypsum_needs_corrected_esp"))
    if layer_of(case) is None:
        found.append(Note("sodium.gypsum_needs_depth"))
    return found


def _amount(case: Case, esp: float, cec: float, layer: Layer, reference: Reference) -> Recommendation:
    ledger = Ledger(case.explain)
    wanted, efficiency = (
        reference.factor("gypsum_esp_wanted_default_pct"),
        reference.factor("gypsum_efficiency_default"),
    )
    purity, deepest = reference.factor("gypsum_purity_default_pct"), reference.factor("gypsum_depth_max_in")
    thickness = min(layer.thickness_in, deepest.value)
    to_replace = sodium_to_replace(esp, wanted.value, cec)
    rate = gypsum_rate(to_replace, thickness, layer.bulk_density, efficiency.value, purity.value)
    ledger.use(reference.formula("gr"), reference.formula("gypsum_rate"), wanted, efficiency, purity)
    if case.explain:
        inputs = {"ESP": round(esp, 1), "ESP_wanted": wanted.value, "CEC": cec}
        ledger.step("gypsum_sodium", "gr", inputs, round(to_replace, 3), "meq/100 g", reference.formula("gr"), wanted)
        inputs = {
            "GR": round(to_replace, 3),
            "depth": thickness,
            "bulk_density": layer.bulk_density,
            "efficiency": efficiency.value,
            "purity": purity.value,
        }
        ledger.step(
            "gypsum_rate", "gypsum_rate", inputs, round(rate, 1), "g/m2", reference.formula("gypsum_rate"), efficiency
        )
    if layer.assumed:
        density = reference.factor("soil_bulk_density_default")
        ledger.step("bulk_density_assumed", "gypsum_rate", {}, density.value, "g/cm3", density)
    text = Note(
        "rec.gypsum_usual_density" if layer.assumed else "rec.gypsum",
        {
            "ESP": round(esp, 1),
            "wanted": wanted.value,
            "depth": case.units.depth(thickness),
            "density": layer.bulk_density,
        },
    )
    return amendment(case, "gypsum", text, rate, ledger)
