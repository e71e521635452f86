"""Issuing: a submission becomes an interpretation, numbered and kept, or answered and forgotten."""

from dataclasses import replace
from typing import NamedTuple

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Note, Reason
from service.contract.answer import encoded
from service.contract.problem import Problem
from service.desk.callers import Caller
from service.desk.drafting import HELD, Circumstances, draft, interpreted, issue_of, worded
from service.desk.intake import Received, receive
from service.desk.keeping import Owner, Ties, keep
from service.desk.keys import Keys, content_of, keys_of
from service.desk.office import Office
from service.desk.release import Gate, gate_of, group_of
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
    received = receive(body, office, now.date(), keep=False)
    found = interpreted(received, Circumstances(_gate(caller, office, received).mode))
    if found.outcome == HELD:
        found = replace(found, reasons=(*found.reasons, NOT_KEPT))
    shown = worded(visible_to_submitter(found), received, office, issue_of(received, office, now))
    return encoded({**shown, "remarks": ()})


def issue(caller: Caller, body: bytes, office: Office, claim: Claim | None = None) -> Reply:
    """Interpret and keep; the same case sent again gives the first answer. Raises ProblemError."""
    now = office.now()
    received = receive(body, office, now.date(), keep=True)
    gate = _gate(caller, office, received)
    drafted = draft(received, office, issue_of(received, office, now), Circumstances(gate.mode))
    keys, content = keys_of(caller, received.submission), content_of(received.submission)
    owner = Owner(caller.organization, caller.actor, caller.sandbox)
    with office.records.writing() as book:
        formers = book.formers(keys.case) if keys.case else []
        reply = _known(book, formers, keys, content, received)
        if reply is None:
            replaces = book.newest(formers[0].id) if formers else None
            ties = Ties(keys.case, keys.business, content, replaces)
            record = keep(book, owner, office, drafted, ties, gate)
            reply = Reply(201, record.answer, record.id)
        if claim is not None:
            book.finish(claim, reply.status, reply.id, reply.body)
    return reply


def _gate(caller: Caller, office: Office, received: Received) -> Gate:
    return gate_of(caller, office, group_of(received.library, received.submission.target.crop))


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
