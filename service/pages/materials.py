"""The page of all materials: what each holds, weighs and costs the soil in salt, and the rules on what goes where."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from flask import Blueprint, Response

from service.agronomy.findings import Note
from service.agronomy.materials.grade import SUPPLIED
from service.agronomy.materials.measures import LITRES_PER_GALLON
from service.agronomy.materials.rules import fits
from service.agronomy.materials.stock import table_of
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRow, MaterialRuleRow
from service.agronomy.units import GRAMS_PER_LB
from service.pages.crop_page import cited
from service.pages.ladders import Warrant, said, warrant
from service.pages.library import Site
from service.render.words import Words

LITRES_PER_PINT = LITRES_PER_GALLON / 8
APART, NEVER = "apart", "never"
ACTIONS = ("exclude", "water_in", "slow_share", "split", "say", "prefer", "apart")
"""Kinds of rules in the order of the page."""
USUAL_FORM = "dry"
MOST_NAMED = 8
"""Of more materials than this only their number is said."""


class Figure(NamedTuple):
    """A figure and how far it was checked."""

    text: str
    mark: str


class Material(NamedTuple):
    """One material in the visitor's words; blank where the table says nothing."""

    id: str
    name: str
    formula: str
    holds: Figure
    release: str
    slow: Figure
    salt: Figure
    acidity: Figure
    weight: Figure
    scatter: str
    use: str
    sold: str
    listed: Figure
    listed_place: str
    cautions: str
    warrant: Warrant


class Rule(NamedTuple):
    """One rule: what it says, of which materials, what it rests on."""

    text: str
    materials: str
    warrant: Warrant


def register(pages: Blueprint, site: Site) -> None:
    """Add the page to the blueprint of all pages."""

    @pages.get("/library/materials")
    def library_materials() -> Response:
        """Every material by kind, and every rule on materials."""
        words, library = site.words(), site.library()
        rows = library.rows("materials", MaterialRow)
        rules = library.rows("material-rules", MaterialRuleRow)
        return site.page(
            "materials.html",
            kinds=_by_kind(rows, words),
            rules=_by_action(library, rules, words),
            count=len(rows),
            sources=cited((*rows, *rules), site.catalog().sources),
        )


def _by_kind(rows: Iterable[MaterialRow], words: Words) -> Mapping[str, list[Material]]:
    found: dict[str, list[Material]] = {}
    for row in rows:
        found.setdefault(row.category, []).append(_material(row, words))
    return found


def _material(row: MaterialRow, words: Words) -> Material:
    density = row.bulk_density_kg_L
    scatter = row.density_range_pct
    return Material(
        id=row.material,
        name=words.word("product", row.material),
        formula=row.formula,
        holds=Figure(_holds(row, words), row.analysis_verification),
        release=said(words, "release", row.release),
        slow=Figure(_percent(row.slow_N_pct or None, words), row.slow_N_verification),
        salt=Figure(_number(row.salt_index, words), row.salt_index_verification),
        acidity=Figure(_number(row.acidity_lb_CaCO3_per_100_lb, words), row.acidity_verification),
        weight=Figure("" if density is None else _weight(density, words), row.density_verification),
        scatter="" if scatter is None else _percent(scatter, words),
        use=_use(row, words),
        sold=said(words, "material_sold", row.sold),
        listed=Figure(said(words, "national_list", row.national_list), row.national_list_verification),
        listed_place=row.national_list_place,
        cautions="; ".join(words.text(f"material.caution.{word}") for word in row.cautions),
        warrant=warrant(row),
    )


def _use(row: MaterialRow, words: Words) -> str:
    """How it is put on, and what it is where it is not the usual dry stuff."""
    used = ", ".join(said(words, "material_use", word) for word in row.use)
    return used if row.form == USUAL_FORM else f"{said(words, 'material_form', row.form)}: {used}"


def _holds(row: MaterialRow, words: Words) -> str:
    held = ((name, getattr(row, f"{name}_pct")) for name in SUPPLIED)
    return ", ".join(f"{name} {words.number(share)}" for name, share in held if share)


def _number(value: float | None, words: Words) -> str:
    return "" if value is None else words.number(value)


def _percent(value: float | None, words: Words) -> str:
    return "" if value is None else words.quantity(Quantity(value, "%"))


def _weight(density: float, words: Words) -> str:
    """Pounds in a pint and kilograms in a litre."""
    pounds = density * LITRES_PER_PINT * 1000 / GRAMS_PER_LB
    return words.text("page.materials.weighs", {"pint": round(pounds, 2), "litre": density})


def _by_action(library: Library, rules: Iterable[MaterialRuleRow], words: Words) -> Mapping[str, list[Rule]]:
    found: dict[str, list[Rule]] = {action: [] for action in ACTIONS}
    for row in rules:
        found[APART if row.action == NEVER else row.action].append(
            Rule(_sentence(row, words), _about(library, row, words), warrant(row)._replace(note=""))
        )
    return {action: listed for action, listed in found.items() if listed}


def _sentence(row: MaterialRuleRow, words: Words) -> str:
    figures = {"value": (row.value, row.value_unit), "limit": (row.limit, row.limit_unit)}
    values = {name: Quantity(value, unit) for name, (value, unit) in figures.items() if value is not None}
    return words.say(Note(f"material.rule.{row.rule}", values))


def _about(library: Library, row: MaterialRuleRow, words: Words) -> str:
    """The materials that a rule is about; with those that they are kept apart from."""
    stocks = library.index(table_of).values()
    first = [stock.id for stock in stocks if fits(row, stock)] if _selects(row) else []
    others = frozenset(row.other)
    second = [stock.id for stock in stocks if stock.id in others or not stock.properties.isdisjoint(others)]
    sides = [_named(side, words) for side in (first, second) if side]
    return words.text("page.materials.apart_from", {"one": sides[0], "other": sides[1]}) if second else "".join(sides)


def _selects(row: MaterialRuleRow) -> bool:
    """Whether a rule is about materials at all, and not about a whole plan."""
    columns = (row.material, row.category, row.property, row.supplies, row.form, row.sold, row.national_list)
    return any(columns) or row.salt_index_from is not None


def _named(materials: list[str], words: Words) -> str:
    if len(materials) > MOST_NAMED:
        return words.text("page.materials.many", {"count": len(materials)})
    return ", ".join(words.word("product", name) for name in materials)
