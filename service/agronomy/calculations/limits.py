"""Caps and always-a-person rules for a single calculation, where nobody said what grows there or who tends it."""

from typing import NamedTuple

from service.agronomy.amendments import CAP_SUBJECTS, plan
from service.agronomy.calculations.given import Given
from service.agronomy.caps import SAME, SEASON, Cap, Caps, over_cap
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.health import Rules
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled

AREAL = "areal_rate"
LAWN, TILLED = "lawn", "tilled"


def broken_cap(given: Given, subject: str, whole: float, dose: float) -> Reason | None:
    """The hold for a rate that no use allows, g/m2.

    Caps without a use hold for everything. Of yearly caps by use the largest counts, since the use is not known; caps
    on one dose by use are told with `tell_single_dose` instead.
    """
    caps = [
        cap
        for cap in given.library.index(Caps.of).by_subject.get(SAME.get(subject, subject), ())
        if cap.dimension == AREAL
    ]
    for cap in caps:
        if not cap.row.uses and scaled(whole if cap.row.per in SEASON else dose) > scaled(cap.base):
            return as_asked(over_cap(given.library, subject, cap, whole if cap.row.per in SEASON else dose))
    yearly = [cap for cap in caps if cap.row.uses and cap.row.per in SEASON]
    largest = max(yearly, key=_base, default=None)
    if largest is not None and scaled(whole) > scaled(largest.base):
        return as_asked(over_cap(given.library, subject, largest, whole))
    return None


def as_asked(reason: Reason) -> Reason:
    """The same hold where the dose comes from the request and not from a rate table."""
    return reason._replace(code="rate_over_cap")


def _base(cap: Cap) -> float:
    return cap.base


def tell_single_dose(given: Given, subject: str, g_m2: float) -> None:
    """Say that a rate is more than a lawn takes at once: nobody said whether it is for one."""
    cap = given.reference.cap(CAP_SUBJECTS.get(subject, subject), LAWN)
    if cap is None or scaled(g_m2) <= scaled(cap.g_m2):
        return
    values = {
        "subject": Word("subject", subject),
        "maximum": Quantity(cap.row.maximum, cap.row.unit),
        "doses": plan(g_m2, cap).doses,
    }
    given.ledger.use(cap.row)
    given.warn("calc.over_lawn_dose", **values)


class Split(NamedTuple):
    """A total as equal doses under the cap for worked ground, as the contract shows them, and one dose, g/m2."""

    applications: tuple[dict[str, object], ...]
    dose: float


def split(given: Given, subject: str, g_m2: float) -> Split:
    """Equal doses, as few as the cap for worked ground allows."""
    cap = given.reference.cap(CAP_SUBJECTS.get(subject, subject), TILLED)
    planned = plan(g_m2, cap)
    when = Note(f"when.{subject}_once" if planned.doses == 1 else f"when.{subject}_split", {"count": planned.doses})
    limit = None if cap is None else Note(f"limit.{subject}", {"maximum": given.rate(cap.g_m2)})
    if cap is not None:
        given.ledger.use(cap.row)
    application = {"when": when, "doses": planned.doses, "rate": given.rate(planned.dose), "limit": limit}
    return Split((application,), planned.dose)


def too_large(given: Given, subject: str) -> Reason | None:
    """Gypsum and reclamation for more than the area that a rule may release."""
    if given.area_m2 is None:
        return None
    rules = given.library.index(Rules.of)
    limit = Quantity(rules.limit("reclamation_area"), rules.row("reclamation_area").unit)
    if scaled(given.area_m2) <= scaled(given.units.square_metres(limit)):
        return None
    values = {"subject": Word("subject", subject), "area": given["area"], "limit": limit}
    return Reason("reclamation_area", "hold", None, values, Note("ask.reclamation"))
