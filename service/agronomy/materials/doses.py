"""One material's amount as doses: along the doses of the nutrient that it is chosen for."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, inf
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
OWN_DAYS = ("P2O5", "K2O")
BESIDE = 0.1
"""From what part of the share of nitrogen on phosphate or potash counts as brought: how a plan is dated, not a rule."""
A_LITTLE_MORE = 1.1
"""What comes beside phosphate and potash may pass the nitrogen of that day by so much."""
LEAST = 0.05
"""A dose of less than this share of the whole is given with the others."""


class Part(NamedTuple):
    """One chosen material: g per basis, the nutrient it serves first, its doses and when each is given."""

    stock: Stock
    grams: float
    lead: str
    serves: tuple[str, ...]
    doses: tuple[float, ...]
    whens: tuple[Application | None, ...]
    most: tuple[float, ...] = ()
    """What no dose may be rounded above, g per basis."""
    most_whole: float = inf


ONCE = Note("when.material_once")


def parts_of(
    demand: Demand, chosen: Sequence[tuple[Stock, float]], with_nitrogen: frozenset[str] = frozenset()
) -> list[Part]:
    """The chosen materials with their doses; nitrogen that comes with others is taken off the nitrogen doses."""
    led = [(stock, grams, lead_of(demand, stock, with_nitrogen)) for stock, grams in chosen]
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


def lead_of(demand: Demand, stock: Stock, with_nitrogen: frozenset[str] = frozenset()) -> str:
    """The nutrient whose doses a material follows: that of which it covers the largest share of the need.

    Phosphate and potash go out on their own days also with a material that is richer in nitrogen, unless it is one of
    ``with_nitrogen``, which would bring too much nitrogen on that day.
    """
    shares = {
        name: stock.analysis.get(name, 0.0) / amount_of(demand.asked[name]) for name in ORDER if name in demand.asked
    }
    most = max(shares, key=shares.__getitem__)
    if most != "N" or stock.id in with_nitrogen:
        return most
    beside = {name: share for name, share in shares.items() if name in OWN_DAYS and share >= BESIDE * shares["N"]}
    return max(beside, key=beside.__getitem__, default=most)


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

    What is spread within one window of the nitrogen counts together; None where every limit on a dose is kept and
    nothing that is given later comes early. The client's own products may come early: there may be nothing else.
    """
    if "N" not in demand.asked:
        return None
    beside = [part for part in parts if part.lead != "N" and "N" in part.stock.analysis]
    limit = limits.get("N", inf)
    if limit == inf or scaled(max(at_once(demand, parts, "N").values(), default=0.0)) <= scaled(limit * A_HAIR_MORE):
        beside = [part for part in beside if not part.stock.own] if _early(demand, beside) else []
    most = max(beside, key=lambda part: (len(part.serves), part.stock.analysis["N"]), default=None)
    return None if most is None else most.stock


def _early(demand: Demand, beside: Sequence[Part]) -> bool:
    """Whether the nitrogen that comes beside something else is more than what is due on its day."""
    whens, due = _wanted(demand, "N")
    for (place, number), total in at_once(demand, beside, "N").items():
        when = beside[place].whens[number]
        if total > due[_at(whens, when.from_date if when else None)] * A_LITTLE_MORE:
            return True
    return False


def at_once(demand: Demand, parts: Sequence[Part], nutrient: str) -> dict[tuple[int, int], float]:
    """How much of a nutrient all materials bring on the day of each dose, by the place of part and dose, g per basis.

    What is given within one window of the nutrient's own doses counts together; without such, what begins on one day.
    """
    whens = _wanted(demand, nutrient)[0] if nutrient in demand.asked else []
    where: dict[tuple[int, int], object] = {}
    total: dict[object, float] = {}
    for place, part in enumerate(parts):
        own = part.lead == nutrient and len(part.whens) == len(whens)
        for number, (when, dose) in enumerate(zip(part.whens, part.doses, strict=True)):
            day = when.from_date if when else None
            key: object = number if own else _at(whens, day) if whens else day
            where[place, number] = key
            total[key] = total.get(key, 0.0) + dose * part.stock.analysis.get(nutrient, 0.0) / 100
    return {dose: total[key] for dose, key in where.items()}


def split(demand: Demand, parts: Sequence[Part], limits: Mapping[str, float]) -> list[Part]:
    """Doses cut into equal parts over their windows, so that no more nitrogen of materials comes at once than a rule
    allows.

    Args:
        limits: material -> the most nitrogen at once, g per basis.
    """
    bound = [part for part in parts if part.stock.id in limits]
    whole = at_once(demand, bound, "N")
    cut = {}
    for place, part in enumerate(bound):
        limit = limits[part.stock.id]
        counts = [ceil(whole[place, number] / limit / A_HAIR_MORE) for number in range(len(part.doses))]
        cut[part.stock.id] = _cut(part, [max(count, 1) for count in counts])
    return [cut.get(part.stock.id, part) for part in parts]


def _cut(part: Part, counts: Sequence[int]) -> Part:
    doses = [(dose / count, when, count) for dose, when, count in zip(part.doses, part.whens, counts, strict=True)]
    most = part.most or (inf,) * len(counts)
    return part._replace(
        doses=tuple([dose for dose, _, count in doses for _ in range(count)]),
        whens=tuple([each for _, when, count in doses for each in _windows(when, count)]),
        most=tuple([each / count for each, count in zip(most, counts, strict=True) for _ in range(count)]),
    )


def _windows(when: Application | None, count: int) -> list[Application | None]:
    """A window cut into equal ones, one after another; the same one where it has no days to cut."""
    if count == 1 or when is None or when.from_date is None or when.to_date is None:
        return [when] * count
    days = (when.to_date - when.from_date).days + 1
    if days < count:
        return [when] * count
    starts = [when.from_date + timedelta(days=days * number // count) for number in range(count + 1)]
    return [when._replace(from_date=start, to_date=after - timedelta(days=1)) for start, after in pairwise(starts)]


def with_room(
    demand: Demand, parts: Sequence[Part], limits: Mapping[str, float], yearly: Mapping[str, float]
) -> list[Part]:
    """Each part with what its doses and its whole may be rounded up to: as far as limits and caps leave room."""
    rooms: dict[tuple[int, int], float] = {}
    for nutrient, limit in limits.items():
        for dose, total in at_once(demand, parts, nutrient).items():
            if nutrient in parts[dose[0]].stock.analysis:
                rooms[dose] = min(rooms.get(dose, inf), max(limit / total, 1.0))
    totals: dict[str, float] = {}
    for part in parts:
        for nutrient, share in part.stock.analysis.items():
            totals[nutrient] = totals.get(nutrient, 0.0) + part.grams * share / 100
    return [
        part._replace(
            most=tuple([dose * rooms.get((place, number), inf) for number, dose in enumerate(part.doses)]),
            most_whole=part.grams
            * min([max(yearly.get(name, inf) / totals[name], 1.0) for name in part.stock.analysis], default=inf),
        )
        for place, part in enumerate(parts)
    ]


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
