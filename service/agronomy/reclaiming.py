"""Reclaiming salty or sodic ground: when a person plans it, whether or not an amount could be worked out.

A site on which nothing can be reckoned because water stands there must not be watched less than one that drains.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from service.agronomy.findings import Note, Reason, Recommendation, Salinity, Sodium, Word
from service.agronomy.health import Rules
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.units import Units, scaled

AMOUNTS = frozenset(("nutrient", "amendment", "water"))
RECLAIMING = frozenset(("gypsum", "leaching"))
PROFESSIONAL = frozenset(("market", "field"))
SPORTS = "sports"
FIELD_KINDS = frozenset(("field", "forage"))
WITHHELD = "salt.leaching_withheld"
STANDING = frozenset(("slow", "ponded"))
UNSAID = frozenset((None, "unknown"))


def reclamation(
    case: Case, recommendations: Sequence[Recommendation], salinity: Salinity | None, sodium: Sodium | None
) -> Iterable[Reason]:
    """Reasons to hold: gypsum or leaching on a large area, or on any worked for a living or for sports."""
    what = _wanted(recommendations, salinity, sodium)
    if what is None:
        return
    rules = case.library.index(Rules.of)
    limit = Quantity(rules.limit("reclamation_area"), rules.row("reclamation_area").unit)
    subject, ask = Word("subject", what), _ask(case, _asked_already(recommendations))
    largest = scaled(case.library.index(Units.of).square_metres(limit))
    if case.area_m2 is not None and scaled(case.area_m2) > largest:
        large: dict[str, Any] = {"subject": subject, "area": case.submission.target.area, "limit": limit}
        yield Reason("reclamation_area", "hold", None, large, ask)
    if _for_others(case):
        yield Reason("reclamation_use", "hold", None, {"subject": subject}, ask)


def _wanted(recommendations: Sequence[Recommendation], salinity: Salinity | None, sodium: Sodium | None) -> str | None:
    """What has to be done: an amount given, sodium that calls for calcium, or a washing-out withheld for now."""
    for item in recommendations:
        if item.kind in AMOUNTS and item.subject in RECLAIMING:
            return item.subject
    if sodium is not None and sodium.sodium_class == "sodic":
        return "gypsum"
    measured = salinity is not None and salinity.ece is not None and not salinity.ece.estimated
    if measured and salinity is not None and any(note.code == WITHHELD for note in salinity.notes):
        return "leaching"
    return None


def _asked_already(recommendations: Sequence[Recommendation]) -> bool:
    """Whether gypsum or leaching was withheld: its own reason asks how the water gets away."""
    return any(item.subject in RECLAIMING and item.reason is not None for item in recommendations)


def _ask(case: Case, asked: bool) -> Note | None:
    """What the person who plans it will want to know and nobody has sent or been asked for yet."""
    site = case.submission.site
    wanted = []
    if not asked and site.drainage in UNSAID:
        wanted.append(Note("ask.part.drainage"))
    elif not asked and site.drainage in STANDING:
        wanted.append(Note("ask.part.outlet"))
    if not case.water:
        wanted.append(Note("ask.part.water"))
    return Note("ask.reclaiming", {"what": tuple(wanted)}) if wanted else None


def _for_others(case: Case) -> bool:
    """Worked for a living, or grounds that many people play on."""
    use, crop = case.submission.target.condition.use, case.crop
    if use is None and crop is not None and SPORTS in crop.traits:
        return True
    return use == SPORTS or works_for_living(case)


def works_for_living(case: Case) -> bool:
    """Whether the target is a market or field use; a field crop is one unless somebody says it is at home."""
    use = case.submission.target.condition.use
    if use is None:
        return case.crop is not None and case.crop.kind in FIELD_KINDS
    return use in PROFESSIONAL
