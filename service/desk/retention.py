"""What is kept no longer than it must: the table ``retention`` says how long, a legal hold keeps it longer.

A case goes as a whole, when its newest report is over: the trail says so first, then the report and all that hangs on
it are deleted, the newest first. The trail itself stays and still proves itself.
"""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from service.agronomy.tables import RetentionRow
from service.desk.office import Office
from service.desk.times import utc
from service.desk.trail import DELETED, OBJECT
from service.store.privacy import Kept, Person
from service.store.store import Book

TABLE = "retention"
ACTOR = "retention"
ERASED = "sample.client_erased"
CHUNK = 200
YEAR_DAYS = 365.2425
"""Mean year of the Gregorian calendar."""


class Ended(NamedTuple):
    """How many of each kind are over, and how many of those stay under a hold."""

    interpretations: int
    clients: int
    links: int
    notices: int
    held: int


def run(office: Office, apply: bool) -> Ended:
    """Count what is over; with ``apply`` let it go."""
    now = office.now()
    years = {row.kind: row.years for row in office.library(now.date()).rows(TABLE, RetentionRow)}
    before = {kind: now - timedelta(days=count * YEAR_DAYS) for kind, count in years.items()}
    with office.records.reading() as reading:
        under = reading.privacy.held()
        people = reading.privacy.old_people(utc(before["identity"]))
        links = reading.privacy.old_links(utc(before["link"]))
        notices = reading.privacy.old_notices(utc(before["notice"]))
    gone, kept = _cases(office, before["interpretation"].date(), under, apply)
    free = [person for person in people if not _person_held(person, under)]
    if apply:
        with office.records.writing() as book:
            for person in free:
                _erase(book, person, now)
            book.privacy.remove_links(links)
            book.privacy.remove_notices(utc(before["notice"]))
    return Ended(gone, len(free), len(links), notices, kept + len(people) - len(free))


def _cases(office: Office, before: date, under: frozenset[tuple[str, str]], apply: bool) -> tuple[int, int]:
    gone = kept = 0
    for cases in _chunks(office, before.isoformat()):
        free = [case for case in cases if not _case_held(case, under)]
        gone += sum(len(case) for case in free)
        kept += sum(len(case) for case in cases) - sum(len(case) for case in free)
        if apply:
            with office.records.writing() as book:
                for case in free:
                    _remove(book, case, office.now())
    return gone, kept


def _chunks(office: Office, before: str) -> Iterator[list[list[Kept]]]:
    after = 0
    while True:
        with office.records.reading() as reading:
            cases = reading.privacy.old_cases(before, after, CHUNK)
        if not cases:
            return
        yield cases
        after = cases[-1][0].serial


def _case_held(case: Sequence[Kept], under: frozenset[tuple[str, str]]) -> bool:
    named = [(OBJECT, report.id) for report in case]
    named += [("sample", report.sample) for report in case if report.sample]
    return not under.isdisjoint([*named, ("organization", case[0].organization)])


def _person_held(person: Person, under: frozenset[tuple[str, str]]) -> bool:
    named = [("organization", person.organization)]
    return not under.isdisjoint([*named, ("sample", person.sample)] if person.sample else named)


def _remove(book: Book, case: Sequence[Kept], now: datetime) -> None:
    for report in case:
        detail = {"number": report.number, "issued_on": report.issued_on}
        book.trail.append(
            report.organization, utc(now), ACTOR, DELETED, OBJECT, report.id, report.answer_sha256, detail
        )
        book.privacy.remove(report)


def _erase(book: Book, person: Person, now: datetime) -> None:
    if book.samples.erase(person.identity, utc(now)):
        book.trail.append(
            person.organization, utc(now), ACTOR, ERASED, "sample", person.sample or person.identity, "", {}
        )
