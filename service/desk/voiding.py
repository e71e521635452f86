"""Voiding a report that was posted by mistake: it stays, is marked, and its laboratory number is free again."""

from service.contract.problem import Problem, ProblemError
from service.desk import records
from service.desk.callers import Caller
from service.desk.office import Office
from service.desk.trail import tell_both
from service.store.store import Book

VOIDED = "interpretation.voided"


def void(caller: Caller, office: Office, id: str, reason: str) -> None:  # noqa: A002
    """Mark a report as void, for good. Raises ProblemError 404; 409 where it is void or was replaced."""
    record = records.find(caller, office, id)
    at = office.now().isoformat(timespec="seconds")
    with office.records.writing() as book:
        if book.voids.of(id) is not None:
            raise ProblemError(Problem("not-in-this-state", "This report is void already."))
        standing = book.voids.marks(id, record.replaced_by)["replaced_by"]
        if standing is not None:
            raise ProblemError(Problem("not-in-this-state", f"The report was replaced; void {standing}."))
        book.voids.add(id, at, caller.actor, reason)
        _close_case(book, id, at)
        detail = {"number": record.number, "reason": reason}
        book.trail.append(
            record.organization, at, caller.actor, VOIDED, "interpretation", id, record.answer_sha256, detail
        )
        tell_both(book, record, at, VOIDED, id, {"number": record.number})


def _close_case(book: Book, id: str, at: str) -> None:  # noqa: A002
    """A void report needs no decision any more."""
    case = book.reviews.of(id)
    if case is not None:
        book.reviews.close(case.id, {"state": "closed", "decision": "overtaken", "decided_at": at})
