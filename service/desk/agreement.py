"""How sure one may be that rules and reviewer agree, from the cases in which both have spoken."""

from math import exp, lgamma, log, log1p

CONFIDENCE = 0.95


def upper_bound(errors: int, cases: int, confidence: float = CONFIDENCE) -> float:
    """The one-sided upper confidence bound of an error rate (0-1), exact for the binomial distribution.

    With no error in n cases it is 1 - (1 - confidence)^(1/n), about 3/n: the rule of three. Equation: Clopper and
    Pearson, Biometrika 26:404-413 (1934). One error in every case, or no case, gives 1.
    """
    if errors >= cases:
        return 1.0
    low, high = errors / cases, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if _at_most(errors, cases, middle) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def _at_most(errors: int, cases: int, rate: float) -> float:
    """The chance of so many errors or fewer at a rate between 0 and 1, both excluded."""
    return (
        sum(exp(_log_chance(count, cases, rate)) for count in range(errors + 1)) if 0 < rate < 1 else float(rate <= 0)
    )


def _log_chance(count: int, cases: int, rate: float) -> float:
    ways = lgamma(cases + 1) - lgamma(count + 1) - lgamma(cases - count + 1)
    return ways + count * log(rate) + (cases - count) * log1p(-rate)
