"""Sodium: SAR, ESP, the class of the soil, and gypsum when it is sound to say how much."""

from service.agronomy.findings import Esp, Note, Salinity, Sodium, Texture, Word
from service.agronomy.gypsum_advice import gypsum_advice
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import LABORATORY_PH
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import SODIC, UNKNOWN, EspReading, SarReading, classify, esp_of, sar_of
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled

STRUCTURE_SYMPTOMS = frozenset(("ponding", "crusting", "slow_infiltration"))


def assess(case: Case, salinity: Salinity | None, texture: Texture | None) -> Sodium | None:
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
    if sodium_class == "nonsodic":
        _tell_tender_soil(case, salinity, texture, esp_reading, ledger)
    sodium = _answer(sar_reading, esp_reading, sodium_class, soil_class, ledger)
    sodium.gypsum = gypsum_advice(case, sodium, salinity, sar_reading, esp_reading, ledger)
    sodium.notes = tuple(ledger.notes)
    return sodium


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
    if name == SODIC:
        ledger.note("sodium.sodic")
        _tell_high_pH(case, ledger)
    elif name == UNKNOWN:
        ledger.note("sodium.straddles")
    elif sar_reading is not None and scaled_end(sar_reading.high, FAR) >= scaled(watch.value):
        ledger.use(watch)
        ledger.note("sodium.watch", SAR=round(min(sar_reading.high, sar_reading.value or sar_reading.high), 1))
    elif seen:
        ledger.note("sodium.symptoms_from_elsewhere")
    if esp_reading is not None and esp_reading.esp.how == "from_SAR":
        ledger.note("sodium.esp_by_line", ESP=round(esp_reading.esp.value, 1))


def _tell_high_pH(case: Case, ledger: Ledger) -> None:
    """Where sodium drives the pH up, calcium and washing bring it down, and nothing else is needed for it."""
    pH = case.find("pH", *LABORATORY_PH)
    limit = reference_of(case.library).factor("sodium_suspect_pH")
    if pH is not None and scaled_end(pH.low, -FAR) >= scaled(limit.value):
        ledger.use(limit)
        ledger.note("sodium.pH_from_sodium", pH=pH.low)


def _tell_tender_soil(
    case: Case, salinity: Salinity | None, texture: Texture | None, esp_reading: EspReading | None, ledger: Ledger
) -> None:
    """Sandy soils, and soils with little salt to hold the clay together, suffer below the usual line."""
    line = reference_of(case.library).factor("esp_watch")
    watched = any(note.code == "sodium.watch" for note in ledger.notes)
    if watched or esp_reading is None or scaled(esp_reading.esp.value) < scaled(line.value):
        return
    sandy = texture is not None and texture.group == "coarse"
    ece = salinity.ece if salinity is not None else None
    fresh = ece is not None and salinity is not None and not ece.estimated and salinity.salinity_class == "nonsaline"
    if sandy or fresh:
        ledger.use(line)
        ESP = round(esp_reading.esp.value, 1)
        if sandy or ece is None:
            ledger.note("sodium.watch_sandy", ESP=ESP, limit=line.value)
        else:
            ledger.note("sodium.watch_low_salt", ESP=ESP, limit=line.value, ECe=Quantity(ece.value, "dS/m"))


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
