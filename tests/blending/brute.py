"""The best plan of a small problem by trying everything, in exact fractions: no solver, nothing of the service.

Amounts that are free: the best of a linear goal stands at a corner, where as many limits as there are amounts meet.
All corners are computed. Whole bags: all counts are tried, and for each all corners of what may be spread of them. What
is at hand is left out.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import combinations, product

from service.agronomy.materials.problem import Offer, Problem

type_of_limit = tuple[tuple[Fraction, ...], Fraction]
"""Factors and a bound: the sum of factors times amounts is at most the bound."""


def best(problem: Problem) -> tuple[Fraction, ...]:
    """Least shortage (sum of shares of needs), then the objective's goals in order, of plans that keep the rules."""
    wanted = [need for need in problem.needs if need.amount > 0]
    met = [score for used in subsets(problem) for score in _corners(problem, used, 0)]
    if met:
        return min(met)
    return min(score for used in subsets(problem) for score in _corners(problem, used, len(wanted)))


def best_of_bags(problem: Problem) -> tuple[Fraction, ...] | None:
    """The same where every material comes in whole bags, of plans that meet every need; None where none does."""
    scores = []
    for used in subsets(problem):
        bags = [Fraction(o.bag_kg or 0) * 1000 / Fraction(problem.size) for o in used]
        counts = [range(1, _most_bags(problem, o, bag) + 1) for o, bag in zip(used, bags, strict=True)]
        for tried in product(*counts):
            held = [count * bag for count, bag in zip(tried, bags, strict=True)]
            scores += _corners(problem, used, 0, held)
    return min(scores, default=None)


def subsets(problem: Problem) -> Iterator[tuple[Offer, ...]]:
    """Sets of materials that the rules allow to stand together."""
    most = len(problem.offers) if problem.most_products is None else problem.most_products
    for size in range(min(most, len(problem.offers)) + 1):
        for used in combinations(problem.offers, size):
            names = {offer.material for offer in used}
            if not any({*pair} <= names for pair in problem.apart):
                yield used


def score(
    problem: Problem,
    used: Sequence[Offer],
    amounts: Sequence[Fraction],
    bought: Sequence[Fraction] | None = None,
) -> tuple[Fraction, ...]:
    """Shortage and the objective's goals, of amounts; cost and excess of what is bought where that is more."""
    supplied: dict[str, Fraction] = {}
    for offer, amount in zip(used, amounts, strict=True):
        for nutrient, share in offer.analysis:
            supplied[nutrient] = supplied.get(nutrient, Fraction(0)) + Fraction(share) * amount
    need = {each.nutrient: Fraction(each.amount) for each in problem.needs if each.amount > 0}
    short = sum((max(1 - supplied.get(name, 0) / amount, Fraction(0)) for name, amount in need.items()), Fraction(0))
    short = round(short, 9)  # equal to the last binary digit is equal
    holds = [sum(map(Fraction, dict(offer.analysis).values())) for offer in used]
    total = sum((held * x for held, x in zip(holds, amounts if bought is None else bought, strict=True)), Fraction(0))
    excess = total - sum((min(supplied[name], need.get(name, Fraction(0))) for name in supplied), Fraction(0))
    known = [Fraction(o.salt_index) for o in problem.offers if o.salt_index is not None]
    worst = max(known, default=Fraction(100))
    index = [worst if o.salt_index is None else Fraction(o.salt_index) for o in used]
    salt = sum((i * amount / 100 for i, amount in zip(index, amounts, strict=True)), Fraction(0))
    price = [Fraction(o.price_per_kg or 0) for o in used]
    cost = sum(
        (p * amount for p, amount in zip(price, amounts if bought is None else bought, strict=True)), Fraction(0)
    )
    number = Fraction(sum(amount > 0 for amount in amounts))
    order = {
        "cost": (cost, excess, salt),
        "salt": (salt, excess, cost),
        "excess": (excess, salt, cost),
        "few_products": (number, excess, salt, cost),
    }
    return (short, *order[problem.objective])


def _most_bags(problem: Problem, offer: Offer, bag: Fraction) -> int:
    """As many as meet every need by themselves: more are never better where no slow share is asked."""
    shares = {nutrient: Fraction(share) for nutrient, share in offer.analysis}
    needed = [need.amount / shares[need.nutrient] for need in problem.needs if need.nutrient in shares]
    return -int(-max(needed, default=Fraction(0)) // bag)


def _rules(problem: Problem, used: Sequence[Offer]) -> list[type_of_limit]:
    """Caps, `most`, slow share, nothing negative."""
    limits: list[type_of_limit] = [
        (_brings(used, need.nutrient), Fraction(need.cap)) for need in problem.needs if need.cap is not None
    ]
    for place, offer in enumerate(used):
        unit = tuple(Fraction(int(other == place)) for other in range(len(used)))
        limits.append((tuple(-x for x in unit), Fraction(0)))
        if offer.most is not None:
            limits.append((unit, Fraction(offer.most)))
    if problem.slow_share > 0:
        asked = Fraction(problem.slow_share)
        nitrogen = _brings(used, "N")
        slow = [asked * all_N - Fraction(offer.slow_N) for all_N, offer in zip(nitrogen, used, strict=True)]
        limits.append((tuple(slow), Fraction(0)))
    return limits


def _brings(used: Sequence[Offer], nutrient: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(dict(offer.analysis).get(nutrient, 0.0)) for offer in used)


def _corners(
    problem: Problem, used: Sequence[Offer], shorts: int, held: Sequence[Fraction] | None = None
) -> Iterable[tuple[Fraction, ...]]:
    """Scores of all corners, with as many needs that may fall short, and no more spread than is held."""
    wanted = [need for need in problem.needs if need.amount > 0]
    unknowns = len(used) + shorts
    pad = (Fraction(0),) * shorts
    limits = [((*factors, *pad), bound) for factors, bound in _rules(problem, used)]
    for place, need in enumerate(wanted):
        lack = [Fraction(0)] * shorts
        if shorts:
            lack[place] = Fraction(-1)
            limits.append(((*(Fraction(0) for _ in used), *lack), Fraction(0)))
        limits.append(((*(-x for x in _brings(used, need.nutrient)), *lack), -Fraction(need.amount)))
    for place, most in enumerate(held or ()):
        limits.append((tuple(Fraction(int(other == place)) for other in range(unknowns)), most))
    for chosen in combinations(limits, unknowns):
        point = _meeting(chosen)
        if point is not None and all(_meets(limit, point) for limit in limits):
            yield score(problem, used, point[: len(used)], held)


def _meets(limit: type_of_limit, point: Sequence[Fraction]) -> bool:
    return sum((factor * x for factor, x in zip(limit[0], point, strict=True)), Fraction(0)) <= limit[1]


def _meeting(limits: Sequence[type_of_limit]) -> list[Fraction] | None:
    """Where limits meet, by elimination; None where they do not meet in one point."""
    rows = [[*factors, bound] for factors, bound in limits]
    for place in range(len(rows)):
        pivot = next((row for row in range(place, len(rows)) if rows[row][place]), None)
        if pivot is None:
            return None
        rows[place], rows[pivot] = rows[pivot], rows[place]
        lead = rows[place][place]
        rows[place] = [x / lead for x in rows[place]]
        for row in range(len(rows)):
            factor = rows[row][place]
            if row != place and factor:
                rows[row] = [x - factor * y for x, y in zip(rows[row], rows[place], strict=True)]
    return [row[-1] for row in rows]
