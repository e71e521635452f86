"""Counts over what was issued. Neither the sandbox nor a void report ever counts."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import sqlalchemy as sa

from service.store.tables import interpretation, review, review_reason, sample, trail, void

MOVED, RECEIVED = "sample.moved", '%"to":"received"%'
"""The row of the trail that the counter's receipt of a sample writes."""


class Counted(NamedTuple):
    """Reports of one office, month, outcome and way out: ``released_by`` is rules, person or, where held, None."""

    organization: str
    month: str
    outcome: str
    released_by: str | None
    reports: int
    corrections: int


class Wait(NamedTuple):
    """One sample from receipt (a moment or a day) to the first report that was given out."""

    organization: str
    month: str
    county: str | None
    received_at: str
    issued_at: str


class Holds(NamedTuple):
    """How many cases of one office and month a reason brought onto the desk."""

    organization: str
    month: str
    code: str
    cases: int


class Pool(NamedTuple):
    """Reports of one county in one year, first reports only, and how many clients they belong to."""

    county: str
    reports: int
    clients: int


class Earlier(NamedTuple):
    """One report of a place that stands today."""

    id: str
    number: str
    issued_on: str
    submission: bytes


class Statistics:
    """Counts."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def received_at(self, sample: str) -> str | None:
        """When the counter first took a sample in; None where it never said so."""
        query = (
            sa.select(trail.c.at)
            .where(trail.c.object_kind == "sample", trail.c.object_id == sample, trail.c.action == MOVED)
            .where(trail.c.detail.like(RECEIVED))
            .order_by(trail.c.sequence)
        )
        return self._connection.execute(query.limit(1)).scalar()

    def of_place(self, organization: str, place: str, id: str, most: int) -> list[Earlier]:  # noqa: A002
        """The newest reports of a place that nothing replaced or voided, not refused; and the one named."""
        columns, later = interpretation.c, interpretation.alias("later")
        replaced = sa.exists().where(later.c.replaces == columns.id, _live(later.c.id))
        counts = sa.and_(~replaced, _live(columns.id), columns.outcome != "refused")
        query = (
            sa.select(columns.id, columns.number, columns.issued_on, columns.submission)
            .where(columns.organization == organization, columns.place == place)
            .where(sa.or_(columns.id == id, counts))
            .order_by(columns.serial.desc())
        )
        return [Earlier(a, b, c, bytes(body)) for a, b, c, body in self._connection.execute(query.limit(most))]

    def counts(self, first: str, last: str, organization: str | None) -> list[Counted]:
        """Reports issued from one day to another, both included; of every organization for None."""
        columns = interpretation.c
        month = sa.func.substr(columns.issued_on, 1, 7)
        by = (columns.organization, month, columns.outcome, columns.released_by)
        corrections = sa.func.sum(sa.case((columns.replaces.is_not(None), 1), else_=0))
        query = sa.select(*by, sa.func.count(), corrections).where(*_counting(first, last, organization))
        return [Counted(*row) for row in self._connection.execute(query.group_by(*by))]

    def waits(self, first: str, last: str, organization: str | None) -> Iterator[Wait]:
        """From receipt to the first report given out, of samples whose receipt is known."""
        columns, former = interpretation.c, interpretation.alias("former")
        month = sa.func.substr(columns.issued_on, 1, 7)
        given = ("released", "partial")
        query = (
            sa.select(columns.organization, month, columns.county, columns.received_at, columns.issued_at)
            .outerjoin(former, former.c.id == columns.replaces)
            .where(*_counting(first, last, organization), columns.received_at.is_not(None))
            .where(columns.outcome.in_(given), sa.func.coalesce(former.c.outcome, "").not_in(given))
        )
        yield from (Wait(*row) for row in self._connection.execute(query))

    def holds(self, first: str, last: str, organization: str | None) -> list[Holds]:
        """Cases opened in the time, by the reason to hold; a case with two reasons counts under both."""
        month = sa.func.substr(review.c.opened_at, 1, 7)
        by = (review.c.organization, month, review_reason.c.code)
        query = (
            sa.select(*by, sa.func.count())
            .select_from(review.join(review_reason, review_reason.c.review == review.c.serial))
            .where(review_reason.c.severity == "hold", review.c.sandbox.is_(sa.false()))
            .where(sa.func.substr(review.c.opened_at, 1, 10).between(first, last), _live(review.c.interpretation))
        )
        if organization is not None:
            query = query.where(review.c.organization == organization)
        return [Holds(*row) for row in self._connection.execute(query.group_by(*by))]

    def pools(self, first: str, last: str) -> list[Pool]:
        """Counties of the whole programme, by name.

        A client is known by the form of the counter; without one each place, else each report, is taken for one.
        """
        columns = interpretation.c
        client = sa.func.coalesce(sample.c.identity, columns.place, columns.id)
        query = (
            sa.select(columns.county, sa.func.count(), sa.func.count(sa.distinct(client)))
            .select_from(interpretation.outerjoin(sample, sample.c.id == columns.sample))
            .where(*_counting(first, last, None), columns.county.is_not(None), columns.replaces.is_(None))
        )
        return [Pool(*row) for row in self._connection.execute(query.group_by(columns.county).order_by(columns.county))]


def _live(id: Any) -> sa.ColumnElement[bool]:  # noqa: A002
    return ~sa.exists().where(void.c.interpretation == id)


def _counting(first: str, last: str, organization: str | None) -> list[sa.ColumnElement[bool]]:
    columns = interpretation.c
    found = [columns.issued_on.between(first, last), columns.sandbox.is_(sa.false()), _live(columns.id)]
    return [*found, columns.organization == organization] if organization is not None else found
