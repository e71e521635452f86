"""Gypsum, sulfur, lime, manure and compost weighed out for this ground, in doses and bags, with what must follow.

An amendment is no choice of a solver: what is to be spread is what was recommended, as pure stuff; here it becomes
the material of the shop, by its purity.
"""

from collections.abc import Iterable, Mapping
from math import ceil
from typing import NamedTuple

from service.agronomy.findings import Bags, MaterialDose, MaterialUse, Note, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.materials import weights
from service.agronomy.materials.amendment_steps import steps_for
from service.agronomy.materials.grade import written
from service.agronomy.materials.organic_route import (
    COMPOST,
    G_PER_M3_PER_KG_L,
    MANURE,
    SOLD_AS,
    USUAL,
    analysis_of,
    prepare_materials,
)
from service.agronomy.materials.stock import grams_of, table_of
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import MaterialRow, Row
from service.agronomy.units import METRES_PER_INCH, Units, scaled

SOLD: Mapping[str, str] = {"gypsum": "gypsum", "sulfur": "elemental_sulfur", "lime": "calcitic_lime"}
"""Subject of a recommendation -> the material of the table that is meant."""
PURITY: Mapping[str, str] = {
    "gypsum": "gypsum_purity_default_pct",
    "sulfur": "sulfur_purity_default_pct",
    "lime": "ecce_default_pct",
}
"""The factor with the purity of the usual grade: rates are for pure gypsum, pure sulfur, lime of full effect."""
BROUGHT = ("N", "P2O5", "K2O", "S", "Ca", "Mg")
AMENDMENT = "amendment"


class Spread(NamedTuple):
    """One amendment as it is bought: its row, its rate in g/m2, and what it brings as mass fractions."""

    case: Case
    item: Recommendation
    row: MaterialRow
    rate: float
    brings: tuple[tuple[str, float], ...]
    rows: tuple[Row, ...]


def amendment_uses(case: Case, recommendations: Iterable[Recommendation]) -> tuple[MaterialUse, ...]:
    """Every recommended amendment as a material for this ground, in the order of the recommendations.

    Only what is to be spread (kind ``amendment`` with a rate); a chelate has no amount but its label's.
    """
    found = []
    for item in recommendations:
        if item.kind == AMENDMENT and item.rate is not None:
            spread = spread_of(case, item)
            if spread is not None:
                found.append(_use(spread))
    return tuple(found)


def spread_of(case: Case, item: Recommendation) -> Spread | None:
    """A recommended amendment as it is bought; ``None`` for one without an amount or a row."""
    if item.subject in SOLD and item.base_rate is not None:
        return _mineral(case, item, item.base_rate)
    return _organic(case, item) if item.subject in (MANURE, COMPOST) else None


def _mineral(case: Case, item: Recommendation, pure: float) -> Spread | None:
    """Rate over purity. Equation: bought = pure / (purity / 100); factors ``*_purity_default_pct``, ``ecce``."""
    row = case.library.index(prepare_materials).get(SOLD[item.subject])
    if row is None:
        return None
    purity = reference_of(case.library).factor(PURITY[item.subject])
    brings = tuple((name, share / 100) for name in BROUGHT if (share := getattr(row, f"{name}_pct")))
    return Spread(case, item, row, pure / (purity.value / 100), brings, (purity, row))


def _organic(case: Case, item: Recommendation) -> Spread | None:
    named = item.text.values.get("material")
    material = named.word if isinstance(named, Word) else USUAL[item.subject]
    row = case.library.index(prepare_materials).get(SOLD_AS.get(material, material))
    if row is None:
        return None
    analysis = analysis_of(case.library, material)
    rate = item.base_rate
    if rate is None and item.rate is not None:
        rate = _mass_of_layer(case, item.rate, analysis.density)
    if rate is None:
        return None
    shares = (("N", analysis.N_first), ("P2O5", analysis.P2O5), ("K2O", analysis.K2O))
    brings = tuple((name, share) for name, share in shares if share)
    return Spread(case, item, row, rate, brings, analysis.rows)


def _mass_of_layer(case: Case, depth: Quantity, density: float | None) -> float | None:
    """A layer as a mass, g/m2; ``None`` without a density. Equation: depth x density."""
    if density is None:
        return None
    return case.library.index(Units.of).inches(depth) * METRES_PER_INCH * density * G_PER_M3_PER_KG_L


def _use(spread: Spread) -> MaterialUse:
    case, item = spread.case, spread.item
    ledger = Ledger(case.explain)
    ledger.use(*spread.rows)
    shown = weights.rate(case, spread.rate)
    if item.base_rate is not None:
        inputs = {"rate": case.units.rate(item.base_rate)}
        ledger.step("amendment_bought", "amendment_uses", inputs, shown.value, shown.unit, *spread.rows)
    steps = steps_for(case, item, ledger)
    cited = ledger.cited()
    return MaterialUse(
        item.subject,
        spread.row.material,
        Word("product", spread.row.material),
        written({name: getattr(spread.row, f"{name}_pct") or 0.0 for name in BROUGHT}),
        item.for_area if _by_depth(item) and item.for_area else _whole(spread, shown),
        shown,
        Note(f"why.{item.subject}"),
        (item.subject,),
        _doses(spread),
        also_supplies=tuple((name, weights.rate(case, spread.rate * share)) for name, share in spread.brings),
        bags=_bags(spread),
        how=steps,
        because=tuple(ledger.steps),
        sources=tuple(dict.fromkeys((*item.sources, *cited.sources))),
        verification=cited.verification or item.verification,
        base_rate=spread.rate,
    )


def _by_depth(item: Recommendation) -> bool:
    """A layer is told by its depth and its volume, not by weight."""
    return item.base_rate is None


def _whole(spread: Spread, shown: Quantity) -> Quantity:
    """All doses for the ground, as their sum; per area where nobody gave one."""
    grams = _grams_per_dose(spread)
    return shown if grams is None else weights.weigh(spread.case, grams).whole


def _grams_per_dose(spread: Spread) -> list[float] | None:
    area, count = spread.case.area_m2, _count(spread.item)
    return None if area is None else [spread.rate * area / count] * count


def _count(item: Recommendation) -> int:
    """How many doses: one line may stand for several equal ones."""
    if len(item.applications) != 1:
        return max(len(item.applications), 1)
    return int(item.applications[0].when.values.get("count", 1))


def _doses(spread: Spread) -> tuple[MaterialDose, ...]:
    """Each dose by itself: the first as recommended, each further one after what must come between."""
    item = spread.item
    if not item.applications:
        return ()
    count, grams = _count(item), _grams_per_dose(spread)
    amounts = [None] * count if grams is None else weights.weigh(spread.case, grams).doses
    return tuple(_dose(spread, number, count, amount) for number, amount in enumerate(amounts, 1))


def _dose(spread: Spread, number: int, count: int, amount: Quantity | None) -> MaterialDose:
    case, first, rate = spread.case, spread.item.applications[0], spread.rate / count
    when = first.when
    if count > 1:
        when = Note(f"when.{spread.item.subject}_dose", {**first.when.values, "number": number, "count": count})
    measured = None
    if amount is not None and case.area_m2 is not None:
        stock = case.library.index(table_of)[spread.row.material]
        measured = weights.household(case, stock, rate * case.area_m2)
    return MaterialDose(when, amount, weights.rate(case, rate), measured, first.from_date, first.to_date)


def _bags(spread: Spread) -> Bags | None:
    """Bags to buy beyond what is at hand, when the client gave an area and the size of a bag by mass or volume."""
    case, wishes = spread.case, spread.case.submission.options.materials
    if wishes is None or case.area_m2 is None:
        return None
    names = (spread.row.material, spread.item.subject)
    bag = next((each.bag for each in wishes.products if each.material in names and each.bag is not None), None)
    if bag is None:
        return None
    units, grams = case.library.index(Units.of), spread.rate * case.area_m2
    size = grams_of(units, bag, spread.row)
    held = [grams_of(units, each.amount, spread.row) for each in wishes.at_hand if each.material in names]
    if size is None:
        return None
    wanted = max(0.0, grams - sum(each or 0.0 for each in held))
    count = ceil(scaled(wanted / size) / scaled(1))
    return Bags(count, bag, _like(case, count * size - wanted, bag, spread.row))


def _like(case: Case, grams: float, bag: Quantity, row: MaterialRow) -> Quantity:
    """What is left over, by weight; of bags by volume as a volume."""
    units = case.library.index(Units.of)
    if units.dimension(bag.unit) == "mass" or row.bulk_density_kg_L is None:
        return case.units.mass(grams)
    litres = grams / 1000 / row.bulk_density_kg_L
    return Quantity(round(units.convert(litres, "L", bag.unit), 2), bag.unit)
