"""Each rule that can stand in the way is named, and no other; the nearest plan keeps it. Arithmetic beside."""

import pytest
from problems import chosen, needs, offer

from service.agronomy.materials.problem import Plan, Problem
from service.blending import solve

UREA = offer("urea", "46-0-0")
MAP = offer("map", "11-52-0")
POTASH = offer("potash", "0-0-60")
TEN = offer("ten", "10-10-10")


def short(problem: Problem) -> Plan:
    plan = solve(problem)
    assert plan.status == "short"
    return plan


def test_cap_of_what_comes_along() -> None:
    """10 g N of 10-10-10 bring 10 g P2O5; with a cap of 4 g, 40 g may be used, which bring 4 g N."""
    plan = short(Problem((TEN,), needs(N=10.0, P2O5=(0.0, 4.0))))
    assert plan.binding == ("cap.P2O5",)
    assert chosen(plan) == {"ten": pytest.approx(40)}
    assert dict(plan.short) == {"N": pytest.approx(6)}


def test_nothing_that_brings_what_is_not_needed() -> None:
    """No phosphorus where none is needed: nothing of a material that has any."""
    plan = short(Problem((TEN, MAP), needs(N=10.0, P2O5=(0.0, 0.0))))
    assert (plan.binding, plan.chosen) == (("cap.P2O5",), ())


def test_cap_below_the_need_itself() -> None:
    plan = short(Problem((UREA,), needs(N=(10.0, 4.6))))
    assert (plan.binding, chosen(plan)) == (("cap.N",), {"urea": pytest.approx(10)})


def test_no_source() -> None:
    """What can be met is met all the same."""
    plan = short(Problem((UREA,), needs(N=4.6, K2O=3.0)))
    assert (plan.binding, chosen(plan)) == (("no_source.K2O",), {"urea": pytest.approx(10)})
    assert plan.short == (("K2O", 3.0),)


def test_no_material() -> None:
    assert short(Problem((), needs(N=5.0))).binding == ("no_material",)


def test_most_of_a_material() -> None:
    """50 g of urea at most: 23 g of 30 g N."""
    plan = short(Problem((UREA._replace(most=50.0),), needs(N=30.0)))
    assert plan.binding == ("most.urea",)
    assert dict(plan.short) == {"N": pytest.approx(7)}


def test_slow_share() -> None:
    plan = short(Problem((UREA,), needs(N=5.0), slow_share=0.3))
    assert (plan.binding, plan.chosen) == (("slow_share",), ())


def test_number_of_products() -> None:
    """Three nutrients, one in each: with two products one stays out."""
    plan = short(Problem((UREA, offer("p", "0-46-0"), POTASH), needs(N=5.0, P2O5=5.0, K2O=5.0), most_products=2))
    assert plan.binding == ("most_products",)
    assert len(plan.short) == 1


def test_materials_kept_apart() -> None:
    plan = short(Problem((UREA, POTASH), needs(N=5.0, K2O=5.0), apart=(("potash", "urea"),)))
    assert plan.binding == ("apart",)
    assert len(plan.chosen) == 1


def test_a_large_bag_stands_in_nobodys_way() -> None:
    """A bag of 10 kg urea on 100 m2 holds 46 g N per m2, with a cap of 6 g: it is bought, and 1.087 kg are spread."""
    plan = solve(Problem((UREA._replace(bag_kg=10.0),), needs(N=(5.0, 6.0)), whole_bags=True, size=100.0))
    assert plan.status == "met"
    assert plan.chosen == (("urea", pytest.approx(5 / 0.46), 1),)


def test_rules_that_bind_only_together() -> None:
    """Caps on two companions of one material: neither alone lets more in."""
    plan = short(Problem((TEN,), needs(N=10.0, P2O5=(0.0, 4.0), K2O=(0.0, 4.0))))
    assert plan.binding == ("cap.K2O", "cap.P2O5")


def test_the_nearest_plan_counts_shares_of_needs() -> None:
    """One product: 10 g K2O of 10 is a whole need, 5 g N of 10 is half of one."""
    plan = short(Problem((UREA._replace(most=10.0), POTASH), needs(N=9.2, K2O=1.0), most_products=1))
    assert chosen(plan) == {"potash": pytest.approx(1 / 0.6)}
