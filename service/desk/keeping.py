"""Keeping an answer: its number, its record, its place on the desk where a person must look, and its trail."""

from datetime import date
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.contract.answer import encoded
from service.desk.drafting import Drafted
from service.desk.intake import Received, sha256
from service.desk.office import Office
from service.desk.opening import open_review
from service.desk.release import Gate
from service.desk.trail import note_issued
from service.desk.usage import words_of
from service.store.records import Record
from service.store.store import Book

REFUSED = "refused"
GIVEN = ("released", "partial")


class Owner(NamedTuple):
    """Whose report it is, who made it, and the laboratory that sent the results where that is another organization."""

    organization: str
    actor: str
    sandbox: bool = False
    laboratory: str | None = None


class Ties(NamedTuple):
    """What a record is tied to: its case, the content it answers, what it replaces, the form it was joined with."""

    case_key: str | None
    business_key: str | None
    content_sha256: str
    replaces: str | None = None
    sample: str | None = None


def keep(book: Book, owner: Owner, office: Office, drafted: Drafted, ties: Ties, gate: Gate) -> Record:
    """Write one interpretation with all that belongs to it, in the transaction of ``book``."""
    received, found = drafted.received, drafted.found
    issued_on = drafted.issue.issued_at[:10]
    year = int(issued_on[:4])
    sequence = book.next_sequence(owner.organization, year)
    stamp: dict[str, Any] = {"id": str(uuid4()), "number": _number(owner, year, sequence), "replaces": ties.replaces}
    shown = encoded({**drafted.shown, **stamp})
    sample, site = received.submission.sample, received.submission.site
    record = Record(
        **stamp,
        organization=owner.organization,
        year=year,
        sequence=sequence,
        issued_at=drafted.issue.issued_at,
        issued_on=issued_on,
        outcome=found.outcome,
        crop=found.crop,
        laboratory=sample.laboratory,
        lab_number=sample.lab_number,
        revision=sample.revision,
        case_key=ties.case_key,
        business_key=None if found.outcome == REFUSED else ties.business_key,
        content_sha256=ties.content_sha256,
        submission=received.body,
        submission_sha256=drafted.issue.submission_sha256,
        answer=shown,
        answer_sha256=sha256(shown),
        draft=encoded({**drafted.whole, **stamp}) if drafted.whole else None,
        engine=office.engine,
        editions=_editions(received, office),
        laboratory_organization=owner.laboratory,
        sample=ties.sample,
        place=sample.place.id if sample.place else None,
        taken_on=sample.taken_on.isoformat() if sample.taken_on else None,
        received_at=_received_at(book, ties.sample, sample.received_on),
        county=site.county,
        release_class=gate.release_class,
        released_by=drafted.issue.released_by if found.outcome in GIVEN else None,
        sandbox=owner.sandbox,
        circumstances=drafted.circumstances.encoded(),
    )
    serial = book.add(record)
    book.usage.keep(serial, words_of(drafted.whole or drafted.shown, record.laboratory))
    note_issued(book, record, owner.actor)
    if drafted.circumstances.judgement is None:  # what a person has just read is not put before one again
        open_review(book, record, found, gate)
    return record


def _received_at(book: Book, sample: str | None, told: date | None) -> str | None:
    """When the sample came in: as the counter noted it, else the day that the laboratory names."""
    noted = book.statistics.received_at(sample) if sample else None
    return noted or (told.isoformat() if told else None)


def _number(owner: Owner, year: int, sequence: int) -> str:
    """The number on the report; one of the sandbox cannot be taken for a real one."""
    return f"{'S-' if owner.sandbox else ''}{year}-{sequence:06d}"


def _editions(received: Received, office: Office) -> str:
    """Every edition that was in force and the state of the sources, so that the same tables can be laid out again."""
    library = received.library
    crops = {name: crop.edition.edition for name, crop in library.crops.items()}
    editions = {**{name: ref.edition for name, ref in library.editions.items()}, **crops}
    return orjson.dumps({"sources": office.sources_sha256, "editions": editions}).decode()
