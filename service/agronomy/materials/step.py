"""From recommended nutrients to materials: what is needed, what may be used, the plan, and what is said of it."""

from collections.abc import Mapping, Sequence, Set
from itertools import count
from typing import Any, NamedTuple

from service.agronomy.cap_reach import caps_of_materials
from service.agronomy.caps import applies
from service.agronomy.doses import AREAL
from service.agronomy.findings import (
    MaterialUse,
    Note,
    SupplyNote,
    Word,
)
from service.agronomy.materials.allowed import SPREAD, Shelf, offer, shelf_of, tracked
from service.agronomy.materials.amendments import amendment_uses
from service.agronomy.materials.doses import Part, crowding, lead_of, parts_of, split, with_room, worthwhile
from service.agronomy.materials.facts import Scene, facts_of
from service.agronomy.materials.needs import CRUMB, FED, Demand, demands, dose_limits, yearly_caps
from service.agronomy.materials.organic_share import ORGANIC, share_of_organics
from service.agronomy.materials.problem import Plan, Problem, Solver
from service.agronomy.materials.rules import NEVER, Excluded, split_limits, told
from service.agronomy.materials.stock import Stock, stocks_of
from service.agronomy.materials.uses import Choice, main, use_of
from service.agronomy.materials.weights import rate, weigh
from service.agronomy.sample import Case
from service.agronomy.submission import MaterialWishes, Quantity
from service.agronomy.tables import weakest

ANY_WISHES = MaterialWishes()
TURNS = 2
"""After so many turns in which one material is taken away, all of its kind are: a plan is soon found or there is none.
"""
MOST_NAMED = 6
"""Of more materials than these a sentence names no more; their ids are all told."""


class Supplied(NamedTuple):
    """The materials for all needs, and what there is to say of the choice."""

    materials: tuple[MaterialUse, ...] = ()
    notes: tuple[SupplyNote, ...] = ()


NOTHING = Supplied()


def plan(scene: Scene, solver: Solver | None) -> Supplied:
    """Materials for everything that is recommended with a rate; nothing without a solver.

    Amendments come first and are weighed out as recommended; for nutrients the solver chooses.
    """
    if solver is None:
        return NOTHING
    case, allowed = scene.case, [item for item in scene.recommendations if item.subject not in scene.barred]
    uses = list(amendment_uses(case, allowed))
    organics = share_of_organics(case, allowed)
    notes: list[SupplyNote] = []
    wishes = case.submission.options.materials or ANY_WISHES
    wanted = demands(case, scene.recommendations, scene.barred, organics.grams)
    notes.extend(organics.notes)
    _tell_served(uses, organics.grams.keys() - {name for demand in wanted for name in demand.asked})
    if wanted:
        facts, stocks = facts_of(scene), stocks_of(case, wishes)
        for demand in wanted:
            shelf = shelf_of(case.library, facts, stocks, wishes, demand.needed)
            found = _solved(case, _strict(demand, shelf), shelf, wishes, solver)
            uses.extend(found.materials)
            notes.extend(found.notes)
    return Supplied(tuple(uses), tuple(notes))


def _tell_served(uses: Sequence[MaterialUse], met: Set[str]) -> None:
    """A layer of manure or compost serves what it brings whole: no line of its own is told for that."""
    for use in uses:
        if use.subject in ORGANIC:
            use.serves = (use.subject, *[name for name in FED if name in met])


def _strict(demand: Demand, shelf: Shelf) -> Demand:
    """The little that may come of what is spared is for what the client has: who buys anew buys without it."""
    own = {name for stock in shelf.stocks.values() if stock.own or stock.at_hand for name in stock.analysis}
    off = demand.spared - own
    needs = tuple([need._replace(cap=0.0) if need.nutrient in off else need for need in demand.needs])
    return demand._replace(needs=needs)


def problem_of(
    case: Case,
    demand: Demand,
    shelf: Shelf,
    wishes: MaterialWishes,
    with_nitrogen: frozenset[str] = frozenset(),
) -> Problem:
    """The question for the solver, in g per m2 or per tree."""
    size = (case.area_m2 or 1.0) if demand.basis == AREAL else 1.0
    counted = tracked(demand.needed)
    limits = dose_limits(case) if demand.basis == AREAL else {}
    return Problem(
        tuple(
            [
                offer(stock, counted, size, _most(case, demand, stock, limits, size, with_nitrogen))
                for stock in shelf.stocks.values()
            ]
        ),
        demand.needs,
        wishes.objective,
        wishes.most_products,
        size,
        wishes.whole_bags,
        shelf.slow.value or 0.0 if shelf.slow is not None else 0.0,
        tuple([pair for pair, rule in shelf.pairs.items() if rule.action == NEVER or _in_one_tank(shelf, pair)]),
    )


def _most(
    case: Case, demand: Demand, stock: Stock, limits: Mapping[str, float], size: float, with_nitrogen: frozenset[str]
) -> float | None:
    """What may be used of a material: no more than there is of what cannot be bought, and what its doses allow.

    None of its doses may pass the limit on a dose of anything that it brings beside the nutrient it is chosen for; the
    whole keeps the hard caps on the material itself, also those on one dose: doses are not always equal.
    """
    lead = lead_of(demand, stock, with_nitrogen)
    doses = max(len(demand.asked[lead].applications), 1)
    most = [
        limit * doses * 100 / stock.analysis[name]
        for name, limit in limits.items()
        if name != lead and name in stock.analysis
    ]
    if demand.basis == AREAL and stock.row is not None:
        own = case.library.index(caps_of_materials).get(stock.row.material, ())
        most.extend([cap.base for cap in own if applies(case, cap.row)])
    if stock.only_at_hand:
        most.append(stock.at_hand / size)
    return min(most, default=None)


def _in_one_tank(shelf: Shelf, pair: Sequence[str]) -> bool:
    """Whether both can only be dissolved: what can be spread dry need not meet another one, and goes by itself."""
    stocks = map(shelf.stocks.get, pair)
    return all(stock is not None and stock.row is not None and SPREAD not in stock.row.use for stock in stocks)


def _solved(case: Case, demand: Demand, shelf: Shelf, wishes: MaterialWishes, solver: Solver) -> Supplied:
    found, parts = _fitting(case, demand, shelf, wishes, solver)
    parts = _weighable(case, demand, shelf, parts)
    bags = {each.material: each.bags for each in found.chosen}
    pairs = {pair: rule for pair, rule in shelf.pairs.items() if bags.keys() >= set(pair)}
    lacking = _lacking(demand, found)
    short = frozenset(name for name, _ in lacking)
    choice = Choice(case, demand, shelf, wishes.objective, pairs, short)
    uses = [use_of(choice, part, bags[part.stock.id]) for part in parts]
    return Supplied(tuple(uses), (*_short(choice, found, lacking, uses), *(_left_out(choice) if case.explain else ())))


def _weighable(case: Case, demand: Demand, shelf: Shelf, parts: Sequence[Part]) -> list[Part]:
    """The parts with the room that each dose has for rounding, and cut where a rule limits quick nitrogen at once."""
    areal = demand.basis == AREAL
    roomy = with_room(demand, parts, dose_limits(case) if areal else {}, yearly_caps(case, demand.basis))
    return split(demand, roomy, split_limits(case, shelf.rules, [part.stock for part in parts])) if areal else roomy


def _fitting(
    case: Case, demand: Demand, shelf: Shelf, wishes: MaterialWishes, solver: Solver
) -> tuple[Plan, list[Part]]:
    """A plan whose doses keep the limits too: what would bring too much at once is left out and the rest asked again.

    The solver knows amounts and not dates; each turn takes one material away, so there are few. The client's own
    products are not left out for their phosphate: where needed they go with the doses of nitrogen.
    """
    limits = dose_limits(case) if demand.basis == AREAL else {}
    with_nitrogen: frozenset[str] = frozenset()
    for turn in count():
        found = solver(problem_of(case, demand, shelf, wishes, with_nitrogen))
        chosen = [(shelf.stocks[each.material], each.amount) for each in found.chosen]
        weighed = [(stock, grams) for stock, grams in chosen if worthwhile(demand, stock, grams)]
        parts = parts_of(demand, weighed, with_nitrogen)
        crowd = crowding(demand, parts, limits)
        if crowd is None:
            if not found.short or with_nitrogen >= (own := _own_with_nitrogen(demand, shelf)):
                return found, parts
            with_nitrogen = own
            continue
        if crowd.own and crowd.id not in with_nitrogen:
            with_nitrogen |= {crowd.id} | (_own_with_nitrogen(demand, shelf) if turn >= TURNS else set())
            continue
        out = {crowd.id} | (_beside(demand, shelf, with_nitrogen) if turn >= TURNS else set())
        shelf = shelf._replace(stocks={name: stock for name, stock in shelf.stocks.items() if name not in out})
    raise AssertionError


def _beside(demand: Demand, shelf: Shelf, with_nitrogen: frozenset[str]) -> frozenset[str]:
    """All that brings nitrogen on the days of something else."""
    return frozenset(
        name
        for name, stock in shelf.stocks.items()
        if "N" in stock.analysis and lead_of(demand, stock, with_nitrogen) != "N"
    )


def _own_with_nitrogen(demand: Demand, shelf: Shelf) -> frozenset[str]:
    """The client's own products that may bring more in several doses: there may be nothing else to buy."""
    return frozenset(
        name for name, stock in shelf.stocks.items() if stock.own and lead_of(demand, stock, frozenset((name,))) == "N"
    )


def _lacking(demand: Demand, found: Plan) -> tuple[tuple[str, float], ...]:
    """What is short by more than a crumb of its need: no spreader and no recommendation is so fine."""
    need = {each.nutrient: each.amount for each in demand.needs}
    return tuple([(name, grams) for name, grams in found.short if grams > CRUMB * need[name]])


def _short(
    choice: Choice, found: Plan, lacking: Sequence[tuple[str, float]], uses: Sequence[MaterialUse]
) -> list[SupplyNote]:
    """What the plan does not bring, which rule stands in the way, and what the nearest plan is."""
    if not lacking:
        return []
    marks = [item.verification or "" for item in choice.demand.asked.values()]
    short = tuple(
        Note("supply.missing", {"subject": Word("subject", name), "amount": _per(choice, grams)})
        for name, grams in lacking
    )
    why = tuple(_binding(choice, code) for code in found.binding)
    text = Note("supply.short" if why else "supply.short_only", {"missing": short, "why": why})
    notes = [SupplyNote("short", text, (), ("practice",), weakest(marks))]
    nearest = tuple(Note("supply.item", {"amount": use.amount, "material": use.name}) for use in uses)
    code = "supply.nearest" if nearest else "supply.nearest_none"
    names = tuple(use.material for use in uses)
    return [*notes, SupplyNote("nearest", Note(code, {"plan": nearest}), names, ("practice",), weakest(marks))]


def _per(choice: Choice, grams: float) -> Quantity:
    case = choice.case
    return rate(case, grams) if choice.demand.basis == AREAL else weigh(case, [grams], "/tree").whole


def _binding(choice: Choice, code: str) -> Note:
    """What stands in the way, in words."""
    kind, _, name = code.partition(".")
    values: dict[str, Any] = {}
    if kind in ("cap", "no_source"):
        values["subject"] = Word("subject", name)
        cap = next((need.cap for need in choice.demand.needs if need.nutrient == name), None)
        if kind == "cap" and not cap and name in choice.demand.spared:
            return Note("supply.binding.none", values)
        values["cap"] = _per(choice, cap or 0.0)
    elif kind == "most":
        values["material"] = choice.shelf.stocks[name].name
    elif kind == "slow_share" and choice.shelf.slow is not None:
        values["why"] = told(choice.case, choice.shelf.slow)
    return Note(f"supply.binding.{kind}", values)


def _left_out(choice: Choice) -> list[SupplyNote]:
    """Materials that would bring what is needed and that a rule keeps out, rule by rule."""
    by_rule: dict[str, list[Excluded]] = {}
    for item in choice.shelf.out:
        if main(item.stock) not in choice.demand.needed:
            continue
        by_rule.setdefault(item.rule.rule, []).append(item)
    found = []
    for items in by_rule.values():
        rule = items[0].rule
        names, more = tuple(item.stock.name for item in items[:MOST_NAMED]), len(items) - MOST_NAMED
        values = {"materials": names, "more": more, "why": told(choice.case, rule)}
        text = Note("supply.left_out_more" if more > 0 else "supply.left_out", values)
        ids = tuple(item.stock.id for item in items)
        found.append(SupplyNote("left_out", text, ids, rule.sources, rule.verification))
    return found
