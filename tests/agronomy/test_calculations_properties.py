"""Properties of the single calculations, and their figures against independent libraries (pint, molmass, pedotri)."""

from datetime import date
from typing import Any

import molmass
import pedotri
import pint
import pytest
from calculating import ask, in_unit, result
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.calculations import CALCULATIONS
from service.agronomy.calculations.salts import groups_of_clay
from service.agronomy.materials.grade import AMMONIA_N_PCT, CHLORIDE_K2O_PCT, UREA_N_PCT
from service.agronomy.tables import Library, MaterialRow
from service.agronomy.triangle import Triangle

REGISTRY: Any = pint.UnitRegistry()
DAY = date(2026, 4, 20)
DEPTHS = st.sampled_from([("in", 1.0), ("cm", 2.54), ("mm", 25.4), ("ft", 1 / 12)])
INCHES = st.floats(1, 36)
DENSITY = st.floats(0.8, 1.8)
SHARE = st.floats(0.01, 60)


@pytest.mark.parametrize(
    ("quantity", "unit", "to", "ours", "theirs"),
    [
        ("length", "in", "cm", "inch", "centimeter"),
        ("area", "acre", "m2", "43560 * foot**2", "meter**2"),
        ("mass", "lb", "kg", "pound", "kilogram"),
        ("volume", "gal", "L", "gallon", "liter"),
        ("rate", "lb/1000 ft2", "g/m2", "pound / (1000 * foot**2)", "gram / meter**2"),
        ("rate", "ton/acre", "t/ha", "2000 * pound / (43560 * foot**2)", "metric_ton / hectare"),
        ("conductivity", "uS/cm", "dS/m", "microsiemens / centimeter", "decisiemens / meter"),
        ("temperature", "degF", "Cel", "degF", "degC"),
    ],
)
def test_conversions_against_pint(library: Library, quantity: str, unit: str, to: str, ours: str, theirs: str) -> None:
    """The international acre is written out, because pint's is the survey acre of 1893."""
    found = result(library, "convert", quantity=quantity, value=67.0, from_=unit, to=to)["value"]
    if quantity == "temperature":
        wanted = REGISTRY.Quantity(67, ours).to(theirs).magnitude
    else:
        wanted = (67 * REGISTRY(ours)).to(theirs).magnitude
    assert found == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(
    ("form", "of", "share"),
    [
        ("NO3-N", "NO3", ("N", 1)),
        ("NH4-N", "NH4", ("N", 1)),
        ("P", "P2O5", ("P", 2)),
        ("K", "K2O", ("K", 2)),
        ("Mg", "MgO", ("Mg", 1)),
        ("Ca", "CaO", ("Ca", 1)),
    ],
)
def test_forms_against_molmass(library: Library, form: str, of: str, share: tuple[str, int]) -> None:
    """Mass of the element in the form; molmass carries slightly other weights (fifth digit)."""
    element, count = share
    found = result(library, "convert", quantity=of, value=100.0, from_="mg/kg", to="mg/kg", to_quantity=form)["value"]
    wanted = 100 * count * molmass.Formula(element).mass / molmass.Formula(of).mass
    assert found == pytest.approx(wanted, rel=2e-4)


def test_pure_compounds_against_molmass() -> None:
    """The most nitrogen and potash that a compound can hold."""
    mass = {formula: molmass.Formula(formula).mass for formula in ("N", "CH4N2O", "NH3", "K2O", "KCl")}
    assert pytest.approx(100 * 2 * mass["N"] / mass["CH4N2O"], rel=2e-4) == UREA_N_PCT
    assert pytest.approx(100 * mass["N"] / mass["NH3"], rel=2e-4) == AMMONIA_N_PCT
    assert pytest.approx(100 * mass["K2O"] / (2 * mass["KCl"]), rel=2e-4) == CHLORIDE_K2O_PCT


@pytest.mark.parametrize(
    ("amendment", "formula", "calcium"),
    [("elemental_sulfur", "S", 1), ("sulfuric_acid", "H2SO4", 1), ("calcium_chloride", "CaCl2(H2O)2", 1)],
)
def test_gypsum_equivalents_against_molmass(library: Library, amendment: str, formula: str, calcium: int) -> None:
    """Moles of calcium freed: one for one, as gypsum's own; the table gives three digits."""
    found = result(library, "gypsum", CEC_meq_100g=20.0, ESP_now_pct=20.0, ESP_wanted_pct=10.0, depth=(6, "in"))
    given_rate, gypsum = found["equivalents"][amendment].value, found["equivalents"]["gypsum"].value
    wanted = molmass.Formula(formula).mass / molmass.Formula("CaSO4(H2O)2").mass / calcium
    assert given_rate / gypsum == pytest.approx(wanted, abs=0.001)


def test_every_material_supplies_what_the_table_states(library: Library) -> None:
    """A rate of a nutrient comes back from the product and its percentage."""
    for row in library.rows("materials", MaterialRow):
        for nutrient in ("N", "P2O5", "K2O", "S"):
            share = getattr(row, f"{nutrient}_pct")
            if not share or row.B_pct or row.material in ("sulfuric_acid", "lime_sulfur"):
                continue
            rate = (0.05, "lb/1000 ft2")
            asked = {"nutrient": nutrient, "rate": rate, "area": (1000, "ft2"), "material": row.material}
            found = result(library, "product_amount", **asked)
            assert found["amount"].value * share / 100 == pytest.approx(0.05, rel=1e-5), row.material


@given(sand=st.integers(0, 100), clay=st.integers(0, 100))
def test_texture_against_pedotri(library: Library, sand: int, clay: int) -> None:
    """pedotri gives points on a shared line to the other neighbour."""
    if sand + clay > 100:
        return
    found = result(library, "texture", sand_pct=float(sand), clay_pct=float(clay))
    theirs = pedotri.classify(sand=sand, clay=clay, classification="USDA")
    assert theirs == found["class"] or theirs in library.index(Triangle.of).near(sand, 100 - sand - clay, clay, 0.5)


@given(depth=DEPTHS, inches=INCHES, density=DENSITY, nitrate=SHARE)
def test_nitrate_credit_does_not_hang_on_the_unit(
    library: Library, depth: tuple[str, float], inches: float, density: float, nitrate: float
) -> None:
    asked = {"NO3_N_mg_kg": nitrate, "bulk_density_g_cm3": density}
    one = result(library, "nitrate_credit", **asked, depth=(inches, "in"))["credit"]
    other = result(library, "nitrate_credit", **asked, depth=(inches * depth[1], depth[0]))["credit"]
    assert in_unit(library, other, "g/m2") == pytest.approx(in_unit(library, one, "g/m2"), rel=2e-5)


@given(depth=DEPTHS, inches=INCHES, density=DENSITY, CEC=st.floats(2, 60), ESP=st.floats(11, 80))
def test_gypsum_does_not_hang_on_the_unit(
    library: Library, depth: tuple[str, float], inches: float, density: float, CEC: float, ESP: float
) -> None:
    asked = {"CEC_meq_100g": CEC, "ESP_now_pct": ESP, "ESP_wanted_pct": 10.0, "bulk_density_g_cm3": density}
    one = ask(library, "gypsum", **asked, depth=(inches, "in"), area=(1000, "ft2"))
    other = ask(library, "gypsum", **asked, depth=(inches * depth[1], depth[0]), area=(92.90304, "m2"))
    assert one.status == other.status == "given"
    for name, unit in (("rate", "g/m2"), ("for_area", "g")):
        assert in_unit(library, other.result[name], unit) == pytest.approx(
            in_unit(library, one.result[name], unit), rel=2e-5
        )
    assert [dose["doses"] for dose in one.result["applications"]] == [
        dose["doses"] for dose in other.result["applications"]
    ]


@given(Na=SHARE, Ca=SHARE, Mg=SHARE)
def test_sar_does_not_hang_on_the_unit(library: Library, Na: float, Ca: float, Mg: float) -> None:
    """meq/L and mg/L by the equivalent weights give one SAR; mg/L taken for meq/L would give five times as much."""
    sent = {"Na": Na, "Ca": Ca, "Mg": Mg}
    by_charge = result(library, "sar", **{ion: (value, "meq/L") for ion, value in sent.items()})["SAR"]
    by_mass = {
        ion: (result(library, "convert", quantity=ion, value=value, from_="meq/L", to="mg/L")["value"], "mg/L")
        for ion, value in sent.items()
    }
    assert result(library, "sar", **by_mass)["SAR"] == pytest.approx(by_charge, rel=2e-5)


@given(value=st.floats(1e-3, 1e6), inches=INCHES, density=DENSITY)
def test_soil_amounts_there_and_back(library: Library, value: float, inches: float, density: float) -> None:
    layer = {"depth": (inches, "in"), "bulk_density_g_cm3": density}
    there = result(library, "convert", quantity="K", value=value, from_="mg/kg", to="kg/ha", **layer)["value"]
    back = result(library, "convert", quantity="K", value=there, from_="kg/ha", to="mg/kg", **layer)["value"]
    assert back == pytest.approx(value, rel=1e-9)
    # 0.1 x mg/kg x g/cm3 x cm = kg/ha (formula mass_per_area)
    assert there == pytest.approx(0.1 * value * density * inches * 2.54, rel=1e-9)


def test_stones_hold_no_fine_soil(library: Library) -> None:
    """A fifth of the volume in stones is a fifth less of everything (common practice)."""
    asked = {"quantity": "K", "value": 100.0, "from_": "mg/kg", "to": "lb/acre", "depth": (6, "in")}
    whole, stony = (result(library, "convert", **asked, gravel_pct=stones)["value"] for stones in (0.0, 20.0))
    assert stony == pytest.approx(0.8 * whole)


@given(rate=st.floats(0.01, 6.9), area=st.floats(1, 1e6), factor=st.floats(1.1, 100))
def test_product_scales_with_the_area(library: Library, rate: float, area: float, factor: float) -> None:
    asked = {"nutrient": "N", "rate": (rate, "lb/1000 ft2"), "grade": "46-0-0"}
    one = result(library, "product_amount", **asked, area=(area, "ft2"))
    other = result(library, "product_amount", **asked, area=(area * factor, "ft2"))
    assert other["amount"].value == pytest.approx(one["amount"].value * factor, rel=2e-5)
    assert other["per_1000_ft2"] == one["per_1000_ft2"]


@given(rate=st.floats(0.01, 20))
def test_no_product_above_the_cap_in_any_unit(library: Library, rate: float) -> None:
    """The largest yearly cap on nitrogen is 7 lb per 1000 ft2 (lawns, Texas); the unit of the rate changes nothing."""
    g_m2 = rate * 4.88242763638305
    pairs = [((rate, "lb/1000 ft2"), (1000, "ft2")), ((g_m2, "g/m2"), (100, "m2")), ((g_m2 * 10, "kg/ha"), (1, "ha"))]
    statuses = {
        ask(library, "product_amount", nutrient="N", rate=pair, area=area, grade="46-0-0").status
        for pair, area in pairs
    }
    assert statuses == ({"withheld"} if rate > 7.000001 else {"given"}) or abs(rate - 7) < 1e-5


@given(EC=st.floats(0.05, 15), more=st.floats(1.01, 3), method=st.sampled_from(["water_1_1", "water_1_2", "water_1_5"]))
def test_more_salt_never_lowers_the_estimate(library: Library, EC: float, more: float, method: str) -> None:
    asked = {"method": method, "texture": "loam"}
    one, other = (result(library, "ece_estimate", EC_dS_m=value, **asked) for value in (EC, EC * more))
    assert one["low"] <= one["value"] <= one["high"]
    assert all(other[name] >= one[name] for name in ("low", "value", "high"))


@pytest.mark.parametrize("model", ["linear", "s_curve"])
@given(threshold=st.floats(0.5, 10), slope=st.floats(2, 40), ECe=st.floats(0, 30), more=st.floats(0.01, 10))
def test_more_salt_never_raises_the_yield(
    library: Library, model: str, threshold: float, slope: float, ECe: float, more: float
) -> None:
    asked = {"threshold_dS_m": threshold, "slope_pct_per_dS_m": slope, "model": model}
    one, other = (result(library, "relative_yield", ECe_dS_m=value, **asked) for value in (ECe, ECe + more))
    assert 0 <= other["relative_yield_pct"] <= one["relative_yield_pct"] <= 100
    half = one["ECe_for_90_75_50_0"]["50"]
    # The ECe is told in six digits, and a steep curve falls by tenths of a per cent within the last of them.
    before, after = (result(library, "relative_yield", ECe_dS_m=half * near, **asked) for near in (1 - 1e-5, 1 + 1e-5))
    assert after["relative_yield_pct"] <= 50.001
    assert before["relative_yield_pct"] >= 49.999


@given(clay=st.floats(0, 100))
def test_clay_alone_names_only_groups_that_can_be(library: Library, clay: float) -> None:
    """Each group named has a soil of so much clay; from 40 % clay on all are fine (triangle of the Soil Survey)."""
    triangle = library.index(Triangle.of)
    groups = groups_of_clay(triangle, clay)
    assert groups <= {"coarse", "medium", "fine"}
    assert groups
    if clay >= 40:
        assert groups == {"fine"}
    estimate = result(library, "ece_estimate", EC_dS_m=1.0, method="water_1_1", clay_pct=clay)
    for group in groups:
        narrow = result(library, "ece_estimate", EC_dS_m=1.0, method="water_1_1", texture=group)
        assert estimate["low"] <= narrow["low"]
        assert narrow["high"] <= estimate["high"]


@given(
    rate=st.floats(0.1, 5), day=st.dates(date(2026, 1, 1), date(2027, 12, 31)), zone=st.sampled_from(["4", "6b", "9"])
)
def test_schedules_give_at_most_the_season_and_keep_their_days(
    library: Library, rate: float, day: date, zone: str
) -> None:
    found = result(
        library,
        "turf_nitrogen_schedule",
        crop="tall-fescue-lawn",
        N_rate=(rate, "lb/1000 ft2"),
        area=(1000, "ft2"),
        as_of=day,
        zone=zone,
    )
    doses = found["applications"]
    assert sum(dose["rate"].value for dose in doses) <= rate + 0.05  # doses are named in steps of a spreader
    assert all(day <= dose["from"] <= dose["to"] for dose in doses)
    assert all(dose["rate"].value <= 1 + 1e-9 for dose in doses)


def test_every_step_names_its_formula_and_every_number_its_source(library: Library) -> None:
    """The declared examples: each step that has a formula row or a table behind it cites where it comes from."""
    from service.agronomy.tables import FormulaRow

    rows = {row.formula for row in library.rows("formulas", FormulaRow)}
    for name, calculation in CALCULATIONS.items():
        asked = {each.name: each.example for each in calculation.inputs if each.example is not None}
        answer = ask(library, name, **{key: _core(value) for key, value in asked.items()})
        assert answer.status == "given", name
        assert answer.steps, name
        for step in answer.steps:
            assert step.formula, (name, step)
            assert step.sources or step.formula not in rows, (name, step)


def _core(value: Any) -> Any:
    """A declared example as the checked request holds it."""
    if isinstance(value, dict) and set(value) == {"value", "unit"}:
        return (value["value"], value["unit"])
    if isinstance(value, dict):
        from service.agronomy.submission import Quantity

        return {key: Quantity(each["value"], each["unit"]) for key, each in value.items()}
    if isinstance(value, str) and value[:3] == "202":
        return date.fromisoformat(value)
    return float(value) if isinstance(value, int) else value
