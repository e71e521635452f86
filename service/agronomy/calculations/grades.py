"""A fertilizer's analysis: by the grade on the bag or by a material of the library, in nutrients by mass."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import NamedTuple

from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRow
from service.agronomy.units import ATOMIC_MASS, scaled

MACRO = ("N", "P2O5", "K2O")
SUPPLIED = (*MACRO, "S", "Ca", "Mg", "Zn", "Fe", "Mn", "Cu", "B")
OXIDE: Mapping[str, str] = {"P": "P2O5", "K": "K2O"}
"""Grades are printed as oxides; elemental needs are turned into them."""
NUTRIENTS = (*MACRO, "P", "K", "S", "Ca", "Mg", "Zn", "Fe", "Mn", "Cu", "B")
_M = ATOMIC_MASS
UREA_N_PCT = 100 * 2 * _M["N"] / (4 * _M["H"] + 2 * _M["N"] + _M["C"] + _M["O"])
"""Nitrogen in pure urea: the most that a dry fertilizer can hold."""
AMMONIA_N_PCT = 100 * _M["N"] / (_M["N"] + 3 * _M["H"])
"""Nitrogen in pure ammonia: the most that any fertilizer can hold."""
CHLORIDE_K2O_PCT = 100 * (2 * _M["K"] + _M["O"]) / (2 * (_M["K"] + _M["Cl"]))
"""K2O in pure potassium chloride, the richest of the usual potassium salts."""


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
        return Product(_checked(given, grade_of(given["grade"])), None)
    table = given.library.index(materials)
    row = table.get(given["material"])
    if row is None:
        near = tuple(get_close_matches(given["material"], table, n=5))
        raise WrongInput("material", "unknown_material", "a material of /v1/materials", suggestions=near)
    stated = {nutrient: getattr(row, f"{nutrient}_pct") for nutrient in SUPPLIED}
    return Product({nutrient: share for nutrient, share in stated.items() if share}, row)


def grade_of(text: str) -> dict[str, float]:
    """N, P2O5 and K2O of ``"21-0-0"``, and S of ``"21-0-0-24S"``, percent. Raises WrongInput."""
    parts = text.strip().split("-")
    names: tuple[str, ...] = MACRO
    if len(parts) == len(MACRO) + 1 and parts[-1][-1:] in ("S", "s"):
        parts[-1] = parts[-1][:-1]
        names = (*MACRO, "S")
    if len(parts) != len(names) or not all(_plain(part) for part in parts):
        raise WrongInput("grade", "not_a_grade", "N-P2O5-K2O such as 21-0-0, or 21-0-0-24S")
    return {name: float(part) for name, part in zip(names, parts, strict=True)}


def _plain(part: str) -> bool:
    whole, _, decimals = part.strip().partition(".")
    return whole.isdecimal() and whole.isascii() and (decimals == "" or (decimals.isdecimal() and decimals.isascii()))


def _checked(given: Given, analysis: dict[str, float]) -> Mapping[str, float]:
    """A grade that can be; one that no dry product reaches is told."""
    if scaled(sum(analysis.values())) > scaled(100):
        raise WrongInput("grade", "grade_over_100", "shares that add up to at most 100")
    if analysis["N"] > AMMONIA_N_PCT:
        raise WrongInput("grade", "grade_impossible", f"at most {AMMONIA_N_PCT:.1f} % N, that of pure ammonia")
    if analysis["N"] > UREA_N_PCT:
        given.warn("calc.grade_above_urea", urea=round(UREA_N_PCT, 1))
    if analysis["K2O"] > CHLORIDE_K2O_PCT:
        given.warn("calc.grade_above_potash", potash=round(CHLORIDE_K2O_PCT, 1))
    return {nutrient: share for nutrient, share in analysis.items() if share > 0}


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
