"""Amendments as materials of the shop: purity, doses, bags, what else would do the same, and what must follow.

Equivalents from molar masses (IUPAC): 1 kg of gypsum (172.17) does the work of 0.186 kg of sulfur (32.06), the
factor that Agriculture Handbook 60 gives as 5.38 t of gypsum to one of sulfur. The usual granular sulfur is 90 %
(practice). Waiting times 7 CFR 205.203. Pot test with peas or beans: NC State and Washington State extension.
"""

from math import ceil
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import DAY, case_of, submission

from service.agronomy.findings import Application, MaterialUse, Note, Recommendation
from service.agronomy.interpret import interpret
from service.agronomy.materials.amendments import amendment_uses
from service.agronomy.submission import AtHand, Depth, MaterialWishes, OwnProduct, Quantity, Result
from service.agronomy.tables import Library
from service.agronomy.units import GRAMS_PER_LB, Units

PASTE = "saturated_paste_extract"
SODIC = (
    Result("Na", PASTE, 920, "mg/L"),
    Result("Ca", PASTE, 160, "mg/L"),
    Result("Mg", PASTE, 48, "mg/L"),
    Result("CEC", "displacement", 18, "meq/100 g"),
)
LIMY = Result("lime", "calcimeter", 5, "%")
NEUTRAL = (Result("pH", "water_1_1", 7.3), Result("lime", "calcimeter", 0.2, "%"))
ACID = (Result("pH", "water_1_1", 5.2), Result("buffer_pH", "sikora", 6.0))
BED: dict[str, Any] = {"crop": "tomato", "stage": None, "depth": Depth(0, 6, "in"), "drainage": "free"}


def used(library: Library, *results: Result, **more: Any) -> dict[str, MaterialUse]:
    more = {**BED, **more}
    answer = interpret(submission(*results, **more), library, DAY)
    return {use.subject: use for use in amendment_uses(case_of(library, *results, **more), answer.recommendations)}


G_M2 = 453.59237 / 92.90304
"""1 lb per 1,000 ft2 in g/m2 (exact)."""


def codes(use: MaterialUse) -> list[str]:
    return [note.code.removeprefix("how.") for note in use.how]


def test_gypsum_and_what_must_follow(library: Library) -> None:
    use = used(library, *SODIC, LIMY, requests=("gypsum",))["gypsum"]
    assert (use.material, use.serves) == ("gypsum", ("gypsum",))
    assert codes(use) == [
        "gypsum_grade",
        "gypsum_work_in",
        "gypsum_wash",
        "gypsum_test_after",
        "sulfur_instead_of_gypsum",
    ]
    instead = use.how[-1].values
    assert instead["purity"] == 90
    assert instead["sulfur"].value == pytest.approx((use.base_rate or 0.0) / G_M2 / 5.38 / 0.9, rel=0.01)
    assert dict(use.also_supplies)["Ca"].value == pytest.approx(use.rate.value * 0.22, abs=0.25)


def test_sulfur_in_place_of_gypsum_needs_lime_and_ground_to_mix_it_into(library: Library) -> None:
    free = used(library, *SODIC, Result("lime", "calcimeter", 0.1, "%"), requests=("gypsum",))["gypsum"]
    assert "sulfur_instead_of_gypsum" not in codes(free)
    lawn = {"crop": "tall-fescue-lawn", "stage": "established"}
    turf = used(library, *SODIC, LIMY, requests=("gypsum",), **lawn)["gypsum"]
    assert "sulfur_instead_of_gypsum" not in codes(turf)
    assert codes(turf)[1] == "gypsum_on_turf"


def test_no_sulfur_in_place_of_gypsum_over_its_cap(library: Library) -> None:
    """20 lb of sulfur per 1,000 ft2 at once at most (practice): a CEC of 60 takes more."""
    heavy = (*SODIC[:3], Result("CEC", "displacement", 60, "meq/100 g"))
    assert "sulfur_instead_of_gypsum" not in codes(used(library, *heavy, LIMY, requests=("gypsum",))["gypsum"])


def test_gypsum_in_doses(library: Library) -> None:
    """50 lb per 1,000 ft2 at once on turf (practice): each dose keeps it, together they are the whole."""
    lawn = {"crop": "tall-fescue-lawn", "stage": "established"}
    use = used(library, *SODIC, LIMY, requests=("gypsum",), **lawn)["gypsum"]
    assert len(use.per_application) == ceil(use.rate.value / 50)
    assert all(dose.rate.value <= 50 for dose in use.per_application)
    assert sum(dose.amount.value for dose in use.per_application if dose.amount) == pytest.approx(
        use.amount.value, rel=0.01
    )
    assert "gypsum_test_between" in codes(use)
    assert [dose.when.values["number"] for dose in use.per_application] == [1, 2]


def test_sulfur_by_its_purity(library: Library) -> None:
    """The rate is for pure sulfur; the usual grade holds 90 %, so a ninth more is bought."""
    asked = {**BED, "crop": "blueberry", "texture": "loam", "requests": ("sulfur",)}
    use = used(library, *NEUTRAL, **asked)["sulfur"]
    answer = interpret(submission(*NEUTRAL, **asked), library, DAY)
    pure = next(item for item in answer.recommendations if item.subject == "sulfur")
    assert pure.base_rate is not None
    assert use.base_rate == pytest.approx(pure.base_rate / 0.9)
    assert dict(use.also_supplies)["S"].value == pytest.approx(pure.rate.value if pure.rate else 0, rel=0.01)
    assert codes(use) == ["sulfur_grade", "sulfur_dust", "sulfur_work_in", "sulfur_apart", "sulfur_wait"]


def test_lime_is_kept_apart_from_ammonium(library: Library) -> None:
    use = used(library, *ACID, requests=("lime",))["lime"]
    assert use.material == "calcitic_lime"
    assert codes(use) == ["lime_grade", "lime_work_in", "lime_apart", "lime_test"]


def fed(p: float = 6) -> tuple[Result, ...]:
    return (
        Result("EC", PASTE, 1, "dS/m"),
        Result("P", "olsen", p, "mg/kg"),
        Result("pH", "water_1_1", 7.6),
        Result("NO3-N", "kcl_extract", 5, "mg/kg"),
    )


def test_manure_with_its_tests_and_its_waiting_time(library: Library) -> None:
    use = used(library, *fed(), requests=("manure",))["manure"]
    assert codes(use) == [
        "pot_test_ask",
        "pot_test_sow",
        "pot_test_read",
        "manure_work_in",
        "manure_wait",
        "organic_test",
    ]
    assert use.how[4].values == {"touching": 120, "off": 90}
    assert {"S-NCSU-CARRY", "S-WSU-BIOASSAY", "S-7CFR205"} <= set(use.sources)


def test_compost_by_the_yard(library: Library) -> None:
    """WE34: one cubic yard covers 324 ft2 an inch deep."""
    use = used(library, *fed(), requests=("compost",), area=Quantity(3240, "ft2"))["compost"]
    assert use.amount == Quantity(10, "yd3")


def test_what_is_refused_or_left_to_a_label_is_no_material(library: Library) -> None:
    assert used(library, *fed(90), requests=("manure", "compost")) == {}
    iron = used(library, *fed(), requests=("iron",), symptoms=("yellowing_new_leaves",))
    assert "iron_chelate" not in iron


def wishes(bag: Quantity, *at_hand: Quantity) -> dict[str, Any]:
    own = OwnProduct("own", material="gypsum", bag=bag)
    held = tuple(AtHand(amount, material="gypsum") for amount in at_hand)
    return {"materials": MaterialWishes(products=(own,), at_hand=held)}


def spread(library: Library, pounds: float, options: dict[str, Any], **more: Any) -> MaterialUse:
    """A recommendation of so many lb of gypsum for 1,000 ft2."""
    case = case_of(library, *SODIC, **{**BED, "area": Quantity(1000, "ft2"), **more}, options=options)
    g_m2 = case.library.index(Units.of).convert(pounds, "lb/1000 ft2", "g/m2")
    rate = case.units.rate(g_m2)
    when = (Application(Note("when.gypsum_once", {"count": 1}), rate),)
    item = Recommendation("amendment", "gypsum", Note("rec.gypsum"), rate, applications=when, base_rate=g_m2)
    (use,) = amendment_uses(case, [item])
    return use


@pytest.mark.parametrize(
    ("pounds", "hand", "count", "left"),
    [(80, (), 2, 0), (81, (), 3, 39), (80, (30,), 2, 30), (80, (80,), 0, 0), (39.9, (), 1, 0.1)],
)
def test_bags_to_buy(library: Library, pounds: float, hand: tuple[float, ...], count: int, left: float) -> None:
    """Bags of 40 lb: enough to cover what is not at hand, never one more."""
    bags = spread(library, pounds, wishes(Quantity(40, "lb"), *(Quantity(each, "lb") for each in hand))).bags
    assert bags is not None
    assert bags.count == count
    assert bags.left_over.value == pytest.approx(left, abs=0.01)


def test_no_bags_without_a_bag_or_an_area(library: Library) -> None:
    assert spread(library, 80, {}).bags is None
    assert spread(library, 80, wishes(Quantity(40, "lb")), area=None).bags is None


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pounds=st.floats(1, 200), bag=st.floats(5, 60))
def test_bags_hold_what_is_needed(library: Library, pounds: float, bag: float) -> None:
    bags = spread(library, pounds, wishes(Quantity(bag, "lb"))).bags
    assert bags is not None
    assert (bags.count - 1) * bag < pounds * (1 + 1e-6)
    assert bags.count * bag >= pounds * (1 - 1e-6)


def test_amounts_scale_with_the_area(library: Library) -> None:
    one, ten = (spread(library, 44, {}, area=Quantity(area, "ft2")) for area in (1000, 10000))
    assert ten.amount.value == pytest.approx(10 * one.amount.value)
    assert one.rate == ten.rate
    assert one.base_rate == pytest.approx(44 * GRAMS_PER_LB / 92.90304)
