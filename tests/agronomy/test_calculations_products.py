"""Product amounts against printed worked examples: what a bag holds, what comes along, and what it measures."""

from typing import Any

import pytest
from calculating import ask, codes, references, result

from service.agronomy.tables import Library

pytestmark = pytest.mark.formula("product_amount")
MATERIALS = {example["id"]: example for example in references("materials")["examples"]}
FERTILITY = {example["id"]: example for example in references("fertility")["examples"]}
type_of_pair = tuple[float, str]


def pounds(rate: float) -> type_of_pair:
    return (rate, "lb/1000 ft2")


def square_feet(area: float) -> type_of_pair:
    return (area, "ft2")


def product(
    library: Library,
    rate: type_of_pair,
    area: type_of_pair = (1000, "ft2"),
    grade: str | None = None,
    material: str | None = None,
    nutrient: str = "N",
) -> dict[str, Any]:
    return result(library, "product_amount", nutrient=nutrient, rate=rate, area=area, grade=grade, material=material)


def test_lawns_of_printed_examples(library: Library) -> None:
    """WE01, WE07, WE11 and fx01: university and trade examples for lawns."""
    lawn, published = MATERIALS["WE01"]["inputs"], MATERIALS["WE01"]["recomputed"]
    rate = pounds(lawn["rate_lb_N_per_1000ft2"])
    found = product(library, rate, square_feet(lawn["area_ft2"]), f"{lawn['N_pct']}-0-0")
    assert found["amount"].value == pytest.approx(published["product_lb"], rel=1e-4)
    lawn = MATERIALS["WE07"]["inputs"]
    found = product(library, pounds(1), square_feet(lawn["area_ft2"]), "20-0-0")
    assert (found["per_1000_ft2"].value, found["amount"].value) == (5.0, 60.0)
    cover = MATERIALS["WE11"]["recomputed"]["per_1000"]
    assert product(library, pounds(1), grade="26-5-10")["per_1000_ft2"].value == pytest.approx(cover, 1e-4)
    lawn, printed = FERTILITY["fx01"]["inputs"], FERTILITY["fx01"]["expected"]
    found = product(library, pounds(lawn["n_lb_per_1000ft2"]), square_feet(lawn["area_ft2"]), lawn["grade"])
    assert found["amount"].value == pytest.approx(printed["product_lb_total"], abs=0.02)


def test_a_garden_of_a_printed_example(library: Library) -> None:
    """fx26: 2 lb N per 1000 ft2 on 25 x 20 ft of 20-2-2 is 5 lb."""
    garden, printed = FERTILITY["fx26"]["inputs"], FERTILITY["fx26"]["expected"]
    area = square_feet(garden["length_ft"] * garden["width_ft"])
    found = product(library, pounds(garden["n_lb_per_1000ft2"]), area, garden["grade"])
    assert found["amount"].value == printed["product_lb_total"]


def test_a_pasture_counts_what_comes_along(library: Library) -> None:
    """fx05: 100 lb N per acre of 32-10-10 is 312.5 lb and brings 31 lb P2O5 and 31 lb K2O."""
    found = product(library, (100, "lb/acre"), (1, "acre"), "32-10-10")
    assert found["amount"].value == pytest.approx(312.5)
    assert found["also_supplies"] == {"P2O5": (31.25, "lb/acre"), "K2O": (31.25, "lb/acre")}


def test_alfalfa_products(library: Library) -> None:
    """fx13: 80 lb P2O5 is 178 lb of 0-45-0 (printed 175) and 40 lb K2O is 80 lb of 0-0-50 or 65 lb of 0-0-62."""
    needs = FERTILITY["fx13"]["inputs"]
    phosphate, potash = (needs["p2o5_lb_per_acre"], "lb/acre"), (needs["k2o_lb_per_acre"], "lb/acre")
    found = product(library, phosphate, (1, "acre"), "0-45-0", nutrient="P2O5")
    assert found["amount"].value == pytest.approx(177.8, abs=0.05)
    for grade, wanted in (("0-0-50", 80.0), ("0-0-62", 64.5)):
        found = product(library, potash, (1, "acre"), grade, nutrient="K2O")
        assert found["amount"].value == pytest.approx(wanted, abs=0.05)


def test_elemental_needs_become_oxides(library: Library) -> None:
    """10 lb P and 10 lb K are 22.9 lb P2O5 and 12.05 lb K2O (IUPAC weights; printed as 2.29 and 1.205)."""
    for nutrient, grade, oxide in (("P", "0-46-0", 22.914), ("K", "0-0-60", 12.046)):
        found = product(library, (10, "lb/acre"), (1, "acre"), grade, nutrient=nutrient)
        assert found["amount"].value == pytest.approx(oxide / float(max(grade.split("-"), key=float)) * 100, rel=1e-3)


@pytest.mark.parametrize("material", ["urea", "ammonium_nitrate", "ammonium_sulfate"])
def test_printed_garden_lists(library: Library, material: str) -> None:
    """WE14: whole pounds in print; 4 lb of ammonium sulfate is short, 4.76 lb are needed."""
    found = product(library, pounds(1), material=material)
    assert found["amount"].value == pytest.approx(MATERIALS["WE14"]["recomputed"][material], rel=1e-4)


def test_grade_above_pure_urea_is_told(library: Library) -> None:
    """WE13: arithmetic right, grade impossible: pure urea is 46.65 % N."""
    inputs = {"nutrient": "N", "rate": pounds(1), "area": square_feet(1000)}
    answer = ask(library, "product_amount", grade="47-0-0", **inputs)
    assert "calc.grade_above_urea" in codes(answer)
    assert answer.result["amount"].value == pytest.approx(MATERIALS["WE13"]["recomputed"]["product_lb"], rel=1e-4)
    assert "calc.grade_above_urea" not in codes(ask(library, "product_amount", grade="46-0-0", **inputs))


def test_household_measures(library: Library) -> None:
    """WE16, WE17: a quart of urea is near 1.6 lb, 1.5 lb of 10-10-10 near 3 cups; measures are good to 15 %."""
    urea = product(library, pounds(1.6 * 0.46), material="urea")["household"]
    assert urea.values["amount"].unit == "cup"
    assert urea.values["amount"].value == pytest.approx(4, rel=0.1)  # a quart is four cups
    ten = product(library, pounds(0.15), material="balanced_10_10_10")["household"]
    assert ten.values["amount"].value == pytest.approx(MATERIALS["WE17"]["published"]["cups"], rel=0.1)
    assert ten.values["scatter"] == 15


def test_household_of_the_contract(library: Library) -> None:
    """The contract's own example: 3 lb N per 1000 ft2 on 5000 ft2 is 32.6 lb of urea, about 42 pints."""
    found = product(library, pounds(3), square_feet(5000), material="urea")
    assert found["amount"].value == pytest.approx(32.6, abs=0.05)
    assert found["household"].values["amount"] == (42, "pint")


def test_what_must_be_weighed_has_no_measure(library: Library) -> None:
    """Common practice: trace elements are weighed, and nobody counts hundreds of pints."""
    assert product(library, (5, "lb/acre"), (1, "acre"), material="zinc_sulfate", nutrient="Zn")["household"] is None
    assert product(library, (100, "lb/acre"), (5, "acre"), material="urea")["household"] is None
    assert product(library, pounds(1), grade="46-0-0")["household"] is None
