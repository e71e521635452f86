"""Sodium: SAR, ESP, the class of the soil, and gypsum when it is sound to say how much."""

from service.agronomy.findings import Esp, Note, Salinity, Sodium, Texture, Word
from service.agronomy.gypsum_advice import gypsum_advice
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import LABORATORY_PH
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import EspReading, SarReading, esp_of, sar_of
from service.agronomy.units import scaled

STRUCTURE_SYMPTOMS = frozenset(("ponding", "crusting", "slow_infiltration"))
UNKNOWN = "unknown"
MEASURED = frozenset(("measured", "from_exchangeable"))


def assess(
    case: Case,
    salinity: Salinity | None,
    texture: Texture | None,  # noqa: ARG001 - the path hands texture to every step
) -> Sodium | None:
    """The sodium hazard of the main layer; ``None`` when nothing sent bears on sodium.

    Without Na, Ca, Mg of the saturation extract (or a SAR or ESP) the class is ``unknown``: never "no problem".
    """
    ledger = Ledger(case.explain)
    sar_reading = sar_of(case, ledger)
    esp_reading = esp_of(case, sar_reading, ledger)
    suspected = _suspicions(case, ledger, sar_reading is None and esp_reading is None)
    if sar_reading is None and esp_reading is None:
        if not suspected:
            return None
        return _answer(None, None, UNKNOWN, UNKNOWN, ledger)
    sodium_class = classify(case, sar_reading, esp_reading, ledger)
    soil_class = _soil_class(case, salinity, sodium_class, ledger)
    _tell(case, sar_reading, esp_reading, sodium_class, ledger)
    sodium = _answer(sar_reading, esp_reading, sodium_class, soil_class, ledger)
    sodium.gypsum = gypsum_advice(case, sodium, sar_reading, esp_reading, ledger)
    sodium.notes = tuple(ledger.notes)
    return sodium


def classify(case: Case, sar_reading: SarReading | None, esp_reading: EspReading | None, ledger: Ledger) -> str:
    """``sodic``, ``nonsodic`` or ``unknown``: the graver of what SAR and a measured ESP say."""
    reference = reference_of(case.library)
    said: list[str] = []
    if sar_reading is not None:
        row = reference.ladder("sodium_sar").over(sar_reading.low, sar_reading.high)
        said.append(row.name if row else UNKNOWN)
        ledger.step(
            "sodium_class", "class", {"SAR": _rounded(sar_reading.value)}, said[-1], "", *([row] if row else [])
        )
    if esp_reading is not None and (esp_reading.esp.how in MEASURED or sar_reading is None):
        row = reference.ladder("sodium_esp").over(esp_reading.low, esp_reading.high)
        said.append(row.name if row else UNKNOWN)
        ledger.step(
            "sodium_class", "class", {"ESP": round(esp_reading.esp.value, 1)}, said[-1], "", *([row] if row else [])
        )
    if len(set(said)) > 1:
        ledger.note("sodium.sar_and_esp_differ")
    return "sodic" if "sodic" in said else "nonsodic" if "nonsodic" in said else UNKNOWN


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _soil_class(case: Case, salinity: Salinity | None, sodium_class: str, ledger: Ledger) -> str:
    if salinity is None or salinity.ece is None or sodium_class == UNKNOWN:
        return UNKNOWN
    row = reference_of(case.library).ladder("saline_limit").over(salinity.ece.low, salinity.ece.high)
    if row is None:
        return UNKNOWN
    saline, sodic = row.name == "saline", sodium_class == "sodic"
    name = "saline_sodic" if saline and sodic else "saline" if saline else "sodic" if sodic else "normal"
    ledger.step("soil_class", "class", {"ECe": salinity.ece.value, "sodium": sodium_class}, name, "", row)
    return name


def _suspicions(case: Case, ledger: Ledger, untested: bool) -> bool:
    """Signs of sodium nobody has measured: a very high pH, water that stands, crusts."""
    limit = reference_of(case.library).factor("sodium_suspect_pH")
    pH = case.find("pH", *LABORATORY_PH)
    high = pH is not None and scaled_end(pH.low, -FAR) >= scaled(limit.value)
    seen = sorted(STRUCTURE_SYMPTOMS.intersection(case.submission.site.symptoms))
    if not untested or not (high or seen):
        return False
    if high and pH is not None:
        ledger.use(limit)
        ledger.note("sodium.pH_suggests", pH=pH.low, limit=limit.value)
    if seen:
        ledger.note("sodium.symptoms_suggest", symptoms=tuple(Word("symptom", symptom) for symptom in seen))
    ledger.note("sodium.not_judged")
    return True


def _tell(
    case: Case, sar_reading: SarReading | None, esp_reading: EspReading | None, name: str, ledger: Ledger
) -> None:
    watch = reference_of(case.library).factor("gypsum_useless_below_sar")
    seen = STRUCTURE_SYMPTOMS.intersection(case.submission.site.symptoms)
    if name == "sodic":
        ledger.note("sodium.sodic")
    elif name == UNKNOWN:
        ledger.note("sodium.straddles")
    elif sar_reading is not None and scaled_end(sar_reading.high, FAR) >= scaled(watch.value):
        ledger.use(watch)
        ledger.note("sodium.watch", SAR=round(min(sar_reading.high, sar_reading.value or sar_reading.high), 1))
    elif seen:
        ledger.note("sodium.symptoms_from_elsewhere")
    if esp_reading is not None and esp_reading.esp.how == "from_SAR":
        ledger.note("sodium.esp_by_line", ESP=round(esp_reading.esp.value, 1))


def _answer(
    sar_reading: SarReading | None, esp_reading: EspReading | None, sodium_class: str, soil_class: str, ledger: Ledger
) -> Sodium:
    cited = ledger.cited()
    esp = Esp(round(esp_reading.esp.value, 1), esp_reading.esp.how) if esp_reading else None
    value = sar_reading.value if sar_reading else None
    notes: tuple[Note, ...] = tuple(ledger.notes)
    return Sodium(
        None if value is None else round(value, 2),
        esp,
        sodium_class,
        soil_class,
        notes=notes,
        steps=tuple(ledger.steps),
        sources=cited.sources,
        verification=cited.verification,
    )
