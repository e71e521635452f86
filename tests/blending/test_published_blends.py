"""Published blends of two and three materials, and what is at hand used first.

WE01, WE02: a university fertilizer calculator (S-FERTCALC4); WE05: a gardening handbook (S-BACKYARD); WE07: a magazine
(S-COUNTRYG); WE09: lecture notes, North Carolina State University (S-NCSU-LECT20). One of the printed figures is a
misprint (3 lb N per 100 ft2 in the text of WE05): it is not used. Figures in lb, as printed; a basis is 1,000 ft2.
"""

import pytest
from problems import chosen, needs, offer

from service.agronomy.materials.problem import Problem
from service.blending import solve


@pytest.mark.parametrize(
    ("grade", "area", "rate", "printed"), [("21-0-0", 15.0, 1.0, 71.4286), ("20-0-0", 12.0, 1.0, 60.0)]
)
def test_one_material(grade: str, area: float, rate: float, printed: float) -> None:
    """WE01 and WE07: 1 lb N per 1000 ft2 on 15,000 and 12,000 ft2."""
    plan = solve(Problem((offer("product", grade),), needs(N=rate)))
    assert chosen(plan)["product"] * area == pytest.approx(printed, rel=1e-5)


def test_slow_share_of_two_materials() -> None:
    """WE02: 75 % of 1 lb N from IBDU, taken as all slow, 25 % from urea, on 15,000 ft2: 36.3 and 8.2 lb."""
    slow = offer("ibdu", "31-0-0", slow_N=0.31, price_per_kg=3.0)
    urea = offer("urea", "46-0-0", price_per_kg=1.0)
    plan = solve(Problem((slow, urea), needs(N=1.0), "cost", slow_share=0.75))
    found = {name: amount * 15 for name, amount in chosen(plan).items()}
    assert found == {"ibdu": pytest.approx(36.2903, rel=1e-5), "urea": pytest.approx(8.1522, rel=1e-5)}


def test_phosphate_that_brings_nitrogen() -> None:
    """WE05: 3 lb N and 1 lb P2O5 from 11-55-0 and 21-0-0 are 1.8 and 13.3 lb; the first brings 0.2 lb N."""
    offers = (offer("map", "11-55-0"), offer("sulfate", "21-0-0"))
    for objective, caps in (("excess", None), ("few_products", 1.0)):
        wanted = needs(N=3.0, P2O5=1.0) if caps is None else needs(N=3.0, P2O5=(1.0, caps))
        plan = solve(Problem(offers, wanted, objective))
        assert chosen(plan) == {"map": pytest.approx(1.8182, rel=1e-4), "sulfate": pytest.approx(13.3333, rel=1e-5)}
        assert chosen(plan)["map"] * 0.11 == pytest.approx(0.2, rel=1e-4)


def test_a_ton_of_a_mixed_grade() -> None:
    """WE09: one ton of 0-8-8 from 0-20-0 and 0-0-60 is 800 and 267 lb, and 933 lb of filler."""
    ton = 2000.0
    offers = (offer("superphosphate", "0-20-0"), offer("potash", "0-0-60"))
    plan = solve(Problem(offers, needs(P2O5=ton * 0.08, K2O=ton * 0.08), "excess"))
    found = chosen(plan)
    assert found == {"superphosphate": pytest.approx(800.0), "potash": pytest.approx(266.6667, rel=1e-5)}
    assert ton - sum(found.values()) == pytest.approx(933.3333, rel=1e-5)


def test_three_materials_by_hand() -> None:
    """Three equations: 52 % of x is 5 P2O5, 60 % of y is 6 K2O, 11 % of x and 46 % of z are 10 N."""
    offers = (offer("map", "11-52-0"), offer("potash", "0-0-60"), offer("urea", "46-0-0"))
    found = chosen(solve(Problem(offers, needs(N=10.0, P2O5=5.0, K2O=6.0), "excess")))
    phosphate = 5 / 0.52
    urea = (10 - 0.11 * phosphate) / 0.46
    assert found == {"map": pytest.approx(phosphate), "potash": pytest.approx(10.0), "urea": pytest.approx(urea)}


def test_what_is_at_hand_is_used_first_and_no_more_than_needed() -> None:
    """20 g of 10-10-10 at hand cover 2 of 5 g N; the rest is bought. 80 g would be more than enough."""
    urea = offer("urea", "46-0-0", price_per_kg=0.01)
    for at_hand, used, bought in ((20.0, 20.0, 3 / 0.46), (80.0, 50.0, 0.0)):
        ten = offer("ten", "10-10-10", at_hand=at_hand, price_per_kg=100.0)
        plan = solve(Problem((ten, urea), needs(N=5.0), "cost"))
        assert chosen(plan).get("ten") == pytest.approx(used)
        assert chosen(plan).get("urea", 0.0) == pytest.approx(bought)
        assert plan.cost == pytest.approx(bought / 1000 * 0.01, rel=1e-6)


def test_whole_bags_and_what_is_at_hand_together() -> None:
    """On 100 m2, 4.6 g N: 1,000 g of urea. 250 g at hand and a bag of 0.5 kg leave 250 g: of a second bag a half."""
    urea = offer("urea", "46-0-0", bag_kg=0.5, price_per_kg=1.0, at_hand=2.5)
    (used,) = solve(Problem((urea,), needs(N=4.6), "cost", size=100.0, whole_bags=True)).chosen
    assert (used.bags, used.amount) == (2, pytest.approx(10.0))


def test_the_printed_amounts_in_whole_bags() -> None:
    """WE05 with bags of 4 lb and 5 lb: 1.8 and 13.3 lb are spread as printed, of one bag and three; those are paid."""
    pound = 0.45359237  # kg, exact
    offers = (
        offer("map", "11-55-0", bag_kg=4 * pound, price_per_kg=1.0),
        offer("sulfate", "21-0-0", bag_kg=5 * pound, price_per_kg=1.0),
    )
    wanted = needs(N=3.0 * 1000 * pound, P2O5=(1.0 * 1000 * pound, 1.0 * 1000 * pound))
    plan = solve(Problem(offers, wanted, "cost", whole_bags=True))
    found = {each.material: (each.amount / 1000 / pound, each.bags) for each in plan.chosen}
    assert found == {"map": (pytest.approx(1.8182, rel=1e-4), 1), "sulfate": (pytest.approx(13.3333, rel=1e-5), 3)}
    assert plan.cost == pytest.approx((4 + 3 * 5) * pound)


def test_unknown_salt_index_and_prices_are_not_zero() -> None:
    """A material without a salt index is no way to less salt; a sum with an unknown part is not known."""
    known, unknown = offer("known", "46-0-0", salt_index=75.4), offer("unknown", "46-0-0")
    plan = solve(Problem((known, unknown, offer("salty", "10-0-0", salt_index=100.0)), needs(N=4.6), "salt"))
    assert chosen(plan) == {"known": pytest.approx(10.0)}
    assert plan.salt == pytest.approx(7.54)
    assert solve(Problem((unknown,), needs(N=4.6), "salt")).salt is None
    priced = known._replace(price_per_kg=9.0)
    assert chosen(solve(Problem((priced, unknown), needs(N=4.6), "cost"))) == {"known": pytest.approx(10.0)}
    assert solve(Problem((unknown,), needs(N=4.6), "cost")).cost is None
