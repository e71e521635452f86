"""Equations of electrical conductivity: ECe from diluted extracts, dissolved salts, osmotic pressure.

Plain numbers in and out; published coefficients are arguments.
"""

from collections.abc import Iterable

from service.agronomy.errors import OutOfRange


def ece_by_line(EC_dS_m: float, slope: float, intercept_dS_m: float = 0.0) -> float:
    """ECe from the EC of a diluted extract by one published line, dS/m: slope x EC + intercept.

    Never below the EC that was read: the saturated paste is the least diluted extract of the same soil, so a line
    that falls below it has left its range. Range: EC >= 0. Sources: table ``ece-dilution``. Raises OutOfRange.

    >>> round(ece_by_line(2.0, 3.01, -0.06), 2)
    5.96
    """
    if EC_dS_m < 0:
        raise OutOfRange("EC", "0 <= x")
    return max(EC_dS_m, slope * EC_dS_m + intercept_dS_m)


def ece_range(EC_dS_m: float, lines: Iterable[tuple[float, float]], scatter: float) -> tuple[float, float]:
    """Lowest and highest ECe that several published lines give, widened by the scatter about one line.

    ``lines`` are (slope, intercept); ``scatter`` a fraction. Studies of one texture differ by up to a factor of two,
    which is why an estimate without its range says too much.
    """
    values = [ece_by_line(EC_dS_m, slope, intercept) for slope, intercept in lines]
    return max(EC_dS_m, min(values) * (1 - scatter)), max(values) * (1 + scatter)


def ece_by_saturation(EC_1_5_dS_m: float, saturation_pct: float, *, base: float, per_theta: float) -> float:
    """ECe from EC 1:5 and the water content of the saturated paste, dS/m.

    f = base + per_theta / theta, theta = saturation % / 100 (kg/kg); ECe = f x EC1:5. Uncertain in sands.
    Range: EC >= 0, SP > 0. Source SLAVICH1993. Raises OutOfRange.

    >>> round(ece_by_saturation(0.5, 25, base=2.46, per_theta=3.03), 2)
    7.29
    """
    if EC_1_5_dS_m < 0:
        raise OutOfRange("EC", "0 <= x")
    if saturation_pct <= 0:
        raise OutOfRange("SP", "0 < x")
    return (base + per_theta * 100 / saturation_pct) * EC_1_5_dS_m


def dissolved_salts(EC_dS_m: float, *, low: float, high: float, ec_limit: float) -> float:
    """Total dissolved solids from EC, mg/L: ``low`` x EC up to ``ec_limit``, ``high`` x EC above. +-10 to 15 %.

    Source UNITS2004. The factor jumps at the limit because the source gives two.
    """
    if EC_dS_m < 0:
        raise OutOfRange("EC", "0 <= x")
    return (low if EC_dS_m <= ec_limit else high) * EC_dS_m


def ec_from_dissolved_salts(TDS_mg_L: float, *, low: float, high: float, ec_limit: float) -> float:
    """EC of a water from its total dissolved solids, dS/m: `dissolved_salts` read backwards."""
    if TDS_mg_L < 0:
        raise OutOfRange("TDS", "0 <= x")
    dilute = TDS_mg_L / low
    return dilute if dilute <= ec_limit else max(ec_limit, TDS_mg_L / high)


def osmotic_pressure(EC_dS_m: float, *, bar_per_ec: float) -> float:
    """Osmotic pressure of a salty solution, bar: ``bar_per_ec`` x EC. Range EC 3-30 dS/m. Source UNITS2004."""
    if EC_dS_m < 0:
        raise OutOfRange("EC", "0 <= x")
    return bar_per_ec * EC_dS_m


def salt_load(TDS_mg_L: float, water_mm: float) -> float:
    """Salt that a depth of water brings, g/m2: mg/L x mm / 1000. An identity, no source needed."""
    if min(TDS_mg_L, water_mm) < 0:
        raise OutOfRange("TDS, water", "0 <= x")
    return TDS_mg_L * water_mm / 1000


def nitrogen_in_water(NO3_N_mg_L: float, water_mm: float) -> float:
    """Nitrogen that a depth of irrigation water brings, g/m2: mg/L x mm / 1000 (0.227 lb/acre per inch).

    No credit for water beyond what the crop uses. Source UCANR_INM.
    """
    if min(NO3_N_mg_L, water_mm) < 0:
        raise OutOfRange("NO3-N, water", "0 <= x")
    return NO3_N_mg_L * water_mm / 1000
