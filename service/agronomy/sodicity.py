"""Equations of sodium in water and soil: SAR, its adjusted form, ESP and what links them.

Plain numbers in, plain number out. Published coefficients are arguments: they come from the ``formulas`` table.
"""

from math import log10, sqrt

from service.agronomy.errors import OutOfRange


def sar(Na_meq_L: float, Ca_meq_L: float, Mg_meq_L: float) -> float:
    """Sodium adsorption ratio of a water or a saturation extract, (mmol/L)^0.5.

    SAR = Na / sqrt((Ca + Mg) / 2), all in meq/L. Range: Na, Ca, Mg >= 0 and Ca + Mg > 0. Source HB60.
    Raises OutOfRange.

    >>> round(sar(43.5, 9.98, 8.23), 1)
    14.4
    """
    if min(Na_meq_L, Ca_meq_L, Mg_meq_L) < 0:
        raise OutOfRange("Na, Ca, Mg", "0 <= x")
    if Ca_meq_L + Mg_meq_L <= 0:
        raise OutOfRange("Ca + Mg", "0 < x")
    return Na_meq_L / sqrt((Ca_meq_L + Mg_meq_L) / 2)


def calcium_expected(
    HCO3_meq_L: float,
    Ca_meq_L: float,
    EC_dS_m: float,
    *,
    log_constant: float,
    log_ionic: float,
    log_ionic_squared: float,
    log_ratio: float,
    ionic_per_ec: float,
    pco2: float,
) -> float:
    """Calcium that stays dissolved near the soil surface, Ca_x, meq/L.

    Equilibrium with lime at a fixed CO2 pressure: log10 X is a quadratic in log10 of the ionic strength
    (mol/L, taken as ``ionic_per_ec`` x EC) plus a multiple of log10(Ca / (2 HCO3)); Ca_x = 2 (X pco2)^(1/3).
    Range: HCO3, Ca, EC > 0. Sources SUAREZ1981, and table 11 of FAO29 which it reproduces. Raises OutOfRange.
    """
    if min(HCO3_meq_L, Ca_meq_L, EC_dS_m) <= 0:
        raise OutOfRange("HCO3, Ca, EC", "0 < x")
    ionic = log10(ionic_per_ec * EC_dS_m)
    ratio = log10(Ca_meq_L / (2 * HCO3_meq_L))
    log_x = log_constant + log_ionic * ionic + log_ionic_squared * ionic**2 + log_ratio * ratio
    return float(2 * (10**log_x * pco2) ** (1 / 3))


def adjusted_sar(Na_meq_L: float, Ca_x_meq_L: float, Mg_meq_L: float) -> float:
    """Adjusted sodium ratio of an irrigation water (adj RNa): SAR with Ca_x in place of Ca. Source SUAREZ1981.

    >>> round(adjusted_sar(7.73, 1.43, 1.44), 2)
    6.45
    """
    return sar(Na_meq_L, Ca_x_meq_L, Mg_meq_L)


def exchangeable_ratio(sar_value: float, *, intercept: float, slope: float) -> float:
    """Exchangeable sodium ratio ESR = intercept + slope x SAR, never below 0. Source HB60."""
    if sar_value < 0:
        raise OutOfRange("SAR", "0 <= x")
    return max(0.0, intercept + slope * sar_value)


def esp_from_sar(sar_value: float, *, intercept: float, slope: float, sar_max: float) -> float:
    """Exchangeable sodium percentage from the SAR of the saturation extract, %.

    ESP = 100 ESR / (1 + ESR). Clamped at 0 where the line is negative. Range: 0 <= SAR <= ``sar_max``, the range of
    the soils behind it; single soils scatter by several points. Source HB60. Raises OutOfRange.

    >>> round(esp_from_sar(13, intercept=-0.0126, slope=0.01475, sar_max=65), 1)
    15.2
    """
    if sar_value > sar_max:
        raise OutOfRange("SAR", f"0 <= x <= {sar_max:g}")
    ratio = exchangeable_ratio(sar_value, intercept=intercept, slope=slope)
    return 100 * ratio / (1 + ratio)


def sar_from_esp(esp_pct: float, *, intercept: float, slope: float) -> float:
    """The SAR at which a soil has this ESP: the line of `esp_from_sar` read backwards. Range: 0 <= ESP < 100."""
    if not 0 <= esp_pct < 100:
        raise OutOfRange("ESP", "0 <= x < 100")
    return max(0.0, (esp_pct / (100 - esp_pct) - intercept) / slope)


def exchangeable_sodium(extractable_meq_100g: float, soluble_meq_L: float, saturation_pct: float) -> float:
    """Exchangeable sodium, meq/100 g: extractable minus what was dissolved in the saturated paste.

    ExNa = extractable - soluble x SP / 1000, with soluble Na in meq/L of extract and SP in %. Source HB60.
    Raises OutOfRange when the soluble part is the larger one.
    """
    exchangeable = extractable_meq_100g - soluble_meq_L * saturation_pct / 1000
    if exchangeable < 0:
        raise OutOfRange("extractable Na", "at least the soluble Na")
    return exchangeable


def esp_direct(exchangeable_Na_meq_100g: float, CEC_meq_100g: float) -> float:
    """Exchangeable sodium percentage from exchangeable Na and CEC, %: 100 ExNa / CEC. Source HB60.

    Range: CEC > 0, 0 <= ExNa <= CEC. Raises OutOfRange.

    >>> esp_direct(2.5, 10)
    25.0
    """
    if CEC_meq_100g <= 0:
        raise OutOfRange("CEC", "0 < x")
    if not 0 <= exchangeable_Na_meq_100g <= CEC_meq_100g:
        raise OutOfRange("exchangeable Na", "0 <= x <= CEC")
    return 100 * exchangeable_Na_meq_100g / CEC_meq_100g
