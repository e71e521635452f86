"""What is made least, one after the other: each goal is settled before the next is looked at.

First what stays short, each nutrient as a share of its need. Then what the client has at hand is used as far as it
covers needs. Then the objective, and after it what still tells equal plans apart:

- ``cost``: as little as can be of materials without a price, cost, excess, salt
- ``salt``: salt, excess, cost
- ``few_products``: number of materials, excess, salt, cost
- ``excess``: excess, salt, cost

Excess is grams of nutrients that nobody asked for. Of what is bought in whole bags cost and excess count what is
bought, salt counts what is spread; between plans alike in all of that, the one that spreads least goes first. A
material whose salt index nobody published counts as the saltiest of those offered.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from service.blending.model import BAGS, BUY, COVER, GRAMS, HAND, SHORT, USED, Column, Model, bag_of

INDEX_OF_SODIUM_NITRATE = 100.0
"""The scale's own reference: sodium nitrate is 100."""
EQUAL = 1e-4
"""While materials and bags are chosen, plans count as equal in a goal after the first if they differ by less: such a
share of the goal's largest cost weighs as much as the whole of the next. One search then looks at them all."""
WEIGHED = 3
"""How many goals one search can weigh: a fourth would weigh less than the solver's tolerance."""
type_of_costs = dict[int, float]
type_of_maker = Callable[[Model], "Goal"]


class Goal(NamedTuple):
    """Column place -> cost, the largest 1; ``counts`` where the sum is a whole number."""

    costs: type_of_costs
    counts: bool = False


def goals(model: Model) -> list[Goal]:
    """The goals in order; those that nothing depends on are left out."""
    first, rest = _ORDER[model.problem.objective]
    return _there(model, (_short, _at_hand, *first, *rest))


def _there(model: Model, makers: Iterable[type_of_maker]) -> list[Goal]:
    return [goal for make in makers if (goal := make(model)).costs]


def together(model: Model) -> list[Goal]:
    """The same goals in fewer searches: those after the objective in one, weighed by `EQUAL`, up to `WEIGHED`.

    A count stays settled first: all that is added to it comes to less than one. How much is spread of what is bought
    is left for when that is settled.
    """
    first, rest = _ORDER[model.problem.objective]
    before = _there(model, (_short, _at_hand, *first))
    after = _there(model, [make for make in rest if make is not _spread])
    return [*before, *([_weighed(model, after[:WEIGHED])] if after else []), *after[WEIGHED:]]


def _weighed(model: Model, rest: list[Goal]) -> Goal:
    costs: type_of_costs = {}
    weight = 1.0
    for goal in rest:
        for place, cost in goal.costs.items():
            costs[place] = costs.get(place, 0.0) + weight * cost
        weight *= 0.5 / len(model.columns) if goal.counts else EQUAL
    return Goal(costs)


def _scaled(costs: type_of_costs) -> Goal:
    largest = max(map(abs, costs.values()), default=0.0)
    return Goal({place: cost / largest for place, cost in costs.items() if cost} if largest > 0 else {})


def _short(model: Model) -> Goal:
    return Goal({place: 1.0 for place, _ in model.of_kind(SHORT)})


def _at_hand(model: Model) -> Goal:
    return Goal({place: -1.0 for place, _ in model.of_kind(COVER)})


def _number(model: Model) -> Goal:
    return Goal({place: 1.0 for place, _ in model.of_kind(USED)}, True)


def _bought(model: Model) -> Iterable[tuple[int, Column]]:
    """What of each material is bought: its bags where they are counted; nothing where they are settled."""
    bags = {column.name for _, column in model.of_kind(BAGS)}
    for place, column in model.of_kind(BAGS, BUY):
        if column.name not in model.bought and (column.kind == BAGS or column.name not in bags):
            yield place, column


def _excess(model: Model) -> Goal:
    """All nutrients bought or taken from at hand; the needs are constant, and what is short of them is added."""
    return _nutrients(model, [*_bought(model), *model.of_kind(HAND)])


def _spread(model: Model) -> Goal:
    """All nutrients spread, where that is not what is bought."""
    bagged = any(bag_of(offer, model.problem) is not None for offer in model.offers.values())
    return _nutrients(model, model.of_kind(BUY, HAND)) if bagged else Goal({})


def _nutrients(model: Model, columns: Iterable[tuple[int, Column]]) -> Goal:
    brought = {name: sum(share for _, share in offer.analysis) for name, offer in model.offers.items()}
    costs = {place: column.unit * brought[column.name] for place, column in columns}
    return _scaled(costs | {place: model.needed[column.name] for place, column in model.of_kind(SHORT)})


def _salt(model: Model) -> Goal:
    known = [offer.salt_index for offer in model.problem.offers if offer.salt_index is not None]
    worst = max(known, default=INDEX_OF_SODIUM_NITRATE)
    index = {name: worst if offer.salt_index is None else offer.salt_index for name, offer in model.offers.items()}
    return _scaled({place: column.unit * index[column.name] for place, column in model.of_kind(BUY, HAND)})


def _unpriced(model: Model) -> Goal:
    return _scaled(
        {place: column.unit for place, column in _bought(model) if model.offers[column.name].price_per_kg is None}
    )


def _cost(model: Model) -> Goal:
    price = {name: (offer.price_per_kg or 0.0) / GRAMS for name, offer in model.offers.items()}
    return _scaled({place: column.unit * price[column.name] for place, column in _bought(model)})


_ORDER: Mapping[str, tuple[tuple[type_of_maker, ...], tuple[type_of_maker, ...]]] = {
    "cost": ((_unpriced, _cost), (_excess, _salt, _spread)),
    "salt": ((_salt,), (_excess, _cost, _spread)),
    "few_products": ((), (_number, _excess, _salt, _cost, _spread)),
    "excess": ((_excess,), (_salt, _cost, _spread)),
}
"""Of each objective what is settled by itself, and what `together` may weigh in one."""
