"""The actions of the lay page: three to five, each topic once, the most important first."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.agronomy.findings import MaterialUse, Note, Recommendation, Word
from service.agronomy.materials.lines import covered, to_spread
from service.agronomy.page import CLOSED, FED, URGENT, Page, judged, lacking, on_leaves, said_of, salty, waiting
from service.agronomy.water import sodic_water

MOST_ACTIONS = 5
MOST_ASKS = 3
REFUSING = frozenset(("refuse",))
ASKED = REFUSING | {"withhold", "hold"}
DOING = ("water", "amendment", "nutrient", "practice")
HEALTH, CLOSING, ASKS, TESTS, SOIL, PLACE, WAIT, LEAVES, FEEDING, BUYING, SHORT, OTHER, OPEN, ROUTINE = range(14)
"""What comes before what."""
FIRST = ("drainage", "gypsum", "leaching", "crop_choice")
"""Subjects that come before the rest: drainage and calcium come before leaching, leaching before feeding."""
TOLERANT = 50
"""Plants that stand the salt come after washing it out."""
SALT_CODES = ("seedlings", "leaching", "white_crust.high", "leaf_burn.high")
IRON = frozenset(("Fe", "iron_chelate"))
IRON_CODES = ("yellow_new_leaves", "iron_")
"""How the codes of what is said about salt and about iron begin."""
MICRONUTRIENTS = frozenset(("Zn", "Fe", "Mn", "Cu", "B"))
BOUGHT = FED | MICRONUTRIENTS | {"gypsum", "sulfur", "lime", "compost", "manure"}
METHOD_ASKS = "ask.order_method"
OUTLET = frozenset(("ask.need.outlet", "ask.need.hard_layer", "ask.part.outlet"))
SODIUM_ASKS = frozenset(("ask.gypsum_needs_tests", "ask.sodium"))


class Line(NamedTuple):
    """One thing to do: how early it comes, and what it is about."""

    rank: tuple[int, int]
    topic: str
    note: Note


def actions(page: Page, retest: str | None) -> tuple[Note, ...]:
    """Health, what is missing, soil and place, waiting, feeding, then the routine."""
    lines = [*_health(page), *_asks(page), *_tests(page), *_place(page), *_advice(page), *_routine(page, retest)]
    lines.sort(key=_early)
    kept: dict[str, Note] = {}
    for line in lines:
        if line.note not in kept.values():
            kept.setdefault(line.topic, line.note)
    return tuple(kept.values())[:MOST_ACTIONS]


def _early(line: Line) -> tuple[int, int]:
    return line.rank


def _health(page: Page) -> Iterable[Line]:
    for item in page.cautions:
        if item.code in URGENT:
            yield Line((HEALTH, 0), item.code, Note(f"summary.first.{item.code}", item.values))
    if page.outcome in CLOSED:
        yield Line((CLOSING, 0), "closed", Note("summary.wait" if page.outcome == "held" else "summary.send_again"))


def _asks(page: Page) -> list[Line]:
    """What to send or to order; tests by another method in one line."""
    wanted = REFUSING if page.outcome == "refused" else ASKED
    asks = once([reason.ask for reason in page.reasons if reason.severity in wanted and reason.ask is not None])
    by_method = tuple(ask for ask in asks if ask.code.startswith(METHOD_ASKS))
    if len(by_method) > 1:
        orders = tuple(Note("summary.order_one", ask.values) for ask in by_method)
        asks = (Note("summary.order_tests", {"tests": orders}), *[ask for ask in asks if ask not in by_method])
    most = len(asks) if page.outcome in CLOSED else MOST_ASKS
    return [Line((ASKS, place), _ask_topic(ask, place), ask) for place, ask in enumerate(asks[:most])]


def _ask_topic(ask: Note, place: int) -> str:
    """Two ways of asking for the sodium test are one, and so are two of looking for a way out for the water."""
    if ask.code in SODIUM_ASKS:
        return "sodium"
    return "drainage" if any(part.code in OUTLET for part in ask.values.get("what", ())) else f"ask {place}"


def _tests(page: Page) -> Iterable[Line]:
    """Tests that come before anything is bought: sodium where it is suspected, salts where they are only estimated."""
    if page.outcome == "refused":
        return
    sodium, salinity = page.sodium, page.salinity
    if sodium is not None and sodium.sodium_class == "unknown":
        yield Line((TESTS, 0), "sodium", Note("ask.sodium"))
    estimated = salinity is not None and salinity.ece is not None and salinity.ece.estimated
    if estimated and salty(page.case, salinity) is not None:
        yield Line((TESTS, 1), "ask.salts", Note("ask.salts"))
    notes = salinity.notes if salinity is not None else ()
    if any(note.code == "salt.drainage_unknown" for note in notes):
        yield Line((TESTS, -1), "drainage", Note("summary.test_drainage"))
    if not judged(page.findings):
        yield Line((TESTS, 2), "routine test", Note("summary.order_routine_test"))


def _place(page: Page) -> Iterable[Line]:
    """Water that harms the soil; water and slope beside ground that is fed."""
    if page.outcome != "refused" and page.case.water and sodic_water(page.case) is not None:
        yield Line((SOIL, -1), "water", Note("summary.water_sodic"))
    for item in page.cautions:
        if item.code == "near_water":
            yield Line((PLACE, 0), "near water", Note("summary.near_water", {"strip": item.values["strip"]}))
        elif item.code == "softened_water":
            yield Line((SOIL, -2), "water", Note("summary.unsoftened"))
        elif item.code == "steep_slope":
            yield Line((PLACE, 1), "slope", item.values["how"])
    yield from _tolerant(page)


def _tolerant(page: Page) -> Iterable[Line]:
    """Mixed ground on salt: the plants that would stand it, by the tables; and those that stand the boron."""
    salinity = page.salinity
    if salinity is None or page.outcome == "refused":
        return
    plants = tuple(Word("crop", each.crop) for each in salinity.alternatives if each.relative_yield_pct is not None)
    if plants and salinity.relative_yield_pct is None:
        yield Line((SOIL, TOLERANT), "tolerant plants", Note("summary.grow_tolerant", {"plants": plants}))
    for note in salinity.notes:
        if note.code == "salt.boron_alternatives":
            yield Line((SOIL, TOLERANT), "tolerant of boron", Note("summary.grow_boron_tolerant", note.values))


def _advice(page: Page) -> Iterable[Line]:
    """Every recommendation that is something to do, but a word on a middling trace element."""
    short, wait = lacking(page), waiting(page)
    for place, item in enumerate(page.recommendations):
        if item.kind not in DOING:
            continue
        if item is wait:
            yield Line((WAIT, 0), item.subject, _with_material(item, page.materials))
            continue
        rank = _rank(item, short)
        if rank is not None and not covered(item, page.materials):
            yield Line((rank, _among(item, place)), _topic(item), _with_material(item, page.materials))


def _rank(item: Recommendation, short: dict[str, Word]) -> int | None:
    subject, code = item.subject, said_of(item)
    if subject in FIRST or item.kind in ("water", "amendment") or code.startswith(SALT_CODES):
        return SOIL
    if on_leaves(item):
        return LEAVES
    if item.kind == "nutrient":
        return FEEDING
    if subject in short:
        return SHORT
    if subject in FED:
        return OPEN
    if subject in MICRONUTRIENTS:
        return None
    return BUYING if subject == "fertilizer" else OTHER


def _among(item: Recommendation, place: int) -> int:
    """Within its rank: drainage, calcium, washing; then as the answer has it, water and amendments first."""
    if item.subject in FIRST:
        return FIRST.index(item.subject)
    return len(FIRST) + 100 * DOING.index(item.kind) + place


def _topic(item: Recommendation) -> str:
    """What an action is about: two sentences about one thing are one action."""
    code = said_of(item)
    if item.subject in IRON or code.startswith(IRON_CODES):
        return "iron"
    if item.subject in ("compost", "manure"):
        return "organic"
    return code if item.subject == "irrigation" else item.subject


def _with_material(item: Recommendation, materials: Sequence[MaterialUse]) -> Note:
    """A feeding as what to spread, where a material was chosen for it; anything else as it is."""
    mine = [use for use in materials if use.subject == item.subject] if item.kind == "nutrient" else []
    if not mine:
        return _with_time(item)
    said = [to_spread(use) for use in mine]
    if item.in_full:
        said.insert(0, item.text)
    note = said[0]
    for each in said[1:]:
        note = Note("summary.both", {"first": note, "second": each})
    return note


def _with_time(item: Recommendation) -> Note:
    """As it is; lime with the weeks that it wants before planting and between it and nitrogen."""
    weeks = {name: item.text.values[name] for name in ("before", "apart") if name in item.text.values}
    if item.subject != "lime" or not weeks:
        return action(item)
    return Note("summary.both", {"first": action(item), "second": Note("summary.lime_when", weeks)})


def action(item: Recommendation) -> Note:
    """One recommendation as one line: how much of what, in how many doses, for the whole area where it is known."""
    if item.kind == "practice" or item.rate is None or item.in_full:
        return item.text
    values = {"subject": Word("subject", item.subject), "rate": item.rate, "total": item.for_area}
    times = len(item.applications)
    code = "summary.apply_area" if item.for_area is not None else "summary.apply"
    if times > 1:
        first = item.applications[0]
        return Note(f"{code}_split", {**values, "times": times, "dose": first.rate, "when": first.when})
    if times == 1:
        return Note(f"{code}_when", {**values, "when": item.applications[0].when})
    return Note(code, values)


def _routine(page: Page, retest: str | None) -> Iterable[Line]:
    """What closes every list: what need not be bought, unless it is said already, and the next test."""
    if retest is None:
        return
    items = page.recommendations
    used = {_topic(item) for item in items if item.kind in DOING}
    enough = [item for item in items if item.kind == "none_needed" and item.subject in BOUGHT]
    spared = tuple(Word("subject", item.subject) for item in enough if _topic(item) not in used)
    if spared and not any(item.subject == "fertilizer" for item in items):
        yield Line((ROUTINE, 0), "spared", Note("summary.skip", {"subjects": tuple(dict.fromkeys(spared))}))
    year, _, month = retest.partition("-")
    yield Line(
        (ROUTINE, 1), "test", Note("summary.test_again", {"month": Word("month", str(int(month))), "year": year})
    )
    yield Line((ROUTINE, 2), "keep", Note("summary.keep_report"))


def once(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Each message once: the same code with the same values is the same message."""
    kept: list[Note] = []
    for note in notes:
        if note not in kept:
            kept.append(note)
    return tuple(kept)
