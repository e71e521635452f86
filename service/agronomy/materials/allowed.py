"""Which materials may be chosen for a case, and what keeps the others out."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.materials.facts import Facts
from service.agronomy.materials.problem import Offer
from service.agronomy.materials.rules import (
    EXCLUDE,
    Excluded,
    apart,
    exclusion,
    holding,
    preferred,
    slow_share,
    warned,
)
from service.agronomy.materials.stock import KILO, Stock
from service.agronomy.submission import MaterialWishes
from service.agronomy.tables import Library, MaterialRuleRow

SPREAD, DISSOLVE, BULK = "spread", "dissolve", "bulk"
SMALL = frozenset(("micronutrient",))
"""Categories so strong that a can of solution spreads them; the others are spread dry except in pots."""
ON_REQUEST = frozenset(("organic",))
"""Meals feed slowly and unevenly: they are offered where only such may be used, or where the client names them."""
OTHER_ROAD = frozenset(("amendment", "liming"))
"""Categories that change the soil: their amounts are recommendations of their own, never a source of nutrients."""


class Shelf(NamedTuple):
    """What may be chosen, and what was kept out by which rule."""

    stocks: Mapping[str, Stock]
    out: tuple[Excluded, ...]
    rules: tuple[MaterialRuleRow, ...]
    pairs: Mapping[tuple[str, str], MaterialRuleRow]
    slow: MaterialRuleRow | None
    liked: Mapping[str, MaterialRuleRow]


def shelf_of(
    library: Library, facts: Facts, stocks: Mapping[str, Stock], wishes: MaterialWishes, needed: frozenset[str]
) -> Shelf:
    """The materials that bring something needed and that no rule keeps out."""
    rules = holding(library, facts)
    excluding = [row for row in rules if row.action == EXCLUDE]
    named = frozenset(wishes.only) | {name for name, stock in stocks.items() if stock.own or stock.at_hand}
    kept: dict[str, Stock] = {}
    out: list[Excluded] = []
    for name, stock in stocks.items():
        if (
            not needed.isdisjoint(stock.analysis)
            and not _changes_soil(stock)
            and (name in named or _usual(stock, facts))
        ):
            rule = exclusion(excluding, stock, needed)
            if rule is None:
                kept[name] = stock
            else:
                out.append(Excluded(stock, rule))
    slow = slow_share(rules) if "N" in needed else None
    liked = preferred(rules, kept, needed - {"N"} if slow is not None else needed)
    kept = {name: stock for name, stock in kept.items() if name in named or not _stands_back(stock, kept, liked, rules)}
    return Shelf(kept, tuple(out), rules, apart(rules, kept), slow, liked)


def _stands_back(
    stock: Stock,
    kept: Mapping[str, Stock],
    liked: Mapping[str, MaterialRuleRow],
    rules: Iterable[MaterialRuleRow],
) -> bool:
    """Whether a material is warned of, or another of its category is preferred for a nutrient that both bring."""
    if stock.id in liked or stock.row is None:
        return False
    if warned(rules, stock):
        return True
    rivals = [(kept[name].row, rule.nutrient) for name, rule in liked.items()]
    return any(
        row is not None and row.category == stock.row.category and nutrient in stock.analysis
        for row, nutrient in rivals
    )


def _changes_soil(stock: Stock) -> bool:
    return stock.row is not None and stock.row.category in OTHER_ROAD


def _usual(stock: Stock, facts: Facts) -> bool:
    """Whether a material of the table is sold where the client buys and spread as fertilizer is."""
    row = stock.row
    if row is None:
        return True
    return (
        (row.sold == "both" or row.sold in facts.buyers)
        and (SPREAD in row.use or (DISSOLVE in row.use and (row.category in SMALL or "container" in facts.true)))
        and row.form != BULK
        and (row.category not in ON_REQUEST or "organic_only" in facts.true)
    )


def offer(stock: Stock, tracked: frozenset[str], area: float, most: float | None) -> Offer:
    """One material for the solver, with only the nutrients that are needed, capped or counted as too much.

    Args:
        area: how many bases (m2, trees) what is at hand is for.
        most: g per basis that may be used of it.
    """
    analysis = tuple([(name, share / 100) for name, share in stock.analysis.items() if name in tracked])
    nitrogen = stock.analysis.get("N", 0.0) / 100
    return Offer(
        stock.id,
        analysis,
        slow_N=stock.slow * nitrogen if "N" in tracked else 0.0,
        salt_index=stock.row.salt_index if stock.row is not None else None,
        price_per_kg=stock.price,
        bag_kg=None if stock.bag is None else stock.bag / KILO,
        at_hand=stock.at_hand / area,
        most=most,
    )
