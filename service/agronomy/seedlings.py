"""Seedlings: they often stand less salt than the grown plant, for which the tolerance tables hold."""

from service.agronomy.amendments import TURF_KINDS, answer
from service.agronomy.ece import EceReading
from service.agronomy.findings import Note, Recommendation, Salinity
from service.agronomy.ledger import Ledger
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.salt_rating import rating_rung, rating_start
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import SaltToleranceRow
from service.agronomy.units import scaled

SOWN = frozenset(("planning", "planting", "seeding", "overseeding"))
LIMIT, TENDER, GENERAL = "salt.seedling_limit", "salt.seedling_tender", "salt.seedlings"
TOLD = frozenset((LIMIT, TENDER, GENERAL))
FIELD_KINDS = frozenset(("field", "forage"))


def tell_seedlings(case: Case, reading: EceReading, ledger: Ledger) -> None:
    """Say what the salt does to the seedling, where one is to come up in it.

    By the source's own limit for seedlings where it prints one; else from the ECe at which the grown plant begins to
    lose, because the published line holds for plants past the seedling stage (FAO61, annex 1).
    """
    crop = case.crop
    salt = crop.salt if crop else None
    if crop is None or salt is None or case.submission.target.stage not in SOWN or "woody" in crop.traits:
        return
    high, limit = scaled_end(reading.high, FAR), salt.seedling_limit_dS_m
    if limit is not None:
        if high > scaled(limit):
            ledger.use(salt)
            ledger.note(LIMIT, limit=Quantity(limit, "dS/m"))
        return
    if high > scaled(_start(case, salt)):
        ledger.use(salt, reference_of(case.library).formula("mh"))
        ledger.note(TENDER if salt.seedling_tender else GENERAL)


def _start(case: Case, salt: SaltToleranceRow) -> float:
    """The ECe from which a seedling is looked after: where the grown plant begins to lose, or sensitive plants do."""
    if salt.threshold_dS_m is not None:
        return salt.threshold_dS_m
    if salt.rating:
        return rating_start(rating_rung(case, salt))
    return reference_of(case.library).factor("sensitive_limit_dS_m").value


def seedling_practice(case: Case, salinity: Salinity | None) -> list[Recommendation]:
    """What helps a seedling through salt, when the salt results say that it needs help."""
    said = [] if salinity is None else [note for note in salinity.notes if note.code in TOLD]
    if not said or case.crop is None:
        return []
    ledger = Ledger(case.explain)
    ledger.use(case.crop.salt)
    kind = case.crop.kind
    way = "turf" if kind in TURF_KINDS else "field" if kind in FIELD_KINDS else "bed"
    text = Note(f"rec.seedlings_{way}", {"why": said[0]})
    return [answer("practice", "irrigation", text, ledger)]
