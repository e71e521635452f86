"""What the desk writes into the trail, what it shows of it, and the ends of all chains told outside."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

from service.desk.callers import LOCAL, Caller
from service.desk.office import Office
from service.desk.rights import demand
from service.store.records import Record, sealed
from service.store.store import Book, Store
from service.store.trail import Entry, Head, Notice, canonical

ISSUED = "interpretation.issued"
REPLACED = "interpretation.replaced"
DELETED = "interpretation.deleted"
"""Written in the transaction that deletes a record whose time is over; the database deletes none without it."""

HEAD = "trail.head"
OBJECT = "interpretation"
SCOPE = "read_trail"
CHUNK = 500


def note_issued(book: Book, record: Record, actor: str = LOCAL) -> None:
    """The row of a new interpretation, sealing all that is kept of it, and the notice to whoever has the former."""
    detail = {"number": record.number, "outcome": record.outcome, "record_sha256": sealed(asdict(record))}
    tell_both(book, record, record.issued_at, f"{OBJECT}.{record.outcome}", record.id, {"number": record.number})
    if record.replaces:
        detail["replaces"] = record.replaces
        told = {"by": record.id, "revision": record.revision}
        tell_both(book, record, record.issued_at, REPLACED, record.replaces, told)
    book.trail.append(
        record.organization, record.issued_at, actor, ISSUED, OBJECT, record.id, record.answer_sha256, detail
    )


def tell_both(book: Book, record: Record, at: str, kind: str, id: str, detail: Mapping[str, Any]) -> None:  # noqa: A002
    """A notice for the office whose report it is, and for the laboratory that sent the results."""
    for owner in sorted({record.organization, record.laboratory_organization or record.organization}):
        book.trail.tell(owner, at, kind, id, detail)


def notices(caller: Caller, office: Office, after: int, limit: int, kind: str | None) -> list[Notice]:
    """What the caller's organization has to be told, in order, from the one behind the serial ``after``."""
    with office.records.reading() as reading:
        return reading.trail.notices(caller.organization, after, limit, kind)


def publish_heads(office: Office) -> list[Head]:
    """`tell_heads` by the office's database and clock."""
    return tell_heads(office.records, office.now())


def tell_heads(store: Store, now: datetime) -> list[Head]:
    """Tell every organization, once a day, where its chain ends: who keeps the notice can prove the past from it.

    Returns the heads told now.
    """
    at, told = now.isoformat(timespec="seconds"), list[Head]()
    with store.writing() as book:
        for head in book.trail.heads():
            last = book.trail.last_notice(head.organization, HEAD)
            if last is None or last.at[:10] != at[:10]:
                detail = {"sequence": head.sequence, "hash": head.hash}
                book.trail.tell(head.organization, at, HEAD, head.organization, detail)
                told.append(head)
    return told


def page(caller: Caller, office: Office, after: int, limit: int, organization: str | None = None) -> list[Entry]:
    """Rows of one organization in order, from the one behind ``after``. Raises ProblemError 403."""
    demand(caller, SCOPE)
    with office.records.reading() as reading:
        return reading.trail.page(_whose(caller, organization), after, limit)


def _whose(caller: Caller, organization: str | None) -> str:
    """The caller's own chain; for the programme the one it names. Of others nobody is told whether they exist."""
    return organization if organization is not None and caller.sees_all else caller.organization


def export(
    caller: Caller, office: Office, answers: bool = False, after: int = 0, organization: str | None = None
) -> Iterator[bytes]:
    """One chain as lines of canonical JSON: rows, behind each that issued one its answer, the head last.

    The rows end where the chain ended when the export began. Raises ProblemError 403.
    """
    demand(caller, SCOPE)
    with office.records.reading() as reading:
        head = reading.trail.head(_whose(caller, organization))
    return _lines(office, head, answers, after)


def _lines(office: Office, head: Head, answers: bool, after: int) -> Iterator[bytes]:
    while after < head.sequence:
        limit = min(CHUNK, head.sequence - after)
        with office.records.reading() as reading:
            rows = reading.trail.page(head.organization, after, limit)
            stored = reading.trail.answers([row.object_id for row in rows if row.action == ISSUED]) if answers else {}
        for row in rows:
            yield _line(row._asdict())
            if row.action == ISSUED and row.object_id in stored:
                yield _line({"answer": stored[row.object_id].decode()})
        after = rows[-1].sequence if rows else head.sequence
    yield _line(head._asdict())


def _line(value: object) -> bytes:
    return f"{canonical(value)}\n".encode()
