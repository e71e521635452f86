"""The best plan's amounts: first which materials and how many bags, then the amounts to the last figure."""

from typing import NamedTuple

from service.agronomy.materials.problem import Problem
from service.blending.engine import best
from service.blending.goals import goals, together
from service.blending.model import BUY, HAND, SHORT, USED, Model, Settled, build

NO_SHORTER = 1e-7
"""How much more of the needs, in shares, may be short for leaving a crumb out."""
TRACE = 1e-9
"""Share of a material's useful amount below which nothing of it is used."""
TRACES = (1e-6, TRACE)
"""What a plan may do without is left out first by the larger share: the slack of goals leaves crumbs of materials."""


class Amounts(NamedTuple):
    """Of one material, g per basis: what is bought, what is taken from at hand; whole bags where sold so."""

    bought: float = 0.0
    at_hand: float = 0.0
    bags: int | None = None


def search(problem: Problem) -> dict[str, Amounts]:
    """The amounts of the best plan for a problem in order: all needs met, or else the least short."""
    for elastic in (False, True):
        model = build(problem, elastic)
        values = best(model, together(model) if _whole(model) else goals(model))
        if values is not None:
            return _amounts(*_refined(model, values, elastic))
    return {}


def _whole(model: Model) -> bool:
    return any(column.whole for column in model.columns)


def _refined(model: Model, values: list[float], elastic: bool) -> tuple[Model, list[float]]:
    """With materials and bags settled, the amounts alone: no crumbs, no rounding of whole figures is left in them."""
    for trace in TRACES:
        finer = build(model.problem, elastic, settled(model, values, trace))
        found = best(finer, goals(finer))
        if found is not None and _short(finer, found) <= _short(model, values) + NO_SHORTER:
            return finer, found
    return model, values


def _short(model: Model, values: list[float]) -> float:
    """What is short, summed over the needs that the whole problem has a source for."""
    lost = sum(need.amount > 0 for need in model.problem.needs) - len(model.needed)
    return lost + sum(values[place] for place, _ in model.of_kind(SHORT))


def settled(model: Model, values: list[float], trace: float) -> Settled:
    """Which materials a search uses and how many whole bags."""
    counted = {column.name: values[place] > 0.5 for place, column in model.of_kind(USED)}
    bags = {column.name: round(values[place]) for place, column in model.of_kind(BUY) if column.whole}
    used = {
        column.name
        for place, column in model.of_kind(BUY, HAND)
        if values[place] > trace and counted.get(column.name, True)
    }
    return Settled(frozenset(used), bags)


def _amounts(model: Model, values: list[float]) -> dict[str, Amounts]:
    found: dict[str, Amounts] = {}
    for place, column in model.of_kind(BUY, HAND):
        if values[place] <= TRACE:
            continue
        grams = values[place] * column.unit
        before = found.get(column.name, Amounts())
        bagged = model.problem.whole_bags and model.offers[column.name].bag_kg is not None
        if column.kind == HAND:
            found[column.name] = before._replace(at_hand=grams, bags=0 if bagged else None)
        else:
            bags = round(values[place]) if bagged else None
            found[column.name] = before._replace(bought=grams, bags=bags)
    return found
