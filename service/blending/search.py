"""The best plan's amounts: first which materials and how many bags, then the amounts to the last figure."""

from math import ceil
from typing import NamedTuple

from service.agronomy.materials.problem import Problem
from service.blending.budget import Budget
from service.blending.engine import best
from service.blending.goals import WEIGHED, goals, together
from service.blending.model import BAGS, BUY, HAND, SHORT, USED, Model, Settled, build

NO_SHORTER = 1e-7
"""How much more of the needs, in shares, may be short for leaving a crumb out."""
TRACE = 1e-9
"""Share of a material's useful amount below which nothing of it is used."""
TRACES = (1e-6, TRACE)
"""What a plan may do without is left out first by the larger share: the slack of goals leaves crumbs of materials."""


class Amounts(NamedTuple):
    """Of one material, g per basis: what is spread of what is bought, and what of what is at hand."""

    bought: float = 0.0
    at_hand: float = 0.0


def search(problem: Problem, budget: Budget) -> dict[str, Amounts]:
    """The amounts of the best plan for a problem in order: all needs met, or else the least short.

    Where the budget ends first it is the best that was found, and the budget knows that it is not proven.
    """
    for elastic in (False, True):
        model = build(problem, elastic)
        start = _start(model, budget)
        if start is None:
            continue
        values = best(model, together(model), budget, _kept(model, start)) if _whole(model) else start
        if values is not None:
            return _amounts(*_refined(model, values, elastic, budget))
    return {}


def _start(model: Model, budget: Budget) -> list[float] | None:
    """The best plan where a part of a bag, or of a choice, would do; None where even so not every need is met."""
    free = model._replace(columns=tuple([column._replace(whole=False) for column in model.columns]))
    return best(free, together(model)[:WEIGHED] if _whole(model) else goals(model), budget)


def _kept(model: Model, values: list[float]) -> list[float] | None:
    """The same with whole bags and whole choices; or nothing at all, where so many may not be chosen."""
    raised = [ceil(x - TRACE) if column.whole else x for x, column in zip(values, model.columns, strict=True)]
    if not (model.problem.apart or model.problem.most_products is not None):
        return [float(x) for x in raised]
    short = [float(column.kind == SHORT) for column in model.columns]
    return short if any(short) else None


def _whole(model: Model) -> bool:
    return any(column.whole for column in model.columns)


def _refined(model: Model, values: list[float], elastic: bool, budget: Budget) -> tuple[Model, list[float]]:
    """With materials and bags settled, the amounts alone: no crumbs, no rounding of whole figures is left in them."""
    for trace in TRACES:
        finer = build(model.problem, elastic, settled(model, values, trace))
        found = best(finer, goals(finer), budget)
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
    bags = {column.name: round(values[place]) for place, column in model.of_kind(BAGS)}
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
        found[column.name] = before._replace(at_hand=grams) if column.kind == HAND else before._replace(bought=grams)
    return found
