"""What holds of every plan, whatever is asked: checked by the analyses and the rules alone, not by the solver."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations
from random import Random
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from problems import OBJECTIVES, brought, chosen, needs, offer, offers, problems

from service.agronomy.materials.problem import Need, Offer, Problem
from service.blending import solve
from service.blending.budget import Budget
from service.blending.solving import forget

MET = 1e-6
ROUNDING = 5e-7
"""Sums leave with seven significant digits."""


@given(st.one_of(problems(), problems(bagged=True)))
@settings(max_examples=120, deadline=None)
def test_supplied_is_the_need_or_reported_short(problem: Problem) -> None:
    plan = solve(problem)
    sums = brought(problem, chosen(plan))
    assert dict(plan.supplied) == pytest.approx({k: v for k, v in sums.items() if v}, rel=ROUNDING)
    short = dict(plan.short)
    for need in problem.needs:
        lack = need.amount - sums.get(need.nutrient, 0.0)
        assert short.get(need.nutrient, 0.0) == pytest.approx(max(lack, 0.0), abs=(MET + ROUNDING) * need.amount)
    assert plan.status == ("short" if short else "met")
    assert bool(plan.binding) == bool(short)


@given(st.one_of(problems(), problems(bagged=True)))
@settings(max_examples=120, deadline=None)
def test_no_cap_is_exceeded_in_exact_arithmetic(problem: Problem) -> None:
    amounts = {name: Fraction(amount) for name, amount in chosen(solve(problem)).items()}
    for need in problem.needs:
        if need.cap is not None:
            by = {o.material: Fraction(dict(o.analysis).get(need.nutrient, 0)) for o in problem.offers}
            total = sum(by[name] * amount for name, amount in amounts.items())
            assert total <= Fraction(need.cap)
    for each in problem.offers:
        if each.most is not None:
            assert amounts.get(each.material, 0) <= each.most


@given(st.one_of(problems(), problems(bagged=True)))
@settings(max_examples=80, deadline=None)
def test_rules_are_kept(problem: Problem) -> None:
    plan = solve(problem)
    amounts = chosen(plan)
    assert all(amount > 0 for amount in amounts.values())
    if problem.most_products is not None:
        assert len(amounts) <= problem.most_products
    for first, second in problem.apart:
        assert not {first, second} <= set(amounts)
    slow = sum(o.slow_N * amounts.get(o.material, 0.0) for o in problem.offers)
    assert slow >= problem.slow_share * brought(problem, amounts).get("N", 0.0) * (1 - MET)


@given(problems(bagged=True))
@settings(max_examples=80, deadline=None)
def test_bags_hold_what_is_spread_and_none_is_bought_for_nothing(problem: Problem) -> None:
    """With what is at hand; one bag less would not."""
    at_hand = {each.material: each.at_hand for each in problem.offers}
    bag = {each.material: (each.bag_kg or 0) * 1000 / problem.size for each in problem.offers}
    for each in solve(problem).chosen:
        assert each.bags is not None
        assert each.amount <= (each.bags * bag[each.material] + at_hand[each.material]) * (1 + 1e-6)
        assert each.bags == 0 or each.amount > (each.bags - 1) * bag[each.material]


@given(problems(bagged=True))
@settings(max_examples=80, deadline=None)
def test_bags_leave_nothing_short_that_loose_materials_would_meet(problem: Problem) -> None:
    """They are bought whole and spread in part: needs, caps and what is short are those of loose materials."""
    bagged, loose = solve(problem), solve(problem._replace(whole_bags=False))
    need = {each.nutrient: each.amount for each in problem.needs}
    short = [sum(lack / need[name] for name, lack in plan.short) for plan in (bagged, loose)]
    assert short[0] == pytest.approx(short[1], abs=3 * MET)
    assert bagged.proven
    assert loose.proven


@given(problems(priced=True).filter(lambda problem: problem.offers), offers("new", priced=True))
@settings(max_examples=80, deadline=None)
def test_cost_is_never_worse_with_one_more_material(problem: Problem, new: Offer) -> None:
    """Of plans that leave as little short and use as much of what is at hand."""
    asked = problem._replace(objective="cost", offers=tuple(o._replace(at_hand=0.0) for o in problem.offers))
    before = solve(asked)
    after = solve(asked._replace(offers=(*asked.offers, new._replace(at_hand=0.0))))
    assert len(after.short) <= len(before.short) or before.status == "short"
    if before.status == "met":
        assert after.status == "met"
        assert before.cost is not None
        assert after.cost is not None
        assert after.cost <= before.cost * (1 + MET)


@given(problems(), st.sampled_from((0.25, 3.0, 1000.0)))
@settings(max_examples=80, deadline=None)
def test_a_larger_area_needs_proportionally_more(problem: Problem, factor: float) -> None:
    """All figures of a basis times a factor: what the objective counts grows by it, and so does what is short."""
    plan = solve(problem)
    larger = solve(
        problem._replace(
            needs=tuple(
                Need(n.nutrient, n.amount * factor, None if n.cap is None else n.cap * factor) for n in problem.needs
            ),
            offers=tuple(
                o._replace(at_hand=o.at_hand * factor, most=None if o.most is None else o.most * factor)
                for o in problem.offers
            ),
        )
    )
    assert (larger.status, len(larger.chosen), larger.binding) == (plan.status, len(plan.chosen), plan.binding)
    assert sum(dict(larger.supplied).values()) == pytest.approx(sum(dict(plan.supplied).values()) * factor, rel=3e-6)
    if problem.objective == "cost" and plan.cost is not None:
        assert larger.cost == pytest.approx(plan.cost * factor, rel=3e-6)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_the_order_of_what_is_asked_does_not_matter(objective: str) -> None:
    offered = (
        offer("a", "46-0-0", salt_index=75.4, price_per_kg=1.0),
        offer("b", "21-0-0", salt_index=69.0, price_per_kg=0.5),
        offer("c", "11-52-0", salt_index=30.0, price_per_kg=1.5),
        offer("d", "0-0-60", salt_index=116.0, price_per_kg=0.8),
        offer("e", "10-10-10", price_per_kg=0.9),
    )
    wanted = needs(N=5.0, P2O5=(2.0, 4.0), K2O=3.0)
    plans = {
        solve(Problem(tuple(some), tuple(few), objective))
        for some in permutations(offered)
        for few in permutations(wanted)
    }
    assert len(plans) == 1


def test_plans_are_the_same_without_what_is_kept() -> None:
    problem = Problem((offer("a", "46-0-0"), offer("b", "10-10-10")), needs(N=5.0, P2O5=1.0))
    first = solve(problem)
    forget()
    assert solve(problem) == first


def crowded(random: Random, count: int, objective: str, whole_bags: bool, most: int | None) -> Problem:
    """Odd grades in odd bags, as somebody may send them to keep the service busy."""
    offered = tuple(
        Offer(
            f"p{place}",
            tuple((nutrient, random.randint(1, 30) / 100) for nutrient in ("N", "P2O5", "K2O")),
            price_per_kg=random.uniform(0.5, 3.0),
            bag_kg=random.choice((1.13, 2.27, 4.54, 9.07, 11.3, 22.7)) * random.uniform(0.9, 1.1),
        )
        for place in range(count)
    )
    wanted = needs(N=(10.0, 11.5), P2O5=(5.0, 5.75), K2O=(7.3, 8.4))
    return Problem(offered, wanted, objective, most, random.choice((100.0, 465.0, 2000.0)), whole_bags)


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("count", [12, 30])
def test_a_crowded_problem_ends_soon_and_meets_what_it_can(count: int, objective: str) -> None:
    """Within a second of this process; a plan whose search was ended keeps every rule and says that it was."""
    random = Random(5)
    for most in (None, 3, 5):
        problem = crowded(random, count, objective, count == 12, most)
        start = process_time()
        plan = solve(problem)
        assert process_time() - start < 1.0
        loose = solve(problem._replace(whole_bags=False, most_products=None, objective="excess"))
        assert plan.status == loose.status == "met"
        assert most is None or len(plan.chosen) <= most


def test_a_search_without_steps_still_has_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not proven, and is not called short where the needs are met."""
    monkeypatch.setattr(Budget.__init__, "__defaults__", (0,))
    forget()
    plan = solve(crowded(Random(8), 12, "excess", True, None))
    forget()
    assert (plan.status, plan.proven) == ("met", False)


@dataclass(frozen=True)
class Odd:
    what: str
    problem: Problem


UREA = offer("urea", "46-0-0", salt_index=75.4)
ODD = (
    Odd("nothing needed", Problem((UREA,), ())),
    Odd("needs of zero", Problem((UREA,), needs(N=0.0, P2O5=(0.0, 0.0)))),
    Odd("nothing offered", Problem((), needs(N=5.0))),
    Odd("nothing at all", Problem((), ())),
    Odd("an analysis of nothing", Problem((Offer("sand", ()),), needs(N=5.0))),
    Odd("tiny", Problem((UREA,), needs(N=1e-12))),
    Odd("huge", Problem((UREA,), needs(N=1e15))),
    Odd("tiny beside huge", Problem((UREA, Offer("zinc", (("Zn", 1e-9), ("N", 0.1)))), needs(N=1e9, Zn=1e-9))),
    Odd("tiny cap", Problem((UREA,), needs(N=(5.0, 1e-12)))),
    Odd("tiny bag", Problem((UREA._replace(bag_kg=1e-9),), needs(N=5.0), whole_bags=True, size=1e6)),
    Odd("huge bag", Problem((UREA._replace(bag_kg=1e9),), needs(N=5.0), whole_bags=True)),
    Odd("size of zero", Problem((UREA._replace(bag_kg=10.0),), needs(N=5.0), whole_bags=True, size=0.0)),
    Odd("no product allowed", Problem((UREA,), needs(N=5.0), most_products=0)),
    Odd("slow share of all", Problem((UREA,), needs(N=5.0), slow_share=1.0)),
    Odd(
        "apart from itself and from what is not there",
        Problem((UREA,), needs(N=5.0), apart=(("urea", "urea"), ("urea", "x"))),
    ),
    Odd("one material twice", Problem((UREA, UREA._replace(salt_index=None)), needs(N=5.0))),
    Odd("not a number", Problem((UREA._replace(at_hand=float("nan")),), needs(N=float("inf")))),
)


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("odd", ODD, ids=lambda odd: odd.what)
def test_odd_problems_have_a_plan(odd: Odd, objective: str) -> None:
    plan = solve(odd.problem._replace(objective=objective))
    assert plan.status in ("met", "short")
    sums = brought(odd.problem, chosen(plan))
    for need in odd.problem.needs:
        if need.cap is not None:
            assert sums.get(need.nutrient, 0.0) <= need.cap
        if plan.status == "met" and need.amount < float("inf"):
            assert sums.get(need.nutrient, 0.0) >= need.amount * (1 - MET)


_wild = st.one_of(st.floats(), st.sampled_from((0.0, 1e-300, 1e-9, 1e9, 1e300, 5e-324)))
_wild_offers = st.builds(
    Offer,
    st.sampled_from(("a", "b", "c")),
    st.lists(st.tuples(st.sampled_from(("N", "P2O5")), _wild), max_size=2).map(tuple),
    _wild,
    st.one_of(st.none(), _wild),
    st.one_of(st.none(), _wild),
    st.one_of(st.none(), _wild),
    _wild,
    st.one_of(st.none(), _wild),
)
_wild_needs = st.builds(Need, st.sampled_from(("N", "P2O5", "Zn")), _wild, st.one_of(st.none(), _wild))


@given(
    st.builds(
        Problem,
        st.lists(_wild_offers, max_size=3).map(tuple),
        st.lists(_wild_needs, max_size=3).map(tuple),
        st.sampled_from((*OBJECTIVES, "beauty")),
        st.one_of(st.none(), st.integers(-1, 3)),
        _wild,
        st.booleans(),
        _wild,
        st.just((("a", "b"), ("a", "a"), ("a", "z"))),
    )
)
@settings(max_examples=300, deadline=None)
def test_any_figures_have_a_plan(problem: Problem) -> None:
    plan = solve(problem)
    assert plan.status in ("met", "short")
    assert all(each.amount > 0 for each in plan.chosen)
