"""A fertilizer's analysis: by the grade on the bag or by a material of the library, in nutrients by mass."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import NamedTuple

from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.materials.grade import (
    CHLORIDE_K2O_PCT,
    MACRO,
    SUPPLIED,
    UREA_N_PCT,
    GradeError,
    possible_grade,
)
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRow

OXIDE: Mapping[str, str] = {"P": "P2O5", "K": "K2O"}
"""Grades are printed as oxides; elemental needs are turned into them."""
NUTRIENTS = (*MACRO, "P", "K", "S", "Ca", "Mg", "Zn", "Fe", "Mn", "Cu", "B")


class Product(NamedTuple):
    """What is in a product, percent by mass; ``row`` is its material, None for a grade."""

    analysis: Mapping[str, float]
    row: MaterialRow | None


def materials(library: Library) -> Mapping[str, MaterialRow]:
    """The table ``materials`` by id, prepared once."""
    return {row.material: row for row in library.rows("materials", MaterialRow)}


def product_of(given: Given) -> Product:
    """The product asked about. Raises WrongInput for none or both, an unknown material, an impossible grade."""
    if ("grade" in given) == ("material" in given):
        raise WrongInput("grade", "one_way", "either grade or material")
    if "grade" in given:
        return Product(_checked(given, given["grade"]), None)
    table = given.library.index(materials)
    row = table.get(given["material"])
    if row is None:
        near = tuple(get_close_matches(given["material"], table, n=5))
        raise WrongInput("material", "unknown_material", "a material of /v1/materials", suggestions=near)
    stated = {nutrient: getattr(row, f"{nutrient}_pct") for nutrient in SUPPLIED}
    return Product({nutrient: share for nutrient, share in stated.items() if share}, row)


def _checked(given: Given, grade: str) -> Mapping[str, float]:
    """A grade that can be; one that no dry product reaches is told."""
    try:
        analysis = possible_grade(grade)
    except GradeError as problem:
        raise WrongInput("grade", problem.code, problem.expected) from None
    if analysis.get("N", 0.0) > UREA_N_PCT:
        given.warn("calc.grade_above_urea", urea=round(UREA_N_PCT, 1))
    if analysis.get("K2O", 0.0) > CHLORIDE_K2O_PCT:
        given.warn("calc.grade_above_potash", potash=round(CHLORIDE_K2O_PCT, 1))
    return analysis


def needed(given: Given) -> tuple[str, float]:
    """The nutrient as fertilizers are labelled, and its rate in g/m2."""
    nutrient, rate = given["nutrient"], given.g_m2("rate")
    oxide = OXIDE.get(nutrient)
    if oxide is None:
        return nutrient, rate
    factor = given.units.form_factor(nutrient, oxide)
    given.step("form", "form_factor", {"of": nutrient, "as": oxide}, factor, "1")
    return oxide, rate * factor


def household_litres(row: MaterialRow | None, grams: float) -> float | None:
    """The volume of so much of a material, litres; None without a bulk density, or where it must be weighed."""
    if row is None or row.bulk_density_kg_L is None or row.category == "micronutrient":
        return None
    return grams / 1000 / row.bulk_density_kg_L


def in_measure(given: Given, litres: float) -> Quantity:
    """A volume in the kitchen measure that fits: tablespoons, cups, pints; gallons never, they are weighed."""
    for unit, most in (("tbsp", 4.0), ("cup", 8.0)):
        count = given.units.convert(litres, "L", unit)
        if count < most:
            return Quantity(_quarter(count), unit)
    return Quantity(_quarter(given.units.convert(litres, "L", "pint")), "pint")


def _quarter(count: float) -> float:
    """To the quarter below ten, to the whole above."""
    return float(round(count)) if count >= 10 else max(round(count * 4) / 4, 0.25)
