"""``blend``: which materials, and how much of each, bring what is needed, by the solver of the interpretation."""

from collections.abc import Mapping

from service.agronomy.calculations.blend_given import NOWHERE, OBJECTIVES, Asked, asked, needs_of, problem_of
from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer, withheld_answer
from service.agronomy.calculations.given import Given
from service.agronomy.calculations.limits import broken_cap, broken_material_cap, tell_single_dose
from service.agronomy.errors import AgronomyError
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.materials.problem import Plan, Problem
from service.agronomy.materials.rules import apart, holding
from service.agronomy.materials.stock import Stock, is_acid
from service.agronomy.units import scaled

RESULT = ("products", "supplied", "excess", "salt_index_load", "cost", "met", "proven", "short", "binding")
type_of_amounts = Mapping[str, float]


def blend(given: Given) -> Answer:
    """Amounts of materials that bring what is needed.

    Quantities: rates in g/m2 inside; answered per area and for the whole area. Least of the objective, with every
    need met and no cap passed (formula ``blend``); else the plan that is least short, and what stands in the way.

    Raises:
        WrongInput: an unknown nutrient, material or unit; a price that is missing.
        AgronomyError: no solver is at hand.
    """
    given.above_zero("area")
    needs = needs_of(given)
    held = _boron(needs) or _over_cap(given, needs)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    wanted = asked(given, needs)
    held = next((found for found in map(_always_a_person, wanted.stocks.values()) if found), None)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    if given.solver is None:
        raise AgronomyError("no solver")
    problem = problem_of(given, wanted)
    plan = given.solver(problem)
    amounts = {each.material: each.amount for each in plan.chosen}
    held = _over_cap(given, supply(wanted.stocks, amounts)) or _too_much(given, amounts)
    if held is not None:
        return withheld_answer(given, RESULT, held)
    return _answer(given, wanted, problem, plan)


def supply(stocks: Mapping[str, Stock], amounts: type_of_amounts) -> dict[str, float]:
    """Nutrients that amounts of materials bring, in the unit of the amounts (formula ``blend_supply``)."""
    found: dict[str, float] = {}
    for name, amount in amounts.items():
        for nutrient, share in stocks[name].analysis.items():
            found[nutrient] = found.get(nutrient, 0.0) + amount * share / 100
    return found


def salt_load(index: Mapping[str, float | None], amounts: type_of_amounts) -> float | None:
    """As much sodium nitrate as would salt the soil alike (formula ``salt_load``); None where an index is not known."""
    total = 0.0
    for name, amount in amounts.items():
        known = index[name]
        if known is None:
            return None
        total += amount * known / 100
    return total


def _boron(needs: Mapping[str, float]) -> Reason | None:
    return Reason("boron_amount", "hold", "B", {}, Note("ask.boron")) if needs.get("B") else None


def _always_a_person(stock: Stock) -> Reason | None:
    """Any material with boron, any acid."""
    if "B" in stock.analysis:
        return Reason("boron_amount", "hold", "B", {}, Note("ask.boron"))
    return Reason("acid", "hold", None, {}, Note("ask.acid")) if is_acid(stock.properties) else None


def _over_cap(given: Given, rates: type_of_amounts) -> Reason | None:
    """A hard cap of the tables that a rate breaks."""
    held = (broken_cap(given, subject, rate, rate) for subject, rate in rates.items())
    return next((found for found in held if found is not None), None)


def _too_much(given: Given, amounts: type_of_amounts) -> Reason | None:
    """A hard cap on a material itself that its amount breaks."""
    held = (broken_material_cap(given, name, rate, rate) for name, rate in amounts.items())
    return next((found for found in held if found is not None), None)


def _answer(given: Given, wanted: Asked, problem: Problem, plan: Plan) -> Answer:
    amounts = {each.material: each.amount for each in plan.chosen}
    supplied = supply(wanted.stocks, amounts)
    index = {offer.material: offer.salt_index for offer in problem.offers}
    salt = salt_load(index, amounts)
    _steps(given, wanted, plan, supplied, salt)
    _tell(given, wanted, problem, plan, supplied)
    over = {name: rate - wanted.needs.get(name, 0.0) for name, rate in supplied.items()}
    return given_answer(
        given,
        {
            "products": tuple(
                _product(given, wanted.stocks[each.material], each.amount, each.bags) for each in plan.chosen
            ),
            "supplied": {name: given.rate(rate) for name, rate in sorted(supplied.items())},
            "excess": {name: given.rate(rate) for name, rate in sorted(over.items()) if scaled(rate) > 0},
            "salt_index_load": None if salt is None else given.rate(salt),
            "cost": _cost(given, plan),
            "met": plan.status == "met",
            "proven": plan.proven,
            "short": {name: given.rate(rate) for name, rate in plan.short},
            "binding": plan.binding,
        },
    )


def _product(given: Given, stock: Stock, g_m2: float, bags: int | None) -> dict[str, object]:
    return {
        "material": stock.id,
        "grade": stock.grade or None,
        "amount": given.total(g_m2),
        "rate": given.rate(g_m2),
        "bags": bags,
        "left_over": None if bags is None else given.total(_left_over(given, stock, g_m2, bags)),
    }


def _left_over(given: Given, stock: Stock, g_m2: float, bags: int) -> float:
    """What stays in the bags, g/m2 of the area."""
    area = given.area_m2 or 1.0
    bought = max(g_m2 - stock.at_hand / area, 0.0)
    return max(bags * (stock.bag or 0.0) / area - bought, 0.0)


def _cost(given: Given, plan: Plan) -> float | None:
    """In the client's money, for the whole area."""
    return None if plan.cost is None else given.in_unit(plan.cost * (given.area_m2 or 0.0), "1", "1").value


def _steps(given: Given, wanted: Asked, plan: Plan, supplied: type_of_amounts, salt: float | None) -> None:
    """What was asked, what each nutrient comes to, and the salt."""
    needs = {name: given.rate(rate) for name, rate in wanted.needs.items()}
    given.step("blend", "blend", {"objective": wanted.objective, **needs}, float(len(plan.chosen)), "1")
    for nutrient, total in sorted(supplied.items()):
        shown = given.rate(total)
        parts: dict[str, object] = {
            each.material: given.rate(each.amount * wanted.stocks[each.material].analysis[nutrient] / 100)
            for each in plan.chosen
            if nutrient in wanted.stocks[each.material].analysis
        }
        given.step("blend_supply", "blend_supply", {"nutrient": nutrient, **parts}, shown.value, shown.unit)
    if salt is not None and plan.chosen:
        shown = given.rate(salt)
        amounts: dict[str, object] = {each.material: given.rate(each.amount) for each in plan.chosen}
        given.step("blend_salt_load", "salt_load", amounts, shown.value, shown.unit)


def _tell(given: Given, wanted: Asked, problem: Problem, plan: Plan, supplied: type_of_amounts) -> None:
    """What is short and why, more than a lawn takes at once, materials that are not mixed."""
    if plan.status != "met":
        missing = tuple(
            Note("supply.missing", {"subject": Word("subject", name), "amount": given.rate(rate)})
            for name, rate in plan.short
        )
        why = tuple(_binding(given, wanted, problem, code) for code in plan.binding)
        given.warn("supply.short" if why else "supply.short_only", missing=missing, **({"why": why} if why else {}))
    for nutrient, rate in sorted(supplied.items()):
        tell_single_dose(given, nutrient, rate)
    chosen = {each.material: wanted.stocks[each.material] for each in plan.chosen}
    rules = apart(holding(given.library, NOWHERE), chosen)
    for (first, second), row in rules.items():
        names = {"first": chosen[first].name, "second": chosen[second].name}
        given.warn("calc.blend_apart", **names, why=Note(f"material.rule.{row.rule}"))


def _binding(given: Given, wanted: Asked, problem: Problem, code: str) -> Note:
    """What stands in the way, in words."""
    kind, _, name = code.partition(".")
    if kind == "cap":
        cap = next(need.cap for need in problem.needs if need.nutrient == name)
        return Note("supply.binding.cap", {"subject": Word("subject", name), "cap": given.rate(cap or 0.0)})
    if kind == "no_source":
        return Note("supply.binding.no_source", {"subject": Word("subject", name)})
    if kind == "most":
        return Note("supply.binding.most", {"material": wanted.stocks[name].name})
    return Note("calc.blend_slow_share" if kind == "slow_share" else f"supply.binding.{kind}")


BLEND = Calculation(
    "blend",
    "Which materials bring what is needed, and how much of each: least cost, least salt, fewest products or least"
    " excess, no nutrient above its cap.",
    (
        Input(
            "needs",
            "quantities",
            "A rate for each nutrient; P and K are elemental, P2O5 and K2O as labelled.",
            example={"N": {"value": 0.9, "unit": "lb/1000 ft2"}, "P2O5": {"value": 0.3, "unit": "lb/1000 ft2"}},
        ),
        Input("area", "quantity", "The ground.", dimension="area", example={"value": 5000, "unit": "ft2"}),
        Input(
            "materials",
            "materials",
            'Ids of /v1/materials or grades such as 21-0-0; or "any": what is sold dry to homes, or to farms for areas'
            " in acres or hectares.",
            False,
            example=["ammonium_sulfate", "11-52-0", "potassium_sulfate"],
        ),
        Input(
            "objective", "word", "What is made least; few_products.", False, words=OBJECTIVES, example="few_products"
        ),
        Input("constraints", "constraints", "Rules that the choice keeps beside those of the tables.", False),
        Input(
            "prices",
            "prices",
            "By material: of one bag where constraints.bags names its size, else of one lb, or of one kg where the area"
            " is metric.",
            False,
        ),
    ),
    blend,
    formulas=("blend", "blend_supply", "salt_load"),
)
