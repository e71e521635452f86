"""Which materials may be chosen for a case, and what keeps the others out."""

from collections.abc import Iterable, Mapping
from math import inf
from typing import Any, NamedTuple

from service.agronomy.materials.facts import Facts
from service.agronomy.materials.needs import NUTRIENTS
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
from service.agronomy.setting import MOST_KEPT
from service.agronomy.submission import MaterialWishes
from service.agronomy.tables import Library, MaterialRuleRow

SPREAD, DISSOLVE, BULK = "spread", "dissolve", "bulk"
SMALL = frozenset(("micronutrient",))
"""Categories so strong that a can of solution spreads them; the others are spread dry except in pots."""
ON_REQUEST = frozenset(("organic",))
"""Meals feed slowly and unevenly: they are offered where only such may be used, or where the client names them."""
SALTS_OF_THEIR_OWN = frozenset(("sodium", "salty"))
"""Properties of what brings sodium or salt beside the nutrient: there is always something else to offer."""
INSOLUBLE, ORGANIC = "insoluble", "organic_only"
OTHER_ROAD = frozenset(("amendment", "liming"))
"""Categories that change the soil: their amounts are recommendations of their own, never a source of nutrients."""


class Ground(NamedTuple):
    """What decides a shelf: the case, the rules that hold for it, what there is, and what is needed."""

    facts: Facts
    rules: tuple[MaterialRuleRow, ...]
    stocks: Mapping[str, Stock]
    needed: frozenset[str]


class Shelf(NamedTuple):
    """What may be chosen, and what was kept out by which rule."""

    stocks: Mapping[str, Stock]
    out: tuple[Excluded, ...]
    rules: tuple[MaterialRuleRow, ...]
    pairs: Mapping[tuple[str, str], MaterialRuleRow]
    slow: MaterialRuleRow | None
    liked: Mapping[str, MaterialRuleRow]


class Shelves:
    """The shelves met so far for clients without a list of their own. Prepared once per library."""

    __slots__ = ("_kept",)

    def __init__(self, library: Library) -> None:  # noqa: ARG002 - the shape of every index
        self._kept: dict[tuple[Any, ...], Shelf] = {}

    def usual(self, about: Ground) -> Shelf:
        """The shelf of the whole table for a ground."""
        key = (about.facts.true, about.needed, tuple([row.rule for row in about.rules]))
        found = self._kept.get(key)
        if found is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            shelf = _shelf(about, frozenset())
            found = self._kept[key] = shelf._replace(stocks=without_doubles(shelf, about.needed))
        return found


def shelf_of(
    library: Library, facts: Facts, stocks: Mapping[str, Stock], wishes: MaterialWishes, needed: frozenset[str]
) -> Shelf:
    """The materials that bring something needed and that no rule keeps out."""
    about = Ground(facts, holding(library, facts), stocks, needed)
    if not (wishes.only or wishes.products or wishes.at_hand):
        return library.index(Shelves).usual(about)
    named = frozenset(wishes.only) | {name for name, stock in stocks.items() if stock.own or stock.at_hand}
    return _shelf(about, named)


def _shelf(about: Ground, named: frozenset[str]) -> Shelf:
    facts, rules, needed = about.facts, about.rules, about.needed
    excluding = [row for row in rules if row.action == EXCLUDE]
    kept: dict[str, Stock] = {}
    out: list[Excluded] = []
    for name, stock in about.stocks.items():
        if needed.isdisjoint(stock.analysis) or _changes_soil(stock) or not (name in named or _usual(stock, facts)):
            continue
        rule = exclusion(excluding, stock, needed)
        if rule is None:
            kept[name] = stock
        else:
            out.append(Excluded(stock, rule))
    slow = slow_share(rules) if "N" in needed else None
    # What is preferred is preferred among synthetic fertilizers; slow nitrogen goes before a preferred quick one.
    preferring = frozenset() if ORGANIC in facts.true else needed - {"N"} if slow is not None else needed
    liked = preferred(rules, kept, preferring)
    kept = {name: stock for name, stock in kept.items() if name in named or not _stands_back(stock, kept, liked, rules)}
    return Shelf(kept, tuple(out), rules, apart(rules, kept), slow, liked)


def without_doubles(shelf: Shelf, needed: frozenset[str]) -> dict[str, Stock]:
    """Of materials that bring the same nutrients in the same proportions the one with the least salt.

    The others could only replace it, so no plan is lost; the solver has less to look through.
    """
    best: dict[tuple[Any, ...], tuple[float, str]] = {}
    for stock in shelf.stocks.values():
        counted = {name: share for name, share in stock.analysis.items() if name in tracked(needed)}
        whole = sum(counted.values())
        alike = tuple(sorted((name, round(share / whole, 6)) for name, share in counted.items()))
        index = stock.row.salt_index if stock.row is not None else None
        salt = (inf if index is None else index / whole, stock.id)
        key = (alike, stock.slow if shelf.slow is not None else None)
        best[key] = min(salt, best.get(key, salt))
    kept = {name for _, name in best.values()}
    return {name: stock for name, stock in shelf.stocks.items() if name in kept}


def tracked(needed: frozenset[str]) -> frozenset[str]:
    """Nutrients that count as brought: sulfur only where it is needed, since it comes with much and does no harm."""
    return frozenset(name for name in NUTRIENTS if name != "S" or name in needed)


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
        and SALTS_OF_THEIR_OWN.isdisjoint(row.properties)
        and ((row.category not in ON_REQUEST and row.release != INSOLUBLE) or ORGANIC in facts.true)
    )


def offer(stock: Stock, counted: frozenset[str], area: float, most: float | None) -> Offer:
    """One material for the solver, with only the nutrients that are needed, capped or counted as too much.

    Args:
        area: how many bases (m2, trees) what is at hand is for.
        most: g per basis that may be used of it.
    """
    analysis = tuple([(name, share / 100) for name, share in stock.analysis.items() if name in counted])
    nitrogen = stock.analysis.get("N", 0.0) / 100
    return Offer(
        stock.id,
        analysis,
        slow_N=stock.slow * nitrogen if "N" in counted else 0.0,
        salt_index=stock.row.salt_index if stock.row is not None else None,
        price_per_kg=stock.price,
        bag_kg=None if stock.bag is None else stock.bag / KILO,
        at_hand=stock.at_hand / area,
        most=most,
    )
