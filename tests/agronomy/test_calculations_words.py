"""Every message and step of the single calculations has its words, every blank in them is filled, none is unused."""

from collections.abc import Iterator
from datetime import date
from functools import cache
from typing import Any

import pytest
from calculating import ask
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.calculations import CALCULATIONS, Answer
from service.agronomy.findings import Note
from service.agronomy.submission import Quantity
from service.agronomy.tables import FormulaRow, Library
from service.agronomy.units import Units
from service.render.catalogue import Catalogue
from service.render.words import placeholders

SODIC: dict[str, Any] = {"CEC_meq_100g": 20.0, "ESP_now_pct": 20.0, "depth": (6, "in")}
ACIDIFY: dict[str, Any] = {"pH_now": 8.0, "pH_wanted": 6.5, "texture": "loam", "depth": (6, "in"), "lime_pct": 0.0}
LIME: dict[str, Any] = {
    "buffer_method": "sikora",
    "buffer_pH": 6.0,
    "pH_now": 4.8,
    "pH_wanted": 6.4,
    "depth": (6, "in"),
}
ION = (5.0, "meq/L")
IONS: dict[str, Any] = {"Na": ION, "Ca": ION, "Mg": ION}
YIELD: dict[str, Any] = {"threshold_dS_m": 2.0, "slope_pct_per_dS_m": 10.0, "ECe_dS_m": 4.0}
WASH: dict[str, Any] = {
    "ECe_now_dS_m": 8.0,
    "ECe_wanted_dS_m": 2.0,
    "ECw_dS_m": 0.5,
    "depth": (24, "in"),
    "soil": "medium",
    "water": "ponded",
}
READINGS = [
    {"minutes": 0.6667, "reading_g_per_L": 25.0, "temperature_C": 22.0},
    {"minutes": 120.0, "reading_g_per_L": 15.0, "temperature_C": 23.0},
]
HYDROMETER: dict[str, Any] = {"dry_mass_g": 50.0, "procedure": "two_reading", "readings": READINGS}
PRODUCT: dict[str, Any] = {"nutrient": "N", "rate": (1, "lb/1000 ft2"), "area": (1000, "ft2")}
RATE = Quantity(1, "lb/1000 ft2")
MIX: dict[str, Any] = {"needs": {"N": RATE}, "area": (1000, "ft2")}
SLOW: dict[str, Any] = {"constraints": {"slow_share": 0.5}}
UNMIXED = {"N": Quantity(0.5, "lb/1000 ft2"), "K2O": Quantity(0.5, "lb/1000 ft2")}
MIXED = "blend blend_supply blend_supply blend_supply blend_supply blend_salt_load"
NEEDS: dict[str, Any] = {"P2O5": Quantity(0.5, "lb/1000 ft2"), "K2O": Quantity(0, "lb/1000 ft2")}
TREE: dict[str, Any] = {"nutrient": "N", "trunk_diameter": (3, "in"), "grade": "21-0-0"}
BED: dict[str, Any] = {
    "nutrient": "N",
    "rate": (1, "lb/1000 ft2"),
    "length": (20, "ft"),
    "width": (4, "ft"),
    "grade": "46-0-0",
}
LAWN: dict[str, Any] = {"crop": "tall-fescue-lawn", "N_rate": (3, "lb/1000 ft2"), "area": (1000, "ft2")}
WATER: dict[str, Any] = {"Ca": Quantity(8, "meq/L"), "Mg": Quantity(4, "meq/L"), "Na": Quantity(12, "meq/L")}

IDENTITIES = ("convert", "form_factor", "treated_area", "tree_dose", "bags")
FUNCTIONS = (*IDENTITIES, "classify", "equivalent_amounts", "household", "water_to_dissolve", "plan")
"""Names of functions that steps without a row of the table carry; identities need no source."""

SYMBOLS: dict[str, str] = {
    "adjusted_sar": "Na Ca_x Mg",
    "bags": "amount bag",
    "bulk_density_assumed": "",
    "calcium_expected": "HCO3 Ca EC",
    "converted": "value unit",
    "equivalent_weight": "analyte",
    "esp_direct": "Na CEC",
    "esp_from_sar": "SAR",
    "form": "of as",
    "gypsum_equivalents": "gypsum elemental_sulfur sulfuric_acid lime_sulfur calcium_chloride",
    "gypsum_rate": "GR depth bulk_density efficiency purity",
    "gypsum_sodium": "ESP ESP_wanted CEC",
    "gypsum_water": "dose solubility",
    "half_yield": "ECe threshold slope",
    "household": "density",
    "leaching_requirement": "ECw ECe",
    "lime_not_needed": "pH limit",
    "lime_requirement": "buffer_pH pH pH_wanted depth ECCE",
    "nitrate_in_layer": "NO3_N depth bulk_density",
    "product_amount": "nutrient grade",
    "reclamation_water": "ECe ECe_wanted ECw depth k",
    "relative_yield": "ECe threshold slope",
    "relative_yield_curve": "C50 s",
    "sar": "Na Ca Mg",
    "soil_per_area": "depth bulk_density",
    "sulfur_by_texture": "pH pH_wanted texture depth",
    "sulfur_for_lime": "lime depth",
    "texture_class": "sand silt clay",
    "treated_area": "count each",
    "tree_dose": "each trunk",
    "water_nitrogen": "NO3_N water_mm",
    "water_to_apply": "ET LR",
}
"""What each step of a calculation is reckoned from; steps that the interpretation makes are proven with it."""

# calculation, inputs, steps in their order, warnings without their prefix `calc.`
SCENES: tuple[tuple[str, dict[str, Any], str, str], ...] = (
    ("convert", {"quantity": "length", "value": 1.0, "from_": "in", "to": "cm"}, "converted", ""),
    (
        "convert",
        {"quantity": "NO3", "value": 80.0, "from_": "mg/kg", "to": "mg/kg", "to_quantity": "NO3-N"},
        "form converted",
        "",
    ),
    ("convert", {"quantity": "Ca", "value": 8.0, "from_": "mg/L", "to": "meq/L"}, "equivalent_weight converted", ""),
    (
        "convert",
        {"quantity": "K", "value": 1.0, "from_": "mg/kg", "to": "lb/acre", "depth": (6, "in")},
        "bulk_density_assumed soil_per_area converted",
        "bulk_density_assumed",
    ),
    ("texture", {"sand_pct": 40.0, "clay_pct": 22.0}, "texture_class", ""),
    ("texture", {"sand_pct": 41.0, "clay_pct": 27.0}, "texture_class", "texture.near"),
    ("texture", {"sand_pct": 41.5, "silt_pct": 38.0, "clay_pct": 22.0}, "texture_class", "fractions_rescaled"),
    (
        "hydrometer",
        HYDROMETER,
        "sand silt clay texture_class",
        "texture.clay_upper_bound readings_not_corrected",
    ),
    (
        "hydrometer",
        {**HYDROMETER, "blank": 2.0, "calibration_temperature_C": 19.4},
        "sand silt clay texture_class",
        "texture.blank_and_temperature texture.clay_upper_bound",
    ),
    ("cores_needed", {"cv_pct": 50.0, "error_pct": 25.0, "confidence_pct": 95.0}, "cores", "cores_normal"),
    ("sar", IONS, "sar", ""),
    ("sar", {**IONS, "HCO3": ION}, "sar", "adjusted_needs_both"),
    ("sar", {**IONS, "HCO3": ION, "ECw": (1, "dS/m")}, "sar calcium_expected adjusted_sar", ""),
    ("esp", {"SAR": 13.0}, "esp_from_sar", "sodium.esp_by_line"),
    ("esp", {"Na_meq_100g": 2.5, "CEC_meq_100g": 10.0}, "esp_direct", "soluble_sodium_off"),
    (
        "ece_estimate",
        {"EC_dS_m": 1.1, "method": "water_1_2", "clay_pct": 10.0},
        "ece_by_line ece_range",
        "clay_fits_several salt.estimated salt.order_paste",
    ),
    ("relative_yield", YIELD, "relative_yield", "yield_relative"),
    ("relative_yield", {**YIELD, "model": "s_curve"}, "half_yield relative_yield_curve", "yield_relative"),
    (
        "leaching_requirement",
        {"ECw_dS_m": 3.0, "ECe_dS_m": 2.0, "method": "conventional", "et_mm": 500.0},
        "leaching_requirement water_to_apply",
        "salt.leaching_impractical",
    ),
    (
        "leaching_requirement",
        {"ECw_dS_m": 1.0, "ECe_dS_m": 9.0, "method": "high_frequency"},
        "leaching_requirement",
        "",
    ),
    ("reclamation_leaching", WASH, "reclamation_water", "leaching_conditions reclamation_person"),
    ("reclamation_leaching", {**WASH, "ECe_wanted_dS_m": 9.0}, "reclamation_water", "no_leaching_needed"),
    (
        "gypsum",
        {**SODIC, "depth": (18, "in")},
        "gypsum_sodium bulk_density_assumed gypsum_rate gypsum_water gypsum_equivalents",
        "ESP_wanted_pct_assumed bulk_density_assumed efficiency_assumed purity_pct_assumed gypsum_deep over_lawn_dose"
        " gypsum_conditions equivalents_lime equivalents_acid reclamation_person",
    ),
    ("gypsum", {**SODIC, "ESP_now_pct": 5.0, "ESP_wanted_pct": 3.0}, "gypsum_sodium", "gypsum_useless"),
    ("gypsum", {**SODIC, "ESP_wanted_pct": 20.0}, "gypsum_sodium", "gypsum_none_needed"),
    ("sulfur", ACIDIFY, "sulfur_for_lime sulfur_by_texture", "over_lawn_dose sulfur_retest"),
    (
        "sulfur",
        {**ACIDIFY, "pH_wanted": 5.0},
        "sulfur_for_lime sulfur_by_texture",
        "sulfur_part_way over_lawn_dose sulfur_retest",
    ),
    ("sulfur", {**ACIDIFY, "lime_pct": 6.0}, "sulfur_for_lime", "sulfur_not_in_lime"),
    ("sulfur", {**ACIDIFY, "pH_now": 6.0}, "sulfur_for_lime", "sulfur_none_needed"),
    ("lime", {**LIME, "ECCE_pct": 90.0}, "lime_requirement", "over_lawn_dose"),
    ("lime", {**LIME, "pH_wanted": 6.5}, "lime_requirement", "ECCE_pct_assumed lime_target over_lawn_dose"),
    ("lime", {**LIME, "buffer_pH": 5.75, "ECCE_pct": 90.0}, "lime_requirement", "lime_range over_lawn_dose"),
    ("lime", {**LIME, "pH_now": 7.0}, "lime_not_needed", "lime_none_needed"),
    (
        "nitrate_credit",
        {"NO3_N_mg_kg": 20.0, "depth": (12, "in")},
        "bulk_density_assumed nitrate_in_layer",
        "bulk_density_assumed credit_fine_soil",
    ),
    ("water_nitrate_credit", {"NO3_N_mg_L": 20.0, "applied": (24, "in")}, "water_nitrogen", "credit_water_used"),
    ("product_amount", {**PRODUCT, "material": "urea"}, "product_amount household", ""),
    ("product_amount", {**PRODUCT, "nutrient": "P", "grade": "0-46-0"}, "form product_amount", ""),
    ("product_amount", {**PRODUCT, "grade": "47-0-0"}, "product_amount", "grade_above_urea"),
    ("product_amount", {**PRODUCT, "nutrient": "K2O", "grade": "0-0-64"}, "product_amount", "grade_above_potash"),
    ("product_amount", {**PRODUCT, "rate": (2, "lb/1000 ft2"), "grade": "46-0-0"}, "product_amount", "over_lawn_dose"),
    ("product_amount", {**PRODUCT, "grade": "46-0-0", "bag": (50, "lb")}, "product_amount bags", ""),
    ("product_amount", {**PRODUCT, "grade": "16-16-16", "needs": NEEDS}, "product_amount", "over_need not_needed"),
    ("product_amount", {**TREE, "per_trunk_inch": (2, "oz/tree")}, "tree_dose product_amount", ""),
    ("product_amount", {**BED, "count": 3}, "treated_area product_amount", ""),
    ("blend", {**MIX, "materials": ["urea"]}, "blend blend_supply blend_salt_load", ""),
    ("blend", {**MIX, "materials": ["ibdu", "urea"]}, "blend blend_supply blend_salt_load", ""),
    ("blend", {**MIX, **SLOW, "materials": ["urea"]}, "blend", "supply.short"),
    ("blend", {**MIX, "needs": {"K2O": RATE}, "materials": ["urea"]}, "blend", "supply.short"),
    ("blend", {**MIX, "needs": UNMIXED, "materials": ["calcium_nitrate", "potassium_sulfate"]}, MIXED, "blend_apart"),
    ("turf_nitrogen_schedule", {**LAWN, "as_of": date(2026, 2, 1)}, "windows_left", "zone_unknown"),
    ("turf_nitrogen_schedule", {**LAWN, "as_of": date(2026, 7, 1), "zone": "6b"}, "windows_left", "windows_passed"),
    (
        "ion_balance",
        {"cations": WATER, "anions": {"Cl": Quantity(9, "meq/L"), "HCO3": Quantity(4, "meq/L")}, "EC_dS_m": 2.4},
        "cation_sum anion_sum charge_balance cations_per_ec",
        "balance_incomplete sulfate_by_difference",
    ),
)
WITHHELD: tuple[tuple[str, dict[str, Any]], ...] = (
    ("gypsum", {**SODIC, "area": (1, "acre")}),
    ("product_amount", {**PRODUCT, "rate": (20, "lb/1000 ft2"), "grade": "46-0-0"}),
    ("product_amount", {**PRODUCT, "rate": (20, "lb/1000 ft2"), "grade": "21-0-0"}),
    ("product_amount", {**TREE, "trunk_diameter": (6, "in"), "per_trunk_inch": (2, "oz/tree")}),
    ("product_amount", {**PRODUCT, "nutrient": "B", "material": "borax"}),
    ("blend", {**MIX, "materials": ["borax"]}),
    ("blend", {**MIX, "materials": ["sulfuric_acid"]}),
    ("product_amount", {**PRODUCT, "nutrient": "S", "material": "sulfuric_acid"}),
    ("turf_nitrogen_schedule", {**LAWN, "N_rate": (20, "lb/1000 ft2"), "as_of": date(2026, 2, 1)}),
    ("relative_yield", {"crop": "tall-fescue-lawn", "ECe_dS_m": 3.0}),
)


@cache
def texts() -> dict[str, str]:
    return Catalogue().texts("en")


def notes(answer: Answer) -> Iterator[Note]:
    """Every message of an answer, those inside the result and inside other messages too."""
    waiting: list[Any] = [answer.warnings, answer.result]
    waiting += [Note(f"step.{step.step}", step.inputs) for step in answer.steps]
    for reason in answer.reasons:
        waiting += [Note(f"reason.{reason.code}", reason.values), reason.ask]
    while waiting:
        found = waiting.pop()
        if isinstance(found, Note):
            yield found
            waiting.extend(found.values.values())
        elif isinstance(found, dict):
            waiting.extend(found.values())
        elif type(found) in (tuple, list):
            waiting.extend(found)


def check_words(answer: Answer) -> None:
    for note in notes(answer):
        assert note.code in texts(), note
        for name in placeholders(texts()[note.code]):
            assert note.values.get(name) is not None, (note, name)


@pytest.mark.parametrize(("name", "inputs", "steps", "warnings"), SCENES)
def test_steps_and_warnings_of_a_scene(
    library: Library, name: str, inputs: dict[str, Any], steps: str, warnings: str
) -> None:
    """What is told in which case, in this order, in whole sentences, each step with its formula, unit and sources."""
    answer = ask(library, name, **inputs)
    assert [step.step for step in answer.steps] == steps.split()
    assert [note.code.removeprefix("calc.") for note in answer.warnings] == warnings.split()
    check_words(answer)
    formulas = {row.formula for row in library.rows("formulas", FormulaRow)}
    units = library.index(Units.of)
    for step in answer.steps:
        assert step.unit in ("", "1", "g/eq") or units.known(step.unit), step
        assert set(step.inputs) == set(SYMBOLS.get(step.step, " ".join(step.inputs)).split()), step
        assert all(value is not None for value in step.inputs.values()), step
        assert step.formula in formulas or step.formula in FUNCTIONS, step
        assert step.sources or step.formula in IDENTITIES, step
        assert step.value is not None or step.step == "gypsum_equivalents", step


@pytest.mark.parametrize(("name", "inputs"), WITHHELD)
def test_what_is_withheld_is_said_in_whole_sentences(library: Library, name: str, inputs: dict[str, Any]) -> None:
    answer = ask(library, name, **inputs)
    assert answer.status == "withheld"
    assert all(reason.severity in ("hold", "withhold") and reason.ask is not None for reason in answer.reasons)
    check_words(answer)


def test_every_text_of_the_calculations_is_used(library: Library) -> None:
    """A text that no scene brings up would be dead, or its scene untested."""
    said = {note.code for name, inputs, *_ in (*SCENES, *WITHHELD) for note in notes(ask(library, name, **inputs))}
    assert {code for code in texts() if code.startswith("calc.")} - said == set()


def test_every_calculation_has_its_scenes() -> None:
    assert {name for name, *_ in SCENES} == set(CALCULATIONS)


@given(area=st.sampled_from([(500, "ft2"), (1, "acre"), (90, "m2"), (0.5, "ha"), (100, "yd2")]))
def test_answers_come_in_the_units_of_the_question(library: Library, area: tuple[float, str]) -> None:
    """By the square foot or yard: per 1,000 ft2; by the acre: per acre; metric: g/m2 up to 1,000 m2, kg/ha above."""
    wanted = {"ft2": "lb/1000 ft2", "yd2": "lb/1000 ft2", "acre": "lb/acre", "m2": "g/m2", "ha": "kg/ha"}
    found = ask(library, "sulfur", **ACIDIFY, area=area).result
    assert found["rate"].unit == wanted[area[1]]
    assert found["for_area"].unit == ("kg" if area[1] in ("m2", "ha") else "lb")
    bare = ask(library, "sulfur", **ACIDIFY).result
    assert (bare["rate"].unit, bare["for_area"]) == ("lb/acre", None)
    metric = ask(library, "sulfur", **{**ACIDIFY, "depth": (15, "cm")}).result
    assert metric["rate"].unit == "kg/ha"


@pytest.mark.parametrize(("depth", "unit"), [((24, "in"), "in"), ((2, "ft"), "in"), ((60, "cm"), "mm")])
def test_water_comes_in_the_units_of_the_depth(library: Library, depth: tuple[float, str], unit: str) -> None:
    assert ask(library, "reclamation_leaching", **{**WASH, "depth": depth}).result["water_depth"].unit == unit
