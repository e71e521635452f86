"""The lay page in codes: one verdict, three to five actions in order, what not to do, when to test again, whom to ask.

It only repeats what the answer says elsewhere and never goes against a caution: what a caution forbids is no action.
"""

from collections.abc import Iterable, Sequence
from datetime import date

from service.agronomy.actions import DOING, actions
from service.agronomy.do_nots import BARRED, do_nots
from service.agronomy.findings import (
    NOTHING,
    Caution,
    Finding,
    MaterialUse,
    Note,
    Reason,
    Recommendation,
    Salinity,
    Sodium,
    Summary,
)
from service.agronomy.kept_back import without_amounts
from service.agronomy.page import CLOSED, EXCESS, HEALTH, Page, judged, salty
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.verdict import verdict

MONTHS_PER_YEAR = 12


def summarize(
    case: Case,
    outcome: str,
    findings: tuple[Finding, ...],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction | None,
    recommendations: Sequence[Recommendation],
    cautions: Sequence[Caution],
    reasons: Sequence[Reason],
    materials: Sequence[MaterialUse] = (),
) -> Summary:
    """The page for people, from what was decided. Of a held case it gives no amount, of a refused one no advice."""
    ruled_out = barred(cautions)
    allowed = [item for item in recommendations if not (item.kind in DOING and item.subject in ruled_out)]
    shown = list(without_amounts(allowed)) if outcome in CLOSED else allowed
    if outcome == "refused":
        shown, cautions = [], [item for item in cautions if item.severity == "danger"]
    page = Page(
        case,
        outcome,
        findings,
        salinity,
        sodium,
        reaction,
        shown,
        cautions,
        reasons,
        () if outcome in CLOSED else materials,
    )
    retest = None if outcome == "refused" else _retest(page, recommendations)
    return Summary(
        verdict=verdict(page),
        actions=actions(page, retest),
        do_not=do_nots(page),
        retest=retest,
        contact=_contact(outcome, cautions),
    )


def barred(cautions: Iterable[Caution]) -> frozenset[str]:
    """Subjects that no action may be about, because a caution rules them out."""
    return frozenset(subject for item in cautions for subject in BARRED.get(item.code, ()))


def _retest(page: Page, recommendations: Sequence[Recommendation]) -> str:
    """The month of the next test: sooner where something has to be followed or is not known yet."""
    trouble = (
        salty(page.case, page.salinity) is not None
        or (page.sodium is not None and page.sodium.sodium_class != "nonsodic")
        or not judged(page.findings)
        or any(item.rating in EXCESS for item in page.findings)
        or any(item.kind == "amendment" for item in recommendations)
    )
    row = reference_of(page.case.library).factor("retest_years_problem" if trouble else "retest_years_routine")
    return _later(page.case.as_of, round(row.value * MONTHS_PER_YEAR))


def _later(day: date, months: int) -> str:
    year, month = divmod(day.year * MONTHS_PER_YEAR + day.month - 1 + months, MONTHS_PER_YEAR)
    return f"{year:04d}-{month + 1:02d}"


def _contact(outcome: str, cautions: Sequence[Caution]) -> Note:
    """Whom to ask: those whom a caution about health names, else the county office."""
    for item in cautions:
        if item.code in HEALTH and item.consult:
            return Note("summary.contact_danger", {"who": tuple(Note(f"consult.{who}") for who in item.consult)})
    return Note("summary.contact_held" if outcome == "held" else "summary.contact", NOTHING)
