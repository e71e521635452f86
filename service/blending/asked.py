"""A problem put in order: one order whatever order it came in, and nothing in it that no solver can work with."""

from collections.abc import Iterable

from service.agronomy.materials.problem import Need, Offer, Problem
from service.blending.model import GRAMS

SMALLEST, LARGEST = 1e-15, 1e15
"""Figures beyond these count as none, or as no limit: nothing on ground is so small or so large."""
LEAST_SHARE = 1e-9
MANY = 1e7
"""So many bags of a need are no bags any more: one of them is less than a rounding."""
OBJECTIVES = ("cost", "salt", "few_products", "excess")


def in_order(problem: Problem) -> Problem:
    """The same problem sorted by material and nutrient; figures that are not finite or not positive count as absent.

    A material or nutrient that comes twice counts once: the first in order, for a nutrient the larger need and the
    smaller cap.
    """
    offers = {offer.material: offer for offer in sorted(map(_offer, problem.offers), key=repr, reverse=True)}
    least = problem.most_products
    needs = _needs(problem.needs)
    size = problem.size if _positive(problem.size) else 1.0
    return Problem(
        tuple(_bagged(offers[material], needs, size) for material in sorted(offers)),
        needs,
        problem.objective if problem.objective in OBJECTIVES else "few_products",
        None if least is None else max(least, 0),
        size,
        problem.whole_bags,
        min(_or_zero(problem.slow_share), 1.0),
        _pairs(problem.apart, offers),
    )


def _offer(offer: Offer) -> Offer:
    brings = {nutrient: min(share, 1.0) for nutrient, share in offer.analysis if share >= LEAST_SHARE}
    return offer._replace(
        analysis=tuple(sorted(brings.items())),
        slow_N=min(_or_zero(offer.slow_N), brings.get("N", 0.0)),
        salt_index=_known(offer.salt_index),
        price_per_kg=_known(offer.price_per_kg),
        bag_kg=offer.bag_kg if offer.bag_kg is not None and _positive(offer.bag_kg) else None,
        at_hand=_or_zero(offer.at_hand),
        most=_known(offer.most),
    )


def _bagged(offer: Offer, needs: Iterable[Need], size: float) -> Offer:
    """Without a bag size where a need takes too many bags to count."""
    shares = dict(offer.analysis)
    most = max((need.amount / shares[need.nutrient] for need in needs if need.nutrient in shares), default=0.0)
    counted = offer.bag_kg is not None and most * size <= offer.bag_kg * GRAMS * MANY
    return offer if counted else offer._replace(bag_kg=None)


def _needs(needs: Iterable[Need]) -> tuple[Need, ...]:
    found: dict[str, Need] = {}
    for need in needs:
        before = found.get(need.nutrient, Need(need.nutrient, 0.0))
        caps = [cap for cap in (_known(need.cap), before.cap) if cap is not None]
        amount = max(_or_zero(need.amount), before.amount)
        found[need.nutrient] = Need(need.nutrient, amount, min(caps, default=None))
    return tuple(found[nutrient] for nutrient in sorted(found))


def _pairs(pairs: Iterable[tuple[str, str]], known: Iterable[str]) -> tuple[tuple[str, str], ...]:
    ids = set(known)
    ordered = {(min(pair), max(pair)) for pair in pairs if pair[0] != pair[1] and ids.issuperset(pair)}
    return tuple(sorted(ordered))


def _positive(x: float) -> bool:
    return SMALLEST <= x <= LARGEST


def _or_zero(x: float) -> float:
    return x if _positive(x) else 0.0


def _known(x: float | None) -> float | None:
    """A figure of zero or more; one beyond any is no limit."""
    return None if x is None or not x <= LARGEST else _or_zero(x)
