"""``product_amount``: how much of a product brings a nutrient's rate, what comes with it, what may not go out."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer, withheld_answer
from service.agronomy.calculations.given import Given, WrongInput, below
from service.agronomy.calculations.grades import NUTRIENTS, OXIDE, Product, as_labelled, product_of
from service.agronomy.calculations.ground import Ground, ground_of, mass_shown, measured, rate_shown
from service.agronomy.calculations.limits import broken_cap, broken_material_cap, tell_single_dose
from service.agronomy.calculations.rate_slips import tell_slip
from service.agronomy.cap_reach import caps_anywhere, caps_of_materials
from service.agronomy.caps import AREAL, PER_TREE, Cap, Caps
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.materials.grade import written
from service.agronomy.materials.measures import bags, volume_litres
from service.agronomy.materials.stock import is_acid
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled, significant

RESULT = (
    *("amount", "per_1000_ft2", "also_supplies", "household"),
    *("grade", "treated", "per_application", "bags", "against_need"),
)
PER_1000 = "lb/1000 ft2"
SULFUR = "S"


class Planned(NamedTuple):
    """A product on its ground: what is spread of it and supplied by it, g/m2 or g for one tree."""

    product: Product
    ground: Ground
    nutrient: str
    rate: float
    spread: float
    doses: int

    @property
    def grams(self) -> float:
        """In all."""
        return self.spread * self.ground.size

    @property
    def supplied(self) -> Mapping[str, float]:
        """Every nutrient of the product."""
        return {name: self.spread * part / 100 for name, part in self.product.analysis.items()}


def product_amount(given: Given) -> Answer:
    """The product for an area, beds or trees: by the grade on the bag or a material of the library."""
    given.above_zero("rate", "per_tree", "per_trunk_inch", "area", "bag")
    ground = ground_of(given)
    nutrient, rate = as_labelled(given, given["nutrient"], ground.rate)
    product = product_of(given)
    share = product.analysis.get(nutrient)
    held = _always_a_person(nutrient, product)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    if share is None:
        raise WrongInput("nutrient", "not_supplied", f"one of {', '.join(product.analysis) or 'nothing'}")
    planned = Planned(product, ground, nutrient, rate, rate * 100 / share, given.get("applications") or 1)
    held = _over_cap(given, planned)
    if held is not None:
        _tell_slip(given, planned, held, share)
        return withheld_answer(given, RESULT, held)
    if not ground.by_tree:
        tell_single_dose(given, nutrient, rate / planned.doses)
    shown = rate_shown(given, ground, planned.spread)
    inputs = {"nutrient": rate_shown(given, ground, rate), "grade": share}
    given.step("product_amount", "product_amount", inputs, shown.value, shown.unit)
    return given_answer(given, _result(given, planned))


def _always_a_person(nutrient: str, product: Product) -> Reason | None:
    """Any amount of boron, also as a companion of something else, and any acid."""
    if nutrient == "B" or "B" in product.analysis:
        return Reason("boron_amount", "hold", "B", {}, Note("ask.boron"))
    if product.row is not None and is_acid(product.row.properties):
        return Reason("acid", "hold", None, {}, Note("ask.acid"))
    return None


def _over_cap(given: Given, planned: Planned) -> Reason | None:
    """A hard cap that the nutrient, anything that comes with it, or the product itself would break.

    The sulfur of a material with a cap of its own is not sulfur as such: gypsum keeps the cap of gypsum.
    """
    row = planned.product.row
    own = row is not None and given.library.index(caps_of_materials).get(row.material)
    for subject, base in {planned.nutrient: planned.rate, **planned.supplied}.items():
        if own and subject == SULFUR:
            continue
        held = _broken(given, planned, subject, base)
        if held is not None:
            return held
    if row is None or planned.ground.by_tree:
        return None
    return broken_material_cap(given, row.material, planned.spread, planned.spread / planned.doses)


def _broken(given: Given, planned: Planned, subject: str, base: float) -> Reason | None:
    """The cap on an area, or on one tree: of a tree also where the rate is for the ground under it.

    What is capped by area and not by tree is not dosed by the tree, nor is a nutrient asked for that has no cap.
    """
    ground = planned.ground
    caps = [cap for cap in given.library.index(Caps.of).by_subject.get(subject, ()) if cap.dimension == PER_TREE]
    if not ground.by_tree:
        held = broken_cap(given, subject, base, base / planned.doses)
        if held is not None or ground.each is None:
            return held
        base *= ground.each
    elif not caps and (subject == planned.nutrient or given.library.index(caps_anywhere).get(subject)):
        values = {"subject": Word("subject", subject)}
        return Reason("no_cap_per_tree", "withhold", subject, values, Note("ask.no_cap_per_tree", values))
    broken = next((cap for cap in caps if scaled(base) > scaled(cap.base)), None)
    return None if broken is None else _of_tree(given, subject, broken, base)


def _of_tree(given: Given, subject: str, cap: Cap, grams: float) -> Reason:
    values = {
        "subject": Word("subject", subject),
        "cap": cap.printed,
        "per": Word("per", cap.row.per),
        "dose": Quantity(significant(given.units.convert(grams, "g/tree", cap.printed.unit)), cap.printed.unit),
    }
    ask = Note("ask.dose_over_cap", {"subject": Word("subject", subject)})
    return Reason("dose_over_cap_each", "hold", subject, values, ask)


def _tell_slip(given: Given, planned: Planned, held: Reason, share: float) -> None:
    """The product taken for the nutrient, where the rate asked for is itself what breaks the cap of an area."""
    cap = held.values.get("cap")
    if cap is not None and held.analyte == planned.nutrient and given.units.dimension(cap.unit) == AREAL:
        tell_slip(given, planned.nutrient, planned.rate, share, given.units.areal(cap))


def _result(given: Given, planned: Planned) -> dict[str, object]:
    ground, row = planned.ground, planned.product.row
    others = {name: base for name, base in planned.supplied.items() if name != planned.nutrient}
    return {
        "amount": mass_shown(given, planned.grams),
        "per_1000_ft2": None if ground.by_tree else given.in_unit(planned.spread, "g/m2", PER_1000),
        "also_supplies": {name: rate_shown(given, ground, base) for name, base in others.items()},
        "household": _household(given, planned),
        "grade": written(planned.product.analysis) or None,
        "treated": _treated(given, ground),
        "per_application": {
            "doses": planned.doses,
            "amount": mass_shown(given, planned.grams / planned.doses),
            "rate": rate_shown(given, ground, planned.spread / planned.doses),
            "household": measured(given, row, planned.grams / planned.doses),
        },
        "bags": _bags(given, planned) if "bag" in given else None,
        "against_need": _against_need(given, planned),
    }


def _treated(given: Given, ground: Ground) -> Quantity | None:
    """The surface; None where trees are dosed one by one."""
    if ground.by_tree:
        return None
    return given.in_unit(ground.size, "m2", given["area"].unit if "area" in given else _square(given))


def _square(given: Given) -> str:
    return "m2" if given.system == "metric" else "ft2"


def _household(given: Given, planned: Planned) -> Note | None:
    """The amount in kitchen measures, by the material's bulk density and its scatter."""
    row = planned.product.row
    found, litres = measured(given, row, planned.grams), volume_litres(row, planned.grams)
    if found is not None and row is not None and litres is not None:
        given.step("household", "household", {"density": row.bulk_density_kg_L}, litres, "L", row)
    return found


def _bags(given: Given, planned: Planned) -> dict[str, object]:
    """Whole bags for all of it, what is left over, what one bag covers and holds."""
    size = given["bag"]
    kilos = given.units.convert(size.value, size.unit, "kg")
    count, left = bags(planned.grams, kilos)
    covers = None
    if not planned.ground.by_tree:
        covers = given.in_unit(kilos * 1000 / planned.spread, "m2", _square(given))
    holds = {name: mass_shown(given, kilos * 10 * part) for name, part in planned.product.analysis.items()}
    given.step("bags", "bags", {"amount": mass_shown(given, planned.grams), "bag": size}, float(count), "1")
    return {"count": count, "size": size, "left_over": mass_shown(given, left), "covers": covers, "holds": holds}


def _against_need(given: Given, planned: Planned) -> dict[str, object] | None:
    """Each need beside what the product brings: what is still short, what is too much. A need left out is not zero."""
    if "needs" not in given:
        return None
    return dict(_compared(given, planned, name, need) for name, need in given["needs"].items())


def _compared(given: Given, planned: Planned, name: str, quantity: Quantity) -> tuple[str, dict[str, Quantity]]:
    nutrient, need = _need(given, planned.ground, name, quantity)
    brought = planned.rate if nutrient == planned.nutrient else planned.supplied.get(nutrient, 0.0)
    figures = {
        "need": need,
        "supplied": brought,
        "short": max(need - brought, 0.0),
        "over": max(brought - need, 0.0),
    }
    shown = {word: rate_shown(given, planned.ground, base) for word, base in figures.items()}
    if scaled(brought) > scaled(need):
        code = "calc.over_need" if need else "calc.not_needed"
        given.warn(code, subject=Word("subject", nutrient), need=shown["need"], supplied=shown["supplied"])
    return nutrient, shown


def _need(given: Given, ground: Ground, name: str, quantity: Quantity) -> tuple[str, float]:
    """One need as labelled, in the working unit. Raises WrongInput."""
    if name not in NUTRIENTS:
        raise WrongInput(below("needs", name), "unknown_nutrient", f"one of {', '.join(NUTRIENTS)}", NUTRIENTS)
    unit = below(below("needs", name), "unit")
    if not given.units.known(quantity.unit) or given.units.dimension(quantity.unit) != ground.dimension:
        raise WrongInput(unit, "unit_does_not_fit", "a rate like the one asked for")
    if quantity.value < 0:
        raise WrongInput(below(below("needs", name), "value"), "out_of_range", "0 <= x")
    working = "g/tree" if ground.by_tree else "g/m2"
    rate = given.units.convert(quantity.value, quantity.unit, working)
    oxide = OXIDE.get(name)
    return (name, rate) if oxide is None else (oxide, rate * given.units.form_factor(name, oxide))


PRODUCT_AMOUNT = Calculation(
    "product_amount",
    "How much of a fertilizer brings a nutrient's rate on an area, beds or trees, and what else comes with it.",
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
            "The nutrient's rate for the whole season, or for what is given now. Or else per_tree or per_trunk_inch.",
            False,
            dimension="areal_rate",
            example={"value": 1, "unit": "lb/1000 ft2"},
        ),
        Input("area", "quantity", "The ground.", False, dimension="area", example={"value": 5000, "unit": "ft2"}),
        Input("length", "quantity", "Length of a bed, instead of an area.", False, dimension="length"),
        Input("width", "quantity", "Width of the bed.", False, dimension="length"),
        Input(
            "canopy_diameter", "quantity", "Spread of a tree's canopy: the ground under it.", False, dimension="length"
        ),
        Input("count", "integer", "How many beds, areas or trees of this kind; 1.", False, minimum=1, maximum=100000),
        Input("per_tree", "quantity", "The nutrient's rate for one tree.", False, dimension=PER_TREE),
        Input(
            "per_trunk_inch",
            "quantity",
            "The nutrient's rate for one tree and each inch of its trunk.",
            False,
            dimension=PER_TREE,
        ),
        Input("trunk_diameter", "quantity", "Thickness of the trunk.", False, dimension="length"),
        Input("grade", "text", "N-P2O5-K2O as on the bag.", False),
        Input("material", "text", "A material of /v1/materials.", False, example="ammonium_sulfate"),
        Input("applications", "integer", "In how many equal doses; 1.", False, minimum=1, maximum=52),
        Input("bag", "quantity", "What one bag holds.", False, dimension="mass", example={"value": 50, "unit": "lb"}),
        Input("needs", "quantities", "What the ground needs of other nutrients, by nutrient: a rate each.", False),
    ),
    product_amount,
    formulas=("product_amount",),
)
