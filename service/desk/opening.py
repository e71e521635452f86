"""What comes onto the desk: every held report, and a share of those that went out unread."""

from uuid import uuid4

from service.agronomy.findings import Interpretation
from service.desk.release import Gate, drawn
from service.store.records import Record
from service.store.store import Book

GIVEN = ("released", "partial")
HELD = "held"
URGENT, TODAY, SOON, SOMETIME = 3, 2, 1, 0
"""Danger to somebody; a client waits for what only a person may say; a client waits; nobody waits."""


def open_review(book: Book, record: Record, found: Interpretation, gate: Gate) -> None:
    """Put a report on the desk where it belongs there; the case about the report that it replaces is overtaken."""
    if record.replaces is not None:
        _overtake(book, record)
    if found.outcome == HELD:
        kind = "shadow" if found.by_rules in GIVEN else "held"
    elif record.released_by == "rules" and drawn(gate, record.id):
        kind = "reread"
    else:
        return
    values = {
        "id": str(uuid4()),
        "interpretation": record.id,
        "organization": record.organization,
        "release_class": gate.release_class,
        "crop_group": gate.crop_group,
        "kind": kind,
        "by_rules": found.by_rules,
        "urgency": urgency(found, kind),
        "opened_at": record.issued_at,
        "state": "open",
        "sandbox": record.sandbox,
    }
    book.reviews.open(values, [(reason.code, reason.severity) for reason in found.reasons])


def urgency(found: Interpretation, kind: str) -> int:
    """How soon somebody has to look, from 3 (a danger was found) to 0 (nobody waits)."""
    if kind == "reread":
        return SOMETIME
    if any(caution.severity == "danger" for caution in found.cautions):
        return URGENT
    return TODAY if kind == "held" else SOON


def _overtake(book: Book, record: Record) -> None:
    """A case about a report that has been replaced needs no decision any more."""
    former = book.reviews.of(record.replaces or "")
    if former is not None:
        told = {"state": "closed", "decision": "overtaken", "decided_at": record.issued_at, "issued": record.id}
        book.reviews.close(former.id, told)
