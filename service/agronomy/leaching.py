"""Equations of leaching: the share of water that must pass the roots, and the water that carries old salt away.

Depths of water and soil in the same unit, EC in dS/m. Plain numbers in and out.
"""

from service.agronomy.errors import OutOfRange


def leaching_requirement(ECw_dS_m: float, ECe_dS_m: float, *, ece_multiple: float) -> float:
    """Share of the water that must leave the root zone, surface or sprinkler irrigation at ordinary intervals.

    LR = ECw / (multiple x ECe - ECw), multiple 5, ECe the root-zone mean the crop can bear. Practical below about
    0.3. Range: 0 <= ECw, ECw < multiple x ECe / 2 (LR below 1). Sources RHOADES1974, FAO29 eq. 9. Raises OutOfRange.

    >>> round(leaching_requirement(1.2, 2.5, ece_multiple=5), 2)
    0.11
    """
    _check_water(ECw_dS_m, ECe_dS_m)
    drained = ece_multiple * ECe_dS_m - ECw_dS_m
    if drained <= ECw_dS_m:
        raise OutOfRange("ECw", f"x < {ece_multiple / 2:g} ECe")
    return ECw_dS_m / drained


def leaching_requirement_frequent(ECw_dS_m: float, ECe_zero_yield_dS_m: float, *, max_multiple: float) -> float:
    """Share that must leave the root zone under drip or daily irrigation: LR = ECw / (2 x ECe at zero yield).

    Source RHOADES1974. Range: LR below 1. Raises OutOfRange.
    """
    _check_water(ECw_dS_m, ECe_zero_yield_dS_m)
    fraction = ECw_dS_m / (max_multiple * ECe_zero_yield_dS_m)
    if fraction >= 1:
        raise OutOfRange("ECw", f"x < {max_multiple:g} ECe")
    return fraction


def leaching_requirement_drainage(ECw_dS_m: float, ECdw_dS_m: float) -> float:
    """Share by the EC of the drainage water at the bottom of the roots: LR = ECw / ECdw. Source HB60.

    Conservative: about three times what salt-tolerance based forms ask. Raises OutOfRange.
    """
    _check_water(ECw_dS_m, ECdw_dS_m)
    if ECw_dS_m >= ECdw_dS_m:
        raise OutOfRange("ECw", "x < ECdw")
    return ECw_dS_m / ECdw_dS_m


def applied_water(et: float, leaching_fraction: float, efficiency: float = 1.0) -> float:
    """Water to apply, in the unit of ``et``: ET / (1 - LF) / efficiency. Source FAO29 eq. 7.

    When the losses of a system sink in evenly they already leach: do not add them twice. Raises OutOfRange.

    >>> round(applied_water(800, 0.1))
    889
    """
    if not 0 <= leaching_fraction < 1:
        raise OutOfRange("leaching fraction", "0 <= x < 1")
    if not 0 < efficiency <= 1:
        raise OutOfRange("efficiency", "0 < x <= 1")
    return et / (1 - leaching_fraction) / efficiency


def reclamation_water(now: float, wanted: float, soil_depth: float, k: float, in_water: float = 0.0) -> float:
    """Depth of water that brings salt (ECe) or boron from ``now`` to ``wanted``, in the unit of ``soil_depth``.

    (C / C0)(dL / dS) = k, so dL = k x dS x (C0 - Cw) / (C - Cw); ``in_water`` is the leaching water's own figure.
    Net of evaporation and only with free drainage. Holds where dL/dS > k, that is for wanted < now.
    Source HOFFMAN1980. Raises OutOfRange.

    >>> round(reclamation_water(8, 2, 24, 0.1), 1)
    9.6
    """
    if soil_depth <= 0 or k <= 0:
        raise OutOfRange("soil depth, k", "0 < x")
    if not 0 <= in_water < wanted:
        raise OutOfRange("wanted", "more than the water's own figure")
    if wanted >= now:
        return 0.0
    return k * soil_depth * (now - in_water) / (wanted - in_water)


def _check_water(ECw: float, ECe: float) -> None:
    if ECw < 0:
        raise OutOfRange("ECw", "0 <= x")
    if ECe <= 0:
        raise OutOfRange("ECe", "0 < x")
