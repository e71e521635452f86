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


def as_labelled(given: Given, nutrient: str, rate: float) -> tuple[str, float]:
    """The nutrient as fertilizers are labelled, and its rate: elemental P and K become oxides."""
    oxide = OXIDE.get(nutrient)
    if oxide is None:
        return nutrient, rate
    factor = given.units.form_factor(nutrient, oxide)
    given.step("form", "form_factor", {"of": nutrient, "as": oxide}, factor, "1")
    return oxide, rate * factor
