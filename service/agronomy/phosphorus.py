"""Phosphorus, potassium and sulfur: the sentence for each outcome, and what too much phosphorus means.

Too much phosphorus is not a grade: years without any, no manure or compost, and leaves that may run short of zinc
and iron although the soil holds both.
"""

from service.agronomy.olsen import OLSEN, STOP, over_olsen_line
from service.agronomy.tested import Tested

OVERFULL = frozenset(("excessive", "toxic"))
MORE_THAN_ENOUGH = frozenset(("high", "very_high"))
TO_PLANT = frozenset(("planning", "planting", "seeding", "sodding"))
LASTING = frozenset(("perennial", "turf"))


def overfull_with_phosphorus(tested: Tested) -> bool:
    """Whether the soil holds so much phosphorus that nothing carrying it may be added.

    The publisher's own word, or Olsen P above the working line of the factors table (``olsen_p_stop_compost_mg_kg``).
    """
    if tested.finding.rating in OVERFULL:
        return True
    return tested.finding.method == OLSEN and over_olsen_line(tested.plot.case, STOP)


def phosphorus_words(tested: Tested, outcome: str) -> str:
    """The sentence about phosphate."""
    if outcome == "none":
        if overfull_with_phosphorus(tested):
            return "rec.p_excess"
        return "rec.p_none_high" if tested.finding.rating in MORE_THAN_ENOUGH else "rec.p_none_needed"
    if outcome == "no_rate":
        return "rec.no_rate_table"
    setting = tested.plot.setting
    if "new_stand" in setting.crop.traits or setting.stage in TO_PLANT:
        lasting = not LASTING.isdisjoint(setting.crop.traits)
        return f"rec.p_needed_new_{'lawn' if setting.crop.kind == 'lawn' else 'stand'}" if lasting else "rec.p_needed"
    if setting.crop.kind == "lawn":
        return "rec.p_needed_lawn"
    return "rec.p_needed_standing" if "perennial" in setting.crop.traits else "rec.p_needed"


def potassium_words(tested: Tested, outcome: str) -> str:
    """The sentence about potash: no potassium chloride where the soil is salty already."""
    if outcome == "none":
        return "rec.k_none_needed"
    if outcome == "no_rate":
        return "rec.no_rate_table"
    return "rec.k_needed_saline" if tested.plot.setting.saline else "rec.k_needed"


def sulfur_words(tested: Tested, outcome: str) -> str:  # noqa: ARG001 - same shape as its neighbours
    """The sentence about sulfur as a nutrient; sulfur against lime is another matter."""
    return {"none": "rec.s_none_needed", "needed": "rec.s_needed"}.get(outcome, "rec.no_rate_table")
