"""What the desk writes into the trail, and the ends of all chains told outside."""

from dataclasses import asdict

from service.desk.callers import LOCAL
from service.store.records import Record, sealed
from service.store.store import Book

ISSUED = "interpretation.issued"
REPLACED = "interpretation.replaced"
OBJECT = "interpretation"


def note_issued(book: Book, record: Record, actor: str = LOCAL) -> None:
    """The row of a new interpretation, sealing all that is kept of it, and the notice to whoever has the former."""
    detail = {"number": record.number, "outcome": record.outcome, "record_sha256": sealed(asdict(record))}
    if record.replaces:
        detail["replaces"] = record.replaces
        told = {"by": record.id, "revision": record.revision}
        book.trail.tell(record.organization, record.issued_at, REPLACED, record.replaces, told)
    book.trail.append(
        record.organization, record.issued_at, actor, ISSUED, OBJECT, record.id, record.answer_sha256, detail
    )
