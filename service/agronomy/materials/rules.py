"""The rules of ``material-rules`` that hold for a case, and what each says of a material."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from service.agronomy.findings import Note
from service.agronomy.materials.facts import Facts
from service.agronomy.materials.stock import Stock
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRuleRow
from service.agronomy.units import Units, scaled, significant

EXCLUDE, APART, SLOW, WATER_IN, PREFER = "exclude", "apart", "slow_share", "water_in", "prefer"
NEVER = "never"
"""Like ``apart``, but also dry and in one season: both are never chosen for one plan."""
SPLIT = "split"
SAY = "say"
TOLD = frozenset((WATER_IN, SAY, SPLIT))
ACTIONS = (EXCLUDE, APART, NEVER, SLOW, WATER_IN, PREFER, SPLIT, SAY)


def rules_of(library: Library) -> tuple[MaterialRuleRow, ...]:
    """Every rule, prepared once."""
    return library.rows("material-rules", MaterialRuleRow)


def holding(library: Library, facts: Facts) -> tuple[MaterialRuleRow, ...]:
    """The rules whose every condition is known to be met."""
    return tuple([row for row in library.index(rules_of) if _holds(row, facts)])


def _holds(row: MaterialRuleRow, facts: Facts) -> bool:
    words: tuple[str, ...] = row.when
    if row.limit is not None:
        figure = facts.figures.get(words[0])
        if figure is None or scaled(figure) < scaled(row.limit):
            return False
        words = words[1:]
    return facts.true.issuperset(words)


def fits(row: MaterialRuleRow, stock: Stock) -> bool:
    """Whether a rule is about a material: it fits every filled column, and in a column any of its words."""
    return all(look(row, stock) for look in _COLUMNS)


def _of_table(column: str, field: str) -> Callable[[MaterialRuleRow, Stock], bool]:
    """A column about what only the table knows: a product known by its grade alone never fits a filled one."""

    def look(row: MaterialRuleRow, stock: Stock) -> bool:
        wanted = getattr(row, column)
        return not wanted or (stock.row is not None and getattr(stock.row, field) in wanted)

    return look


def _properties(row: MaterialRuleRow, stock: Stock) -> bool:
    return not row.property or not stock.properties.isdisjoint(row.property)


def _supplies(row: MaterialRuleRow, stock: Stock) -> bool:
    return not row.supplies or any(nutrient in stock.analysis for nutrient in row.supplies)


def _national_list(row: MaterialRuleRow, stock: Stock) -> bool:
    """A product known by its grade alone is not known to be allowed."""
    if not row.national_list:
        return True
    return (stock.row.national_list if stock.row is not None else "unknown") in row.national_list


def _salty(row: MaterialRuleRow, stock: Stock) -> bool:
    if row.salt_index_from is None:
        return True
    index = stock.row.salt_index if stock.row is not None else None
    return index is not None and scaled(index) >= scaled(row.salt_index_from)


_COLUMNS = (
    _of_table("material", "material"),
    _of_table("category", "category"),
    _properties,
    _supplies,
    _of_table("form", "form"),
    _of_table("sold", "sold"),
    _national_list,
    _salty,
)


class Excluded(NamedTuple):
    """A material that a rule keeps out."""

    stock: Stock
    rule: MaterialRuleRow


def exclusion(rules: Iterable[MaterialRuleRow], stock: Stock, needed: frozenset[str]) -> MaterialRuleRow | None:
    """The first rule that keeps a material out.

    A rule about one nutrient counts where that nutrient is needed and the material would bring it.
    """
    for row in rules:
        if row.action != EXCLUDE or not fits(row, stock):
            continue
        if not row.nutrient or (row.nutrient in needed and row.nutrient in stock.analysis):
            return row
    return None


def warned(rules: Iterable[MaterialRuleRow], stock: Stock) -> bool:
    """Whether the case's own figures speak against a material without keeping it out: a ``say`` with a limit."""
    return any(row.action == "say" and row.limit is not None and fits(row, stock) for row in rules)


def preferred(
    rules: Iterable[MaterialRuleRow], stocks: Mapping[str, Stock], needed: frozenset[str]
) -> dict[str, MaterialRuleRow]:
    """Materials that a rule prefers for a nutrient, each with the rule; those of its category stand back for it."""
    return {
        stock.id: row
        for row in rules
        if row.action == PREFER and row.nutrient in needed
        for stock in stocks.values()
        if fits(row, stock)
    }


def slow_share(rules: Iterable[MaterialRuleRow]) -> MaterialRuleRow | None:
    """The rule that asks for the largest share of slow nitrogen."""
    found = [row for row in rules if row.action == SLOW and row.value is not None]
    return max(found, key=_value, default=None)


def _value(row: MaterialRuleRow) -> float:
    return row.value or 0.0


def split_limits(case: Case, rules: Iterable[MaterialRuleRow], stocks: Iterable[Stock]) -> dict[str, float]:
    """Material -> the most nitrogen of it at once by the rules that hold, g/m2; those without a limit are left out."""
    units = case.library.index(Units.of)
    limiting = [
        (row, units.areal(Quantity(row.value, row.value_unit)))
        for row in rules
        if row.action == SPLIT and row.value is not None
    ]
    found: dict[str, float] = {}
    for stock in stocks:
        limits = [limit for row, limit in limiting if fits(row, stock) and "N" in stock.analysis]
        if limits:
            found[stock.id] = min(limits)
    return found


def apart(rules: Iterable[MaterialRuleRow], stocks: Mapping[str, Stock]) -> dict[tuple[str, str], MaterialRuleRow]:
    """Pairs of materials that are never mixed, with the rule that says so."""
    found: dict[tuple[str, str], MaterialRuleRow] = {}
    for row in rules:
        if row.action not in (APART, NEVER):
            continue
        others = frozenset(row.other)
        first = [stock for stock in stocks.values() if fits(row, stock)]
        second = [stock for stock in stocks.values() if stock.id in others or not stock.properties.isdisjoint(others)]
        for one in first:
            for other in second:
                if one.id != other.id:
                    found.setdefault((min(one.id, other.id), max(one.id, other.id)), row)
    return found


def told(case: Case, row: MaterialRuleRow, stock: Stock | None = None) -> Note:
    """The sentence of a rule."""
    values: dict[str, Any] = {}
    if stock is not None:
        values["material"] = stock.name
    if row.value is not None:
        values["value"] = figure(case, Quantity(row.value, row.value_unit))
    if row.limit is not None:
        values["limit"] = Quantity(row.limit, row.limit_unit)
    return Note(f"material.rule.{row.rule}", values)


def figure(case: Case, printed: Quantity) -> Quantity:
    """A figure of a rule in the client's units: a depth of water, a rate; anything else as printed."""
    units = case.library.index(Units.of)
    if printed.unit in ("", "1") or not units.known(printed.unit):
        return printed
    dimension = units.dimension(printed.unit)
    if dimension == "areal_rate":
        return case.units.rate(units.areal(printed))
    if dimension == "length":
        depth = case.units.water(units.convert(printed.value, printed.unit, "mm"))
        return Quantity(significant(depth.value, 2), depth.unit)
    return printed
