"""Amounts of gypsum, sulfur and lime by the equations, the lines and the caps of the interpretation."""

from typing import Any

from service.agronomy.acid_advice import convention_mass, sulfur_tables
from service.agronomy.acidity import between, lime_material, sulfur_for_carbonate
from service.agronomy.calculations.declaration import (
    Answer,
    Calculation,
    Input,
    check_possible,
    given_answer,
    withheld_answer,
)
from service.agronomy.calculations.given import Given
from service.agronomy.calculations.limits import broken_cap, split, tell_person, tell_single_dose, too_large
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Word
from service.agronomy.gypsum import equivalent_amounts, gypsum_rate, sodium_to_replace
from service.agronomy.lime_advice import BUFFERS, lime_need
from service.agronomy.triangle import Triangle
from service.agronomy.units import scaled

EQUIVALENTS = ("gypsum", "elemental_sulfur", "sulfuric_acid", "lime_sulfur", "calcium_chloride")
GYPSUM_RESULT = ("rate", "for_area", "equivalents", "applications")
DEPTH_6_IN = "soil_lb_per_acre_6_in"


def gypsum(given: Given) -> Answer:
    """Gypsum that replaces exchangeable sodium, and what other amendments would take."""
    wanted = given.or_default("ESP_wanted_pct", "gypsum_esp_wanted_default_pct")
    now, CEC = given["ESP_now_pct"], given["CEC_meq_100g"]
    useless = given.factor("gypsum_useless_below_esp_pct")
    to_replace = sodium_to_replace(now, wanted, CEC)
    inputs = {"ESP": now, "ESP_wanted": wanted, "CEC": CEC}
    given.step("gypsum_sodium", "gr", inputs, to_replace, "meq/100 g", given.reference.formula("gr"))
    if to_replace == 0 or scaled(now) < scaled(useless.value):
        return _no_gypsum(given, to_replace == 0, useless.value)
    pure, rate = _gypsum_rate(given, to_replace)
    parts = split(given, "gypsum", rate)
    over = broken_cap(given, "gypsum", rate, parts.dose)
    held = (*too_large(given, "gypsum"), *((over,) if over else ()))
    if held:
        return withheld_answer(given, GYPSUM_RESULT, *held)
    tell_single_dose(given, "gypsum", rate)
    _tell_gypsum(given)
    result = {
        "rate": given.rate(rate),
        "for_area": given.total(rate),
        "equivalents": _equivalents(given, pure),
        "applications": parts.applications,
    }
    return given_answer(given, result)


def _gypsum_rate(given: Given, to_replace: float) -> tuple[float, float]:
    """Pure gypsum and gypsum as bought, g/m2."""
    density = given.bulk_density()
    efficiency = given.or_default("efficiency", "gypsum_efficiency_default")
    purity = given.or_default("purity_pct", "gypsum_purity_default_pct")
    depth = given.inches("depth")
    rate = gypsum_rate(to_replace, depth, density, efficiency, purity)
    inputs = {"GR": to_replace, "depth": depth, "bulk_density": density, "efficiency": efficiency, "purity": purity}
    shown = given.rate(rate)
    given.step("gypsum_rate", "gypsum_rate", inputs, shown.value, shown.unit, given.reference.formula("gypsum_rate"))
    if scaled(depth) > scaled(given.factor("gypsum_depth_max_in").value):
        given.warn("calc.gypsum_deep", depth=given["depth"])
    return rate * purity / 100, rate


def _no_gypsum(given: Given, low_enough: bool, useless: float) -> Answer:
    if low_enough:
        given.warn("calc.gypsum_none_needed")
    else:
        given.warn("calc.gypsum_useless", limit=useless)
    nothing = given.rate(0.0)
    equivalents = dict.fromkeys(EQUIVALENTS, nothing)
    result = {"rate": nothing, "for_area": given.total(0.0), "equivalents": equivalents, "applications": ()}
    return given_answer(given, result)


def _tell_gypsum(given: Given) -> None:
    for code in ("calc.gypsum_conditions", "calc.equivalents_lime", "calc.equivalents_acid"):
        given.warn(code)
    tell_person(given)


def _equivalents(given: Given, pure_g_m2: float) -> dict[str, Any]:
    """What other amendments would take to do the work of so much pure gypsum."""
    table = given.reference.equivalents()
    masses = equivalent_amounts(pure_g_m2, {name: table[name].mass_per_mass_gypsum for name in EQUIVALENTS})
    rows = [table[name] for name in EQUIVALENTS]
    inputs = {name: table[name].mass_per_mass_gypsum for name in EQUIVALENTS}
    given.step("gypsum_equivalents", "equivalent_amounts", inputs, None, "", *rows)
    return {name: given.rate(mass) for name, mass in masses.items()}


def sulfur(given: Given) -> Answer:
    """Sulfur to lower the pH, and what the lime alone would swallow; advised only where there is next to none."""
    depth, lime = given.inches("depth"), given["lime_pct"]
    share = depth / given.coefficients("s_for_lime")["depth_in"]
    swallowed = sulfur_for_carbonate(lime, convention_mass(given.library) * share)
    shown = given.rate(swallowed)
    rows = (given.reference.formula("s_for_lime"), given.factor(DEPTH_6_IN))
    given.step("sulfur_for_lime", "s_for_lime", {"lime": lime, "depth": depth}, shown.value, shown.unit, *rows)
    limit = given.factor("free_lime_threshold_pct")
    if scaled(lime) >= scaled(limit.value):
        given.warn("calc.sulfur_not_in_lime", lime=lime, sulfur=shown)
        return _sulfur_answer(given, None, shown)
    if scaled(given["pH_now"]) <= scaled(given["pH_wanted"]):
        given.warn("calc.sulfur_none_needed")
        return _sulfur_answer(given, None, shown)
    by_texture = _sulfur_by_texture(given, depth)
    return _sulfur_answer(given, by_texture + swallowed, shown) if by_texture else _sulfur_answer(given, None, shown)


def _sulfur_by_texture(given: Given, depth: float) -> float:
    """Sulfur by the table, g/m2: from the pH now down to the one wanted, as far as the table goes."""
    group = given.library.index(Triangle.of).group(given["texture"])
    table = given.library.index(sulfur_tables)[group]
    now, wanted = given["pH_now"], max(given["pH_wanted"], table.wanted)
    if not table.points[0][0] <= now <= table.points[-1][0]:
        raise OutOfRange("pH_now", f"{table.points[0][0]:g} <= x <= {table.points[-1][0]:g}")
    if scaled(given["pH_wanted"]) < scaled(table.wanted):
        given.warn("calc.sulfur_part_way", wanted=table.wanted)
    amount = max(0.0, between(now, table.points) - between(wanted, table.points)) * depth / table.depth_in
    inputs = {"pH": now, "pH_wanted": wanted, "texture": Word("texture", group), "depth": depth}
    shown = given.rate(amount)
    given.step("sulfur_by_texture", "s_by_texture", inputs, shown.value, shown.unit, *table.rows)
    return amount


def _sulfur_answer(given: Given, g_m2: float | None, swallowed: object) -> Answer:
    if g_m2 is None:
        result = {"advised": False, "rate": None, "for_area": None, "lime_neutralization": swallowed}
        return given_answer(given, {**result, "applications": ()})
    parts = split(given, "sulfur", g_m2)
    held = broken_cap(given, "S", g_m2, parts.dose)
    if held is not None:
        names = ("advised", "rate", "for_area", "lime_neutralization", "applications")
        return withheld_answer(given, names, held)
    tell_single_dose(given, "S", g_m2)
    given.warn("calc.sulfur_retest")
    result = {"advised": True, "rate": given.rate(g_m2), "for_area": given.total(g_m2)}
    return given_answer(given, {**result, "lime_neutralization": swallowed, "applications": parts.applications})


def lime(given: Given) -> Answer:
    """Lime by a named buffer for a depth and a liming material; none where the pH is high enough."""
    now, wanted = given["pH_now"], given["pH_wanted"]
    check_possible(given.library, ("buffer_pH", given["buffer_method"]), given["buffer_pH"], "buffer_pH")
    limit = given.factor("lime_needed_pH_max")
    if scaled(now) >= scaled(limit.value) or scaled(now) >= scaled(wanted):
        given.step("lime_not_needed", "lime_table", {"pH": now, "limit": limit.value}, True, "", limit)
        given.warn("calc.lime_none_needed", limit=limit.value)
        return given_answer(given, {"rate": given.rate(0.0), "rate_high": given.rate(0.0)})
    need = lime_need(given.library, given["buffer_method"], given["buffer_pH"], now, wanted)
    ECCE = given.or_default("ECCE_pct", "ecce_default_pct")
    depth = given.inches("depth")
    low, high = (lime_material(figure, depth, need.depth_in, ECCE) for figure in (need.low, need.high))
    shown = given.rate(low)
    inputs = {"buffer_pH": given["buffer_pH"], "pH": now, "pH_wanted": need.target, "depth": depth, "ECCE": ECCE}
    given.step("lime_requirement", need.formula, inputs, shown.value, shown.unit, *need.rows)
    if scaled(need.target) != scaled(wanted):
        given.warn("calc.lime_target", target=need.target)
    if low != high:
        given.warn("calc.lime_range", low=shown, high=given.rate(high))
    held = broken_cap(given, "lime", high, high)
    if held is not None:
        return withheld_answer(given, ("rate", "rate_high"), held)
    tell_single_dose(given, "lime", low)
    return given_answer(given, {"rate": shown, "rate_high": given.rate(high)})


DEPTH = Input("depth", "quantity", "Thickness of the layer.", dimension="length", example={"value": 6, "unit": "in"})
AREA = Input(
    "area", "quantity", "The ground to treat.", False, dimension="area", example={"value": 2000, "unit": "ft2"}
)
CEC = Input(
    "CEC_meq_100g",
    "number",
    "Cation exchange capacity, by displacement.",
    like=("CEC", "displacement"),
    minimum=0,
    exclusive_minimum=True,
    example=22,
)
DENSITY = Input(
    "bulk_density_g_cm3",
    "number",
    "Bulk density; the usual one when left out.",
    False,
    like=("bulk_density", "core"),
    example=1.4,
)
PH_NOW = Input("pH_now", "number", "pH in water or paste.", like=("pH", "water_1_1"), example=7.8)
PH_WANTED = Input("pH_wanted", "number", "pH to come to.", like=("pH", "water_1_1"), example=6.5)
GYPSUM = Calculation(
    "gypsum",
    "Gypsum that replaces exchangeable sodium of a layer; more than a garden's area is for a person.",
    (
        CEC,
        Input("ESP_now_pct", "number", "Exchangeable sodium percentage now.", minimum=0, maximum=100, example=18),
        Input(
            "ESP_wanted_pct",
            "number",
            "ESP wanted; the usual aim when left out.",
            False,
            minimum=0,
            maximum=100,
            example=10,
        ),
        DEPTH,
        DENSITY,
        Input(
            "efficiency",
            "number",
            "Share of the gypsum that works.",
            False,
            minimum=0,
            exclusive_minimum=True,
            maximum=1,
            example=0.8,
        ),
        Input("purity_pct", "number", "Gypsum in the product.", False, minimum=0, exclusive_minimum=True, maximum=100),
        AREA,
    ),
    gypsum,
    {"ESP": "ESP_now_pct", "CEC": "CEC_meq_100g", "depth, bulk density": "depth", "purity": "purity_pct"},
    ("gr", "gypsum_rate", "gypsum_mass"),
)
SULFUR = Calculation(
    "sulfur",
    "Elemental sulfur to lower the pH of lime-free soil; on limy soil the arithmetic that speaks against it.",
    (
        PH_NOW,
        PH_WANTED,
        Input("texture", "word", "A texture class, or coarse, medium, fine.", example="loam"),
        Input("lime_pct", "number", "Free lime.", like=("lime", "calcimeter"), example=0),
        DEPTH,
        AREA,
    ),
    sulfur,
    {"lime": "lime_pct", "x": "pH_now"},
    ("s_by_texture", "s_for_lime"),
)
LIME = Calculation(
    "lime",
    "Lime requirement of an acid soil by a named buffer.",
    (
        Input("buffer_method", "word", "The buffer.", words=BUFFERS, example="sikora"),
        Input("buffer_pH", "number", "pH in the buffer.", minimum=0, maximum=14, example=6.0),
        PH_NOW._replace(example=5.2),
        PH_WANTED._replace(example=5.6),
        DEPTH,
        Input(
            "ECCE_pct",
            "number",
            "Effective calcium carbonate equivalent of the lime; 100 when left out.",
            False,
            minimum=0,
            exclusive_minimum=True,
            like=("lime", "calcimeter"),
            example=90,
        ),
    ),
    lime,
    {"x": "buffer_pH", "pH": "pH_now", "ECCE": "ECCE_pct"},
    ("lime_table", "lime_ncda", "lime_adams_evans", "lime_material"),
)
