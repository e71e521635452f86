"""Whether water can leave the root zone, on which leaching and gypsum depend, and what to ask for where it cannot."""

from collections.abc import Iterable, Mapping

from service.agronomy.findings import Note
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import Units, scaled

NO_WAY_OUT = frozenset(("salt.drainage_poor", "salt.water_stands", "salt.hard_layer"))
"""Obstacles that are known to be there; an unknown drainage is not one of them."""

ASKS: Mapping[str, str] = {
    "salt.drainage_poor": "ask.need.outlet",
    "salt.water_stands": "ask.need.outlet",
    "salt.drainage_unknown": "ask.need.drainage",
    "salt.hard_layer": "ask.need.hard_layer",
    "salt.leaching_needs_paste": "ask.need.paste",
    "salt.leaching_needs_sodium": "ask.need.sodium",
    "salt.leaching_water_too_salty": "ask.need.water",
    "salt.leaching_water_sodic": "ask.need.water_sodium",
    "sodium.cec_missing": "ask.need.cec",
    "sodium.cec_inflated": "ask.need.cec",
    "sodium.cec_doubtful": "ask.need.cec_or_lime",
    "sodium.gypsum_needs_esp": "ask.need.esp",
    "sodium.gypsum_needs_corrected_esp": "ask.need.dissolved_sodium",
    "sodium.gypsum_needs_depth": "ask.need.depth",
    "sodium.gypsum_not_by_esp": "ask.need.check_sodium",
}
"""What stands in the way -> what would remove it, as a part of a sentence."""


def drainage_obstacles(case: Case) -> list[Note]:
    """Why salt cannot be washed out of this ground, or why nobody can tell; empty when nothing stands in the way."""
    site = case.submission.site
    obstacles: list[Note] = []
    if site.drainage in ("slow", "ponded"):
        obstacles.append(Note("salt.drainage_poor"))
    elif "ponding" in site.symptoms:
        obstacles.append(Note("salt.water_stands"))
    elif site.drainage != "free":
        obstacles.append(Note("salt.drainage_unknown"))
    if site.hard_layer_depth is not None:
        depth = case.library.index(Units.of).inches(site.hard_layer_depth)
        if scaled(depth) < scaled(reference_of(case.library).factor("hard_layer_blocks_in").value):
            obstacles.append(Note("salt.hard_layer", {"depth": case.units.depth(depth)}))
    return obstacles


def no_way_out(notes: Iterable[Note]) -> bool:
    """Whether one of these notes says that water is known to stand."""
    return any(note.code in NO_WAY_OUT for note in notes)


def asked_for(notes: Iterable[Note]) -> tuple[Note, ...]:
    """What is truly missing or in the way, by the notes that name the obstacles: each once, in their order."""
    found: dict[str, Note] = {}
    for note in notes:
        code = ASKS.get(note.code)
        if code is not None:
            found.setdefault(code, Note(code, note.values))
    return tuple(found.values())
