"""What materials are to bring: the recommended nutrients with their caps, by area or by tree."""

from collections.abc import Mapping, Sequence
from math import inf
from typing import NamedTuple

from service.agronomy.caps import SEASON, Caps, applies
from service.agronomy.doses import AREAL, PER_TREE
from service.agronomy.findings import Recommendation
from service.agronomy.materials.problem import Need
from service.agronomy.reference import Cap, reference_of
from service.agronomy.sample import Case
from service.agronomy.units import Units

FED = ("N", "P2O5", "K2O", "S", "Zn", "Fe", "Mn", "Cu")
"""What materials are chosen for. Boron is not: a person reads every amount of it first."""
NUTRIENTS = (*FED, "B")
HELD_BACK = frozenset(("P2O5", "K2O", "Zn", "Fe", "Mn", "Cu", "B"))
"""Nutrients that nothing may bring where the soil has enough. Nitrogen that comes with phosphate is used up."""
UNASKED = frozenset(("B",))
"""Nothing brings it that nobody asked for: the step from too little to too much is narrow."""
REFUSED = frozenset(("none_needed", "do_not"))
DIMENSIONS: Mapping[str, str] = {"areal_rate": AREAL, "per_tree": PER_TREE}


class Demand(NamedTuple):
    """Needs on one basis, g/m2 or g/tree, each with the recommendation behind it."""

    basis: str
    asked: Mapping[str, Recommendation]
    needs: tuple[Need, ...]

    @property
    def needed(self) -> frozenset[str]:
        """Nutrients with a need."""
        return frozenset(self.asked)


def demands(case: Case, recommendations: Sequence[Recommendation], whole_bags: bool = False) -> list[Demand]:
    """The needs that materials can meet, by area first; none where nothing with a rate is recommended."""
    units = case.library.index(Units.of)
    asked: dict[str, dict[str, Recommendation]] = {}
    for item in recommendations:
        if item.kind == "nutrient" and item.subject in FED and item.rate is not None and amount_of(item) > 0:
            basis = DIMENSIONS.get(units.dimension(item.rate.unit))
            if basis is not None:
                asked.setdefault(basis, {})[item.subject] = item
    spared = frozenset(item.subject for item in recommendations if item.kind in REFUSED)
    every = frozenset(subject for found in asked.values() for subject in found)
    found = []
    for basis, items in sorted(asked.items()):
        spare = spared | (every - items.keys())
        found.append(Demand(basis, items, _needs(case, basis, items, spare, whole_bags)))
    return found


def amount_of(item: Recommendation) -> float:
    """What can still be given this season: the sum of the doses, or the whole rate where there are none."""
    return sum(item.base_doses) or item.base_rate or 0.0


def _needs(
    case: Case, basis: str, asked: Mapping[str, Recommendation], spared: frozenset[str], whole_bags: bool
) -> tuple[Need, ...]:
    """Every nutrient that is needed or that nothing may bring; what nobody tested is only kept small by the solver."""
    room = 1 + reference_of(case.library).factor("material_excess_pct").value / 100
    found = []
    for nutrient in NUTRIENTS:
        cap = _cap(case, basis, nutrient)
        item = asked.get(nutrient)
        if item is not None:
            need = amount_of(item)
            most = [
                value for value in (cap, _most(case, item, need, None if whole_bags else room)) if value is not None
            ]
            found.append(Need(nutrient, need, max(min(most), need) if most else None))
        elif nutrient in UNASKED or (nutrient in spared and nutrient in HELD_BACK):
            found.append(Need(nutrient, 0.0, 0.0))
        elif cap is not None:
            found.append(Need(nutrient, 0.0, cap))
    return tuple(found)


def _most(case: Case, item: Recommendation, need: float, room: float | None) -> float | None:
    """How much more than the need may come: a little, and never so much that a single dose would pass its limit."""
    largest = max(item.base_doses, default=0.0)
    limits = [cap.g_m2 for cap in single_doses(case, item)] if largest else []
    shares = [limit / largest for limit in limits]
    return need * min([*shares, room or inf]) if shares or room else None


def single_doses(case: Case, item: Recommendation) -> list[Cap]:
    """The limits on one dose of a nutrient that hold for the target whatever the weather, g/m2."""
    if case.library.index(Units.of).dimension(item.rate.unit if item.rate else "") != "areal_rate":
        return []
    return [cap for cap in reference_of(case.library).caps(item.subject) if applies(case, cap.row)]


def _cap(case: Case, basis: str, nutrient: str) -> float | None:
    """The least hard cap on a year's amount that holds for the target, in the basis."""
    return min(
        [
            cap.base
            for cap in case.library.index(Caps.of).by_subject.get(nutrient, ())
            if cap.row.per in SEASON and DIMENSIONS.get(cap.dimension) == basis and applies(case, cap.row)
        ],
        default=None,
    )
