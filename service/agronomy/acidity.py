"""Equations of acid and lime in soil: sulfur against carbonate, sulfur by table, lime by buffer pH.

Rates are g/m2. Plain numbers in and out; published figures are arguments.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

from service.agronomy.errors import OutOfRange
from service.agronomy.units import ATOMIC_MASS

CACO3 = ATOMIC_MASS["Ca"] + ATOMIC_MASS["C"] + 3 * ATOMIC_MASS["O"]
GYPSUM = ATOMIC_MASS["Ca"] + ATOMIC_MASS["S"] + 6 * ATOMIC_MASS["O"] + 4 * ATOMIC_MASS["H"]
ACETIC_ACID = 2 * ATOMIC_MASS["C"] + 4 * ATOMIC_MASS["H"] + 2 * ATOMIC_MASS["O"]
SULFUR_PER_CACO3 = ATOMIC_MASS["S"] / CACO3
"""One S becomes one H2SO4, which dissolves one CaCO3: 0.3203 by mass."""
GYPSUM_PER_CACO3 = GYPSUM / CACO3
ACETIC_PER_CACO3 = 2 * ACETIC_ACID / CACO3


def carbonate(lime_pct: float, soil_g_m2: float) -> float:
    """Lime in a layer of soil, g/m2 as CaCO3: percent / 100 x soil mass. Range 0 <= lime <= 109. Raises OutOfRange."""
    if not 0 <= lime_pct <= 109:  # pure dolomite counts as 108.6 % CaCO3
        raise OutOfRange("lime", "0 <= x <= 109")
    return lime_pct / 100 * soil_g_m2


def sulfur_for_carbonate(lime_pct: float, soil_g_m2: float, purity_pct: float = 100.0) -> float:
    """Elemental sulfur that the lime alone uses up before the pH moves, g/m2.

    CaCO3 x 32.06 / 100.09 / purity: 6,406 lb/acre for 1 % of lime in 2,000,000 lb of soil. Raises OutOfRange.
    """
    if not 0 < purity_pct <= 100:
        raise OutOfRange("purity", "0 < x <= 100")
    return carbonate(lime_pct, soil_g_m2) * SULFUR_PER_CACO3 / (purity_pct / 100)


def gypsum_formed(lime_pct: float, soil_g_m2: float) -> float:
    """Gypsum left behind when sulfur has dissolved the lime, g/m2: a salt load of its own."""
    return carbonate(lime_pct, soil_g_m2) * GYPSUM_PER_CACO3


def vinegar_for_carbonate(lime_pct: float, soil_g_m2: float, acid_pct: float) -> float:
    """Vinegar that the lime would use up, g/m2: two acetic acid for one CaCO3, at ``acid_pct`` by mass."""
    if not 0 < acid_pct <= 100:
        raise OutOfRange("acid", "0 < x <= 100")
    return carbonate(lime_pct, soil_g_m2) * ACETIC_PER_CACO3 / (acid_pct / 100)


def between(x: float, points: Sequence[tuple[float, float]]) -> float:
    """Straight line between tabulated points (sorted by x). Raises OutOfRange outside the table."""
    if not points or not points[0][0] <= x <= points[-1][0]:
        raise OutOfRange("x", "within the table")
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


class LimeNeed(NamedTuple):
    """Lime by a buffer table, in its unit; ``low`` and ``high`` differ where the print allows no single figure."""

    low: float
    high: float


def lime_by_table(
    buffer_pH: float, points: Sequence[tuple[float, float]], jump: tuple[float, float] | None = None
) -> LimeNeed:
    """Lime requirement read from a buffer table: (buffer pH, rate) sorted by buffer pH, straight between rows.

    ``jump`` names two neighbouring rows between which the print steps: there nothing is interpolated and both ends
    are given. Above the table the need is between nothing and the last row. Sources S-EM9585 (sikora),
    S-SMP1961 (smp). Raises OutOfRange below the table.
    """
    if buffer_pH > points[-1][0]:
        return LimeNeed(0.0, points[-1][1])
    if jump is not None and jump[0] < buffer_pH < jump[1]:
        rates = dict(points)
        return LimeNeed(rates[jump[1]], rates[jump[0]])
    need = between(buffer_pH, points)
    return LimeNeed(need, need)


def lime_by_mehlich(
    buffer_pH: float, pH: float, target_pH: float, *, pole_pH: float, acidity_factor: float, credit: float = 0.0
) -> float:
    """Lime by the Mehlich buffer, US ton/acre: AC (target - pH) / (6.6 - pH) - credit, AC = 4 (6.6 - buffer pH).

    The form has a pole where the soil pH nears ``pole_pH`` (6.6). Range: pH < pole, buffer pH <= pole,
    target <= pole. Source S-NCDA. Raises OutOfRange.
    """
    acidity = acidity_factor * (pole_pH - buffer_pH)
    if buffer_pH > pole_pH:
        raise OutOfRange("buffer_pH", f"x <= {pole_pH:g}")
    return lime_by_acidity(acidity, pH, target_pH, pole_pH=pole_pH, credit=credit)


def lime_by_acidity(acidity: float, pH: float, target_pH: float, *, pole_pH: float, credit: float = 0.0) -> float:
    """Lime by buffer acidity (meq/100 cm3), US ton/acre: AC (target - pH) / (6.6 - pH) - credit, never below 0.

    >>> round(lime_by_acidity(1.2, 5.0, 6.0, pole_pH=6.6), 2)
    0.75
    """
    if pH >= pole_pH or target_pH > pole_pH:
        raise OutOfRange("pH", f"x < {pole_pH:g}")
    if target_pH <= pH:
        return 0.0
    return max(0.0, acidity * (target_pH - pH) / (pole_pH - pH) - credit)


def lime_by_adams_evans(
    buffer_pH: float,
    pH: float,
    target_pH: float,
    *,
    a: float,
    b: float,
    c: float,
    scale: float,
    buffer_start: float,
    field_factor: float,
) -> float:
    """Lime by the Adams-Evans buffer, lb CaCO3/acre for 8 in: scale (8.00 - BpH) / H1 x (H1 - H2) x field factor.

    H is the acid saturation of a low-activity clay at a pH: pH = a - b H + c H^2, smaller root.
    Not for limy western soils. Source S-ADAMSEVANS. Raises OutOfRange.
    """
    if buffer_pH > buffer_start:
        raise OutOfRange("buffer_pH", f"x <= {buffer_start:g}")
    if target_pH <= pH:
        return 0.0
    now, wanted = _acid_saturation(pH, a, b, c), _acid_saturation(target_pH, a, b, c)
    return scale * (buffer_start - buffer_pH) / now * (now - wanted) * field_factor


def _acid_saturation(pH: float, a: float, b: float, c: float) -> float:
    root = b * b - 4 * c * (a - pH)
    if root < 0 or pH >= a:
        raise OutOfRange("pH", f"{a - b * b / 4 / c:.2f} <= x < {a:g}")
    return (b - sqrt(root)) / (2 * c)


def lime_material(rate: float, depth_in: float, table_depth_in: float, ECCE_pct: float) -> float:
    """Real liming material for a tabulated rate, in the unit of ``rate``: rate x (depth / table depth) / ECCE.

    ECCE is the effective calcium carbonate equivalent: purity x fineness x dry share, %. Raises OutOfRange.
    """
    if depth_in <= 0 or table_depth_in <= 0:
        raise OutOfRange("depth", "0 < x")
    if not 0 < ECCE_pct <= 109:
        raise OutOfRange("ECCE", "0 < x <= 109")
    return rate * depth_in / table_depth_in / (ECCE_pct / 100)


def residual_sodium_carbonate(CO3_meq_L: float, HCO3_meq_L: float, Ca_meq_L: float, Mg_meq_L: float) -> float:
    """Residual sodium carbonate of a water, meq/L: (CO3 + HCO3) - (Ca + Mg). Source HB60. Raises OutOfRange."""
    if min(CO3_meq_L, HCO3_meq_L, Ca_meq_L, Mg_meq_L) < 0:
        raise OutOfRange("CO3, HCO3, Ca, Mg", "0 <= x")
    return CO3_meq_L + HCO3_meq_L - Ca_meq_L - Mg_meq_L
