"""One material's amount as doses: along the doses of the nutrient that it is chosen for."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from service.agronomy.findings import Application, Note, Recommendation
from service.agronomy.materials.needs import Demand, amount_of, doses_of
from service.agronomy.materials.stock import Stock
from service.agronomy.units import scaled

ORDER = ("N", "P2O5", "K2O", "S", "Zn", "Fe", "Mn", "Cu")
TRACE = 0.01
"""Share of a need below which nobody weighs out a material for it: how a plan is told, not a rule."""
A_HAIR_MORE = 1 + 1e-5
"""The solver keeps to a cap within less than this."""
LEAST = 0.02
"""A dose of less than this share of the whole is given with the others."""


class Part(NamedTuple):
    """One chosen material: g per basis, the nutrient it serves first, its doses and when each is given."""

    stock: Stock
    grams: float
    lead: str
    serves: tuple[str, ...]
    doses: tuple[float, ...]
    whens: tuple[Application | None, ...]


ONCE = Note("when.material_once")


def parts_of(demand: Demand, chosen: Sequence[tuple[Stock, float]]) -> list[Part]:
    """The chosen materials with their doses; nitrogen that comes with others is taken off the nitrogen doses."""
    led = [(stock, grams, _lead(demand, stock, grams)) for stock, grams in chosen]
    found = [_part(demand, stock, grams, lead, ()) for stock, grams, lead in led if lead != "N"]
    beside = [
        (when, dose * part.stock.analysis["N"] / 100)
        for part in found
        if "N" in part.stock.analysis
        for when, dose in zip(part.whens, part.doses, strict=True)
    ]
    found += [_part(demand, stock, grams, lead, beside) for stock, grams, lead in led if lead == "N"]
    return sorted(found, key=lambda part: (ORDER.index(part.lead), -part.grams))


def worthwhile(demand: Demand, stock: Stock, grams: float) -> bool:
    """Whether an amount brings enough of anything needed to be weighed out at all."""
    return any(
        grams * stock.analysis.get(name, 0.0) / 100 >= TRACE * amount_of(item) for name, item in demand.asked.items()
    )


def _lead(demand: Demand, stock: Stock, grams: float) -> str:
    """The nutrient of which a material covers the largest share of the need."""

    def share(nutrient: str) -> float:
        return grams * stock.analysis.get(nutrient, 0.0) / amount_of(demand.asked[nutrient])

    return max((name for name in ORDER if name in demand.asked), key=share)


def _part(
    demand: Demand, stock: Stock, grams: float, lead: str, beside: Sequence[tuple[Application | None, float]]
) -> Part:
    serves = tuple([name for name in ORDER if name in demand.asked and name in stock.analysis])
    whens, wanted = _wanted(demand, lead)
    for when, brought in beside:
        place = _at(whens, when.from_date if when else None)
        wanted[place] = max(wanted[place] - brought, 0.0)
    if sum(wanted) <= 0:
        wanted = [1.0] * len(wanted)
    shares = [want / sum(wanted) for want in wanted]
    kept = [place for place, share in enumerate(shares) if share >= LEAST]
    doses = tuple([grams * shares[place] / sum(shares[each] for each in kept) for place in kept])
    return Part(stock, grams, lead, serves, doses, tuple([whens[place] for place in kept]))


def crowding(demand: Demand, parts: Sequence[Part], limits: Mapping[str, float]) -> Stock | None:
    """The material to leave out because too much nitrogen would come at once, most of it beside something else.

    What is spread within one window of the nitrogen counts together; None where every limit on a dose is kept.
    """
    limit = limits.get("N")
    if limit is None or "N" not in demand.asked:
        return None
    whens, _ = _wanted(demand, "N")
    at_once: dict[int, float] = {}
    for part in parts:
        for number, (when, dose) in enumerate(zip(part.whens, part.doses, strict=True)):
            own = part.lead == "N" and len(part.whens) == len(whens)
            place = number if own else _at(whens, when.from_date if when else None)
            at_once[place] = at_once.get(place, 0.0) + dose * part.stock.analysis.get("N", 0.0) / 100
    if scaled(max(at_once.values(), default=0.0)) <= scaled(limit * A_HAIR_MORE):
        return None
    beside = [part for part in parts if part.lead != "N" and "N" in part.stock.analysis]
    most = max(beside, key=lambda part: (len(part.serves), part.stock.analysis["N"]), default=None)
    return None if most is None else most.stock


def _wanted(demand: Demand, lead: str) -> tuple[list[Application | None], list[float]]:
    """When the nutrient is given and how much each time; what has no dates goes with the first of another."""
    item = demand.asked[lead]
    if item.applications:
        return list(item.applications), list(doses_of(item))
    return [_first(demand.asked)], [1.0]


def _first(asked: Mapping[str, Recommendation]) -> Application | None:
    """The earliest dose of anything."""
    found = [item.applications[0] for item in asked.values() if item.applications]
    return min(found, key=lambda each: each.from_date or date.max, default=None)


def _at(whens: Sequence[Application | None], day: date | None) -> int:
    """The dose in whose days a day falls: the last that has begun by then, else the first."""
    begun = [
        place
        for place, when in enumerate(whens)
        if when is not None and when.from_date is not None and day is not None and when.from_date <= day
    ]
    return begun[-1] if begun else 0
