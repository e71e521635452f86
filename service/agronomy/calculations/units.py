"""``convert``: one figure in another unit and, where asked, another form."""

from collections.abc import Mapping
from difflib import get_close_matches

from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer
from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.errors import UnitMismatch
from service.agronomy.tables import AnalyteRow, Library, UnitRow
from service.agronomy.units import Soil, significant

RATE = "rate"
MEASURED_AS: Mapping[str, str] = {RATE: "areal_rate"}
"""Words of the contract for a dimension of the unit table."""
PER_AREA = frozenset(("areal_rate", "areal_soil"))
SOLUTIONS = frozenset(("mass_concentration", "charge_concentration", "molar_concentration"))
CHARGES = frozenset(("charge_concentration", "charge_fraction"))
AMOUNTS = PER_AREA | {"mass", "per_tree"}
"""Dimensions of amounts to spread: of a fertilizer's nutrient as much as of a soil's."""
EXACT_DIGITS = 12
"""A conversion is exact: only the last binary digits are cut."""


class Spellings:
    """Analytes and units by dimension, prepared once: ``library.index(Spellings)``."""

    def __init__(self, library: Library) -> None:
        self.analytes = {row.analyte: row for row in library.rows("analytes", AnalyteRow)}
        self.by_dimension: dict[str, tuple[str, ...]] = {}
        for row in library.rows("units", UnitRow):
            self.by_dimension[row.dimension] = (*self.by_dimension.get(row.dimension, ()), row.spelling)
        self.quantities = (*self.analytes, RATE, *self.by_dimension)


def convert(given: Given) -> Answer:
    """A figure in another unit: of one dimension by its factors, of an analyte by its masses, charge and soil layer."""
    known = given.library.index(Spellings)
    quantity = given["quantity"]
    for field in ("from", "to"):
        if not given.units.known(given[field]):
            raise WrongInput(field, "unknown_unit", "a unit of /v1/units")
    if given["value"] < 0 and given.units.proportional(given["from"], given["to"]):
        raise WrongInput("value", "out_of_range", "0 <= x")
    if quantity not in known.quantities:
        near = tuple(get_close_matches(quantity, known.quantities, n=5))
        raise WrongInput("quantity", "unknown_quantity", "an analyte or a dimension", suggestions=near)
    if quantity in known.analytes:
        value = _of_analyte(given, known)
    elif "to_quantity" in given:
        raise WrongInput("to_quantity", "not_a_form", "only an analyte has another form")
    else:
        value = _of_dimension(given, known)
    value = significant(value, EXACT_DIGITS)
    given.step("converted", "convert", {"value": given["value"], "unit": given["from"]}, value, given["to"])
    return given_answer(given, {"value": value, "unit": given["to"]})


def _of_dimension(given: Given, known: Spellings) -> float:
    dimension = MEASURED_AS.get(given["quantity"], given["quantity"])
    for field in ("from", "to"):
        if given.units.dimension(given[field]) != dimension:
            fitting = known.by_dimension[dimension]
            raise WrongInput(field, "unit_does_not_fit", f"a unit of {given['quantity']}", fitting)
    return given.units.convert(given["value"], given["from"], given["to"])


def _of_analyte(given: Given, known: Spellings) -> float:
    analyte, form = given["quantity"], given.get("to_quantity") or given["quantity"]
    if form not in known.analytes:
        near = tuple(get_close_matches(form, known.analytes, n=5))
        raise WrongInput("to_quantity", "unknown_quantity", "an analyte", suggestions=near)
    try:
        factor = given.units.form_factor(analyte, form)
    except UnitMismatch:
        raise WrongInput("to_quantity", "not_a_form", f"a form of {analyte}") from None
    if form != analyte:
        given.step("form", "form_factor", {"of": analyte, "as": form}, factor, "1")
    dimensions = {given.units.dimension(given[field]) for field in ("from", "to")}
    if len(dimensions) > 1:
        _tell_equivalent(given, known, dimensions, analyte)
    elif dimensions <= AMOUNTS:
        return given.units.convert(given["value"], given["from"], given["to"]) * factor
    soil = _layer(given) if dimensions & PER_AREA and len(dimensions) > 1 else None
    matrix = "extract" if dimensions & SOLUTIONS else "soil"
    try:
        return given.units.express(given["value"], given["from"], given["to"], matrix, analyte, form, soil)
    except UnitMismatch:
        raise WrongInput("to", "unit_does_not_fit", f"a unit that {given['from']} of {form} converts into") from None


def _tell_equivalent(given: Given, known: Spellings, dimensions: set[str], analyte: str) -> None:
    weight = known.analytes[analyte].equivalent_weight_g
    if weight is not None and dimensions & CHARGES:
        given.step("equivalent_weight", "me_l", {"analyte": analyte}, weight, "g/eq")


def _layer(given: Given) -> Soil:
    """The layer that an amount per area belongs to; stones hold no fine soil."""
    if "depth" not in given:
        raise WrongInput("depth", "missing", "the depth of the layer, with its unit")
    fine = given.bulk_density() * (1 - (given.get("gravel_pct") or 0.0) / 100)
    layer = Soil(given.inches("depth"), fine)
    inputs = {"depth": layer.thickness_in, "bulk_density": layer.bulk_density}
    per_ppm = given.units.express(1.0, "mg/kg", "lb/acre", "soil", "K", "K", layer)
    given.step("soil_per_area", "mass_per_area", inputs, per_ppm, "lb/acre")
    return layer


CONVERT = Calculation(
    "convert",
    "A figure in another unit, or in another form of the same analyte (nitrate as nitrogen, P as P2O5).",
    (
        Input("quantity", "text", "An analyte of /v1/analytes, or length, area, mass, volume, rate ...", example="NO3"),
        Input("value", "number", "The figure.", example=80),
        Input("from", "unit", "Its unit.", example="mg/kg"),
        Input("to", "unit", "The unit wanted.", example="mg/kg"),
        Input("to_quantity", "text", "The form wanted, when it is another one.", required=False, example="NO3-N"),
        Input("depth", "quantity", "Thickness of the layer, for soil units per area.", False, dimension="length"),
        Input("bulk_density_g_cm3", "number", "Bulk density of the fine soil.", False, like=("bulk_density", "core")),
        Input(
            "gravel_pct",
            "number",
            "Stones, percent of the volume.",
            False,
            minimum=0,
            maximum=100,
            exclusive_maximum=True,
        ),
    ),
    convert,
    formulas=("me_l", "mass_per_area", "no3n"),
)
