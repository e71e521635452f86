"""How much gypsum a soil calls for, when every figure it needs is sound, else what is missing or in the way."""

from typing import NamedTuple

from service.agronomy.amendments import Layer, cap_for, layer_of, plan
from service.agronomy.findings import Note
from service.agronomy.ground import drainage_obstacles
from service.agronomy.gypsum import GYPSUM_G_PER_EQUIVALENT, gypsum_rate, sodium_to_replace, water_to_dissolve
from service.agronomy.lime_state import lime_of
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import EspReading, cec_of
from service.agronomy.units import scaled


class GypsumNeed(NamedTuple):
    """The gypsum that brings sodium down to the goal.

    Attributes:
        esp, wanted: ESP now and the goal, %. cec: meq/100 g. thickness_in: depth treated, inches.
        to_replace: exchangeable sodium that must go, meq/100 g. own: gypsum the soil holds already, meq/100 g.
        rate: pure gypsum to spread, g/m2; 0 when the soil's own does the work.
        dose: the first dose under the cap, or, of the soil's own gypsum, all that has to dissolve, g/m2.
    """

    esp: float
    wanted: float
    cec: float
    layer: Layer
    thickness_in: float
    to_replace: float
    own: float
    rate: float
    dose: float


class Question(NamedTuple):
    """The need, or ``None`` with the notes that say why."""

    need: GypsumNeed | None
    obstacles: tuple[Note, ...]


def gypsum_question(case: Case, esp_reading: EspReading | None) -> Question:
    """What a sodic soil takes. Source HB60: (ESP - goal) x CEC, over the efficiency, for the depth treated."""
    layer, cec = layer_of(case), cec_of(case, lime_of(case))
    obstacles = _obstacles(case, esp_reading, layer, cec.why_not)
    if obstacles or layer is None or cec.value is None or esp_reading is None:
        return Question(None, tuple(obstacles))
    wanted = reference_of(case.library).factor("gypsum_esp_wanted_default_pct").value
    esp = esp_reading.esp.value
    if scaled(esp) <= scaled(wanted):
        return Question(None, (Note("sodium.gypsum_not_by_esp", {"ESP": round(esp, 1), "wanted": wanted}),))
    return Question(_need(case, esp, wanted, cec.value, layer), ())


def _obstacles(case: Case, esp: EspReading | None, layer: Layer | None, cec_why_not: str | None) -> list[Note]:
    found = drainage_obstacles(case)
    if cec_why_not:
        found.append(Note(cec_why_not))
    if esp is None:
        found.append(Note("sodium.gypsum_needs_esp"))
    elif esp.low != esp.high:
        found.append(Note("sodium.gypsum_needs_corrected_esp"))
    if layer is None:
        found.append(Note("sodium.gypsum_needs_depth"))
    return found


def _need(case: Case, esp: float, wanted: float, cec: float, layer: Layer) -> GypsumNeed:
    reference = reference_of(case.library)
    thickness = min(layer.thickness_in, reference.factor("gypsum_depth_max_in").value)
    efficiency, purity = (
        reference.factor("gypsum_efficiency_default").value,
        reference.factor("gypsum_purity_default_pct").value,
    )
    to_replace, own = sodium_to_replace(esp, wanted, cec), own_gypsum(case)
    full = gypsum_rate(to_replace, thickness, layer.bulk_density, efficiency, purity)
    rate = full * max(0.0, to_replace - own) / to_replace
    dose = plan(rate, cap_for(case, "gypsum")).dose if rate > 0 else full
    return GypsumNeed(esp, wanted, cec, layer, thickness, to_replace, own, rate, dose)


def own_gypsum(case: Case) -> float:
    """Gypsum measured in the soil, meq/100 g, at the least it can be; what nobody measured is not counted."""
    measured = case.find("gypsum")
    percent = 0.0 if measured is None or measured.text is not None else max(0.0, measured.low)
    return percent * 1000 / GYPSUM_G_PER_EQUIVALENT


def dissolving_water(case: Case, gypsum_g_m2: float) -> float:
    """The least water that carries so much gypsum into the soil, mm."""
    return water_to_dissolve(gypsum_g_m2, reference_of(case.library).factor("gypsum_solubility_meq_L").value)
