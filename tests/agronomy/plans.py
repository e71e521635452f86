"""Makes nutrient plans for the tests of amounts: a case through the real door, rated and dosed."""

from datetime import date
from typing import Any

from making import case_of, judged

from service.agronomy import amounts, organic, texture
from service.agronomy.amounts import Recommended
from service.agronomy.findings import Recommendation
from service.agronomy.ratings import rate
from service.agronomy.sample import Case
from service.agronomy.submission import Result
from service.agronomy.tables import Library

LB_1000_FT2 = 453.59237 / 92.90304
LB_ACRE = 453.59237 / 4046.8564224
"""One pound per 1,000 square feet and per acre in g/m2, from the exact definitions."""


def dosed(case: Case) -> Recommended:
    salts, sodium, reaction = judged(case)
    soil = texture.texture_of(case)
    return amounts.recommend(case, rate(case).findings, salts, sodium, reaction, soil, None)


def plan(library: Library, *results: Result, day: date | None = None, **more: Any) -> dict[str, Recommendation]:
    """Recommendations by nutrient, on the tests' day or another."""
    case = case_of(library, *results, **more)
    case.as_of = day or case.as_of
    return {item.subject: item for item in dosed(case).recommendations}


def nitrogen(library: Library, *results: Result, **more: Any) -> Recommendation:
    return plan(library, *results, **more)["N"]


def manured(library: Library, *results: Result, **more: Any) -> list[Recommendation]:
    case = case_of(library, *results, **more)
    return organic.recommend(case, rate(case).findings, judged(case)[0])


def code(item: Recommendation) -> str:
    return item.text.code.removeprefix("rec.")
