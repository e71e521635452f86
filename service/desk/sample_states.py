"""The states of a sample, and which may follow which."""

from collections.abc import Mapping
from datetime import datetime

from service.contract.problem import Problem, ProblemError
from service.desk.times import utc
from service.store.records import Record
from service.store.samples import Sample
from service.store.store import Book

EXPECTED, RECEIVED, AT_LABORATORY, INSUFFICIENT = "expected", "received", "at_laboratory", "insufficient"
WAITING, REPORTED, CLOSED, CANCELLED = "waiting_review", "reported", "closed", "cancelled"

FOLLOWS: Mapping[str, tuple[str, ...]] = {
    EXPECTED: (RECEIVED, CANCELLED),
    RECEIVED: (AT_LABORATORY, INSUFFICIENT, CANCELLED),
    AT_LABORATORY: (INSUFFICIENT, WAITING, REPORTED, CANCELLED),
    INSUFFICIENT: (RECEIVED, CANCELLED),
    WAITING: (WAITING, REPORTED, INSUFFICIENT),
    REPORTED: (REPORTED, WAITING, CLOSED),
    CLOSED: (),
    CANCELLED: (),
}
"""From each state to the next. Results may come in for any sample that is not over, also for one that nobody had booked
in: `follow`. ``insufficient``: too little soil, the client is asked to send again."""
BY_HAND = (RECEIVED, AT_LABORATORY, INSUFFICIENT, CLOSED, CANCELLED)
"""What the counter sets; the rest follows from the reports."""
STATES = tuple(FOLLOWS)
OVER = (CANCELLED, CLOSED)
"""No results are taken for these any more."""
MOVED = "sample.moved"
SAMPLE = "sample"


def check_step(before: str, after: str) -> None:
    """Raises ProblemError 409 for a step that no sample may take."""
    if after not in FOLLOWS[before]:
        allowed = ", ".join(FOLLOWS[before]) or "nothing"
        detail = f"A sample that is {before} cannot become {after}; it can become: {allowed}."
        raise ProblemError(Problem("not-in-this-state", detail, extra={"status": before}))


def move(book: Book, sample: Sample, after: str, at: str, actor: str) -> None:
    """Write a new state, its row in the trail and its notice. Raises ProblemError 409 where somebody was quicker."""
    if not book.samples.change(sample.id, sample.version, {"status": after, "updated_at": at}):
        raise ProblemError(Problem("not-in-this-state", "Somebody changed this sample in the meantime."))
    detail = {"from": sample.status, "to": after}
    book.trail.append(sample.organization, at, actor, MOVED, SAMPLE, sample.id, "", detail)
    book.trail.tell(sample.organization, at, "sample.status", sample.id, {"status": after})


def check_open(book: Book, sample: Sample) -> None:
    """Raises ProblemError 409 where a sample was cancelled or closed since its label was read."""
    now = book.samples.find(sample.id)
    if now is None or now.status in OVER:
        raise ProblemError(Problem("not-in-this-state", "The sample of this label is closed or cancelled."))


def follow(book: Book, sample: Sample, record: Record, actor: str) -> None:
    """What a report makes of its sample's state: reported, or waiting for a person or for better figures.

    A correction of a report whose sample is closed does not open the sample again.
    """
    after = REPORTED if record.outcome in ("released", "partial") else WAITING
    now = book.samples.find(sample.id)
    if now is not None and now.status not in OVER:
        move(book, now, after, utc(datetime.fromisoformat(record.issued_at)), actor)
