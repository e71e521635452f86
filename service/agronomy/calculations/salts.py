"""Salt in soil and water: ECe from a dilution, what it costs a crop, and the water that keeps it or washes it out."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.calculations.declaration import (
    Answer,
    Calculation,
    Input,
    check_possible,
    given_answer,
    withheld_answer,
)
from service.agronomy.calculations.given import Given, WrongInput, rounded
from service.agronomy.calculations.limits import tell_person
from service.agronomy.ece import ANY_TEXTURE, DILUTED, estimated_ece
from service.agronomy.errors import TableError
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.leaching import (
    applied_water,
    leaching_requirement,
    leaching_requirement_frequent,
    reclamation_water,
)
from service.agronomy.submission import Quantity
from service.agronomy.tables import LeachingRow, Library, SaltToleranceRow
from service.agronomy.tolerance import ece_for_yield, ece_on_curve, relative_yield, s_curve_of, steep_s_curve
from service.agronomy.triangle import Triangle
from service.agronomy.units import scaled

YIELDS = (90, 75, 50, 0)
EC = ("EC", "saturated_paste_extract")
ECW = ("EC", "water_sample")


def ece_estimate(given: Given) -> Answer:
    """ECe with its range from a diluted extract, by the published lines for the texture."""
    EC_dS_m = given["EC_dS_m"]
    check_possible(given.library, ("EC", given["method"]), EC_dS_m, "EC_dS_m")
    found = estimated_ece(given.library, EC_dS_m, given["method"], _group(given), None, given.ledger)
    if found is None:
        raise TableError(f"ece-dilution has no line for {given['method']}")
    given.warn(
        "salt.estimated",
        method=Word("method", given["method"]),
        EC=Quantity(EC_dS_m, "dS/m"),
        ECe=Quantity(found.value, "dS/m"),
        low=found.low,
        high=Quantity(found.high, "dS/m"),
    )
    given.warn("salt.order_paste")
    return given_answer(given, {"value": found.value, "low": found.low, "high": found.high, "unit": "dS/m"})


def _group(given: Given) -> str:
    """Texture group by name, else by clay where every soil of so much clay falls in one group."""
    triangle = given.library.index(Triangle.of)
    if "texture" in given:
        return triangle.group(given["texture"])
    if "clay_pct" not in given:
        raise WrongInput("texture", "missing", "texture, or clay_pct")
    groups = groups_of_clay(triangle, given["clay_pct"])
    if len(groups) == 1:
        return groups.pop()
    given.warn("calc.clay_fits_several", groups=tuple(Word("texture", group) for group in sorted(groups)))
    return ANY_TEXTURE


def groups_of_clay(triangle: Triangle, clay_pct: float) -> set[str]:
    """The texture groups that soils of so much clay can belong to, whatever their sand."""
    rest = 100 - clay_pct
    sands = [*range(int(rest) + 1), rest]
    return {triangle.group(triangle.classify(sand, rest - sand, clay_pct)) for sand in sands}


class Response(NamedTuple):
    """Threshold, dS/m, and slope, % per dS/m, with the row that they come from."""

    threshold: float
    slope: float
    row: SaltToleranceRow | None


def yield_at_salt(given: Given) -> Answer:
    """Relative yield at an ECe, and the ECe at which 90, 75, 50 and 0 % are left."""
    response = _response(given)
    if isinstance(response, Reason):
        return withheld_answer(given, ("relative_yield_pct", "ECe_for_90_75_50_0"), response)
    threshold, slope, row = response
    inputs = {"ECe": given["ECe_dS_m"], "threshold": threshold, "slope": slope}
    rows = [] if row is None else [row]
    if given.get("model") == "s_curve":
        formula = given.reference.formula("steppuhn")
        figures = formula.coefficients
        curve = s_curve_of(threshold, slope, c50_factor=figures["c"], c50_offset=figures["d"], s_factor=figures["s"])
        given.step("half_yield", "steppuhn", inputs, curve.C50, "dS/m", formula, *rows)
        left = steep_s_curve(given["ECe_dS_m"], curve)
        given.step("relative_yield_curve", "steppuhn", {"C50": curve.C50, "s": curve.s}, left, "%", formula)
        at = [None if percent == 0 else ece_on_curve(percent, curve) for percent in YIELDS]
    else:
        left = relative_yield(given["ECe_dS_m"], threshold, slope)
        given.step("relative_yield", "mh", inputs, left, "%", given.reference.formula("mh"), *rows)
        at = [ece_for_yield(percent, threshold, slope) for percent in YIELDS]
    named = {str(percent): None if ece is None else rounded(ece) for percent, ece in zip(YIELDS, at, strict=True)}
    given.warn("calc.yield_relative")
    return given_answer(given, {"relative_yield_pct": rounded(left), "ECe_for_90_75_50_0": named})


def _response(given: Given) -> Response | Reason:
    own = [name for name in ("threshold_dS_m", "slope_pct_per_dS_m") if name in given]
    if "crop" in given:
        if own:
            raise WrongInput(own[0], "one_way", "either crop, or threshold_dS_m with slope_pct_per_dS_m")
        return _of_crop(given)
    for name in ("threshold_dS_m", "slope_pct_per_dS_m"):
        if name not in given:
            raise WrongInput("crop" if not own else name, "missing", "crop, or threshold and slope")
    return Response(given["threshold_dS_m"], given["slope_pct_per_dS_m"], None)


def _of_crop(given: Given) -> Response | Reason:
    salt = given.library.crops[given["crop"]].salt
    if salt is None or salt.threshold_dS_m is None or salt.slope_pct_per_dS_m is None:
        values = {"crop": Word("crop", given["crop"])}
        return Reason("no_salt_line", "withhold", None, values, Note("ask.no_salt_line"), "/crop")
    return Response(salt.threshold_dS_m, salt.slope_pct_per_dS_m, salt)


def leaching_share(given: Given) -> Answer:
    """The share of the water that must pass the roots, and the water to apply for it."""
    ECw, ECe = given["ECw_dS_m"], given["ECe_dS_m"]
    inputs = {"ECw": ECw, "ECe": ECe}
    if given["method"] == "high_frequency":
        formula = given.reference.formula("lr_hf")
        fraction = leaching_requirement_frequent(ECw, ECe, max_multiple=formula.coefficients["k"])
    else:
        formula = given.reference.formula("lr")
        fraction = leaching_requirement(ECw, ECe, ece_multiple=formula.coefficients["k"])
    given.step("leaching_requirement", formula.formula, inputs, fraction, "1", formula)
    limit = given.factor("leaching_fraction_max")
    if scaled(fraction) > scaled(limit.value):
        percent = round(100 * fraction, 1)
        given.warn("salt.leaching_impractical", percent=percent, limit=round(100 * limit.value))
    applied = None
    if "et_mm" in given:
        applied = rounded(applied_water(given["et_mm"], fraction))
        given.step("water_to_apply", "aw", {"ET": given["et_mm"], "LR": fraction}, applied, "mm")
    return given_answer(given, {"fraction": rounded(fraction), "applied_mm": applied})


def salt_k(library: Library) -> Mapping[tuple[str, str], LeachingRow]:
    """Coefficients for salt by way of watering and soil; watering in turns has one for any soil. Prepared once."""
    rows = [row for row in library.rows("reclamation-leaching", LeachingRow) if row.solute == "salt"]
    return {(row.water, row.soil): row for row in rows}


def reclamation(given: Given) -> Answer:
    """Water that washes the salt of a layer down once, with what must be so first."""
    table = given.library.index(salt_k)
    row = table.get((given["water"], given["soil"])) or table.get((given["water"], "any"))
    if row is None:
        raise TableError(f"reclamation-leaching has no row for {given['water']}, {given['soil']}")
    now, wanted, in_water = given["ECe_now_dS_m"], given["ECe_wanted_dS_m"], given["ECw_dS_m"]
    mm = reclamation_water(now, wanted, given.mm("depth"), row.k, in_water)
    water = given.water(mm)
    inputs = {"ECe": now, "ECe_wanted": wanted, "ECw": in_water, "depth": given["depth"], "k": row.k}
    formula = given.reference.formula("reclamation_net")
    given.step("reclamation_water", "reclamation_net", inputs, water.value, water.unit, formula, row)
    if mm == 0:
        given.warn("calc.no_leaching_needed")
    else:
        given.warn("calc.leaching_conditions")
        tell_person(given)
    return given_answer(given, {"water_depth": water})


ECE_ESTIMATE = Calculation(
    "ece_estimate",
    "EC of the saturation extract from a diluted extract, with its range.",
    (
        Input("EC_dS_m", "number", "EC of the diluted extract.", minimum=0, example=1.1),
        Input("method", "word", "The dilution.", words=DILUTED, example="water_1_2"),
        Input("texture", "word", "A texture class, or coarse, medium, fine.", False, example="sandy_loam"),
        Input("clay_pct", "number", "Clay, where the texture is not known.", False, minimum=0, maximum=100),
    ),
    ece_estimate,
    {"EC": "EC_dS_m"},
    ("ec_dil",),
)
RELATIVE_YIELD = Calculation(
    "relative_yield",
    "Yield that a salty soil leaves, of a crop of the library or by a threshold and a slope.",
    (
        Input("crop", "crop", "The id of a crop of the library.", False, example="snap-bean"),
        Input("threshold_dS_m", "number", "ECe at which yield begins to fall.", False, like=EC),
        Input(
            "slope_pct_per_dS_m",
            "number",
            "Yield lost for each dS/m above.",
            False,
            minimum=0,
            exclusive_minimum=True,
            maximum=100,
        ),
        Input("ECe_dS_m", "number", "EC of the saturation extract, mean of the root zone.", like=EC, example=2.3),
        Input(
            "model",
            "word",
            "Straight line above a threshold, or S-curve.",
            False,
            words=("linear", "s_curve"),
            example="linear",
        ),
    ),
    yield_at_salt,
    {"ECe": "ECe_dS_m", "slope": "slope_pct_per_dS_m", "ECe, C50, p": "slope_pct_per_dS_m"},
    ("mh", "steppuhn"),
)
LEACHING_REQUIREMENT = Calculation(
    "leaching_requirement",
    "Share of the irrigation water that must leave the root zone so that salt does not build up.",
    (
        Input("ECw_dS_m", "number", "EC of the irrigation water.", like=ECW, example=1.2),
        Input(
            "ECe_dS_m",
            "number",
            "ECe the crop is to bear; for high_frequency the ECe at which nothing is left.",
            like=EC,
            example=2.5,
        ),
        Input(
            "method",
            "word",
            "Ordinary intervals, or drip and daily irrigation.",
            words=("conventional", "high_frequency"),
            example="conventional",
        ),
        Input("et_mm", "number", "What the crop uses in the season.", False, minimum=0, example=800),
    ),
    leaching_share,
    {"ECw": "ECw_dS_m", "ECe": "ECe_dS_m"},
    ("lr", "lr_hf", "aw"),
)
RECLAMATION_LEACHING = Calculation(
    "reclamation_leaching",
    "Water that washes old salt out of a layer, beyond what evaporates and only where water drains away.",
    (
        Input("ECe_now_dS_m", "number", "Mean ECe of the layer now.", like=EC, example=8),
        Input("ECe_wanted_dS_m", "number", "Mean ECe wanted.", like=EC, example=2),
        Input("ECw_dS_m", "number", "EC of the water.", like=ECW, example=0.5),
        Input("depth", "quantity", "Thickness of the layer.", dimension="length", example={"value": 24, "unit": "in"}),
        Input("soil", "word", "The kind of soil.", words=("fine", "medium", "sandy", "organic"), example="medium"),
        Input(
            "water",
            "word",
            "Standing water, or sprinkling and ponding in turns.",
            words=("ponded", "intermittent"),
            example="intermittent",
        ),
    ),
    reclamation,
    {"wanted": "ECe_wanted_dS_m", "soil depth, k": "depth"},
    ("reclamation_net", "recl"),
)
