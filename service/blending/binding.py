"""Which rules stand in the way of a need: those without which less of it stays short.

Each rule is lifted alone and the problem solved again. Where none alone helps, all are lifted and put back one by one:
the rules that stay are one set that stands in the way together.
"""

from collections.abc import Iterator, Mapping

from service.agronomy.materials.problem import Problem
from service.blending.engine import best
from service.blending.goals import goals
from service.blending.model import SHORT, build

HELPS = 1e-6
"""Least share of a need that must be gained."""


def binding(problem: Problem) -> tuple[str, ...]:
    """Codes of what stands in the way of a problem in order that cannot be met."""
    if not any(offer.analysis for offer in problem.offers):
        return ("no_material",)
    brought = {nutrient for offer in problem.offers for nutrient, _ in offer.analysis}
    no_source = tuple(
        f"no_source.{need.nutrient}" for need in problem.needs if need.amount > 0 and need.nutrient not in brought
    )
    now = shortage(problem)
    rules = tuple(_rules(problem))
    if now <= HELPS or not rules:
        return no_source
    alone = tuple(rule for rule in rules if shortage(lifted(problem, (rule,))) < now - HELPS)
    return no_source + (alone or _together(problem, rules, now))


def _together(problem: Problem, rules: tuple[str, ...], now: float) -> tuple[str, ...]:
    """A least set of rules that only together keep a need short."""
    off = rules
    for rule in rules:
        fewer = tuple(each for each in off if each != rule)
        if shortage(lifted(problem, fewer)) < now - HELPS:
            off = fewer
    return off if shortage(lifted(problem, off)) < now - HELPS else ()


def shortage(problem: Problem) -> float:
    """Sum over the nutrients that something brings of what stays short, each as a share of its need."""
    model = build(problem, elastic=True)
    values = best(model, goals(model)[:1])
    return sum(values[place] for place, _ in model.of_kind(SHORT)) if values is not None else 0.0


def _rules(problem: Problem) -> Iterator[str]:
    """Codes of the rules that a problem has."""
    yield from (f"cap.{need.nutrient}" for need in problem.needs if need.cap is not None)
    yield from (f"most.{offer.material}" for offer in problem.offers if offer.most is not None)
    present: Mapping[str, bool] = {
        "slow_share": problem.slow_share > 0,
        "most_products": problem.most_products is not None,
        "apart": bool(problem.apart),
        "whole_bags": problem.whole_bags and any(offer.bag_kg is not None for offer in problem.offers),
    }
    yield from (rule for rule, there in present.items() if there)


def lifted(problem: Problem, rules: tuple[str, ...]) -> Problem:
    """The same problem without some of its rules."""
    off = frozenset(rules)
    return problem._replace(
        needs=tuple(need._replace(cap=None) if f"cap.{need.nutrient}" in off else need for need in problem.needs),
        offers=tuple(
            offer._replace(most=None) if f"most.{offer.material}" in off else offer for offer in problem.offers
        ),
        slow_share=0.0 if "slow_share" in off else problem.slow_share,
        most_products=None if "most_products" in off else problem.most_products,
        apart=() if "apart" in off else problem.apart,
        whole_bags=problem.whole_bags and "whole_bags" not in off,
    )
