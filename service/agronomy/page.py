"""What the lay page is made from, and the few questions that verdict, actions and *do nots* all ask of it."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from service.agronomy.findings import (
    Caution,
    Finding,
    MaterialUse,
    Note,
    Reason,
    Recommendation,
    Salinity,
    Sodium,
    Word,
)
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import scaled

FULL = 100
SALTY = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
MAIN = frozenset(("P", "K"))
"""Nutrients without which nothing is said of the soil as a whole."""
FED = frozenset(("N", "P2O5", "K2O", "S"))
LOW = frozenset(("very_low", "low"))
EXCESS = frozenset(("excessive", "toxic"))
OVERFULL_P = EXCESS | {"very_high"}
CLOSED = frozenset(("held", "refused"))
DOSED = frozenset(("nutrient", "amendment", "water"))
P_EXCESS, LEAF_ZINC, HEAT = "p_excess", "zn_foliar", "n_lawn_heat"
"""How the codes of what is said about overfull phosphorus, zinc on leaves and nitrogen in the heat begin."""

SUBJECTS: Mapping[str, str] = {
    "P": "P2O5",
    "K": "K2O",
    "S": "S",
    "SO4-S": "S",
    "Zn": "Zn",
    "Fe": "Fe",
    "Mn": "Mn",
    "Cu": "Cu",
    "B": "B",
}
"""Nutrient as tested -> subject of its recommendation."""

URGENT = frozenset(
    (
        "lead_level",
        "lead_removal_level",
        "lead_several_sources",
        "arsenic_level",
        "cadmium_level",
        "metal_level_undecided",
        "water_nitrate_infant",
        "well_untested_infant",
    )
)
"""Cautions about people's health that give the first action and a firm *do not*."""
HEALTH = URGENT | {"boiling_nitrate", "sheep_copper", "forage_livestock"}
"""Cautions that come before any verdict on the soil."""


class Page(NamedTuple):
    """The answer as the lay page sees it; ``recommendations`` are those that may be shown and that no caution bars."""

    case: Case
    outcome: str
    findings: tuple[Finding, ...]
    salinity: Salinity | None
    sodium: Sodium | None
    reaction: Reaction | None
    recommendations: Sequence[Recommendation]
    cautions: Sequence[Caution]
    reasons: Sequence[Reason]
    materials: Sequence[MaterialUse] = ()


def said_of(item: Recommendation) -> str:
    """The code of a recommendation's sentence, without its prefix."""
    return item.text.code.removeprefix("rec.")


def salty(case: Case, salinity: Salinity | None) -> Note | None:
    """Salt as the verdict: where it costs the target a loss worth a caution, or the soil counts as salty."""
    if salinity is None or salinity.ece is None:
        return None
    kind = "_estimate" if salinity.ece.estimated else ""
    left = salinity.relative_yield_pct
    worth_telling = reference_of(case.library).factor("yield_loss_caution_pct").value
    if left is not None and scaled(FULL - left) >= scaled(worth_telling):
        return Note(f"summary.verdict_salt_costs_yield{kind}", {"yield": float(round(left))})
    return Note(f"summary.verdict_saline{kind}") if salinity.salinity_class in SALTY else None


def boron_high(salinity: Salinity | None) -> Note | None:
    """What is said of boron above the target's threshold."""
    notes = () if salinity is None else salinity.notes
    return next((note for note in notes if note.code == "salt.boron_high"), None)


def judged(findings: Sequence[Finding]) -> bool:
    """Whether enough was rated to speak of the soil as a whole."""
    return any(item.status == "rated" and item.analyte in MAIN for item in findings)


def lacking(page: Page) -> dict[str, Word]:
    """Subject -> name of every nutrient that tested low and for which the answer has no amount."""
    cared_for = {item.subject for item in page.recommendations if item.kind == "nutrient" or on_leaves(item)}
    found: dict[str, Word] = {}
    for item in page.findings:
        subject = SUBJECTS.get(item.analyte)
        if subject is not None and item.status == "rated" and item.rating in LOW and subject not in cared_for:
            found.setdefault(subject, Word("analyte", item.analyte))
    return found


def on_leaves(item: Recommendation) -> bool:
    """Zinc that a tree needs on its leaves: the headline where it is called for."""
    return said_of(item).startswith(LEAF_ZINC)


def overfull(page: Page) -> tuple[Word, ...]:
    """What the soil holds far more of than plants need."""
    found = [item.analyte for item in page.findings if item.rating in (OVERFULL_P if item.analyte == "P" else EXCESS)]
    if any(said_of(item) == P_EXCESS for item in page.recommendations):
        found.append("P")
    return tuple(Word("analyte", analyte) for analyte in dict.fromkeys(found))


def left_open(page: Page) -> tuple[Word, ...]:
    """Main nutrients for which there is advice but neither an amount nor a *none needed*."""
    low = lacking(page)
    found = [item.subject for item in page.recommendations if item.kind == "practice" and item.subject in FED]
    return tuple(Word("subject", subject) for subject in dict.fromkeys(found) if subject not in low)


def waiting(page: Page) -> Recommendation | None:
    """Nitrogen that has to wait for the heat to pass."""
    return next((item for item in page.recommendations if said_of(item).startswith(HEAT)), None)
