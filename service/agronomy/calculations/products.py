"""``product_amount``: how much of a product brings a nutrient's rate, what comes with it, what may not go out."""

from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer, withheld_answer
from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.calculations.grades import NUTRIENTS, Product, household_litres, in_measure, needed, product_of
from service.agronomy.calculations.limits import broken_cap, tell_single_dose
from service.agronomy.findings import Note, Reason
from service.agronomy.submission import Quantity

ACIDS = frozenset(("sulfuric_acid",))
RESULT = ("amount", "per_1000_ft2", "also_supplies", "household")
PER_1000 = "lb/1000 ft2"
MOST_MEASURES = 200.0
"""Above so many pints nobody measures by the pint: it is weighed."""


def product_amount(given: Given) -> Answer:
    """The product for an area: by the grade on the bag or a material of the library."""
    nutrient, rate = needed(given)
    product = product_of(given)
    share = product.analysis.get(nutrient)
    held = _always_a_person(nutrient, product)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    if share is None:
        raise WrongInput("nutrient", "not_supplied", f"one of {', '.join(product.analysis) or 'nothing'}")
    spread = rate * 100 / share
    supplied = {name: spread * part / 100 for name, part in product.analysis.items()}
    held = _over_cap(given, product, spread, supplied)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    tell_single_dose(given, nutrient, rate)
    shown = given.rate(spread)
    inputs = {"nutrient": given.rate(rate), "grade": share}
    given.step("product_amount", "product_amount", inputs, shown.value, shown.unit)
    return given_answer(given, _result(given, product, spread, {k: v for k, v in supplied.items() if k != nutrient}))


def _always_a_person(nutrient: str, product: Product) -> Reason | None:
    """Any amount of boron, also as a companion of something else, and any acid."""
    if nutrient == "B" or "B" in product.analysis:
        return Reason("boron_amount", "hold", "B", {}, Note("ask.boron"))
    if product.row is not None and product.row.material in ACIDS:
        return Reason("acid", "hold", None, {}, Note("ask.acid"))
    return None


def _over_cap(given: Given, product: Product, spread: float, supplied: dict[str, float]) -> Reason | None:
    """A hard cap that the nutrient, anything that comes with it, or the product itself would break."""
    doses = dict(supplied)
    if product.row is not None:
        doses[product.row.material] = spread
    for subject, g_m2 in doses.items():
        held = broken_cap(given, subject, g_m2, g_m2)
        if held is not None:
            return held
    return None


def _result(given: Given, product: Product, spread: float, others: dict[str, float]) -> dict[str, object]:
    area = given.area_m2 or 0.0
    grams = spread * area
    per_area = given.units.convert(spread, "g/m2", PER_1000)
    amount = given.total(spread)
    return {
        "amount": amount,
        "per_1000_ft2": given.in_unit(per_area, PER_1000, PER_1000),
        "also_supplies": {name: given.rate(g_m2) for name, g_m2 in others.items()},
        "household": _household(given, product, grams),
    }


def _household(given: Given, product: Product, grams: float) -> Note | None:
    """The amount in kitchen measures, by the material's bulk density and its scatter."""
    litres = household_litres(product.row, grams)
    if litres is None:
        return None
    measure: Quantity = in_measure(given, litres)
    if measure.value > MOST_MEASURES:
        return None
    scatter = given.factor("household_measure_scatter_pct")
    given.step(
        "household",
        "household_litres",
        {"density": product.row and product.row.bulk_density_kg_L},
        litres,
        "L",
        scatter,
    )
    return Note("calc.household", {"amount": measure, "scatter": scatter.value})


PRODUCT_AMOUNT = Calculation(
    "product_amount",
    "How much of a fertilizer brings a nutrient's rate on an area, and what else comes with it.",
    (
        Input(
            "nutrient",
            "word",
            "The nutrient; P and K are elemental, P2O5 and K2O as labelled.",
            words=NUTRIENTS,
            example="N",
        ),
        Input(
            "rate",
            "quantity",
            "The nutrient's rate.",
            dimension="areal_rate",
            example={"value": 1, "unit": "lb/1000 ft2"},
        ),
        Input("area", "quantity", "The ground.", dimension="area", example={"value": 5000, "unit": "ft2"}),
        Input("grade", "text", "N-P2O5-K2O as on the bag.", False),
        Input("material", "text", "A material of /v1/materials.", False, example="ammonium_sulfate"),
    ),
    product_amount,
    formulas=("product_amount",),
)
