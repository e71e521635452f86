"""Equations of gypsum: how much it takes to swap exchangeable sodium for calcium. Plain numbers in and out."""

from collections.abc import Mapping

from service.agronomy.errors import OutOfRange
from service.agronomy.units import ATOMIC_MASS, METRES_PER_INCH

GYPSUM_G_PER_EQUIVALENT = (ATOMIC_MASS["Ca"] + ATOMIC_MASS["S"] + 6 * ATOMIC_MASS["O"] + 4 * ATOMIC_MASS["H"]) / 2
"""Half the molar mass of CaSO4.2H2O: what one equivalent of calcium weighs as gypsum, g."""

KG_PER_T = 1000


def sodium_to_replace(ESP_now_pct: float, ESP_wanted_pct: float, CEC_meq_100g: float) -> float:
    """Exchangeable sodium that must go, meq/100 g: (ESP now - ESP wanted) / 100 x CEC; 0 when it is low already.

    Range: 0 <= ESP <= 100, CEC > 0. Source ALI2011 example 8.7, origin HB60. Raises OutOfRange.
    """
    if not (0 <= ESP_now_pct <= 100 and 0 <= ESP_wanted_pct <= 100):
        raise OutOfRange("ESP", "0 <= x <= 100")
    if CEC_meq_100g <= 0:
        raise OutOfRange("CEC", "0 < x")
    return max(0.0, ESP_now_pct - ESP_wanted_pct) / 100 * CEC_meq_100g


def soil_mass(depth_in: float, bulk_density_g_cm3: float) -> float:
    """Dry soil under one square metre, kg. Range: both > 0. Raises OutOfRange."""
    if depth_in <= 0 or bulk_density_g_cm3 <= 0:
        raise OutOfRange("depth, bulk density", "0 < x")
    return depth_in * METRES_PER_INCH * bulk_density_g_cm3 * KG_PER_T


def gypsum_rate(
    to_replace_meq_100g: float,
    depth_in: float,
    bulk_density_g_cm3: float,
    efficiency: float = 1.0,
    purity_pct: float = 100.0,
) -> float:
    """Gypsum, g/m2: meq/100 g x 10 x 86.08 mg/meq x soil mass / efficiency / purity.

    ``efficiency`` is the share of the calcium that ends on the clay (0.8 = a quarter more for incomplete exchange).
    Range: all > 0, efficiency <= 1, purity <= 100. Sources OSTER1999, HB60. Raises OutOfRange.

    >>> round(gypsum_rate(1, 12, 1.47) / 224.17, 2)  # US ton per acre-foot: 1.72 for 4,000,000 lb of soil
    1.72
    """
    if to_replace_meq_100g < 0:
        raise OutOfRange("sodium to replace", "0 <= x")
    if not 0 < efficiency <= 1:
        raise OutOfRange("efficiency", "0 < x <= 1")
    if not 0 < purity_pct <= 100:
        raise OutOfRange("purity", "0 < x <= 100")
    grams_per_kg = to_replace_meq_100g * 10 * GYPSUM_G_PER_EQUIVALENT / 1000
    return grams_per_kg * soil_mass(depth_in, bulk_density_g_cm3) / efficiency / (purity_pct / 100)


def water_to_dissolve(gypsum_g_m2: float, solubility_meq_L: float) -> float:
    """Depth of pure water that dissolves so much gypsum, mm: g/m2 over the grams that a litre takes up.

    The least that carries a dose into the soil; calcium that has not dissolved replaces nothing. Range: gypsum >= 0,
    solubility > 0. Source HB60. Raises OutOfRange.

    >>> round(water_to_dissolve(792, 30.2) / 25.4, 1)  # about 3.5 US ton in an acre-foot
    12.0
    """
    if gypsum_g_m2 < 0:
        raise OutOfRange("gypsum", "0 <= x")
    if solubility_meq_L <= 0:
        raise OutOfRange("solubility", "0 < x")
    return gypsum_g_m2 / (solubility_meq_L * GYPSUM_G_PER_EQUIVALENT / 1000)


def equivalent_amounts(gypsum: float, mass_per_mass_gypsum: Mapping[str, float]) -> dict[str, float]:
    """What other amendments would take to do the same work, in the unit of ``gypsum``."""
    return {amendment: gypsum * factor for amendment, factor in mass_per_mass_gypsum.items()}
