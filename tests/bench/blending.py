"""How fast blends are solved: ``python tests/bench/blending.py``; 30 materials, 8 nutrients, each objective.

Problems are drawn with a fixed seed. Times are of this process alone, so that other work on the machine does not count;
the last column is a plan that is kept already.
"""

import sys
import time
from collections.abc import Callable
from functools import partial
from random import Random
from statistics import median

from service.agronomy.materials.problem import Need, Offer, Problem
from service.blending import solve
from service.blending.solving import forget

NUTRIENTS = ("N", "P2O5", "K2O", "S", "Mg", "Zn", "Fe", "Mn")
TRACE = frozenset(("Zn", "Fe", "Mn"))
MATERIALS = 30
PROBLEMS = 60
AIM_MS = 20.0


def drawn(random: Random, objective: str, whole_bags: bool) -> Problem:
    """Materials that bring one to four nutrients, needs of a garden in g/m2, some of them capped."""
    return Problem(
        tuple(_offer(random, f"m{place}") for place in range(MATERIALS)),
        tuple(_need(random, nutrient) for nutrient in NUTRIENTS),
        objective,
        size=500.0,
        whole_bags=whole_bags,
    )


def _offer(random: Random, name: str) -> Offer:
    held = random.sample(NUTRIENTS, random.choice((1, 1, 2, 2, 3, 3, 4)))
    return Offer(
        name,
        tuple((nutrient, random.randint(1, 45) / 100 / len(held)) for nutrient in held),
        salt_index=random.choice((None, *(float(index) for index in range(5, 120)))),
        price_per_kg=random.randint(3, 50) / 10,
        bag_kg=random.choice((None, 5.0, 10.0, 20.0, 25.0)),
    )


def _need(random: Random, nutrient: str) -> Need:
    amount = random.choice((0.0, 1.0, 2.0, 5.0, 10.0)) * (0.1 if nutrient in TRACE else 1.0)
    return Need(nutrient, amount, random.choice((None, None, 12.0, 30.0)))


def timed(run: Callable[[], object]) -> float:
    """Milliseconds of this process."""
    start = time.process_time()
    run()
    return (time.process_time() - start) * 1000


def main() -> int:
    """A line for each objective; 1 where the median of free amounts is above the aim."""
    solve(drawn(Random(0), "cost", False))  # loads the library
    slow = 0
    print("objective     bags   median ms   95 % ms   max ms   solves/s   met   kept, us")
    for whole_bags in (False, True):
        for objective in ("cost", "salt", "few_products", "excess"):
            random = Random(7)
            problems = [drawn(random, objective, whole_bags) for _ in range(PROBLEMS)]
            forget()
            times = sorted(timed(partial(solve, problem)) for problem in problems)
            met = sum(solve(problem).status == "met" for problem in problems)
            kept = min(timed(partial(list, map(solve, problems))) for _ in range(3)) / PROBLEMS * 1000
            middle, late = median(times), times[int(PROBLEMS * 0.95)]
            rate = 1000 * PROBLEMS / sum(times)
            bags = "whole" if whole_bags else "free"
            print(
                f"{objective:13} {bags:6} {middle:9.1f} {late:9.1f} {times[-1]:8.1f} {rate:10.0f} {met:5} {kept:9.0f}"
            )
            slow += middle > AIM_MS and not whole_bags
    print(f"aim: {AIM_MS:g} ms median with free amounts")
    return int(slow > 0)


if __name__ == "__main__":
    sys.exit(main())
