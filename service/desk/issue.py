"""Issuing: a submission becomes an interpretation, numbered and kept, or answered and forgotten."""

from dataclasses import replace
from typing import NamedTuple

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Note, Reason
from service.contract.answer import encoded
from service.contract.problem import Problem
from service.desk.callers import Caller
from service.desk.drafting import HELD, Circumstances, draft, interpreted, issue_of, worded
from service.desk.enrolment import Enrolled, enrol
from service.desk.intake import Received, receive
from service.desk.keeping import Owner, Ties, keep
from service.desk.keys import Keys, content_of, keys_of
from service.desk.office import Office
from service.desk.release import Gate, gate_of, group_of
from service.desk.sample_states import check_open, follow
from service.store.records import Claim, Former
from service.store.store import Book

NOT_KEPT = Reason("held_not_kept", "info", ask=Note("ask.send_to_be_kept"))
"""A held answer that is not kept is on nobody's desk."""


class Reply(NamedTuple):
    """What the caller gets: 201 a new record, 200 an answer not kept or one known before, 409 a conflict."""

    status: int
    body: bytes
    id: str | None = None


def answer_only(caller: Caller, body: bytes, office: Office) -> bytes:
    """The same answer as `issue` gives, keeping nothing. Raises ProblemError."""
    now = office.now()
    enrolled = enrol(caller, office, body)
    received = receive(enrolled.body, office, now.date(), keep=False)
    gate = _gate(_owner(caller, enrolled), caller, office, received)
    found = interpreted(received, Circumstances(gate.mode, conflicts=enrolled.conflicts))
    if found.outcome == HELD:
        found = replace(found, reasons=(*found.reasons, NOT_KEPT))
    shown = worded(visible_to_submitter(found), received, office, issue_of(received, office, now))
    return encoded({**shown, "remarks": ()})


def issue(caller: Caller, body: bytes, office: Office, claim: Claim | None = None) -> Reply:
    """Interpret and keep; the same case sent again gives the first answer. Raises ProblemError."""
    now = office.now()
    enrolled = enrol(caller, office, body)
    received = receive(enrolled.body, office, now.date(), keep=True)
    owner = _owner(caller, enrolled)
    gate = _gate(owner, caller, office, received)
    circumstances = Circumstances(gate.mode, conflicts=enrolled.conflicts)
    drafted = draft(received, office, issue_of(received, office, now), circumstances)
    keys, content = keys_of(caller, received.submission), content_of(received.submission)
    with office.records.writing() as book:
        if keys.business:
            keys = keys._replace(business=book.voids.free_key(keys.business))
        formers = book.formers(keys.case) if keys.case else []
        reply = _known(book, formers, keys, content, received)
        if reply is None:
            replaces = book.newest(formers[0].id) if formers else None
            sample = enrolled.sample
            if sample is not None:
                check_open(book, sample)
            ties = Ties(keys.case, keys.business, content, replaces, sample.id if sample else None)
            record = keep(book, owner, office, drafted, ties, gate)
            if sample is not None:
                follow(book, sample, record, caller.actor)
            reply = Reply(201, record.answer, record.id)
        if claim is not None:
            book.finish(claim, reply.status, reply.id, reply.body)
    return reply


def _owner(caller: Caller, enrolled: Enrolled) -> Owner:
    """The report belongs to the office that took the sample in; without a form to whoever sends the results."""
    sample = enrolled.sample
    if sample is None or sample.organization == caller.organization:
        return Owner(caller.organization, caller.actor, caller.sandbox)
    return Owner(sample.organization, caller.actor, sample.sandbox, caller.organization)


def _gate(owner: Owner, caller: Caller, office: Office, received: Received) -> Gate:
    group = group_of(received.library, received.submission.target.crop)
    return gate_of(caller._replace(organization=owner.organization, sandbox=owner.sandbox), office, group)


def _known(book: Book, formers: list[Former], keys: Keys, content: str, received: Received) -> Reply | None:
    """The first answer to the same content, a conflict, or None for a case that may be issued."""
    same = next((former for former in formers if former.business_key == keys.business), None)
    if same and same.content_sha256 == content:
        return Reply(200, book.answer_of(same.id), same.id)
    if formers and (same or formers[0].revision > received.submission.sample.revision):
        return Reply(409, _conflict(same or formers[0], formers[0].revision + 1).encoded(), None)
    return None


def _conflict(former: Former, next_revision: int) -> Problem:
    detail = (
        f"This laboratory number was interpreted for the same target as {former.id} from other content. "
        f"To correct it send sample.revision {next_revision}; the new interpretation replaces the former."
    )
    return Problem("conflict", detail, extra={"interpretation": former.id, "next_revision": next_revision})
