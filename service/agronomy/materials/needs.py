"""What materials are to bring: the recommended nutrients with their caps, by area or by tree."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf
from types import MappingProxyType
from typing import NamedTuple

from service.agronomy.caps import SEASON, Caps, applies
from service.agronomy.doses import AREAL, PER_TREE
from service.agronomy.findings import Recommendation
from service.agronomy.materials.problem import Need
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import Units, significant

FED = ("N", "P2O5", "K2O", "S", "Zn", "Fe", "Mn", "Cu")
"""What materials are chosen for. Boron is not: a person reads every amount of it first."""
NUTRIENTS = (*FED, "B")
HELD_BACK = frozenset(("P2O5", "K2O", "Zn", "Fe", "Mn", "Cu", "B"))
"""Nutrients that nothing may bring where the soil has enough. Nitrogen that comes with phosphate is used up."""
MAIN = frozenset(("N", "P2O5", "K2O"))
UNASKED = frozenset(("B",))
"""Nothing brings it that nobody asked for: the step from too little to too much is narrow."""
REFUSED = frozenset(("none_needed", "do_not"))
HARMLESS = frozenset(("K2O",))
"""Of what the soil has enough of, what a little more does no harm: no law is about it and it washes to no water."""
CRUMB = 0.05
"""Share of a need that nobody buys a bag for when the rest comes with manure or compost: how a plan is told."""
UNASKED_PCT, SPARED_PCT = "material_unasked_pct", "material_spared_pct"
NOTHING: Mapping[str, float] = MappingProxyType({})
DIGITS = 9
"""Needs that differ only by what a change of unit leaves in the last digits are one problem with one plan."""
DIMENSIONS: Mapping[str, str] = {"areal_rate": AREAL, "per_tree": PER_TREE}


class Demand(NamedTuple):
    """Needs on one basis, g/m2 or g/tree, each with the recommendation behind it."""

    basis: str
    asked: Mapping[str, Recommendation]
    needs: tuple[Need, ...]
    spared: frozenset[str] = frozenset()
    """Nutrients that the ground has enough of."""

    @property
    def needed(self) -> frozenset[str]:
        """Nutrients with a need."""
        return frozenset(self.asked)


def demands(
    case: Case,
    recommendations: Sequence[Recommendation],
    barred: frozenset[str] = frozenset(),
    brought: Mapping[str, float] = NOTHING,
) -> list[Demand]:
    """The needs that materials can meet, by area first; none where nothing with a rate is recommended.

    ``barred``: subjects that a caution rules out; they count as spared. ``brought``: what comes with manure or compost,
    g/m2; it is off the needs and the caps, and what it meets whole counts as spared.
    """
    units = case.library.index(Units.of)
    asked: dict[str, dict[str, Recommendation]] = {}
    met: set[str] = set()
    for each in recommendations:
        item, subject = each, each.subject
        if subject in barred or item.kind != "nutrient" or subject not in FED:
            continue
        if item.rate is not None and amount_of(item) > 0:
            basis = DIMENSIONS.get(units.dimension(item.rate.unit))
            if basis == AREAL and brought.get(subject):
                item = _less(item, brought[subject])
                if amount_of(item) <= CRUMB * amount_of(each):
                    met.add(subject)
                    continue
            if basis is not None:
                asked.setdefault(basis, {})[subject] = item
    spared = barred.union(met, [item.subject for item in recommendations if item.kind in REFUSED])
    never = barred.union([item.subject for item in recommendations if item.kind == "do_not"])
    every = frozenset(subject for found in asked.values() for subject in found)
    found = []
    for basis, items in sorted(asked.items()):
        spare = spared | (every - items.keys())
        here = brought if basis == AREAL else NOTHING
        found.append(
            Demand(basis, items, _needs(case, basis, items, spare, here, never), (spared & HELD_BACK) | UNASKED)
        )
    return found


def _less(item: Recommendation, grams: float) -> Recommendation:
    """A recommendation less what comes from elsewhere, every dose by the same share: it comes all season."""
    whole = amount_of(item)
    kept = max(1 - grams / whole, 0.0)
    return replace(item, base_rate=whole * kept, base_doses=tuple([dose * kept for dose in doses_of(item)]))


def doses_of(item: Recommendation) -> tuple[float, ...]:
    """The doses in g/m2 or g/tree; as they are shown where they were not kept, and none for a rate without doses."""
    if item.base_doses or not item.applications:
        return item.base_doses
    shown = [application.rate.value for application in item.applications]
    whole = (item.base_rate or 0.0) / (sum(shown) or 1.0)
    return tuple([value * whole for value in shown])


def amount_of(item: Recommendation) -> float:
    """What can still be given this season: the sum of the doses, or the whole rate where there are none."""
    return sum(doses_of(item)) or item.base_rate or 0.0


def _needs(
    case: Case,
    basis: str,
    asked: Mapping[str, Recommendation],
    spared: frozenset[str],
    brought: Mapping[str, float],
    barred: frozenset[str],
) -> tuple[Need, ...]:
    """Every nutrient that is needed or that nothing may bring; what nobody tested is only kept small."""
    reference = reference_of(case.library)
    room = 1 + reference.factor("material_excess_pct").value / 100
    whole = sum(map(amount_of, asked.values()))
    unasked, spare = (whole * reference.factor(name).value / 100 for name in (UNASKED_PCT, SPARED_PCT))
    limits = dose_limits(case) if basis == AREAL else {}
    harmless = HARMLESS - barred
    found = []
    for nutrient in NUTRIENTS:
        cap = max(_cap(case, basis, nutrient) - brought.get(nutrient, 0.0), 0.0)
        item = asked.get(nutrient)
        if item is not None:
            need = significant(amount_of(item), DIGITS)
            most = need * min(room, _room_in_doses(item, limits.get(nutrient, inf)))
            found.append(Need(nutrient, need, _finite(max(min(cap, most), need))))
        elif nutrient in UNASKED or (nutrient in spared and nutrient in HELD_BACK):
            found.append(Need(nutrient, 0.0, significant(min(cap, spare), DIGITS) if nutrient in harmless else 0.0))
        else:
            most = min(cap, unasked) if nutrient in MAIN else cap
            found.append(Need(nutrient, 0.0, _finite(most)))
    return tuple(found)


def _finite(cap: float) -> float | None:
    return significant(cap, DIGITS) if cap < inf else None


def _room_in_doses(item: Recommendation, limit: float) -> float:
    """How many times its doses a nutrient may come without a single one passing its limit."""
    largest = max(doses_of(item), default=0.0)
    return limit / largest if largest else inf


def dose_limits(case: Case) -> dict[str, float]:
    """The least limit on one dose of each nutrient that holds for the target whatever the weather, g/m2."""
    reference = reference_of(case.library)
    found = {}
    for nutrient in NUTRIENTS:
        limits = [cap.g_m2 for cap in reference.caps(nutrient) if applies(case, cap.row)]
        if limits:
            found[nutrient] = min(limits)
    return found


def yearly_caps(case: Case, basis: str) -> dict[str, float]:
    """The least hard cap on a year's amount of each nutrient, in the basis; those without one are left out."""
    found = {nutrient: _cap(case, basis, nutrient) for nutrient in NUTRIENTS}
    return {nutrient: cap for nutrient, cap in found.items() if cap < inf}


def _cap(case: Case, basis: str, nutrient: str) -> float:
    """The least hard cap on a year's amount that holds for the target, in the basis; endless without one."""
    return min(
        [
            cap.base
            for cap in case.library.index(Caps.of).by_subject.get(nutrient, ())
            if cap.row.per in SEASON and DIMENSIONS.get(cap.dimension) == basis and applies(case, cap.row)
        ],
        default=inf,
    )
