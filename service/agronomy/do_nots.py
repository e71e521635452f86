"""The firm *do nots* of the lay page: of cautions and recommendations, then the strongest the soil itself says."""

from collections.abc import Iterable, Mapping

from service.agronomy.actions import once
from service.agronomy.cautions import forbidding
from service.agronomy.findings import Note
from service.agronomy.page import CLOSED, P_EXCESS, URGENT, Page, overfull, said_of, waiting

ENOUGH = 5
"""Beyond so many nothing is added that no caution or recommendation says."""
BARRED: Mapping[str, frozenset[str]] = {
    "boron_enough_soil": frozenset(("B", "boron")),
    "boron_in_water": frozenset(("B", "boron")),
    "acid_home": frozenset(("acid",)),
    "acidifying_limy_soil": frozenset(("sulfur", "aluminum_sulfate", "acid", "lower_ph")),
    "wood_ash_alkaline": frozenset(("wood_ash",)),
    "phosphorus_law": frozenset(("P2O5",)),
    "compost_overload": frozenset(("compost", "manure")),
    "salty_soil_fertilizer": frozenset(("manure",)),
    "copper_buildup": frozenset(("Cu",)),
    "zinc_buildup": frozenset(("Zn",)),
    "frozen_ground": frozenset(("N", "P2O5", "K2O", "S", "compost", "manure", "gypsum", "sulfur", "lime")),
}
"""Caution -> subjects of recommendations that it rules out as an action."""
STRONG = ("soil_nitrate_high", "salty_soil_fertilizer", "near_water")
"""Cautions whose warning is a *do not* as well."""


def do_nots(page: Page) -> tuple[Note, ...]:
    """Every firm *do not* once; what a recommendation says with its arithmetic is not said bare beside it."""
    said = [item for item in page.recommendations if item.kind in ("do_not", "not_suited")]
    subjects = frozenset(item.subject for item in said)
    strict = forbidding(page.case.library) | URGENT
    notes = [
        Note(f"do_not.{item.code}", item.values)
        for item in page.cautions
        if item.code in strict and subjects.isdisjoint(BARRED.get(item.code, ()))
    ]
    notes += [item.text for item in said]
    if page.outcome == "refused":
        return once(notes)
    codes = {note.code for note in notes}
    for note in _strongest(page, subjects):
        if len(notes) < ENOUGH and note.code not in codes:
            notes.append(note)
    return once(notes)


def _strongest(page: Page, said: frozenset[str]) -> Iterable[Note]:
    """What a reader must not do on this ground, the most harmful first."""
    wait = waiting(page)
    if wait is not None and page.outcome not in CLOSED:
        yield Note("do_not.feed_in_heat")
    if page.sodium is not None and page.sodium.sodium_class == "sodic" and "leaching" not in said:
        yield Note("do_not.leach_sodic")
    yield from _phosphorus(page, said)
    for item in page.cautions:
        if item.code in STRONG and said.isdisjoint(BARRED.get(item.code, ())):
            yield Note(f"do_not.{item.code}", item.values)
    yield from _routine(page, said)


def _phosphorus(page: Page, said: frozenset[str]) -> Iterable[Note]:
    if any(item.code == "phosphorus_law" for item in page.cautions):
        return
    if any(said_of(item) == P_EXCESS for item in page.recommendations):
        yield Note("do_not.phosphate" if said & {"manure", "compost"} else "do_not.phosphate_manure_compost")
    elif any(word.word == "P" for word in overfull(page)):
        yield Note("do_not.phosphate")


def _routine(page: Page, said: frozenset[str]) -> Iterable[Note]:
    """What holds on a quiet report: the most nitrogen a lawn stands at once, and no lime on lime."""
    crop = page.case.crop
    for item in page.recommendations:
        limits = [each.limit for each in item.applications if each.limit is not None]
        if crop is not None and crop.kind == "lawn" and item.subject == "N" and limits:
            yield Note("do_not.nitrogen_at_once", {"maximum": limits[0].values.get("maximum")})
    if page.reaction is not None and page.reaction.calcareous and not said & {"lime", "wood_ash"}:
        yield Note("do_not.lime")
