"""A plan for a problem: put in order, solved, checked, and kept."""

from functools import lru_cache

from service.agronomy.materials.problem import Plan, Problem
from service.blending.asked import in_order
from service.blending.binding import binding
from service.blending.budget import Budget
from service.blending.figures import figures, plan_of
from service.blending.search import search

KEPT = 1024
"""Plans that are kept, by what was asked as it was asked and in order; a problem with its plan is some ten kB."""


def solve(problem: Problem) -> Plan:
    """The best plan for a problem, the same whatever the order of its offers and needs.

    Quantities: amounts, supplied, short and salt in g per basis, cost in the client's money per basis. With
    ``whole_bags`` bags are for the whole size, and what is spread of a material is its whole bags and what is taken
    from at hand; a material without a bag size is sold loose.

    No cap is exceeded, not by the last digit; a need is met within one part in a million. Where no choice meets every
    need the plan is the least short, summed over the nutrients as shares of their needs. What is at hand is used
    first, as far as it covers needs. What is made least after that: see `service.blending.goals`.

    A search ends at a number of nodes, not at a time: the plan is the same on every machine, and says if it was ended.

    Never raises on a valid problem. Plans are kept by what was asked.
    """
    return _as_asked(problem)


@lru_cache(maxsize=KEPT)
def _as_asked(problem: Problem) -> Plan:
    return _solved(in_order(problem))


@lru_cache(maxsize=KEPT)
def _solved(problem: Problem) -> Plan:
    budget = Budget()
    plan = plan_of(problem, figures(problem, search(problem, budget)), ())
    if plan.short:
        plan = plan._replace(binding=binding(problem, plan, budget))
    return plan._replace(proven=budget.proven)


def forget() -> None:
    """Drop all plans that are kept."""
    _as_asked.cache_clear()
    _solved.cache_clear()
