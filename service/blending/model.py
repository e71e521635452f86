"""A problem as columns and rows without units, so that the solver's tolerances mean the same for any figures.

Every amount is a share of the most of that material that can be of use; every need and cap is 1.
"""

from collections.abc import Iterable, Mapping
from math import ceil
from typing import NamedTuple

from service.agronomy.materials.problem import Offer, Problem

BUY, BAGS, HAND, USED, SHORT, COVER = "buy", "bags", "hand", "used", "short", "cover"
ENDLESS = float("inf")
FLOODED = 1e6
"""A material that brings a need so many times over is counted as if it brought just so much: no wider span of
figures goes into one row."""
NOISE = 1e-12
MANY = 1000
"""So many bags are not counted while materials are chosen: one of them is a crumb of the need."""
GRAMS = 1000.0


class Column(NamedTuple):
    """One unknown. ``unit``: g per basis that a value of 1 stands for; 0 for what is no amount."""

    kind: str
    name: str
    upper: float
    unit: float = 0.0
    whole: bool = False


class Row(NamedTuple):
    """``low <= sum of factors times columns <= high``."""

    entries: tuple[tuple[int, float], ...]
    low: float
    high: float


class Model(NamedTuple):
    """Columns and rows; ``offers`` and ``needed`` (g per basis, above zero and with a source) by name.

    ``bought``: materials whose bags are settled; only how much of them is spread is still open.
    """

    problem: Problem
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    offers: Mapping[str, Offer]
    needed: Mapping[str, float]
    bought: frozenset[str] = frozenset()

    def of_kind(self, *kinds: str) -> Iterable[tuple[int, Column]]:
        """The columns of a kind with their places."""
        return ((place, column) for place, column in enumerate(self.columns) if column.kind in kinds)


class Settled(NamedTuple):
    """What a first search settled: the materials used, and how many whole bags of those counted so."""

    used: frozenset[str]
    bags: Mapping[str, int]


def build(problem: Problem, elastic: bool, settled: Settled | None = None) -> Model:
    """The model of a problem in order; ``elastic`` lets needs fall short; ``settled`` leaves amounts only."""
    offers = {offer.material: offer for offer in problem.offers if settled is None or offer.material in settled.used}
    brought = {nutrient for offer in offers.values() for nutrient, _ in offer.analysis}
    needed = {need.nutrient: need.amount for need in problem.needs if need.amount > 0 and need.nutrient in brought}
    columns = list(_amounts(problem, offers, needed, settled))
    if settled is None and (problem.apart or problem.most_products is not None or problem.objective == "few_products"):
        columns += [Column(USED, name, 1.0, whole=True) for name in sorted({column.name for column in columns})]
    if elastic:
        columns += [Column(SHORT, nutrient, 1.0) for nutrient in needed]
    if any(column.kind == HAND for column in columns):
        columns += [Column(COVER, nutrient, 1.0) for nutrient in needed]
    model = Model(problem, tuple(columns), (), offers, needed, frozenset(settled.bags if settled is not None else ()))
    return model._replace(rows=tuple(_rows(model)))


def most_of(offer: Offer, problem: Problem) -> float:
    """The most of a material that its own cap and the nutrients' caps allow by themselves, g per basis."""
    shares = dict(offer.analysis)
    caps = [
        need.cap / shares[need.nutrient] for need in problem.needs if need.cap is not None and need.nutrient in shares
    ]
    return min([*caps, ENDLESS if offer.most is None else offer.most])


def _useful(problem: Problem, offers: Mapping[str, Offer], needed: Mapping[str, float]) -> dict[str, float]:
    """Amounts above which more of a material meets no need; where a slow share is asked, none that it asks for."""
    useful = {
        name: min(
            max((needed[nutrient] / share for nutrient, share in offer.analysis if nutrient in needed), default=0.0),
            most_of(offer, problem),
        )
        for name, offer in offers.items()
    }
    if problem.slow_share <= 0:
        return useful
    surplus = {name: slow_surplus(offer, problem.slow_share) for name, offer in offers.items()}
    lacking = -sum(useful[name] * part for name, part in surplus.items() if part < 0)
    return {
        name: min(max(amount, lacking / surplus[name]), most_of(offers[name], problem)) if surplus[name] > 0 else amount
        for name, amount in useful.items()
    }


def slow_surplus(offer: Offer, share: float) -> float:
    """Slow N in a gram beyond the share that is asked of all its N."""
    return offer.slow_N - share * dict(offer.analysis).get("N", 0.0)


def _amounts(
    problem: Problem, offers: Mapping[str, Offer], needed: Mapping[str, float], settled: Settled | None
) -> Iterable[Column]:
    for name, useful in _useful(problem, offers, needed).items():
        if useful <= 0:
            continue
        offer = offers[name]
        if offer.at_hand > 0:
            at_hand = min(offer.at_hand, useful)
            yield Column(HAND, name, 1.0, at_hand)
        bag = bag_of(offer, problem)
        if settled is not None and bag is not None and name in settled.bags:
            yield Column(BUY, name, min(settled.bags[name] * bag / useful, 1.0), useful)
            continue
        yield Column(BUY, name, 1.0, useful)
        if bag is not None and settled is None and useful <= MANY * bag:
            yield Column(BAGS, name, float(ceil(useful / bag * (1 - NOISE))), bag, True)


def bag_of(offer: Offer, problem: Problem) -> float | None:
    """What one bag holds, g per basis; None where it is sold loose or by any weight."""
    return offer.bag_kg * GRAMS / problem.size if problem.whole_bags and offer.bag_kg is not None else None


def _rows(model: Model) -> Iterable[Row]:
    yield from _need_rows(model)
    yield from _cap_rows(model)
    yield from _bag_rows(model)
    yield from _used_rows(model)
    problem = model.problem
    used = {column.name: place for place, column in model.of_kind(USED)}
    if problem.most_products is not None and used:
        yield Row(tuple((place, 1.0) for place in used.values()), 0.0, float(problem.most_products))
    for first, second in problem.apart:
        if first in used and second in used:
            yield Row(((used[first], 1.0), (used[second], 1.0)), 0.0, 1.0)
    if problem.slow_share > 0:
        yield from _slow_row(model)


def brings(model: Model, nutrient: str, *kinds: str) -> tuple[tuple[int, float], ...]:
    """Grams of a nutrient in a value of 1 of each amount column that brings it."""
    shares = {name: dict(offer.analysis).get(nutrient, 0.0) for name, offer in model.offers.items()}
    return tuple(
        (place, shares[column.name] * column.unit)
        for place, column in model.of_kind(*(kinds or (BUY, HAND)))
        if shares[column.name] > 0
    )


def _need_rows(model: Model) -> Iterable[Row]:
    """Supplied, with what is short, is at least 1; what counts as covered from what is at hand is no more than that."""
    short = {column.name: place for place, column in model.of_kind(SHORT)}
    cover = {column.name: place for place, column in model.of_kind(COVER)}
    for nutrient, amount in model.needed.items():
        entries = tuple((place, min(grams / amount, FLOODED)) for place, grams in brings(model, nutrient))
        yield Row(entries + (((short[nutrient], 1.0),) if short else ()), 1.0, ENDLESS)
        if cover:
            hand = tuple((place, min(grams / amount, FLOODED)) for place, grams in brings(model, nutrient, HAND))
            yield Row((*hand, (cover[nutrient], -1.0)), 0.0, ENDLESS)


def _cap_rows(model: Model) -> Iterable[Row]:
    for need in model.problem.needs:
        if need.cap is not None and need.cap > 0:
            cap = need.cap
            yield Row(tuple((place, grams / cap) for place, grams in brings(model, need.nutrient)), 0.0, 1.0)
    for name, places in _places(model).items():
        most = model.offers[name].most
        if most and len(places) > 1:
            yield Row(tuple((place, model.columns[place].unit / most) for place in places), 0.0, 1.0)


def _bag_rows(model: Model) -> Iterable[Row]:
    """No more of a material is spread than its bags hold; one bag that holds more than is of use holds all of it."""
    bought = {column.name: place for place, column in model.of_kind(BUY)}
    for bags, column in model.of_kind(BAGS):
        useful = model.columns[bought[column.name]].unit
        yield Row(((bought[column.name], 1.0), (bags, -min(column.unit / useful, 1.0))), -ENDLESS, 0.0)


def _places(model: Model) -> dict[str, list[int]]:
    places: dict[str, list[int]] = {}
    for place, column in model.of_kind(BUY, HAND):
        places.setdefault(column.name, []).append(place)
    return places


def _used_rows(model: Model) -> Iterable[Row]:
    """Nothing of a material that does not count as used."""
    places = _places(model)
    for used, column in model.of_kind(USED):
        for place in places[column.name]:
            yield Row(((place, 1.0), (used, -model.columns[place].upper)), -ENDLESS, 0.0)


def _slow_row(model: Model) -> Iterable[Row]:
    share = model.problem.slow_share
    entries = [
        (place, slow_surplus(model.offers[column.name], share) * column.unit)
        for place, column in model.of_kind(BUY, HAND)
    ]
    largest = max((abs(part) for _, part in entries), default=0.0)
    if largest > 0:
        yield Row(tuple((place, part / largest) for place, part in entries if part), 0.0, ENDLESS)
