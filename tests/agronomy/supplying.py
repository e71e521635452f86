"""Puts recommendations and a case to the materials step, with the real solver and the real tables."""

from collections.abc import Iterable
from typing import Any

from making import LAWN_RESULTS, case_of

from service.agronomy import reaction, salinity, sodium, texture
from service.agronomy.findings import MaterialUse, Recommendation
from service.agronomy.materials import step
from service.agronomy.materials.facts import Scene
from service.agronomy.sample import Case
from service.agronomy.submission import MaterialWishes, OwnProduct, Quantity, Result
from service.agronomy.tables import Library
from service.agronomy.units import Units
from service.blending import solve

SALTY = (*(item for item in LAWN_RESULTS if item.analyte != "EC"), Result("EC", "saturated_paste_extract", 6.0, "dS/m"))
ACID = (
    *(item for item in LAWN_RESULTS if item.analyte not in ("pH", "lime")),
    Result("pH", "saturated_paste", 6.2),
    Result("lime", "acid_fizz", text="none"),
)


def ground(library: Library, *results: Result, wishes: MaterialWishes | None = None, **more: Any) -> Case:
    """A case, limy unless other results are given, with the client's wishes."""
    options = {**(more.pop("options", None) or {}), **({"materials": wishes} if wishes else {})}
    return case_of(library, *results, options=options, **more)


def supply(
    case: Case, recommendations: Iterable[Recommendation], barred: frozenset[str] = frozenset()
) -> step.Supplied:
    """The materials for recommendations on the ground of a case."""
    soil = texture.texture_of(case)
    salts = salinity.assess(case, soil)
    scene = Scene(
        case,
        tuple(recommendations),
        salts,
        sodium.assess(case, salts, soil),
        reaction.assess(case, soil),
        soil,
        barred,
    )
    return step.plan(scene, solve)


def own(name: str, grade: str, **more: Any) -> OwnProduct:
    """A product by its label."""
    return OwnProduct(name, grade, **more)


def by_id(found: step.Supplied) -> dict[str, MaterialUse]:
    """Chosen materials by id."""
    return {use.material: use for use in found.materials}


def brought(library: Library, found: step.Supplied, products: Iterable[OwnProduct] = ()) -> dict[str, float]:
    """g/m2 or g/tree of every nutrient that all materials bring together, from their grades and rates alone."""
    from service.agronomy.materials.grade import possible_grade
    from service.agronomy.materials.stock import table_of

    table = library.index(table_of)
    labels = {product.id: possible_grade(product.grade or "") for product in products}
    total: dict[str, float] = {}
    for use in found.materials:
        for nutrient, share in (labels.get(use.material) or table[use.material].analysis).items():
            total[nutrient] = total.get(nutrient, 0.0) + (use.base_rate or 0.0) * share / 100
    return total


def g_m2(library: Library, quantity: Quantity) -> float:
    """A rate in g/m2."""
    return library.index(Units.of).areal(quantity)
