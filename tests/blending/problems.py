"""Problems as the tests write them, and hypothesis strategies for any."""

from hypothesis import strategies as st

from service.agronomy.materials.problem import Need, Offer, Plan, Problem

NUTRIENTS = ("N", "P2O5", "K2O")
OBJECTIVES = ("cost", "salt", "few_products", "excess")


def offer(material: str, grade: str, **more: object) -> Offer:
    """A product by its grade, N-P2O5-K2O percent by mass."""
    shares = zip(NUTRIENTS, map(float, grade.split("-")), strict=True)
    return Offer(material, tuple((nutrient, share / 100) for nutrient, share in shares if share), **more)  # type: ignore[arg-type]


def needs(**amounts: float | tuple[float, float]) -> tuple[Need, ...]:
    """Needs, or needs with caps, g per basis."""
    return tuple(Need(name, *(it if isinstance(it, tuple) else (it,))) for name, it in amounts.items())


def chosen(plan: Plan) -> dict[str, float]:
    return {each.material: each.amount for each in plan.chosen}


def brought(problem: Problem, amounts: dict[str, float]) -> dict[str, float]:
    """Sums of what amounts bring, by the analyses alone."""
    totals: dict[str, float] = {}
    for each in problem.offers:
        for nutrient, share in each.analysis:
            totals[nutrient] = totals.get(nutrient, 0.0) + share * amounts.get(each.material, 0.0)
    return totals


_percent = st.integers(1, 60)
_maybe = st.one_of(st.none(), st.integers(1, 60).map(float))


@st.composite
def offers(draw: st.DrawFn, name: str, bagged: bool = False, priced: bool = False) -> Offer:
    """One offer: whole percents, whole prices, small bags."""
    parts = draw(st.dictionaries(st.sampled_from(NUTRIENTS), _percent, min_size=1, max_size=3))
    analysis = tuple((nutrient, share / 100 / len(parts)) for nutrient, share in parts.items())
    slow = draw(st.sampled_from((0.0, 0.5, 1.0))) * dict(analysis).get("N", 0.0)
    price = draw(st.integers(1, 40).map(float)) if priced else draw(_maybe)
    return Offer(
        name,
        analysis,
        slow,
        draw(st.one_of(st.none(), st.integers(0, 120).map(float))),
        price,
        draw(st.integers(1, 25).map(float)) if bagged else None,
        draw(st.sampled_from((0.0, 0.0, 5.0, 40.0))),
        draw(st.sampled_from((None, None, None, 10.0, 60.0))),
    )


@st.composite
def problems(draw: st.DrawFn, most: int = 5, bagged: bool = False, priced: bool = False) -> Problem:
    """A small problem with any of the rules."""
    count = draw(st.integers(0, most))
    offered = tuple(draw(offers(f"m{place}", bagged, priced)) for place in range(count))
    wanted = tuple(
        Need(
            nutrient, draw(st.sampled_from((0.0, 1.0, 5.0, 12.5))), draw(st.sampled_from((None, None, 0.0, 6.0, 20.0)))
        )
        for nutrient in draw(st.lists(st.sampled_from(NUTRIENTS), unique=True))
    )
    pairs = [(f"m{a}", f"m{b}") for a in range(count) for b in range(a)]
    return Problem(
        offered,
        wanted,
        draw(st.sampled_from(OBJECTIVES)),
        draw(st.sampled_from((None, None, 1, 2))),
        draw(st.sampled_from((1.0, 100.0, 840.0))) * (10 if bagged else 1),
        bagged,
        draw(st.sampled_from((0.0, 0.0, 0.3, 0.75))),
        tuple(draw(st.lists(st.sampled_from(pairs), max_size=2)) if pairs else ()),
    )
