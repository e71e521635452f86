"""Blends against printed examples; what may not leave: caps, boron, acids; what is refused."""

from typing import Any

import pytest
from calculating import ask, codes, in_unit, references, result

from service.agronomy.calculations import CALCULATIONS, WrongInput, calculate
from service.agronomy.errors import AgronomyError
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRow

pytestmark = pytest.mark.formula("blend", "blend_supply", "salt_load")
MATERIALS = {example["id"]: example for example in references("materials")["examples"]}
GARDEN = (1000, "ft2")


def pounds(rate: float) -> Quantity:
    return Quantity(rate, "lb/1000 ft2")


def amounts(found: dict[str, Any]) -> dict[str, float]:
    return {each["material"]: each["amount"].value for each in found["products"]}


def blend(library: Library, area: tuple[float, str] = GARDEN, **more: Any) -> dict[str, Any]:
    return result(library, "blend", area=area, **more)


def refused(library: Library, **more: Any) -> WrongInput:
    with pytest.raises(WrongInput) as caught:
        ask(library, "blend", **{"needs": {"N": pounds(1)}, "area": GARDEN, **more})
    return caught.value


def test_a_lawn_of_two_materials(library: Library) -> None:
    """WE02: 75 % of the nitrogen of 15,000 ft2 from IBDU, which the table counts as 85 % slow."""
    printed = MATERIALS["WE02"]["recomputed"]
    given = {"needs": {"N": pounds(1)}, "materials": ["ibdu", "urea"], "objective": "cost"}
    prices = {"ibdu": 3.0, "urea": 1.0}
    share = {"slow_share": 0.75 * 0.85}
    found = amounts(blend(library, (15000, "ft2"), prices=prices, constraints=share, **given))
    assert found == {"ibdu": pytest.approx(printed["IBDU_lb"], 1e-4), "urea": pytest.approx(printed["urea_lb"], 1e-4)}


def test_a_bed_of_two_grades(library: Library) -> None:
    """WE05: 1 lb P2O5 and 3 lb N per 1000 ft2 from 11-55-0 and 21-0-0."""
    example = MATERIALS["WE05"]
    needs = {name: pounds(example["inputs"][name]) for name in ("N", "P2O5")}
    for objective in ("few_products", "excess"):
        found = blend(library, needs=needs, materials=["11-55-0", "21-0-0"], objective=objective)
        wanted = {"11-55-0": example["recomputed"]["A_lb"], "21-0-0": example["recomputed"]["B_lb"]}
        assert amounts(found) == {name: pytest.approx(value, rel=1e-4) for name, value in wanted.items()}
        assert found["supplied"] == {"N": pounds(3.0), "P2O5": pounds(1.0)}
        assert found["excess"] == {}


def test_a_ton_of_a_mixed_grade(library: Library) -> None:
    """WE09: the proportions of 0-8-8 from 0-20-0 and 0-0-60: 800 to 267 of 2,000 lb; here a thousandth of it."""
    printed = MATERIALS["WE09"]["recomputed"]
    needs = {"P2O5": pounds(0.16), "K2O": pounds(0.16)}
    found = amounts(blend(library, needs=needs, materials=["0-20-0", "0-0-60"], objective="excess"))
    assert found["0-20-0"] * 1000 == pytest.approx(printed["superphosphate_lb"], rel=1e-4)
    assert found["0-0-60"] * 1000 == pytest.approx(printed["potash_lb"], rel=1e-4)


def test_salt_is_amount_times_index(library: Library) -> None:
    """Salt index of the table over 100, per pound of product; with a product of unknown index the sum is not known."""
    index = {row.material: row.salt_index for row in library.rows("materials", MaterialRow)}
    found = blend(library, needs={"N": pounds(0.92)}, materials=["urea"])
    assert found["salt_index_load"].value == pytest.approx(2 * (index["urea"] or 0) / 100, rel=1e-5)
    assert blend(library, needs={"N": pounds(0.92)}, materials=["46-0-0"])["salt_index_load"] is None


def test_less_salt_or_less_money(library: Library) -> None:
    """Of potassium chloride and sulfate the chloride has more salt for its potash, and mostly costs less."""
    given = {"needs": {"K2O": pounds(1)}, "materials": ["potassium_chloride", "potassium_sulfate"]}
    prices = {"potassium_chloride": 0.5, "potassium_sulfate": 0.9}
    assert set(amounts(blend(library, objective="salt", **given))) == {"potassium_sulfate"}
    cheap = blend(library, objective="cost", prices=prices, **given)
    assert cheap["cost"] == pytest.approx(1 / 0.60 * 0.5, rel=1e-5)


def test_elemental_needs_become_oxides(library: Library) -> None:
    """IUPAC: P2O5 is 2.2914 times P."""
    found = blend(library, needs={"P": pounds(0.2)}, materials=["0-46-0"])
    assert found["supplied"]["P2O5"].value == pytest.approx(0.2 * 2.2914, rel=1e-4)


def test_whole_bags_are_priced_by_the_bag(library: Library) -> None:
    """10.87 lb of urea for 5 lb N, out of three bags of 4 lb at 6 each; 1.13 lb stay in the last."""
    bags = {"whole_bags": True, "bags": {"urea": Quantity(4, "lb")}}
    given = {"needs": {"N": pounds(1)}, "materials": ["urea"], "constraints": bags, "prices": {"urea": 6.0}}
    found = blend(library, (5000, "ft2"), objective="cost", **given)
    (product,) = found["products"]
    assert (product["bags"], found["cost"]) == (3, 18.0)
    assert product["amount"].value == pytest.approx(5 / 0.46, rel=1e-3)
    assert product["left_over"].value == pytest.approx(12 - 5 / 0.46, rel=1e-2)


def test_urea_and_superphosphate_are_never_one_blend(library: Library) -> None:
    """They go wet and sticky together, dry as well (common practice); ammonium sulfate takes the place of urea."""
    needs = {"N": pounds(1), "P2O5": pounds(1)}
    found = blend(library, needs=needs, materials=["urea", "triple_superphosphate", "ammonium_sulfate"])
    assert (set(amounts(found)), found["proven"]) == ({"ammonium_sulfate", "triple_superphosphate"}, True)
    short = blend(library, needs=needs, materials=["urea", "triple_superphosphate"])
    assert (short["met"], short["binding"]) == (False, ("apart",))


def test_more_kinds_of_bags_than_can_be_compared_are_refused(library: Library) -> None:
    bags = {f"{n}-0-0": Quantity(4, "lb") for n in range(10, 23)}
    rules = {"whole_bags": True, "bags": bags}
    with pytest.raises(WrongInput) as caught:
        blend(library, needs={"N": pounds(1)}, materials=list(bags), constraints=rules)
    assert (caught.value.field, caught.value.code) == ("constraints/bags", "too_many_bags")


def test_any_takes_what_is_sold_there_and_nothing_dangerous(library: Library) -> None:
    """Homes and fields, every objective that needs no price: no gas, acid, boron or rock phosphate."""
    needs = {"N": pounds(1), "P2O5": pounds(0.5), "K2O": pounds(0.5)}
    rows = {row.material: row for row in library.rows("materials", MaterialRow)}
    for area in ((1000, "ft2"), (2, "acre"), (50, "m2"), (3, "ha")):
        for objective in ("salt", "few_products", "excess"):
            found = blend(library, area, needs=needs, objective=objective)
            assert found["met"]
            for name in amounts(found):
                assert rows[name].B_pct is None
                assert rows[name].release not in ("acid", "insoluble")
                assert not {"gas", "acid", "boron"} & set(rows[name].properties)


def test_supplied_is_what_the_products_hold(library: Library) -> None:
    """Also of what nobody asked for."""
    found = blend(library, needs={"N": pounds(0.84)}, materials=["ammonium_sulfate"])
    assert found["supplied"] == {"N": pounds(0.84), "S": pounds(0.96)}
    assert found["excess"] == {"S": pounds(0.96)}


# What may not leave.


@pytest.mark.parametrize(
    ("reason", "more"),
    [
        ("boron_amount", {"needs": {"B": pounds(0.01)}}),
        ("boron_amount", {"materials": ["urea", "borax"]}),
        ("acid", {"materials": ["urea", "sulfuric_acid"]}),
        ("rate_over_cap", {"needs": {"N": pounds(7.1)}}),
        ("rate_over_cap", {"needs": {"P2O5": Quantity(301, "lb/acre")}, "materials": ["0-46-0"]}),
    ],
)
def test_what_a_person_reads_first(library: Library, reason: str, more: dict[str, Any]) -> None:
    answer = ask(library, "blend", **{"needs": {"N": pounds(1)}, "area": GARDEN, "materials": ["urea"], **more})
    assert answer.status == "withheld"
    assert [each.code for each in answer.reasons] == [reason]
    assert set(answer.result.values()) == {None}
    assert answer.steps == ()


def test_caps_of_the_tables_hold_whatever_the_client_allows(library: Library) -> None:
    """300 lb P2O5 per acre (application-limits p2o5_year) stay the most, with a cap of 1,000 sent."""
    caps = {"caps": {"P2O5": Quantity(1000, "lb/acre")}}
    found = blend(library, (1, "acre"), needs={"N": Quantity(60, "lb/acre")}, materials=["10-60-0"], constraints=caps)
    assert not found["met"]
    assert found["supplied"]["P2O5"].value == pytest.approx(300, rel=1e-6)
    assert found["binding"] == ("cap.P2O5",)


def test_no_phosphorus_where_the_cap_is_zero(library: Library) -> None:
    caps = {"caps": {"P2O5": pounds(0)}}
    given = {"needs": {"N": pounds(1)}, "constraints": caps}
    assert set(amounts(blend(library, materials=["10-10-10", "urea"], **given))) == {"urea"}
    answer = ask(library, "blend", area=GARDEN, materials=["10-10-10"], **given)
    assert answer.result["binding"] == ("cap.P2O5",)
    assert codes(answer) == {"supply.short"}
    assert answer.result["short"] == {"N": pounds(1)}


def test_constraints_of_the_contract(library: Library) -> None:
    """Number of products, pairs kept apart, what is at hand."""
    needs = {"N": pounds(1), "K2O": pounds(1)}
    given = {"needs": needs, "materials": ["urea", "potassium_sulfate"], "objective": "excess"}
    assert len(amounts(blend(library, constraints={"most_products": 1}, **given))) == 1
    apart = blend(library, constraints={"apart": (("urea", "potassium_sulfate"),)}, **given)
    assert apart["binding"] == ("apart",)
    at_hand = {"at_hand": {"ammonium_sulfate": Quantity(1, "lb")}}
    found = amounts(blend(library, constraints=at_hand, **given))
    assert found["ammonium_sulfate"] == 1.0
    assert found["urea"] == pytest.approx((1 - 0.21) / 0.46, rel=1e-5)


# Requests that cannot be answered.


@pytest.mark.parametrize(
    ("field", "code", "more"),
    [
        ("prices", "prices_needed", {"objective": "cost"}),
        ("prices", "prices_needed", {"objective": "cost", "materials": ["urea", "46-0-0"], "prices": {"urea": 1.0}}),
        ("prices/potash", "not_offered", {"materials": ["urea"], "prices": {"potash": 1.0}}),
        ("needs", "missing", {"needs": {}}),
        ("needs/Q", "unknown_nutrient", {"needs": {"Q": pounds(1)}}),
        ("needs/N/unit", "unit_does_not_fit", {"needs": {"N": Quantity(1, "mg/kg")}}),
        ("needs/N/value", "out_of_range", {"needs": {"N": pounds(-1)}}),
        ("constraints/caps/N/unit", "unit_does_not_fit", {"constraints": {"caps": {"N": Quantity(1, "lb")}}}),
        (
            "constraints/bags/urea/value",
            "out_of_range",
            {"materials": ["urea"], "constraints": {"bags": {"urea": Quantity(0, "lb")}}},
        ),
        ("materials/1", "unknown_material", {"materials": ["urea", "ureea"]}),
        ("materials/0", "grade_over_100", {"materials": ["60-60-0"]}),
        ("materials/0", "not_a_grade", {"materials": ["21-0"]}),
    ],
)
def test_what_is_refused(library: Library, field: str, code: str, more: dict[str, Any]) -> None:
    found = refused(library, **more)
    assert (found.field, found.code) == (field, code)


def test_without_a_solver_there_is_no_choice(library: Library) -> None:
    inputs = {"needs": {"N": pounds(1)}, "area": Quantity(*GARDEN)}
    with pytest.raises(AgronomyError):
        calculate(CALCULATIONS["blend"], inputs, library)


@pytest.mark.parametrize("area", [(500, "ft2"), (1, "acre"), (90, "m2"), (0.5, "ha")])
def test_amounts_are_rate_times_area(library: Library, area: tuple[float, str]) -> None:
    found = blend(library, area, needs={"N": pounds(1)}, materials=["46-0-0"])
    (product,) = found["products"]
    square = in_unit(library, Quantity(*area), "ft2") / 1000
    assert in_unit(library, product["amount"], "lb") == pytest.approx(square / 0.46, rel=1e-5)
    assert in_unit(library, product["rate"], "lb/1000 ft2") == pytest.approx(1 / 0.46, rel=1e-5)
