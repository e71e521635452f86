"""What is said of one chosen material: how much of it, in which doses, bags and cups, what comes with it, and why."""

from collections.abc import Sequence
from math import ceil, inf
from typing import NamedTuple

from service.agronomy.doses import AREAL
from service.agronomy.findings import Application, Bags, MaterialDose, MaterialUse, Note, Recommendation, Step, Word
from service.agronomy.materials import weights
from service.agronomy.materials.allowed import Shelf
from service.agronomy.materials.doses import ONCE, Part
from service.agronomy.materials.facts import FARM, HOME
from service.agronomy.materials.needs import Demand
from service.agronomy.materials.rules import TOLD, WATER_IN, Excluded, fits, told
from service.agronomy.materials.stock import Stock
from service.agronomy.rounding import prepare_rounding
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import MaterialRuleRow, weakest
from service.agronomy.timing import WORKED_IN
from service.agronomy.units import significant

PRODUCT = "product_amount"
SOWN = ("planning", "planting", "seeding", "overseeding", None)
SEED_ROW = frozenset(("never_with_seed",))
"""What is to be minded only where something is sown."""
SAID_BY_RULES = frozenset(("gas_loss", "limy_gas_loss", "chloride", "dogs", "stains", "lasting"))
"""Cautions of a material that a rule puts into a whole sentence wherever they matter."""
BURNS, LAWN = "burns", "lawn"
MOST_NAMED = 3
BUYERS = frozenset((HOME, FARM))


class Choice(NamedTuple):
    """What a plan was made from: the case, the needs, the materials, pairs that are not mixed; and what stays short."""

    case: Case
    demand: Demand
    shelf: Shelf
    objective: str
    pairs: dict[tuple[str, str], MaterialRuleRow]
    short: frozenset[str]


def use_of(choice: Choice, part: Part, bags: int | None) -> MaterialUse:
    """One material of the plan."""
    case, stock = choice.case, part.stock
    areal = choice.demand.basis == AREAL
    area = case.area_m2 if areal else 1.0
    rate = _rate(choice, part.grams, part.most_whole)
    weighed = None
    if area is not None:
        doses, most = ([each * area for each in found] for found in (part.doses, part.most))
        weighed = weights.weigh(case, doses, "" if areal else "/tree", most, part.most_whole * area)
    rules = _told(choice, part)
    rows = [stock.row] if stock.row is not None else []
    lead = choice.demand.asked[part.lead]
    return MaterialUse(
        subject=part.lead,
        material=stock.id,
        name=stock.name,
        grade=stock.grade,
        amount=rate if weighed is None else weighed.whole,
        rate=rate,
        why=_why(choice, part),
        serves=tuple([name for name in part.serves if name == part.lead or name not in choice.short]),
        supplies=_supplied(choice, part.lead, part.grams * stock.analysis[part.lead] / 100),
        per_application=_doses(choice, part, weighed),
        household=None if area is None else weights.household(case, stock, part.grams * area),
        also_supplies=tuple(
            (name, _supplied(choice, name, part.grams * share / 100))
            for name, share in stock.analysis.items()
            if name != part.lead
        ),
        bags=None if area is None else _bags(case, stock, part.grams * area, bags),
        how=_how(choice, part, rules),
        because=(_step(choice, part, rate),) if case.explain else (),
        sources=tuple(dict.fromkeys(source for row in (*rows, *rules) for source in row.sources)),
        verification=_mark(stock, lead, rules),
        base_rate=part.grams,
    )


def _rate(choice: Choice, grams: float, most: float = inf) -> Quantity:
    """So much of a material, per area or per tree."""
    if choice.demand.basis == AREAL:
        return weights.rate(choice.case, grams, most)
    return weights.weigh(choice.case, [grams], "/tree", (), most).whole


def _supplied(choice: Choice, name: str, grams: float) -> Quantity:
    """What a material brings of a nutrient, told like the need for it, so that both can be compared."""
    rounding, areal = choice.case.library.index(prepare_rounding), choice.demand.basis == AREAL
    return rounding.rate(choice.case.units, name, grams, areal)


def _doses(choice: Choice, part: Part, weighed: weights.Weights | None) -> tuple[MaterialDose, ...]:
    case, areal = choice.case, choice.demand.basis == AREAL
    area = case.area_m2 if areal else 1.0
    found = []
    for place, (dose, when) in enumerate(zip(part.doses, part.whens, strict=True)):
        amount = None if weighed is None else weighed.doses[place]
        found.append(
            MaterialDose(
                when=ONCE if when is None else when.when,
                amount=amount,
                rate=_rate(choice, dose, part.most[place] if part.most else inf),
                household=None if area is None else weights.household(case, part.stock, dose * area),
                from_date=when.from_date if when else None,
                to_date=when.to_date if when else None,
            )
        )
    return tuple(found)


def _bags(case: Case, stock: Stock, grams: float, whole: int | None) -> Bags | None:
    """What is to be bought beyond what is at hand."""
    if stock.bag is None:
        return None
    wanted = max(grams - stock.at_hand, 0.0)
    count = ceil(wanted / stock.bag - 1e-9) if whole is None else whole
    left = max(count * stock.bag - wanted, 0.0)
    size = case.units.mass(stock.bag)
    return Bags(count, size, Quantity(significant(case.units.mass(left).value, 2), size.unit))


def _step(choice: Choice, part: Part, rate: Quantity) -> Step:
    """The arithmetic: what it brings of its first nutrient over its share of the product."""
    share = part.stock.analysis[part.lead]
    brings = _supplied(choice, part.lead, part.grams * share / 100)
    sources = part.stock.row.sources if part.stock.row is not None else ()
    return Step(PRODUCT, PRODUCT, {"nutrient": brings, "grade": share}, rate.value, rate.unit, sources)


def _told(choice: Choice, part: Part) -> list[MaterialRuleRow]:
    """The rules with something to say of a material: of those that ask for water the first, and the others.

    What is worked in lies neither on grass nor on top of the soil.
    """
    found = [
        row
        for row in choice.shelf.rules
        if row.action in TOLD and fits(row, part.stock) and (not row.nutrient or row.nutrient in choice.demand.asked)
    ]
    if part.whens and all(when is not None and _worked_in(when) for when in part.whens):
        found = [row for row in found if row.action != WATER_IN and LAWN not in row.when]
    water = [row for row in found if row.action == WATER_IN][:1]
    return water + [row for row in found if row.action != WATER_IN]


def _worked_in(when: Application) -> bool:
    return when.when.code.removeprefix("when.") in WORKED_IN


def _how(choice: Choice, part: Part, rules: Sequence[MaterialRuleRow]) -> tuple[Note, ...]:
    case, stock, row = choice.case, part.stock, part.stock.row
    found = []
    if row is not None and "spread" not in row.use:
        found.append(Note("material.how.dissolve"))
    found += [told(case, rule, stock) for rule in rules]
    for name in stock.analysis:
        if name in choice.demand.spared:
            brings = _supplied(choice, name, part.grams * stock.analysis[name] / 100)
            found.append(Note("material.how.spared", {"subject": Word("subject", name), "amount": brings}))
    for pair, rule in choice.pairs.items():
        if stock.id in pair:
            other = choice.shelf.stocks[pair[0] if pair[1] == stock.id else pair[1]]
            found.append(Note("material.how.apart", {"other": other.name, "why": told(case, rule)}))
    said = SAID_BY_RULES | ({BURNS} if any(LAWN in rule.when for rule in rules) else set())
    if case.submission.target.stage not in SOWN:
        said = said | SEED_ROW
    words = [word for word in row.cautions if word not in said] if row is not None else []
    found += [Note("material.how.mind", {"what": Note(f"material.caution.{word}")}) for word in words]
    return tuple(found)


def _why(choice: Choice, part: Part) -> Note:
    """Why this one: at hand, listed, the others kept out, several needs at once, or simply the nutrient alone."""
    stock, lead = part.stock, Word("subject", part.lead)
    if stock.at_hand:
        return Note("material.why.at_hand", {"amount": weights.weigh(choice.case, [stock.at_hand]).whole})
    if stock.own:
        return Note("material.why.own_short" if choice.short else f"material.why.own_{choice.objective}")
    liked = choice.shelf.liked.get(stock.id)
    if liked is not None:
        return told(choice.case, liked, stock)
    slow = choice.shelf.slow
    if slow is not None and part.lead == "N" and stock.slow >= (slow.value or 0.0):
        return told(choice.case, slow, stock)
    rivals = _rivals(choice, part)
    if rivals:
        rule = rivals[0].rule
        names = tuple(item.stock.name for item in rivals if item.rule is rule)[:MOST_NAMED]
        return Note("material.why.others_out", {"materials": names, "why": told(choice.case, rule)})
    if len(part.serves) > 1:
        return Note("material.why.several", {"subjects": tuple(Word("subject", name) for name in part.serves)})
    return Note("material.why.alone", {"subject": lead})


def _rivals(choice: Choice, part: Part) -> list[Excluded]:
    """Materials as good for the nutrient that this ground itself keeps out: what a reader would ask about."""
    least = part.stock.analysis[part.lead] / 2
    return [
        item
        for item in choice.shelf.out
        if item.stock.analysis.get(part.lead, 0.0) >= least
        and main(item.stock) == part.lead
        and not BUYERS.issuperset(item.rule.when)
    ]


def main(stock: Stock) -> str:
    """The nutrient of which a material holds most."""
    return max(stock.analysis, key=stock.analysis.__getitem__)


def _mark(stock: Stock, lead: Recommendation, rules: Sequence[MaterialRuleRow]) -> str | None:
    """The weakest mark of the analysis, the recommendation behind it and the rules that were told."""
    row = stock.row
    analysis = "practice" if row is None else row.analysis_verification or row.verification
    return weakest((analysis, lead.verification or "", *(rule.verification for rule in rules)))
