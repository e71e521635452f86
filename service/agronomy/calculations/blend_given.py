"""What a blend was asked: needs as fertilizers are labelled, materials by id or grade, caps, prices, bags."""

from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from math import inf
from typing import Any, NamedTuple

from service.agronomy.calculations.given import SMALL_M2, Given, WrongInput, below
from service.agronomy.calculations.grades import NUTRIENTS, OXIDE
from service.agronomy.cap_reach import caps_anywhere, caps_of_materials
from service.agronomy.caps import AREAL
from service.agronomy.materials.allowed import shelf_of
from service.agronomy.materials.facts import FARM, HOME, Facts
from service.agronomy.materials.grade import MACRO, GradeError, possible_grade
from service.agronomy.materials.needs import FED
from service.agronomy.materials.problem import Need, Offer, Problem
from service.agronomy.materials.rules import NEVER, apart, holding
from service.agronomy.materials.stock import KILO, Stock, table_of
from service.agronomy.reference import reference_of
from service.agronomy.submission import MaterialWishes, Quantity

ANY = "any"
MASS = "mass"
OBJECTIVES = ("cost", "salt", "few_products", "excess")
DEFAULT = "few_products"
COST = "cost"
SULFUR = "S"
INSOLUBLE = "insoluble"
"""Rock phosphate and the like: they feed nothing on limy soil, and nobody said what the soil is."""


MOST_BAGGED = 12
"""More kinds of bags make more choices than can be compared while a client waits."""
NOWHERE = Facts(frozenset(), {}, frozenset())
"""Nothing is known of the ground: only rules without a condition hold."""


class Asked(NamedTuple):
    """A checked request, g/m2, and the materials it may be met with."""

    needs: Mapping[str, float]
    caps: Mapping[str, float]
    stocks: Mapping[str, Stock]
    objective: str
    rules: Mapping[str, Any]

    @property
    def explicit(self) -> bool:
        """Whether the client named the materials."""
        return bool(self.rules.get("explicit"))


def needs_of(given: Given) -> dict[str, float]:
    """Needs in g/m2 as labelled: elemental P and K become oxides. Raises WrongInput."""
    found: dict[str, float] = {}
    for name, quantity in given["needs"].items():
        nutrient, rate = _labelled(given, "needs", name, quantity)
        found[nutrient] = found.get(nutrient, 0.0) + rate
    if not found:
        raise WrongInput("needs", "missing", "a rate for at least one nutrient")
    return found


def _labelled(given: Given, field: str, name: str, quantity: Quantity) -> tuple[str, float]:
    if name not in NUTRIENTS:
        near = tuple(get_close_matches(name, NUTRIENTS))
        raise WrongInput(below(field, name), "unknown_nutrient", f"one of {', '.join(NUTRIENTS)}", NUTRIENTS, near)
    rate = _measured(given, field, name, quantity, AREAL, given.units.areal)
    oxide = OXIDE.get(name)
    return (name, rate) if oxide is None else (oxide, rate * given.units.form_factor(name, oxide))


def _measured(
    given: Given, field: str, name: str, quantity: Quantity, dimension: str, read: Callable[[Quantity], float]
) -> float:
    """A member of an object of quantities in its working unit: of its dimension, not below zero."""
    place = below(field, name)
    if not given.units.known(quantity.unit) or given.units.dimension(quantity.unit) != dimension:
        raise WrongInput(f"{place}/unit", "unit_does_not_fit", f"a unit of the dimension {dimension}")
    if quantity.value < 0:
        raise WrongInput(f"{place}/value", "out_of_range", "0 <= x")
    return read(quantity)


def asked(given: Given, needs: Mapping[str, float]) -> Asked:
    """The materials and rules. Raises WrongInput."""
    rules = given.get("constraints") or {}
    objective = given.get("objective") or DEFAULT
    caps = dict(_labelled(given, "constraints/caps", *item) for item in rules.get("caps", {}).items())
    sent = given.get("materials") or ANY
    stocks = _usual(given, needs) if sent == ANY else _named(given, sent)
    stocks = _with_figures(given, stocks, rules)
    if objective == COST:
        stocks = _priced(stocks, sent != ANY)
    return Asked(needs, caps, stocks, objective, {**rules, "explicit": sent != ANY})


def _usual(given: Given, needs: Mapping[str, float]) -> dict[str, Stock]:
    """What is sold to homes, or to farms where the ground is measured as fields are; no boron, nothing insoluble."""
    small = given.system == "us_garden" or (given.system == "metric" and (given.area_m2 or 0.0) <= SMALL_M2)
    buyers = frozenset((HOME,)) if small else frozenset((FARM,))
    needed = frozenset(name for name, amount in needs.items() if amount > 0)
    table = given.library.index(table_of)
    shelf = shelf_of(given.library, Facts(buyers, {}, buyers), table, MaterialWishes(), needed)
    return {name: stock for name, stock in shelf.stocks.items() if stock.row is None or stock.row.release != INSOLUBLE}


def _named(given: Given, sent: Any) -> dict[str, Stock]:
    if isinstance(sent, str) or not sent:
        raise WrongInput("materials", "not_materials", 'ids of /v1/materials or grades, or "any"')
    return {name: _stock(given, f"materials/{place}", name) for place, name in enumerate(sent)}


def _stock(given: Given, field: str, name: str) -> Stock:
    """A material by its id, or a product by its grade."""
    table = given.library.index(table_of)
    if name in table:
        return table[name]
    if not name[:1].isdigit():
        near = tuple(get_close_matches(name, table, n=5))
        raise WrongInput(field, "unknown_material", "a material of /v1/materials, or a grade", suggestions=near)
    try:
        return Stock(name, name, possible_grade(name), 0.0, frozenset(), None, own=True)
    except GradeError as problem:
        raise WrongInput(field, problem.code, problem.expected) from None


def _with_figures(given: Given, stocks: Mapping[str, Stock], rules: Mapping[str, Any]) -> dict[str, Stock]:
    """Bags, prices and what is at hand, each by the name of its material."""
    units, found = given.units, dict(stocks)

    def grams(quantity: Quantity) -> float:
        return units.convert(quantity.value, quantity.unit, "g")

    for name, quantity in rules.get("at_hand", {}).items():
        found.setdefault(name, _stock(given, below("constraints/at_hand", name), name))
        amount = _measured(given, "constraints/at_hand", name, quantity, MASS, grams)
        found[name] = found[name]._replace(at_hand=amount)
    for name, quantity in rules.get("bags", {}).items():
        _check_offered(given, found, "constraints/bags", name)
        bag = _measured(given, "constraints/bags", name, quantity, MASS, grams)
        if bag <= 0:
            raise WrongInput(f"{below('constraints/bags', name)}/value", "out_of_range", "0 < x")
        if name in found:
            found[name] = found[name]._replace(bag=bag)
    if rules.get("whole_bags") and sum(stock.bag is not None for stock in found.values()) > MOST_BAGGED:
        raise WrongInput("constraints/bags", "too_many_bags", f"whole bags of at most {MOST_BAGGED} materials")
    loose = units.convert(1.0, "kg" if given.system == "metric" else "lb", "g")
    for name, price in (given.get("prices") or {}).items():
        _check_offered(given, found, "prices", name)
        if name in found:
            found[name] = found[name]._replace(price=price * KILO / (found[name].bag or loose))
    return found


def _check_offered(given: Given, stocks: Mapping[str, Stock], field: str, name: str) -> None:
    """A figure for a material that is not offered is a slip, unless all materials were offered."""
    if name in stocks or (given.get("materials") in (None, ANY) and name in given.library.index(table_of)):
        return
    near = tuple(get_close_matches(name, stocks, n=5))
    raise WrongInput(below(field, name), "not_offered", "one of the materials sent", suggestions=near)


def _priced(stocks: Mapping[str, Stock], explicit: bool) -> dict[str, Stock]:
    """For least cost every material that was named needs a price; of all others those with one are compared."""
    priced = {name: stock for name, stock in stocks.items() if stock.price is not None or stock.at_hand > 0}
    missing = [name for name in stocks if name not in priced]
    if (explicit and missing) or not any(stock.price is not None for stock in priced.values()):
        wanted = f"prices of {', '.join(missing)}" if explicit else "prices of the materials to compare"
        raise WrongInput("prices", "prices_needed", f"{wanted}: for a bag, or for a lb or kg of what is sold loose")
    return priced


def problem_of(given: Given, wanted: Asked) -> Problem:
    """The question for the solver, per m2."""
    area = given.area_m2 or 1.0
    tracked = frozenset((*FED, *wanted.needs, *wanted.caps)) - ({SULFUR} - wanted.needs.keys() - wanted.caps.keys())
    return Problem(
        tuple(_offer(given, stock, tracked, area) for stock in wanted.stocks.values()),
        tuple(_bounds(given, wanted, tracked)),
        wanted.objective,
        wanted.rules.get("most_products"),
        area,
        bool(wanted.rules.get("whole_bags")),
        wanted.rules.get("slow_share") or 0.0,
        (*((first, second) for first, second in wanted.rules.get("apart", ())), *_never(given, wanted)),
    )


def _offer(given: Given, stock: Stock, tracked: frozenset[str], area: float) -> Offer:
    analysis = tuple((name, share / 100) for name, share in stock.analysis.items() if name in tracked)
    nitrogen = stock.analysis.get("N", 0.0) / 100
    caps = given.library.index(caps_of_materials).get(stock.id, ())
    return Offer(
        stock.id,
        analysis,
        stock.slow * nitrogen,
        None if stock.row is None else stock.row.salt_index,
        stock.price,
        None if stock.bag is None else stock.bag / KILO,
        stock.at_hand / area,
        min((cap.base for cap in caps), default=None),
    )


def _bounds(given: Given, wanted: Asked, tracked: Iterable[str]) -> Iterable[Need]:
    """Each nutrient's need and the least of its caps: the client's, the tables', and how much more may come along."""
    reference = reference_of(given.library)
    room = 1 + reference.factor("material_excess_pct").value / 100
    unasked = sum(wanted.needs.values()) * reference.factor("material_unasked_pct").value / 100
    for nutrient in sorted(tracked):
        need = wanted.needs.get(nutrient, 0.0)
        most = need * room if need > 0 else (unasked if nutrient in MACRO else inf)
        cap = min(wanted.caps.get(nutrient, most), table_cap(given, nutrient))
        yield Need(nutrient, need, cap if cap < inf else None)


def _never(given: Given, wanted: Asked) -> Iterable[tuple[str, str]]:
    """Pairs that are not mixed, dry or wet, whatever the ground."""
    pairs = apart(holding(given.library, NOWHERE), wanted.stocks)
    return (pair for pair, rule in pairs.items() if rule.action == NEVER)


def table_cap(given: Given, nutrient: str) -> float:
    """The least cap that holds whatever grows there, g/m2; endless without.

    The same caps as `service.agronomy.calculations.limits.broken_cap` holds a single product to.
    """
    return min((cap.base for cap in given.library.index(caps_anywhere).get(nutrient, ())), default=inf)
