"""Amounts as they leave: rounded to stable figures, and checked in exact arithmetic that no cap is exceeded."""

from collections.abc import Iterable, Mapping
from decimal import ROUND_DOWN, Context, Decimal
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from service.agronomy.materials.problem import Chosen, Offer, Plan, Problem
from service.blending.model import GRAMS, bag_of
from service.blending.search import Amounts

DIGITS = 8
"""Significant digits of an amount; what a solver leaves behind them is noise."""
MET = 1e-6
"""A need that is missed by no more than this share is met."""
EVEN = 1e-7
"""Bags that hold an amount but for this share of one hold it: what a solver leaves needs no bag more."""
SUM_DIGITS = 7
"""Significant digits of a sum of amounts."""
_NEAREST = Context(prec=DIGITS)
_SUM = Context(prec=SUM_DIGITS)
_DOWN = Context(prec=DIGITS + 2, rounding=ROUND_DOWN)


class Figures(NamedTuple):
    """Of one material, g per basis: what is spread, and what of that is bought."""

    amount: float
    bought: float


def figures(problem: Problem, amounts: Mapping[str, Amounts]) -> dict[str, Figures]:
    """Rounded amounts; those that would pass a cap by their rounding are cut back to it."""
    offers = {offer.material: offer for offer in problem.offers}
    found = {name: _rounded(each) for name, each in amounts.items()}
    for offer in problem.offers:
        if offer.most is not None and offer.material in found:
            _cut(found, [(offer.material, 1.0)], offer.most)
    for need in problem.needs:
        if need.cap is not None:
            _cut(found, list(_bringing(need.nutrient, found, offers)), need.cap)
    return {name: each for name, each in found.items() if each.amount > 0}


def plan_of(problem: Problem, found: Mapping[str, Figures], binding: tuple[str, ...]) -> Plan:
    """The plan with its sums."""
    supplied = dict(_supplied(problem, found))
    short = tuple((nutrient, lack) for nutrient, lack in shortages(problem, supplied).items())
    bags = bags_of(problem, found)
    chosen = tuple(Chosen(name, found[name].amount, bags.get(name)) for name in sorted(found))
    cost, salt = _cost(problem, found, bags), _salt(problem, found)
    return Plan("short" if short else "met", chosen, tuple(supplied.items()), short, binding, cost, salt)


def shortages(problem: Problem, supplied: Mapping[str, float]) -> dict[str, float]:
    """Need less supplied, g per basis, where more than a rounding is missing."""
    lacks = {need.nutrient: (need.amount, need.amount - supplied.get(need.nutrient, 0.0)) for need in problem.needs}
    return {name: nearest(lack) for name, (amount, lack) in lacks.items() if lack > MET * amount}


def nearest(x: float, digits: Context = _SUM) -> float:
    """A sum to its significant digits; an amount to its own."""
    return float(digits.create_decimal_from_float(x))


def bags_of(problem: Problem, found: Mapping[str, Figures]) -> dict[str, int]:
    """How many bags hold what is bought of each material that comes in whole bags."""
    sizes = {offer.material: bag_of(offer, problem) for offer in problem.offers}
    return {name: ceil(each.bought / bag - EVEN) for name, each in found.items() if (bag := sizes[name]) is not None}


def _rounded(each: Amounts) -> Figures:
    bought = nearest(each.bought, _NEAREST)
    return Figures(bought + nearest(each.at_hand, _NEAREST), bought)


def _bringing(nutrient: str, found: Mapping[str, Figures], offers: Mapping[str, Offer]) -> Iterable[tuple[str, float]]:
    """Materials of a plan that bring a nutrient, and how much of it is in a gram."""
    return ((name, share) for name in found for brought, share in offers[name].analysis if brought == nutrient)


def _sum(shares: Iterable[tuple[str, float]], found: Mapping[str, Figures]) -> Fraction:
    return sum((Fraction(share) * Fraction(found[name].amount) for name, share in shares), Fraction(0))


def _cut(found: dict[str, Figures], shares: list[tuple[str, float]], cap: float) -> None:
    """Cut amounts back to a cap that they pass together."""
    whole = _sum(shares, found)
    if whole <= Fraction(cap):
        return
    for name, _ in shares:
        amount = _down(Fraction(found[name].amount) * Fraction(cap) / whole)
        found[name] = Figures(amount, min(found[name].bought, amount))


def _down(x: Fraction) -> float:
    exact = _DOWN.divide(Decimal(x.numerator), Decimal(x.denominator))
    return float(_DOWN.next_minus(exact)) if exact > 0 else 0.0


def _supplied(problem: Problem, found: Mapping[str, Figures]) -> Iterable[tuple[str, float]]:
    """Sums of every nutrient brought; a rounding never shows more than a cap."""
    offers = {offer.material: offer for offer in problem.offers}
    caps = {need.nutrient: need.cap for need in problem.needs}
    for nutrient in sorted({nutrient for name in found for nutrient, _ in offers[name].analysis}):
        brought = nearest(float(_sum(_bringing(nutrient, found, offers), found)))
        cap = caps.get(nutrient)
        yield nutrient, brought if cap is None else min(brought, cap)


def _cost(problem: Problem, found: Mapping[str, Figures], bags: Mapping[str, int]) -> float | None:
    """What is bought, by the bag where in whole bags; None where something of it has no price, or nothing has one."""
    offers = {offer.material: offer for offer in problem.offers}
    total, known = 0.0, any(offer.price_per_kg is not None for offer in problem.offers)
    for name, each in found.items():
        price, bag = offers[name].price_per_kg, bag_of(offers[name], problem)
        known = known and (price is not None or each.bought <= 0)
        bought = each.bought if bag is None else bags[name] * bag
        total += bought / GRAMS * (price or 0.0)
    return nearest(total) if known else None


def _salt(problem: Problem, found: Mapping[str, Figures]) -> float | None:
    """Amounts by salt index; None where one is not known."""
    index = {offer.material: offer.salt_index for offer in problem.offers}
    total = 0.0
    for name, each in found.items():
        known = index[name]
        if known is None:
            return None
        total += each.amount * known / 100
    return nearest(total)
