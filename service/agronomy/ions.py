"""Ions of one solution: charge balance, and the EC they account for. All in meq/L."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Step
from service.agronomy.quality_limits import Limits
from service.agronomy.units import scaled

CATIONS = ("Ca", "Mg", "Na", "K")
ANIONS = ("Cl", "SO4", "HCO3", "CO3", "NO3-N")
NEEDED_ANIONS = ("Cl", "SO4", "HCO3")


class IonBalance(NamedTuple):
    """Sums, meq/L; difference, percent of their sum; ``good``, ``caution``, ``failed`` or ``incomplete``.

    ``cations_per_10_ec`` and ``anions_per_10_ec`` are sums over ten times the EC, None without an EC.
    ``sulfate_by_difference`` is the sulfate that would close the balance when only sulfate is missing.
    """

    cation_sum_meq_L: float
    anion_sum_meq_L: float
    difference_pct: float
    verdict: str
    cations_per_10_ec: float | None
    anions_per_10_ec: float | None
    sulfate_by_difference: float | None
    steps: tuple[Step, ...]


def ion_balance(
    limits: Limits, cations: Mapping[str, float], anions: Mapping[str, float], EC_dS_m: float | None = None
) -> IonBalance:
    """Charge balance of one extract or water, CBE = 100 * (C - A) / (C + A) (source AQION; HB60 for the EC rule).

    Args:
        limits: tolerances of ``quality-limits``.
        cations, anions: meq/L by ion; an ion left out was not measured, which is not zero.
        EC_dS_m: conductivity of the same solution.

    Without Ca, Mg, Na or without Cl, HCO3, SO4 the verdict is ``incomplete``. Raises OutOfRange for negative figures
    and for sums of zero.
    """
    for name, value in (*cations.items(), *anions.items()):
        if not 0 <= value < float("inf"):
            raise OutOfRange(name, "0 <= x")
    plus, minus = sum(cations.values()), sum(anions.values())
    if plus + minus <= 0:
        raise OutOfRange("cations", "a sum above 0")
    difference = charge_difference_pct(plus, minus)
    missing = [ion for ion in NEEDED_ANIONS if ion not in anions]
    complete = not missing and all(ion in cations for ion in ("Ca", "Mg", "Na"))
    sulfate = plus - minus if missing == ["SO4"] and plus > minus else None
    return IonBalance(
        plus,
        minus,
        difference,
        balance_verdict(limits, plus, minus) if complete else "incomplete",
        _per_ec(limits, plus, EC_dS_m),
        _per_ec(limits, minus, EC_dS_m),
        sulfate,
        _balance_steps(plus, minus, difference, EC_dS_m, _per_ec(limits, plus, EC_dS_m)),
    )


def charge_difference_pct(plus: float, minus: float) -> float:
    """100 * (C - A) / (C + A), percent; C and A in meq/L, not both zero."""
    return 100 * (plus - minus) / (plus + minus)


def balance_verdict(limits: Limits, plus: float, minus: float) -> str:
    """``good``, ``caution`` or ``failed``; in dilute solutions a small absolute difference is good (SMEWW 1030 E)."""
    size = scaled(abs(charge_difference_pct(plus, minus)))
    dilute = scaled(minus) <= scaled(limits.figure("ion_balance_small", "below"))
    if dilute and scaled(abs(plus - minus)) <= scaled(limits.figure("ion_balance_small", "absolute")):
        return "good"
    if size <= scaled(limits.figure("ion_balance", "good")):
        return "good"
    return "caution" if size <= scaled(limits.figure("ion_balance", "failed")) else "failed"


def _per_ec(limits: Limits, total: float, ec: float | None) -> float | None:
    return None if ec is None or ec <= 0 else total / (limits.cations_per_ec * ec)


def _balance_steps(
    plus: float, minus: float, difference: float, ec: float | None, ratio: float | None
) -> tuple[Step, ...]:
    steps = [
        Step("cation_sum", "ion_balance", {}, plus, "meq/L"),
        Step("anion_sum", "ion_balance", {}, minus, "meq/L"),
        Step("charge_balance", "ion_balance", {"C": plus, "A": minus}, difference, "%"),
    ]
    if ratio is not None:
        steps.append(Step("cations_per_ec", "ec_cations", {"C": plus, "EC": ec}, ratio, "1"))
    return tuple(steps)
