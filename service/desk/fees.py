"""What tests cost: a schedule that each office sets for itself, and the fee of one sample."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import orjson

from service.contract.problem import FieldError, Problem, ProblemError, escaped, invalid
from service.desk.callers import SANDBOX, Caller
from service.desk.intake import sha256
from service.desk.office import Office
from service.desk.organizations import OBJECT, in_reach
from service.desk.times import utc
from service.store.store import Book

SET = "organization.fees_set"
MEMBER = "fees"
"""Where the schedule stands among an organization's settings."""


class Fees(NamedTuple):
    """Test → US cents; an empty schedule charges nothing and knows no tests."""

    tests: Mapping[str, int]
    unpaid_to_laboratory: bool = False


FREE = Fees({})


def fees_in(settings: str | None) -> Fees:
    """The schedule of an organization's settings."""
    kept = orjson.loads(settings or "{}").get(MEMBER)
    return Fees(**kept) if kept else FREE


def fees_of(book: Book, organization: str) -> Fees:
    """The schedule of an office; its sandbox has the same."""
    return fees_in(book.keys.settings(organization.removesuffix(SANDBOX)))


def fee(fees: Fees, tests: Sequence[str]) -> int | None:
    """The sum in cents; None where the office charges nothing.

    Raises:
        ProblemError: 422 for a test that the schedule does not know.
    """
    if not fees.tests:
        return None
    unknown = [index for index, test in enumerate(tests) if test not in fees.tests]
    if unknown:
        raise invalid(_unknown(index, tests[index], tuple(fees.tests)) for index in unknown)
    return sum(fees.tests[test] for test in tests)


def _unknown(index: int, test: str, known: tuple[str, ...]) -> FieldError:
    wrong = f"{test!r} is not in the office's schedule"
    return FieldError(f"/tests/{escaped(index)}", "unknown_word", wrong, f"one of {', '.join(known)}", known)


def schedule(caller: Caller, office: Office, id: str) -> Fees:  # noqa: A002
    """The schedule of an organization in reach. Raises ProblemError 404."""
    with office.records.reading() as reading:
        found = in_reach(caller, reading.keys.organization(id))
        return fees_in(reading.keys.settings(found.id))


def set_schedule(caller: Caller, office: Office, id: str, fees: Fees, matches: Fees) -> Fees:  # noqa: A002
    """A new schedule in place of ``matches``. Fees of samples that were taken in before stay.

    Raises:
        ProblemError: 404; 412 where the schedule is not the one that was read.
    """
    now = utc(office.now())
    with office.records.writing() as book:
        found = in_reach(caller, book.keys.organization(id))
        kept = book.keys.settings(found.id)
        if fees_in(kept) != matches:
            raise ProblemError(Problem("changed-meanwhile", "The schedule was changed in the meantime."))
        written = orjson.dumps(fees._asdict())
        settings = {**orjson.loads(kept or "{}"), MEMBER: orjson.loads(written)}
        book.keys.change_settings(found.id, orjson.dumps(settings).decode())
        detail = {"tests": len(fees.tests), "unpaid_to_laboratory": fees.unpaid_to_laboratory}
        book.trail.append(found.id, now, caller.actor, SET, OBJECT, found.id, sha256(written), detail)
    return fees
