"""Issuing: a submission becomes an interpretation, numbered and kept, or answered and forgotten."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Interpretation, Note, Reason
from service.agronomy.interpret import interpret
from service.contract.answer import Issue, document, encoded
from service.contract.problem import Problem
from service.desk.callers import Caller
from service.desk.intake import Received, receive, sha256
from service.desk.keys import Keys, content_of, keys_of
from service.desk.office import Office
from service.desk.trail import note_issued
from service.store.records import Claim, Former, Record
from service.store.store import Book

HELD = "held"
REFUSED = "refused"
NOT_KEPT = Reason("held_not_kept", "info", ask=Note("ask.send_to_be_kept"))
"""A held answer that is not kept is on nobody's desk."""


class Reply(NamedTuple):
    """What the caller gets: 201 a new record, 200 an answer not kept or one known before, 409 a conflict."""

    status: int
    body: bytes
    id: str | None = None


@dataclass(frozen=True, slots=True)
class Drafted:
    """A finished answer that only lacks its number: the submitter's view, and the whole where that is more."""

    received: Received
    found: Interpretation
    issue: Issue
    shown: dict[str, Any]
    whole: dict[str, Any] | None


def answer_only(body: bytes, office: Office) -> bytes:
    """The same answer as `issue` gives, keeping nothing. Raises ProblemError."""
    now = office.now()
    received = receive(body, office, now.date(), keep=False)
    found = interpret(received.submission, received.library, received.today)
    if found.outcome == HELD:
        found = replace(found, reasons=(*found.reasons, NOT_KEPT))
    return encoded(_words_of(visible_to_submitter(found), received, office, _issue(received, office, now)))


def issue(caller: Caller, body: bytes, office: Office, claim: Claim | None = None) -> Reply:
    """Interpret and keep; the same case sent again gives the first answer. Raises ProblemError."""
    now = office.now()
    received = receive(body, office, now.date(), keep=True)
    drafted = draft(received, office, _issue(received, office, now))
    keys = keys_of(caller.organization, received.submission)
    content = content_of(received.submission)
    with office.records.writing() as book:
        formers = book.formers(keys.case) if keys.case else []
        reply = _known(book, formers, keys, content, received) or _keep(
            book, caller, office, drafted, formers, keys, content
        )
        if claim is not None:
            book.finish(claim, reply.status, reply.id, reply.body)
    return reply


def draft(received: Received, office: Office, issued: Issue) -> Drafted:
    """Interpret and word a submission, for its submitter and, when it is held, for the reviewer."""
    found = interpret(received.submission, received.library, received.today)
    shown = _words_of(visible_to_submitter(found), received, office, issued)
    whole = _words_of(found, received, office, issued) if found.outcome == HELD else None
    return Drafted(received, found, issued, shown, whole)


def _words_of(found: Interpretation, received: Received, office: Office, issued: Issue) -> dict[str, Any]:
    options, library = received.submission.options, received.library
    return document(found, options, issued, library.sources, office.words(library, options.language).say)


def _issue(received: Received, office: Office, now: datetime) -> Issue:
    return Issue(
        id=None,
        issued_at=now.isoformat(timespec="seconds"),
        engine=office.engine,
        submission_sha256=sha256(received.body),
    )


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


def _keep(
    book: Book, caller: Caller, office: Office, drafted: Drafted, formers: list[Former], keys: Keys, content: str
) -> Reply:
    received, found = drafted.received, drafted.found
    year = received.today.year
    sequence = book.next_sequence(caller.organization, year)
    replaced = formers[0].id if formers else None
    stamp: dict[str, Any] = {"id": str(uuid4()), "number": _number(caller, year, sequence), "replaces": replaced}
    shown = encoded({**drafted.shown, **stamp})
    sample = received.submission.sample
    record = Record(
        **stamp,
        organization=caller.organization,
        year=year,
        sequence=sequence,
        issued_at=drafted.issue.issued_at,
        issued_on=received.today.isoformat(),
        outcome=found.outcome,
        crop=found.crop,
        laboratory=sample.laboratory,
        lab_number=sample.lab_number,
        revision=sample.revision,
        case_key=keys.case,
        business_key=None if found.outcome == REFUSED else keys.business,
        content_sha256=content,
        submission=received.body,
        submission_sha256=drafted.issue.submission_sha256,
        answer=shown,
        answer_sha256=sha256(shown),
        draft=encoded({**drafted.whole, **stamp}) if drafted.whole else None,
        engine=office.engine,
        editions=_editions(received, office),
        sandbox=caller.sandbox,
    )
    book.add(record)
    note_issued(book, record, caller.actor)
    return Reply(201, shown, stamp["id"])


def _number(caller: Caller, year: int, sequence: int) -> str:
    """The number on the report; one of the sandbox cannot be taken for a real one."""
    return f"{'S-' if caller.sandbox else ''}{year}-{sequence:06d}"


def _editions(received: Received, office: Office) -> str:
    """Every edition that was in force and the state of the sources, so that the same tables can be laid out again."""
    library = received.library
    crops = {name: crop.edition.edition for name, crop in library.crops.items()}
    editions = {**{name: ref.edition for name, ref in library.editions.items()}, **crops}
    return orjson.dumps({"sources": office.sources_sha256, "editions": editions}).decode()
