"""Reading what was issued: as it stands today, as it left the house, and proving that it would leave so again."""

from dataclasses import replace
from datetime import date
from typing import Any, NamedTuple

import orjson

from service.agronomy.tables import Library
from service.contract.answer import Issue, encoded
from service.contract.json_body import read_json
from service.contract.problem import Problem, ProblemError
from service.contract.submission import load_submission
from service.desk.callers import Caller
from service.desk.drafting import Circumstances, draft
from service.desk.intake import Received, sha256
from service.desk.office import Office
from service.render.text import report
from service.store.records import Record

OPEN_END = b'"replaced_by":null'


class Shown(NamedTuple):
    """One representation and the tag of its state."""

    body: bytes
    etag: str


class Replayed(NamedTuple):
    """The bytes as first issued, and how they stand today.

    ``how``: ``recomputed`` the same engine gave the same bytes again; ``stored`` engine, tables or sources are not
    those of then; ``differs`` the same gave others, which is a fault of ours.
    """

    body: bytes
    how: str


def find(caller: Caller, office: Office, id: str) -> Record:  # noqa: A002
    """One record in the caller's sight. Raises ProblemError 404, the same words for an unknown and a foreign id."""
    record = office.records.find(caller.sight, id)
    if record is None:
        raise ProblemError(Problem("not-found", "There is no interpretation of this id."))
    return record


def present(record: Record) -> Shown:
    """The answer as it stands today: the stored bytes, with what replaced it.

    One that was voided or recalled has a member ``standing`` more, which says so; the stored bytes stay.
    """
    if record.replaced_by is None and record.voided is None and record.recalled is None:
        return Shown(record.answer, record.answer_sha256[:32])
    later = b'"replaced_by":' + orjson.dumps(record.replaced_by)
    if record.voided or record.recalled:
        later += b',"standing":' + orjson.dumps(_marks(record))
    return Shown(record.answer.replace(OPEN_END, later, 1), f"{record.answer_sha256[:32]}-{sha256(later)[:8]}")


def _marks(record: Record) -> dict[str, dict[str, str] | None]:
    marks = {"voided": record.voided, "recalled": record.recalled}
    return {name: mark and mark._asdict() for name, mark in marks.items()}


def stands(caller: Caller, office: Office, id: str) -> dict[str, Any]:  # noqa: A002
    """How a report stands today, and what a reviewer asked about it. Raises ProblemError 404."""
    record = find(caller, office, id)
    with office.records.reading() as reading:
        review = reading.reviews.of(id)
    asked = review is not None and review.decision == "ask"
    told = {"state": review.state, "asked": review.reason if asked else None} if review else None
    return {"outcome": record.outcome, "replaced_by": record.replaced_by, **_marks(record), "review": told}


def in_language(record: Record, office: Office, language: str | None) -> dict[str, Any]:
    """The answer as it stands today, in another language where its tables and engine are still those of then."""
    answer: dict[str, Any] = orjson.loads(present(record).body)
    library = tables_of(record, office)
    if language in (None, answer["language"]) or record.engine != office.engine or library is None:
        return answer
    again = _drafted(record, office, library, language)
    return {**orjson.loads(encoded(again)), "replaced_by": record.replaced_by}


def as_text(record: Record, office: Office) -> Shown:
    """The answer as readable text, in its own language."""
    shown = present(record)
    answer = orjson.loads(shown.body)
    library = office.library(date.fromisoformat(record.issued_on))
    text = report(answer, office.words(library, answer["language"]))
    return Shown(text.encode(), f"{shown.etag}-txt")


def as_calendar(record: Record, office: Office) -> Shown:
    """The dates of the answer as it stands today, as a calendar file in its own language."""
    from service.render.calendar import calendar  # a tenth of a second that only those who ask for it wait

    shown = present(record)
    answer = orjson.loads(shown.body)
    library = office.library(date.fromisoformat(record.issued_on))
    return Shown(calendar(answer, office.words(library, answer["language"])), f"{shown.etag}-ics")


def replay(record: Record, office: Office) -> Replayed:
    """The stored bytes, computed anew when engine, tables and sources are still those of then."""
    library = tables_of(record, office)
    if record.engine != office.engine or library is None:
        return Replayed(record.answer, "stored")
    again = _again(record, office, library)
    return Replayed(record.answer, "recomputed" if again == record.answer else "differs")


def tables_of(record: Record, office: Office) -> Library | None:
    """Exactly the tables and crops that were in force, or None when one of them is gone."""
    laid_out = orjson.loads(record.editions)
    if laid_out["sources"] != office.sources_sha256 or office.catalog.unknown_pins(laid_out["editions"]):
        return None
    library = office.library(date.fromisoformat(record.issued_on), laid_out["editions"])
    names = laid_out["editions"].keys()
    if library.editions.keys() | library.crops.keys() == names:
        return library
    return Library(
        {name: rows for name, rows in library.tables.items() if name in names},
        {name: ref for name, ref in library.editions.items() if name in names},
        library.sources,
        {name: crop for name, crop in library.crops.items() if name in names},
    )


def _again(record: Record, office: Office, library: Library) -> bytes:
    return encoded(_drafted(record, office, library))


def _drafted(record: Record, office: Office, library: Library, language: str | None = None) -> dict[str, Any]:
    circumstances = Circumstances.decoded(record.circumstances)
    today = circumstances.as_on or date.fromisoformat(record.issued_on)
    submission = load_submission(read_json(record.submission), library, today)
    issued = Issue(
        issued_at=record.issued_at,
        engine=record.engine,
        submission_sha256=sha256(record.submission),
        id=record.id,
        number=record.number,
        replaces=record.replaces,
        released_by=record.released_by or "rules",
    )
    if language is not None:
        submission = replace(submission, options=replace(submission.options, language=language))
    received = Received(record.submission, submission, library, today)
    return draft(received, office, issued, circumstances).shown
