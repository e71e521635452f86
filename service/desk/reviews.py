"""The soil scientist's queue: what waits, one case at a time, and what a decision makes of it."""

from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

import orjson

from service.agronomy.judgement import Edit, Judgement, WrongEdit
from service.agronomy.tables import Library, ReleaseRuleRow
from service.contract.json_body import read_json
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.submission import load_submission
from service.desk.callers import Caller
from service.desk.drafting import HELD, Circumstances, Drafted, draft, issue_of
from service.desk.intake import Received
from service.desk.keeping import Owner, Ties, keep
from service.desk.office import Office
from service.desk.phrases import Phrasing, remarks_of
from service.desk.records import tables_of
from service.desk.release import Gate
from service.desk.sample_states import follow
from service.desk.switching import back_to_shadow
from service.desk.times import utc
from service.store.records import Record, Sight
from service.store.reviews import Review
from service.store.store import Book

CLAIM_MINUTES = 15
RULES = "release-rules"
DECIDED = "review.decided"


class WantedTest(NamedTuple):
    """A test that the client is to order: what, and by which method where it matters."""

    analyte: str
    method: str | None = None


class Decision(NamedTuple):
    """What a reviewer decides: approve, edit, ask or reject; with a reason for all but the first."""

    decision: str
    reason: str | None = None
    edits: tuple[Edit, ...] = ()
    notes: tuple[Phrasing, ...] = ()
    serious: bool | None = None
    tests: tuple[WantedTest, ...] = ()


class Why(NamedTuple):
    """One reason that a case is on the desk for, as its owner needs it."""

    code: str
    severity: str
    analyte: str | None
    message: str
    ask: str | None
    owner: str
    to_do: str


class Case(NamedTuple):
    """One case: what is known of it on the desk, the reasons it is there for, and its report."""

    review: Review
    reasons: list[tuple[str, str]]
    record: Record


class Decided(NamedTuple):
    """A decision and the report that it made, where it made one."""

    review: Review
    issued: Record | None


def queue(
    caller: Caller, office: Office, after: tuple[int, int] | None, limit: int, state: str, kind: str | None
) -> list[tuple[Review, list[tuple[str, str]]]]:
    """Cases in the caller's sight, the most urgent first and then the oldest, each with its reasons."""
    owner = None if caller.sees_all else caller.organization
    with office.records.reading() as reading:
        found = reading.reviews.queue(after, limit, owner, state, kind)
        reasons = reading.reviews.reasons([review.serial for review in found])
    return [(review, reasons.get(review.serial, [])) for review in found]


def case(caller: Caller, office: Office, id: str) -> Case:  # noqa: A002
    """One case with its report. Raises ProblemError 404, the same for an unknown and a foreign id."""
    with office.records.reading() as reading:
        review = reading.reviews.find(id)
        reasons = reading.reviews.reasons([review.serial]) if review else {}
    record = office.records.find(_sight(caller), review.interpretation) if review else None
    if review is None or record is None:
        raise ProblemError(Problem("not-found", "There is no case of this id on the desk."))
    return Case(review, reasons.get(review.serial, []), record)


def whys(office: Office, draft: dict[str, Any]) -> list[Why]:
    """The reasons of a draft in its language, gravest first, each with who owns its rule and what to look at."""
    library, spanish = office.library(office.now().date()), draft["language"] == "es"
    rules = library.index(owners)
    found = []
    for reason in draft["reasons"]:
        rule = rules.get(reason["code"])
        owner, to_do = (
            ((rule.owner_es, rule.to_do_es) if spanish else (rule.owner_en, rule.to_do_en)) if rule else ("", "")
        )
        found.append(
            Why(reason["code"], reason["severity"], reason["analyte"], reason["message"], reason["ask"], owner, to_do)
        )
    return found


def owners(library: Library) -> dict[str, ReleaseRuleRow]:
    """The release rules by code, prepared once."""
    return {row.code: row for row in library.rows(RULES, ReleaseRuleRow)}


def question(office: Office, record: Record) -> str | None:
    """What the client asked at the counter, where the report has a form."""
    if record.sample is None:
        return None
    with office.records.reading() as reading:
        sample = reading.samples.find(record.sample)
    asked = orjson.loads(sample.document).get("question") if sample else None
    return asked if isinstance(asked, str) else None


def _sight(caller: Caller) -> Sight:
    """A reviewer's: of the own office, or all; never what a laboratory sent for another office."""
    return Sight(caller.organization, caller.sees_all)


def claim(caller: Caller, office: Office, id: str) -> Review:  # noqa: A002
    """Take a case for a while, so that nobody else works on it. Raises ProblemError 404, 409."""
    case(caller, office, id)
    now = office.now()
    with office.records.writing() as book:
        until = utc(now + timedelta(minutes=CLAIM_MINUTES))
        if not book.reviews.claim(id, caller.actor, utc(now), until):
            raise _taken(book.reviews.find(id))
        return _seen(book, id)


def unclaim(caller: Caller, office: Office, id: str) -> Review:  # noqa: A002
    """Give a case back; nothing happens to one that the caller has not claimed. Raises ProblemError 404."""
    case(caller, office, id)
    with office.records.writing() as book:
        book.reviews.release(id, caller.actor)
        return _seen(book, id)


def decide(caller: Caller, office: Office, id: str, decision: Decision) -> Decided:  # noqa: A002
    """Write a decision; a report goes out, is refused, or waits for what was asked.

    Raises:
        ProblemError: 404; 409 decided already, claimed by somebody else, or overtaken; 422 an edit that cannot be
            made or would break a hard cap.
    """
    found = case(caller, office, id)
    now = office.now()
    drafted = _drafted(caller, office, found, decision, now)
    with office.records.writing() as book:
        if not book.reviews.claim(id, caller.actor, utc(now), utc(now + timedelta(minutes=CLAIM_MINUTES))):
            raise _taken(book.reviews.find(id))
        issued = _issued(book, caller, office, found, drafted) if drafted else None
        _close(book, caller, found.review, decision, issued, now)
        return Decided(_seen(book, id), issued)


def _drafted(caller: Caller, office: Office, found: Case, decision: Decision, now: datetime) -> Drafted | None:
    """The report that the decision makes; None where it makes none."""
    unread = found.record.outcome != HELD
    if decision.decision == "ask" or (decision.decision == "approve" and unread and not decision.notes):
        return None
    rejected = decision.reason if decision.decision == "reject" else None
    received = _received(office, found.record)
    remarks = remarks_of(decision.notes, received.library, received.submission.options.language)
    judgement = Judgement(decision.edits, rejected)
    conflicts = Circumstances.decoded(found.record.circumstances).conflicts
    circumstances = Circumstances(
        judgement=judgement, remarks=remarks, as_on=received.today, conflicts=conflicts, reader=caller.actor
    )
    try:
        drafted = draft(received, office, issue_of(received, office, now, "person"), circumstances)
    except WrongEdit as wrong:
        pointer = f"/edits/{wrong.index}/{wrong.field}"
        raise invalid([FieldError(pointer, wrong.code, "this edit cannot be made", wrong.expected)]) from None
    _mind_caps(drafted)
    return drafted


def _mind_caps(drafted: Drafted) -> None:
    """Not even a person lets an amount above its hard cap go out. Raises ProblemError 422 with the arithmetic."""
    if drafted.found.outcome == HELD and drafted.whole is not None:
        broken = next(reason for reason in drafted.whole["reasons"] if reason["severity"] == "hold")
        right = "an amount at or below its cap"
        raise invalid([FieldError("/edits", broken["code"], broken["message"], right)])


def _received(office: Office, record: Record) -> Received:
    """The stored submission with the tables it was read by; with today's where those are gone."""
    before = Circumstances.decoded(record.circumstances).as_on
    today = before or date.fromisoformat(record.issued_on)
    library = tables_of(record, office) or office.library(today)
    return Received(record.submission, load_submission(read_json(record.submission), library, today), library, today)


def _issued(book: Book, caller: Caller, office: Office, found: Case, drafted: Drafted) -> Record:
    record, review = found.record, found.review
    if book.newest(record.id) != record.id:
        raise ProblemError(Problem("not-in-this-state", "The report was replaced in the meantime."))
    owner = Owner(record.organization, caller.actor, record.sandbox, record.laboratory_organization)
    ties = Ties(record.case_key, None, record.content_sha256, record.id, record.sample)
    gate = Gate(review.release_class or "", review.crop_group or "", "release", 0.0)
    issued = keep(book, owner, office, drafted, ties, gate)
    sample = book.samples.find(record.sample) if record.sample else None
    if sample is not None:
        follow(book, sample, issued, caller.actor)
    return issued


def _close(
    book: Book, caller: Caller, review: Review, decision: Decision, issued: Record | None, now: datetime
) -> None:
    asked = decision.decision == "ask"
    serious = decision.serious if decision.serious is not None else decision.decision == "reject"
    values = {
        "state": "waiting" if asked else "closed",
        "claimed_by": None,
        "claimed_until": None,
        "decision": decision.decision,
        "decided_at": utc(now),
        "decided_by": caller.actor,
        "reason": decision.reason,
        "edits": orjson.dumps(decision.edits, default=list).decode(),
        "notes": orjson.dumps(decision.notes, default=list).decode(),
        "tests": orjson.dumps(decision.tests, default=list).decode() if asked else None,
        "serious": serious,
        "issued": issued.id if issued else None,
    }
    if not book.reviews.close(review.id, values):
        raise _taken(None)
    at = now.isoformat(timespec="seconds")
    detail = {"decision": decision.decision, "reason": decision.reason or "", "serious": serious}
    book.trail.append(review.organization, at, caller.actor, DECIDED, "review", review.id, "", detail)
    if asked:
        tests = [test._asdict() for test in decision.tests]
        told = {"interpretation": review.interpretation, "reason": decision.reason, "tests": tests}
        book.trail.tell(review.organization, at, "review.asked", review.id, told)
    if serious and review.kind in ("reread", "shadow") and not review.sandbox:
        back_to_shadow(book, caller, review, at)


def _seen(book: Book, id: str) -> Review:  # noqa: A002
    found = book.reviews.find(id)
    if found is None:
        raise ProblemError(Problem("not-found", "There is no case of this id on the desk."))
    return found


def _taken(review: Review | None) -> ProblemError:
    if review is None or review.state == "closed":
        return ProblemError(Problem("not-in-this-state", "Somebody has decided this case already."))
    detail = f"Somebody else has this case until {review.claimed_until}."
    return ProblemError(Problem("claimed", detail, extra={"claimed_until": review.claimed_until}))
