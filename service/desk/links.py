"""A client's own way to a report: an address that nobody guesses, ends by itself and can be ended before."""

import hashlib
import secrets
from datetime import timedelta
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.contract.problem import Problem, ProblemError
from service.desk import records
from service.desk.callers import Caller
from service.desk.history import history_of
from service.desk.history import shown as shown_line
from service.desk.office import Office
from service.desk.times import utc
from service.store.links import Link
from service.store.records import Record, Sight

SIGNS = "0123456789abcdefghjkmnpqrstvwxyz"
"""Thirty-two signs without i, l, o and u, so that a printed address is typed as it was meant."""
LENGTH = 26
"""Five bits each: 130, above the 128 that make guessing hopeless."""
DAYS = 365
"""How long an address lasts unless somebody says otherwise: until the next season's test (common practice)."""
MADE, REVOKED = "link.made", "link.revoked"
MISTYPED = str.maketrans("ilo", "110")


class Opened(NamedTuple):
    """What an address shows: the report that stands today; ``former`` is the number it was made for, if another.

    ``answer`` is None where the report was voided or withdrawn: then it must not be read any more.
    """

    record: Record
    answer: dict[str, Any] | None
    former: str | None
    history: tuple[dict[str, Any], ...] = ()

    @property
    def language(self) -> str:
        """The language that the report was made in."""
        return str(orjson.loads(self.record.answer)["language"])


def make(caller: Caller, office: Office, id: str, days: int = DAYS) -> tuple[Link, str]:  # noqa: A002
    """A new address for a report: what is kept of it, and its secret, shown this once. Raises ProblemError 404, 409."""
    record = records.find(caller, office, id)
    if record.voided is not None:
        raise ProblemError(Problem("not-in-this-state", "This report is void; nobody is to read it any more."))
    now = office.now()
    secret = "".join(secrets.choice(SIGNS) for _ in range(LENGTH))
    link = Link(str(uuid4()), id, record.organization, utc(now), caller.actor, utc(now + timedelta(days=days)), None)
    with office.records.writing() as book:
        book.links.add(link, _fingerprint(secret))
        detail = {"link": link.id, "expires_at": link.expires_at}
        book.trail.append(record.organization, utc(now), caller.actor, MADE, "interpretation", id, "", detail)
    return link, secret


def listed(caller: Caller, office: Office, id: str) -> list[Link]:  # noqa: A002
    """Every address of a report, ended or not. Raises ProblemError 404."""
    records.find(caller, office, id)
    with office.records.reading() as reading:
        return reading.links.of(id)


def revoke(caller: Caller, office: Office, id: str, link: str) -> None:  # noqa: A002
    """End an address at once; nothing happens to one that has ended. Raises ProblemError 404."""
    record = records.find(caller, office, id)
    if link not in {known.id for known in listed(caller, office, id)}:
        raise ProblemError(Problem("not-found", "There is no such link of this interpretation."))
    now = utc(office.now())
    with office.records.writing() as book:
        if book.links.revoke(id, link, now):
            detail = {"link": link}
            book.trail.append(record.organization, now, caller.actor, REVOKED, "interpretation", id, "", detail)


def opened(office: Office, shown: str, language: str | None = None) -> Opened | None:
    """What an address shows today; None alike for an unknown, an ended and a revoked one."""
    token = shown.replace("-", "").lower().translate(MISTYPED)
    if len(token) != LENGTH or not set(token) <= set(SIGNS):
        return None
    with office.records.reading() as reading:
        link = reading.links.live(_fingerprint(token), utc(office.now()))
    if link is None:
        return None
    everything = Sight(link.organization)
    first = office.records.find(everything, link.interpretation)
    record = office.records.find(everything, first.replaced_by) if first and first.replaced_by else first
    while record is not None and record.replaced_by is not None:
        record = office.records.find(everything, record.replaced_by)
    if first is None or record is None:
        return None
    withdrawn = record.voided or record.recalled
    answer = None if withdrawn else records.in_language(record, office, language)
    lines = () if withdrawn else tuple(shown_line(line) for line in history_of(office, record))
    return Opened(record, answer, first.number if first.id != record.id else None, lines)


def _fingerprint(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
