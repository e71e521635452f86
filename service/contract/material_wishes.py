"""How a client wants materials chosen: objective, what may be used, what is at hand, products by their labels."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import Any, NoReturn

import marshmallow as ma

from service.agronomy import submission as made_of
from service.agronomy.materials.grade import GradeError, grade_of, possible_grade
from service.agronomy.materials.stock import grams_of
from service.agronomy.submission import Quantity
from service.contract.fields import (
    Choice,
    Flag,
    Flaw,
    Items,
    Number,
    Part,
    Strict,
    Text,
    Whole,
    fault,
    shown,
    vocabulary,
)
from service.contract.shape import QuantityOf, Shape, check_dimension, refuse

OBJECTIVES = ("few_products", "cost", "salt", "excess")
MOST_LISTED = 60
MOST_PRODUCTS = 30
MOST_BAGGED = 12
"""More kinds of bags make more choices than can be compared while a client waits."""
LONGEST_ID = 60
LONGEST_NAME = 40
NAME_SIGNS = frozenset("-_ ,.")
LEAST_G, MOST_G = 1.0, 1e12
"""Outside these a weight is a slip: of what can be weighed at home, and of what lies in any store. The shape of a
request, not agronomy."""


class Material(Strict, ma.fields.String):
    """The id of a material of the table."""

    right = "the id of a material (see /v1/materials)"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not the id of a material", self.right)
        known = vocabulary()
        if value not in known.materials:
            raise unknown_material(value)
        return value


def unknown_material(value: str) -> Any:
    """The refusal of a material nobody knows."""
    near = vocabulary().closest("material", value)
    hint = f"; perhaps {', '.join(near)}" if near else ""
    return fault("unknown_material", f"{shown(value)} is not a known material{hint}", Material.right, near=near)


class Grade(Text):
    """N-P2O5-K2O of a label, with sulfur where it has some: 21-0-0-24S."""

    right = "N-P2O5-K2O such as 21-0-0, or 21-0-0-24S"

    def read(self, value: Any) -> Any:
        """The grade, if there can be one."""
        text = super().read(value)
        try:
            analysis = possible_grade(text)
        except GradeError as problem:
            raise fault(problem.code, f"{shown(text)} is no grade of a fertilizer", problem.expected) from None
        if not analysis:
            raise fault("grade_empty", f"{shown(text)} holds nothing", self.right)
        return text


class Held(QuantityOf):
    """What a bag or a heap holds: a mass, or a volume of a material whose density is known."""

    def __init__(self, **more: Any) -> None:
        said = "A quantity of mass, or of volume where the material is named and its density is known."
        super().__init__("", metadata={"description": said}, **more)

    def _fitting(self, quantity: Quantity) -> Quantity:
        found = super()._fitting(quantity)
        known = vocabulary()
        dimension = known.units.dimension(found.unit) if known.units.known(found.unit) else ""
        if dimension not in ("mass", "volume"):
            check_dimension(found.unit, "mass")
        return found


class AtHandSchema(Shape):
    """What the client has already."""

    makes = made_of.AtHand
    amount = Held(required=True, allow_none=False)
    material = Material(allow_none=True)
    grade = Grade(allow_none=True, longest=LONGEST_ID)

    def check(self, made: made_of.AtHand) -> None:
        """One way of saying what it is; a volume only of what has a known density."""
        one_way(made.material, made.grade)
        weighable("amount", made.amount, made.material)


class ProductId(Text):
    """What a client calls a product: a name that prints anywhere and is no material's."""

    right = f"1 to {LONGEST_NAME} letters, digits, hyphens, underscores, spaces, commas or points"

    def read(self, value: Any) -> Any:
        """The name, if it stands for nothing else."""
        text = super().read(value)
        if text != text.strip() or not all(sign.isalnum() or sign in NAME_SIGNS for sign in text):
            raise fault("not_a_name", f"{shown(text)} is no name of a product", ProductId.right)
        if text in vocabulary().materials:
            wrong = f"{shown(text)} is the id of a material of the table"
            raise fault("name_taken", wrong, "a name of your own; say what it is in material")
        return text


class OwnProductSchema(Shape):
    """A product the client can buy, from its label; the price is for one bag."""

    makes = made_of.OwnProduct
    id = ProductId(required=True, longest=LONGEST_NAME)
    grade = Grade(allow_none=True, longest=LONGEST_ID)
    material = Material(allow_none=True)
    bag = Held()
    price = Number(low=0.0, high=1e9, allow_none=True)
    slow_release_pct = Number(
        low=0.0,
        high=100.0,
        allow_none=True,
        metadata={"description": "Share of the product's nitrogen that is released slowly."},
    )
    chloride = Flag(allow_none=True)

    def check(self, made: made_of.OwnProduct) -> None:
        """One way of saying what it is, and no other grade for a name; a price needs the bag it is for."""
        one_way(made.material, made.grade)
        if made.id != made.grade and _is_grade(made.id):
            wrong = f"{shown(made.id)} is a grade, and not that of this product"
            refuse("id", "name_is_grade", wrong, "a name of your own, or the product's own grade")
        if made.bag is not None:
            weighable("bag", made.bag, made.material)
        if made.price is not None and made.bag is None:
            refuse("bag", "missing", "a price is for one bag, and no bag is given", "what one bag holds")


def _is_grade(name: str) -> bool:
    with suppress(GradeError):
        return bool(grade_of(name))
    return False


def weighable(name: str, amount: Quantity, material: str | None) -> None:
    """Refuse a volume of what nobody knows the density of, and a mass that no bag or heap has."""
    known = vocabulary()
    row = known.materials.get(material or "")
    if known.units.dimension(amount.unit) == "volume" and (row is None or row.bulk_density_kg_L is None):
        units = known.units_of("mass")
        wrong = "a volume can only be weighed where the density is known: name the material, or give the weight"
        refuse(name, "volume_without_density", wrong, f"one of {', '.join(units)}", units)
    grams = grams_of(known.units, amount, row)
    if grams is None or not LEAST_G <= grams <= MOST_G:
        refuse(name, "out_of_range", "nothing of such a weight is sold or kept", "1 g to 1,000,000 metric tons")


def one_way(material: str | None, grade: str | None) -> None:
    """Refuse both and neither."""
    if (material is None) == (grade is None):
        refuse("grade", "one_way", "a product is told by its grade or by its material", "either grade or material")


class MaterialWishesSchema(Shape):
    """How materials are chosen. Rules on what may be used on this ground are never lifted by it."""

    makes = made_of.MaterialWishes
    objective = Choice("objective", OBJECTIVES, allow_none=True)
    only = Items(Text(longest=LONGEST_ID), most=MOST_LISTED, unique=True, allow_none=True)  # type: ignore[assignment]
    whole_bags = Flag(allow_none=True)
    most_products = Whole(low=1, high=20, allow_none=True)
    at_hand = Items(Part(AtHandSchema), most=MOST_LISTED, allow_none=True)
    products = Items(Part(OwnProductSchema), most=MOST_PRODUCTS, allow_none=True)

    def check(self, made: made_of.MaterialWishes) -> None:
        """Ids that stand once and are known, and prices where cost is to decide."""
        ids = [product.id for product in made.products]
        for place, name in enumerate(ids):
            if name in ids[:place]:
                _refuse_item("products", place, "id", "repeated_item", f"{shown(name)} stands twice", "each id once")
        _check_only(made.only, ids)
        if made.whole_bags and sum(product.bag is not None for product in made.products) > MOST_BAGGED:
            right = f"at most {MOST_BAGGED} products with a bag, or whole_bags false"
            refuse("products", "too_many_bags", f"whole bags are compared for {MOST_BAGGED} products at most", right)
        if made.objective == "cost":
            _check_prices(made.products)


def _check_only(only: Iterable[str], ids: Sequence[str]) -> None:
    known = vocabulary().materials
    for place, name in enumerate(only):
        if name not in known and name not in ids:
            raise ma.ValidationError({"only": {place: unknown_material(name).messages}})


def _check_prices(products: Sequence[made_of.OwnProduct]) -> None:
    if not products:
        refuse("products", "missing", "the least cost needs products with prices", "products, each with bag and price")
    for place, product in enumerate(products):
        if product.price is None:
            _refuse_item("products", place, "price", "missing", "the least cost needs its price", "what one bag costs")


def _refuse_item(name: str, place: int, field: str, code: str, message: str, right: str) -> NoReturn:
    raise ma.ValidationError({name: {place: {field: [Flaw(code, message, right)]}}})
