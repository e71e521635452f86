"""Product amounts on beds, under canopies, tree by tree; doses, bags, and what is brought beside what is needed."""

from math import pi
from typing import Any

import pytest
from calculating import ask, codes, in_unit, references, result

from service.agronomy.calculations import WrongInput
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library

pytestmark = pytest.mark.formula("product_amount")
MATERIALS = {example["id"]: example for example in references("materials")["examples"]}
POUND: dict[str, Any] = {"nutrient": "N", "rate": (1, "lb/1000 ft2")}


def product(library: Library, **inputs: Any) -> dict[str, Any]:
    return result(library, "product_amount", **inputs)


def refused(library: Library, **inputs: Any) -> WrongInput:
    with pytest.raises(WrongInput) as caught:
        ask(library, "product_amount", **inputs)
    return caught.value


def test_a_bag_holds_and_covers_as_printed(library: Library) -> None:
    """WE03: 50 lb of 35 % N hold 17.5 lb N. WE11: 50 lb of 26-5-10 at 1 lb N cover 13,000 ft2 (printed 13,200)."""
    bag = product(library, **POUND, area=(1000, "ft2"), grade="35-0-0", bag=(50, "lb"))["bags"]
    assert bag["holds"]["N"].value == pytest.approx(MATERIALS["WE03"]["published"]["N_lb"])
    bag = product(library, **POUND, area=(1000, "ft2"), grade="26-5-10", bag=(50, "lb"))["bags"]
    assert bag["covers"] == (MATERIALS["WE11"]["recomputed"]["area_ft2"], "ft2")
    published = MATERIALS["WE11"]["published"]["area_ft2"]
    assert bag["covers"].value == pytest.approx(published, rel=MATERIALS["WE11"]["tolerance_relative"])


def test_whole_bags_and_what_is_left(library: Library) -> None:
    """WE01: 71.4 lb of 21-0-0 are two bags of 50 lb, 28.6 lb left; a bag that just holds it all leaves nothing."""
    inputs = MATERIALS["WE01"]["inputs"]
    lawn = {**POUND, "area": (inputs["area_ft2"], "ft2"), "grade": "21-0-0"}
    bag = product(library, **lawn, bag=(50, "lb"))["bags"]
    assert bag["count"] == 2
    assert bag["left_over"].value == pytest.approx(100 - MATERIALS["WE01"]["recomputed"]["product_lb"], abs=1e-3)
    even = product(library, **POUND, area=(12000, "ft2"), grade="20-0-0", bag=(20, "lb"))["bags"]
    assert (even["count"], even["left_over"].value) == (3, pytest.approx(0, abs=1e-6))  # WE07: 60 lb
    assert product(library, **lawn)["bags"] is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"area": (1800, "ft2")}, {"area": (200, "yd2")}),
        ({"area": (1, "acre")}, {"area": (43_560, "ft2")}),
        ({"area": (1, "ha")}, {"area": (10_000, "m2")}),
        ({"area": (240, "ft2")}, {"length": (20, "ft"), "width": (4, "ft"), "count": 3}),
        ({"area": (240, "ft2")}, {"length": (240, "in"), "width": (1.2192, "m"), "count": 3}),
        ({"area": (pi * 25 * 2, "ft2")}, {"canopy_diameter": (10, "ft"), "count": 2}),
        ({"area": (500, "ft2"), "count": 4}, {"area": (2000, "ft2")}),
    ],
)
def test_the_same_ground_said_in_other_ways(library: Library, one: dict[str, Any], other: dict[str, Any]) -> None:
    """Exact unit definitions; a rectangle by its sides, a circle by pi/4 of its diameter squared."""
    first, second = (product(library, **POUND, **ground, grade="21-0-0")["amount"] for ground in (one, other))
    assert in_unit(library, first, "g") == pytest.approx(in_unit(library, second, "g"), rel=1e-5)


def test_trees_one_by_one(library: Library) -> None:
    """By the definition of a grade: 2 oz N on each of three trees is 6 oz N, 28.57 oz of 21-0-0."""
    found = product(library, nutrient="N", per_tree=(2, "oz/tree"), count=3, grade="21-0-0")
    assert found["amount"].value == pytest.approx(6 / 0.21 / 16, rel=1e-5)
    assert (found["amount"].unit, found["treated"], found["per_1000_ft2"]) == ("lb", None, None)
    assert found["per_application"]["rate"] == (pytest.approx(28.571 * 2 / 6, rel=1e-4), "oz/tree")


def test_trees_by_the_trunk(library: Library) -> None:
    """csu-7612: stone fruit take at most 1/8 lb N per inch of trunk: 2 in make 1/4 lb, 1.19 lb of 21-0-0."""
    dose = {"per_trunk_inch": (0.125, "lb/tree"), "trunk_diameter": (2, "in")}
    assert product(library, nutrient="N", **dose, grade="21-0-0")["amount"].value == pytest.approx(
        0.25 / 0.21, rel=1e-5
    )


def test_a_tree_keeps_its_cap(library: Library) -> None:
    """usu-roper-2017: no fruit tree gets more than 8 oz N a year, however the rate was said."""
    tree = {"nutrient": "N", "grade": "21-0-0"}
    assert ask(library, "product_amount", **tree, per_tree=(8, "oz/tree")).status == "given"
    answer = ask(library, "product_amount", **tree, per_tree=(8.1, "oz/tree"))
    assert (answer.status, answer.reasons[0].code) == ("withheld", "dose_over_cap_each")
    under = {"canopy_diameter": (30, "ft"), "rate": (1, "lb/1000 ft2")}  # 707 ft2: 11.3 oz N for one tree
    assert ask(library, "product_amount", **tree, **under).reasons[0].code == "dose_over_cap_each"


def test_equal_doses(library: Library) -> None:
    """Common practice: a season's 3 lb N per 1000 ft2 in three doses is 1 lb at a time, and no dose is too much."""
    season = {"nutrient": "N", "rate": (3, "lb/1000 ft2"), "area": (5000, "ft2"), "material": "urea"}
    answer = ask(library, "product_amount", **season, applications=3)
    dose = answer.result["per_application"]
    assert dose["doses"] == 3
    assert dose["amount"].value * 3 == pytest.approx(answer.result["amount"].value, rel=1e-5)
    assert dose["rate"].value == pytest.approx(1 / 0.46, rel=1e-5)
    assert dose["household"].values["amount"] == (14, "pint")
    assert "calc.over_lawn_dose" not in codes(answer)
    assert "calc.over_lawn_dose" in codes(ask(library, "product_amount", **season))


def test_what_comes_along_beside_what_is_needed(library: Library) -> None:
    """By the definition of a grade: 1 lb N of 10-20-10 brings 2 lb P2O5 and 1 lb K2O."""
    needs = {
        "N": Quantity(2, "lb/1000 ft2"),
        "P2O5": Quantity(0, "lb/1000 ft2"),
        "K": Quantity(1, "lb/1000 ft2"),
        "S": Quantity(0.5, "lb/1000 ft2"),
    }
    answer = ask(library, "product_amount", **POUND, area=(1000, "ft2"), grade="10-20-10", needs=needs)
    found = answer.result["against_need"]
    assert found["N"]["short"].value == pytest.approx(1)
    assert found["P2O5"]["over"].value == pytest.approx(2)
    assert found["K2O"]["short"].value == pytest.approx(0.2046, abs=1e-4)  # 1 lb K is 1.2046 lb K2O
    assert found["S"]["supplied"].value == 0
    assert codes(answer) == {"calc.not_needed"}


def test_the_weight_of_the_product_given_for_its_nutrient(library: Library) -> None:
    """20 lb of 21-0-0 per 1000 ft2 bring 4.2 lb N: ordinary, where 20 lb N would not be."""
    answer = ask(
        library, "product_amount", **{**POUND, "rate": (20, "lb/1000 ft2")}, area=(1000, "ft2"), grade="21-0-0"
    )
    assert answer.status == "withheld"
    (note,) = answer.warnings
    assert note.code == "calc.slip.product"
    assert note.values["per_1000"] == (4.2, "lb/1000 ft2")
    assert note.values["per_100"] == (0.42, "lb/100 ft2")
    assert note.values["per_acre"] == (183, "lb/acre")


def test_a_seed_row_of_a_printed_example(library: Library) -> None:
    """WE19: 8 lb N per acre of 10-34-0 is 6.87 gal (printed 7) and brings 27 lb P2O5."""
    row = {"nutrient": "N", "rate": (8, "lb/acre"), "area": (1, "acre"), "material": "ammonium_polyphosphate"}
    found, example = product(library, **row), MATERIALS["WE19"]
    measure = found["household"].values["amount"]
    assert measure.unit == "gal"
    assert measure.value == pytest.approx(example["recomputed"]["gallons"], rel=example["tolerance_relative"])
    assert found["also_supplies"]["P2O5"].value == pytest.approx(example["recomputed"]["P2O5_lb"])


@pytest.mark.parametrize(
    ("inputs", "field", "code"),
    [
        ({"rate": None, "area": (1, "acre")}, "rate", "one_way"),
        ({"per_tree": (1, "oz/tree"), "area": (1, "acre")}, "rate", "one_way"),
        ({}, "area", "one_way"),
        ({"area": (1, "acre"), "length": (9, "ft")}, "area", "one_way"),
        ({"length": (9, "ft")}, "width", "missing"),
        ({"area": (1, "acre"), "trunk_diameter": (3, "in")}, "trunk_diameter", "one_way"),
        ({"rate": None, "per_tree": (1, "oz/tree"), "width": (3, "ft")}, "width", "one_way"),
        ({"rate": None, "per_trunk_inch": (1, "oz/tree")}, "trunk_diameter", "missing"),
        ({"area": (1, "acre"), "needs": {"gold": Quantity(1, "lb/acre")}}, "needs/gold", "unknown_nutrient"),
        ({"area": (1, "acre"), "needs": {"K": Quantity(1, "lb")}}, "needs/K/unit", "unit_does_not_fit"),
        ({"area": (1, "acre"), "needs": {"K": Quantity(-1, "lb/acre")}}, "needs/K/value", "out_of_range"),
    ],
)
def test_one_way_to_say_it(library: Library, inputs: dict[str, Any], field: str, code: str) -> None:
    problem = refused(library, **{**POUND, "grade": "21-0-0", **inputs})
    assert (problem.field, problem.code) == (field, code)
