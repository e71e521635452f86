"""Which slip a figure that cannot be right looks like. It is asked about and never corrected."""

from service.agronomy.findings import Word
from service.agronomy.units import MG_PER_KG_IN_ONE_PERCENT, Units
from service.agronomy.vocabulary import Entry

_SHIFTS = (10.0, 100.0, 1000.0)


def likely(entry: Entry, units: Units, value: float, unit: str | None, understood: float) -> Word | None:
    """The slip under which the figure would be an ordinary one, or None.

    ``value`` and ``unit`` as reported, ``understood`` in the canonical unit.
    """
    if entry.spec is None:
        return None
    for code, candidate in _candidates(entry, units, value, unit, understood):
        if entry.plausible_value(candidate):
            return Word("slip", code)
    return None


def _candidates(
    entry: Entry, units: Units, value: float, unit: str | None, understood: float
) -> "list[tuple[str, float]]":
    """Slip codes with the figure that each would stand for, most telling first."""
    if understood < 0:
        return [("sign", -understood)]
    dimension = units.dimension(unit) if unit is not None and units.known(unit) else ""
    found: list[tuple[str, float]] = []
    if entry.canonical == "EC":
        found += [("us_cm", understood / 1000), ("ms_m", understood / 100)]
    found += _mass_or_percent(entry, dimension, understood)
    found += _charge(entry, dimension, value)
    if entry.analyte.analyte == "NO3-N":
        found.append(("no3_for_no3_n", understood * units.form_factor("NO3", "NO3-N")))
    if entry.canonical == "P" and dimension in ("mass_fraction", "parts"):
        found.append(("other_p", entry.spec.plausible_min or 0.0 if entry.spec else 0.0))
    found += [("decimal", understood / shift) for shift in _SHIFTS]
    return found + [("decimal", understood * shift) for shift in _SHIFTS]


def _mass_or_percent(entry: Entry, dimension: str, understood: float) -> list[tuple[str, float]]:
    canonical = entry.spec.unit if entry.spec else ""
    if dimension == "percent" and canonical == "mg/kg":
        return [("percent_for_mg_kg", understood / MG_PER_KG_IN_ONE_PERCENT)]
    if canonical == "%" and dimension in ("mass_fraction", "parts"):
        return [("mg_kg_for_percent", understood * MG_PER_KG_IN_ONE_PERCENT)]
    return []


def _charge(entry: Entry, dimension: str, value: float) -> list[tuple[str, float]]:
    """mg for meq and meq for mg, of cations and anions."""
    equivalent = entry.analyte.equivalent_weight_g
    if equivalent is None or entry.spec is None:
        return []
    if dimension == "charge_concentration" and entry.spec.unit == "meq/L":
        return [("mg_l_for_meq_l", value / equivalent)]
    if dimension in ("mass_concentration", "parts") and entry.spec.unit == "meq/L":
        return [("meq_l_for_mg_l", value)]
    if dimension == "charge_fraction" and entry.spec.unit == "mg/kg":
        return [("mg_kg_for_meq", value)]
    if dimension in ("mass_fraction", "parts") and entry.spec.unit == "mg/kg":
        return [("meq_for_mg_kg", value * equivalent * 10.0)]
    return []
