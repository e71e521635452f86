"""What may be bought or is at hand: the materials of the table, and the client's own products by their labels."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.findings import Word
from service.agronomy.materials.grade import AMMONIUM_N_PCT, SUPPLIED, possible_grade, written
from service.agronomy.sample import Case
from service.agronomy.submission import MaterialWishes, OwnProduct, Quantity
from service.agronomy.tables import Library, MaterialRow
from service.agronomy.units import Units, scaled

KILO = 1000.0
CHLORIDE = "chloride"
QUICK_N, UREA, AMMONIUM = "quick_N", "urea", "ammonium"
ACID = "acid"
LIME_SULFUR = frozenset(("acidifier", "caustic"))
"""A caustic stuff that turns the soil sour is handled like an acid."""


def is_acid(properties: Iterable[str]) -> bool:
    """Whether an amount of a material is always for a person: any acid, and what is as dangerous to handle."""
    held = frozenset(properties)
    return ACID in held or held >= LIME_SULFUR


class Stock(NamedTuple):
    """One material or product.

    Attributes:
        analysis: nutrient -> percent by mass, those above zero.
        slow: share (0-1) of its N that is released slowly.
        row: its material; None for a product known by its grade alone.
        bag: g in one bag. price: for one kg. at_hand: g that the client has; ``only_at_hand``: no more can be bought.
    """

    id: str
    name: Word | str
    analysis: Mapping[str, float]
    slow: float
    properties: frozenset[str]
    row: MaterialRow | None
    own: bool = False
    bag: float | None = None
    price: float | None = None
    at_hand: float = 0.0
    only_at_hand: bool = False

    @property
    def grade(self) -> str:
        """As on the bag."""
        return written(self.analysis)


def table_of(library: Library) -> Mapping[str, Stock]:
    """The table ``materials`` by id, prepared once."""
    return {row.material: _of_row(row) for row in library.rows("materials", MaterialRow)}


def _of_row(row: MaterialRow) -> Stock:
    stated = {nutrient: getattr(row, f"{nutrient}_pct") for nutrient in SUPPLIED}
    analysis = {nutrient: share for nutrient, share in stated.items() if share}
    slow = (row.slow_N_pct or 0.0) / 100
    return Stock(row.material, Word("product", row.material), analysis, slow, frozenset(row.properties), row)


def stocks_of(case: Case, wishes: MaterialWishes) -> dict[str, Stock]:
    """Everything that can be had, by id: own products before the table, and what is at hand marked as such.

    A client who lists products buys from that list; the table stands in only where nothing is listed, or is named in
    ``only``.
    """
    table = case.library.index(table_of)
    units = case.library.index(Units.of)
    found = {product.id: _own(units, table, product) for product in wishes.products}
    named = [name for name in wishes.only if name in table and name not in found]
    if wishes.only:
        found = {name: found[name] for name in wishes.only if name in found}
        found.update({name: table[name] for name in named})
    elif not wishes.products:
        found = dict(table)
    for item in wishes.at_hand:
        name = item.material or item.grade or ""
        stock = found.get(name)
        if stock is None:
            stock = (table.get(name) or _by_grade(name))._replace(only_at_hand=True)
        grams = grams_of(units, item.amount, stock.row)
        found[name] = stock._replace(at_hand=stock.at_hand + (grams or 0.0))
    return found


def grams_of(units: Units, amount: Quantity, row: MaterialRow | None) -> float | None:
    """A mass, or a volume by the material's bulk density, g; ``None`` for what is neither or weighs next to nothing.

    Equation: L x kg/L x 1000.
    """
    dimension = units.dimension(amount.unit) if units.known(amount.unit) else ""
    grams = 0.0
    if dimension == "mass":
        grams = units.convert(amount.value, amount.unit, "g")
    elif dimension == "volume" and row is not None and row.bulk_density_kg_L is not None:
        grams = units.convert(amount.value, amount.unit, "L") * row.bulk_density_kg_L * KILO
    return grams if scaled(grams) > 0 else None


def _own(units: Units, table: Mapping[str, Stock], product: OwnProduct) -> Stock:
    stock = table[product.material] if product.material else _by_grade(product.grade or "")
    bag = None if product.bag is None else grams_of(units, product.bag, stock.row)
    price = None if product.price is None or bag is None else product.price * KILO / bag
    slow = stock.slow if product.slow_release_pct is None else product.slow_release_pct / 100
    properties = stock.properties
    if product.chloride is not None:
        properties = properties | {CHLORIDE} if product.chloride else properties - {CHLORIDE}
    return stock._replace(
        id=product.id, name=product.id, slow=slow, properties=properties, own=True, bag=bag, price=price
    )


def _by_grade(grade: str) -> Stock:
    """A product of which only the label is known. Potash on a label that does not say so is taken for chloride, and
    nitrogen for quick: from ammonium, and from urea where ammonium salts do not hold so much.
    """
    analysis = possible_grade(grade)
    properties = {CHLORIDE} if analysis.get("K2O") else set()
    if analysis.get("N"):
        properties |= {QUICK_N, UREA if analysis["N"] > AMMONIUM_N_PCT else AMMONIUM}
    return Stock(grade, grade, analysis, 0.0, frozenset(properties), None, own=True)
