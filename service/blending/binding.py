"""Which rules stand in the way of a need: those without which less of it stays short.

Each rule that the plan touches is lifted alone and the problem solved again. Where none alone helps, all are lifted and
put back one by one: the rules that stay are one set that stands in the way together. At most `TRIED` rules are tried.
"""

from collections.abc import Iterator, Mapping

from service.agronomy.materials.problem import Plan, Problem
from service.blending.budget import Budget
from service.blending.engine import best
from service.blending.goals import goals
from service.blending.model import SHORT, build

HELPS = 1e-6
"""Least share of a need that must be gained."""
TRIED = 24


def binding(problem: Problem, plan: Plan, budget: Budget) -> tuple[str, ...]:
    """Codes of what stands in the way of a problem in order, with its plan, that cannot be met."""
    if not any(offer.analysis for offer in problem.offers):
        return ("no_material",)
    brought = {nutrient for offer in problem.offers for nutrient, _ in offer.analysis}
    no_source = tuple(
        f"no_source.{need.nutrient}" for need in problem.needs if need.amount > 0 and need.nutrient not in brought
    )
    lacking = {need.nutrient: need.amount for need in problem.needs}
    now = sum(grams / lacking[name] for name, grams in plan.short if name in brought)
    if now <= HELPS:
        return no_source
    bare, unproven = problem._replace(whole_bags=False), Budget(budget.left)
    rules = tuple(_rules(bare))[:TRIED]
    alone = tuple(rule for rule in rules if shortage(lifted(bare, (rule,)), unproven) < now - HELPS)
    found = no_source + (alone or _together(bare, rules, now, unproven))
    return found or ("search",)


def _together(problem: Problem, rules: tuple[str, ...], now: float, budget: Budget) -> tuple[str, ...]:
    """A least set of rules that only together keep a need short."""
    off = rules
    for rule in rules:
        fewer = tuple(each for each in off if each != rule)
        if shortage(lifted(problem, fewer), budget) < now - HELPS:
            off = fewer
    return off if shortage(lifted(problem, off), budget) < now - HELPS else ()


def shortage(problem: Problem, budget: Budget) -> float:
    """Sum over the nutrients that something brings of what stays short, each as a share of its need."""
    model = build(problem._replace(objective="excess"), elastic=True)
    values = best(model, goals(model)[:1], budget)
    return sum(values[place] for place, _ in model.of_kind(SHORT)) if values is not None else float("inf")


def _rules(problem: Problem) -> Iterator[str]:
    """Codes of the rules that a problem has."""
    yield from (f"cap.{need.nutrient}" for need in problem.needs if need.cap is not None)
    yield from (f"most.{offer.material}" for offer in problem.offers if offer.most is not None)
    present: Mapping[str, bool] = {
        "slow_share": problem.slow_share > 0,
        "most_products": problem.most_products is not None,
        "apart": bool(problem.apart),
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
    )
