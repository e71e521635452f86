"""Plans against trying everything in exact fractions (`brute`): shortage, objective, and the goals that follow it."""

from fractions import Fraction

from brute import best, best_of_bags, score
from hypothesis import HealthCheck, Phase, assume, given, settings
from problems import chosen, problems

from service.agronomy.materials.problem import Problem
from service.blending import solve

ROUNDING = 2e-6
"""Amounts leave with eight digits, needs are met to one part in a million."""
EQUAL = 2e-4
"""Goals after the first may be given up by one in ten thousand while materials and bags are chosen; see `goals`."""

SEARCH = (Phase.explicit, Phase.reuse, Phase.generate)
"""A failing problem is small already; making it smaller by fractions takes long."""


def _scored(problem: Problem) -> list[float]:
    plan = solve(problem)
    amounts = chosen(plan)
    used = [offer for offer in problem.offers if offer.material in amounts]
    bags = {each.material: each.bags or 0 for each in plan.chosen}
    held = [Fraction(o.bag_kg or 0) * 1000 / Fraction(problem.size) * bags[o.material] for o in used]
    spread = [Fraction(amounts[offer.material]) for offer in used]
    return [float(x) for x in score(problem, used, spread, held if problem.whole_bags else None)]


def _without_at_hand(problem: Problem) -> Problem:
    return problem._replace(offers=tuple(offer._replace(at_hand=0.0) for offer in problem.offers))


def _same(found: list[float], wanted: tuple[Fraction, ...], searched: bool) -> None:
    """Shortage and objective to the rounding; the next goal too, or within what counts as equal."""
    for place, (ours, exact) in enumerate(zip(found, map(float, wanted), strict=True)):
        slack = EQUAL if searched and place > 1 else ROUNDING
        size = max(1.0, exact)
        if abs(ours - exact) > slack * size:
            raise AssertionError((place, found, [float(x) for x in wanted]))
        if ours < exact - ROUNDING * size:
            return  # what was given up here may be won later only if it is no longer the same plan


@given(problems(most=3, priced=True))
@settings(max_examples=150, deadline=None, phases=SEARCH)
def test_free_amounts_are_the_best(problem: Problem) -> None:
    asked = _without_at_hand(problem)
    searched = asked.objective == "few_products" or asked.most_products is not None or bool(asked.apart)
    _same(_scored(asked), best(asked), searched)


@given(problems(most=3, bagged=True, priced=True))
@settings(max_examples=80, deadline=None, phases=SEARCH, suppress_health_check=list(HealthCheck))
def test_whole_bags_are_the_best(problem: Problem) -> None:
    asked = _without_at_hand(problem)._replace(slow_share=0.0)
    assume(solve(asked).status == "met" and sum((each.bags or 0) for each in solve(asked).chosen) <= 40)
    exact = best_of_bags(asked)
    assert exact is not None
    _same(_scored(asked), exact, searched=True)
