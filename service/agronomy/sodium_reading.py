"""SAR and ESP of a case: from the ions, from the laboratory's own figure, from exchangeable sodium, or not at all."""

from typing import NamedTuple

from service.agronomy.ece import PASTE
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Esp
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import LimeState, lime_of
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.sodicity import esp_direct, esp_from_sar, exchangeable_sodium, sar
from service.agronomy.units import ATOMIC_MASS

INFINITE = float("inf")
DISPLACEMENT = ("displacement", "ammonium_acetate_displacement", "sodium_acetate_displacement")
SUM_OF_BASES = ("sum_of_bases", "not_stated")
MG_PER_MEQ_NA = ATOMIC_MASS["Na"]
SODIC, NONSODIC, UNKNOWN = "sodic", "nonsodic", "unknown"
MEASURED = frozenset(("measured", "from_exchangeable"))


class SarReading(NamedTuple):
    """SAR with the interval it lies in; ``value`` is ``None`` when only the interval is known.

    ``how``: ``from_ions`` or ``reported``.
    """

    value: float | None
    low: float
    high: float
    how: str


class EspReading(NamedTuple):
    """ESP with its interval. An uncorrected figure of a salty soil is an upper end only: ``low`` is then 0."""

    esp: Esp
    low: float
    high: float


class CecReading(NamedTuple):
    """A cation exchange capacity that may be used for sodium, meq/100 g, or why none may."""

    value: float | None
    why_not: str | None


def sar_of(case: Case, ledger: Ledger) -> SarReading | None:
    """SAR of the saturation extract: computed from Na, Ca, Mg when all three are there, else as reported."""
    Na, Ca, Mg = case.find("Na", PASTE), case.find("Ca", PASTE), case.find("Mg", PASTE)
    if Na is not None and Ca is not None and Mg is not None:
        reading = _from_ions(Na, Ca, Mg, ledger)
        if reading is not None:
            return reading
    reported = case.find("SAR", PASTE)
    if reported is None:
        return None
    ledger.note("sodium.sar_as_reported")
    ledger.step("sar_reported", "sar", {"method": PASTE}, reported.value, "1")
    return SarReading(reported.value, reported.low, reported.high, "reported")


def _from_ions(Na: Measurement, Ca: Measurement, Mg: Measurement, ledger: Ledger) -> SarReading | None:
    if Na.value is not None and Ca.value is not None and Mg.value is not None:
        if Ca.value + Mg.value <= 0:
            return None
        value = sar(Na.value, Ca.value, Mg.value)
        if ledger.explain:
            ledger.step("sar", "sar", _shown(Na, Ca, Mg), round(value, 2), "1")
        return SarReading(value, value, value, "from_ions")
    low = 0.0 if INFINITE in (Ca.high, Mg.high) or Ca.high + Mg.high <= 0 else sar(Na.low, Ca.high, Mg.high)
    high = INFINITE if Na.high == INFINITE or Ca.low + Mg.low <= 0 else sar(Na.high, Ca.low, Mg.low)
    ledger.step("sar_interval", "sar", {"low": round(low, 2)}, None if high == INFINITE else round(high, 2), "1")
    return SarReading(None, low, high, "from_ions")


def _shown(*ions: Measurement) -> dict[str, float]:
    return {ion.analyte: round(ion.value, 3) for ion in ions if ion.value is not None}


def cec_of(case: Case, lime: LimeState) -> CecReading:
    """The CEC that sodium work may rest on: by displacement, or by sum of bases where no lime inflates it."""
    displaced = case.find("CEC", *DISPLACEMENT)
    if displaced is not None and displaced.value:
        return CecReading(displaced.value, None)
    summed = case.find("CEC", *SUM_OF_BASES)
    if summed is None or not summed.value:
        set_aside = any(each.analyte == "CEC" and each.method in SUM_OF_BASES for each in case.soil)
        return CecReading(None, "sodium.cec_inflated" if set_aside else "sodium.cec_missing")
    if lime.calcareous is False:
        return CecReading(summed.value, None)
    return CecReading(None, "sodium.cec_inflated" if lime.calcareous else "sodium.cec_doubtful")


def esp_of(case: Case, sar_reading: SarReading | None, ledger: Ledger) -> EspReading | None:
    """ESP: measured, else from exchangeable Na and CEC, else from SAR."""
    reported = case.find("ESP", "exchangeable", "not_stated")
    if reported is not None and reported.value is not None:
        ledger.step("esp_measured", "esp_direct", {"method": reported.method}, reported.value, "%")
        return EspReading(Esp(reported.value, "measured"), reported.value, reported.value)
    direct = _esp_from_exchangeable(case, ledger)
    if direct is not None:
        return direct
    return _esp_from_sar(case, sar_reading, ledger)


def _esp_from_exchangeable(case: Case, ledger: Ledger) -> EspReading | None:
    extractable = case.find("Na", "ammonium_acetate")
    if extractable is None or extractable.value is None:
        return None
    cec = cec_of(case, lime_of(case))
    if cec.value is None:
        return None
    total = extractable.value / MG_PER_MEQ_NA / 10  # mg/kg -> meq/100 g
    soluble, paste = case.find("Na", PASTE), case.find("SP")
    try:
        if soluble is not None and soluble.value is not None and paste is not None and paste.value is not None:
            sodium = exchangeable_sodium(total, soluble.value, paste.value)
            return _direct(sodium, cec.value, 1.0, ledger)
        ledger.note("sodium.esp_uncorrected")
        return _direct(total, cec.value, 0.0, ledger)
    except OutOfRange:
        ledger.note("sodium.soluble_exceeds")
        return None


def _direct(sodium: float, cec: float, certain: float, ledger: Ledger) -> EspReading:
    value = esp_direct(sodium, cec)
    ledger.step("esp_direct", "esp_direct", {"Na": round(sodium, 3), "CEC": cec}, round(value, 1), "%")
    return EspReading(Esp(value, "from_exchangeable"), certain * value, value)


def _esp_from_sar(case: Case, reading: SarReading | None, ledger: Ledger) -> EspReading | None:
    if reading is None or reading.value is None:
        return None
    formula = reference_of(case.library).formula("esp_sar")
    limit = reference_of(case.library).factor("esp_sar_valid_sar_max")
    figures = formula.coefficients
    try:
        value = esp_from_sar(reading.value, intercept=figures["a"], slope=figures["b"], sar_max=limit.value)
    except OutOfRange:
        ledger.note("sodium.sar_beyond_line", SAR=round(reading.value, 1), limit=limit.value)
        return None
    ledger.step("esp_from_sar", "esp_sar", {"SAR": round(reading.value, 2)}, round(value, 1), "%", formula)
    return EspReading(Esp(value, "from_SAR"), value, value)


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
    return SODIC if SODIC in said else NONSODIC if NONSODIC in said else UNKNOWN


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


class SodiumState(NamedTuple):
    """The class of the soil by sodium and the readings behind it, for steps that only need to know."""

    name: str
    sar: SarReading | None
    esp: EspReading | None


def sodium_state(case: Case) -> SodiumState:
    """The sodium class without its reasoning; ``unknown`` when nothing was tested."""
    scratch = Ledger(False)
    sar_reading = sar_of(case, scratch)
    esp_reading = esp_of(case, sar_reading, scratch)
    return SodiumState(classify(case, sar_reading, esp_reading, scratch), sar_reading, esp_reading)
