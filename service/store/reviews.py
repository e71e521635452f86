"""What waits for a soil scientist, and what became of it."""

from collections.abc import Iterable
from typing import Any, NamedTuple

import sqlalchemy as sa

from service.store.tables import review, review_reason

OPEN_STATES = ("open", "waiting")


class Review(NamedTuple):
    """One case on the desk; ``serial`` gives its age."""

    serial: int
    id: str
    interpretation: str
    organization: str
    release_class: str | None
    crop_group: str | None
    kind: str
    by_rules: str
    urgency: int
    opened_at: str
    state: str
    claimed_by: str | None
    claimed_until: str | None
    decision: str | None
    decided_at: str | None
    decided_by: str | None
    reason: str | None
    edits: str | None
    notes: str | None
    tests: str | None
    serious: bool | None
    issued: str | None
    sandbox: bool


class Agreement(NamedTuple):
    """How often the reviewer decided as the rules had, in one crop group and kind of reading."""

    crop_group: str
    kind: str
    decided: int
    agreed: int
    serious: int


class Overridden(NamedTuple):
    """How often a reason to hold was overridden: the draft was released as it stood."""

    code: str
    held: int
    approved: int


class Reviews:
    """Opens, claims, decides and counts."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def open(self, values: dict[str, Any], reasons: Iterable[tuple[str, str]]) -> None:
        """Put a case on the desk, with the code and severity of each reason it is there for."""
        opened = sa.insert(review).values(values).returning(review.c.serial)
        serial = self._connection.execute(opened).scalar_one()
        rows = [{"review": serial, "code": code, "severity": severity} for code, severity in dict(reasons).items()]
        if rows:
            self._connection.execute(sa.insert(review_reason), rows)

    def find(self, id: str) -> Review | None:  # noqa: A002
        """One case."""
        return self._one(review.c.id == id)

    def of(self, interpretation: str) -> Review | None:
        """The latest case about an interpretation."""
        query = sa.select(*_COLUMNS).where(review.c.interpretation == interpretation).order_by(review.c.serial.desc())
        row = self._connection.execute(query.limit(1)).one_or_none()
        return Review(*row) if row else None

    def queue(
        self,
        after: tuple[int, int] | None,
        limit: int,
        organization: str | None = None,
        state: str = "open",
        kind: str | None = None,
    ) -> list[Review]:
        """Cases in one state, the most urgent first and then the oldest, behind ``after`` (urgency, serial).

        Those of every organization for ``None``, but of no sandbox.
        """
        query = sa.select(*_COLUMNS).where(review.c.state == state)
        if organization is None:
            query = query.where(review.c.sandbox.is_(sa.false()))
        else:
            query = query.where(review.c.organization == organization)
        if kind is not None:
            query = query.where(review.c.kind == kind)
        if after is not None:
            urgency, serial = after
            later = sa.and_(review.c.urgency == urgency, review.c.serial > serial)
            query = query.where(sa.or_(review.c.urgency < urgency, later))
        query = query.order_by(review.c.urgency.desc(), review.c.serial).limit(limit)
        return [Review(*row) for row in self._connection.execute(query)]

    def waiting(self) -> int:
        """How many cases are open."""
        query = sa.select(sa.func.count()).select_from(review).where(review.c.state == "open")
        return int(self._connection.execute(query).scalar_one())

    def reasons(self, serials: Iterable[int]) -> dict[int, list[tuple[str, str]]]:
        """Code and severity of the reasons of some cases."""
        columns = review_reason.c
        query = sa.select(columns.review, columns.code, columns.severity).where(columns.review.in_(tuple(serials)))
        found: dict[int, list[tuple[str, str]]] = {}
        for serial, code, severity in self._connection.execute(query.order_by(columns.review, columns.code)):
            found.setdefault(serial, []).append((code, severity))
        return found

    def claim(self, id: str, by: str, now: str, until: str) -> bool:  # noqa: A002
        """Take an open case for a while; False when somebody else has it or it is closed."""
        free = sa.or_(review.c.claimed_by.is_(None), review.c.claimed_by == by, review.c.claimed_until <= now)
        mine = sa.update(review).where(review.c.id == id, review.c.state.in_(OPEN_STATES), free)
        return self._connection.execute(mine.values(claimed_by=by, claimed_until=until)).rowcount == 1

    def release(self, id: str, by: str) -> bool:  # noqa: A002
        """Give a claimed case back."""
        mine = sa.update(review).where(review.c.id == id, review.c.claimed_by == by)
        return self._connection.execute(mine.values(claimed_by=None, claimed_until=None)).rowcount == 1

    def close(self, id: str, values: dict[str, Any]) -> bool:  # noqa: A002
        """Write a decision; False when the case was closed in the meantime."""
        mine = sa.update(review).where(review.c.id == id, review.c.state.in_(OPEN_STATES))
        return self._connection.execute(mine.values(values)).rowcount == 1

    def agreement(self, group: str | None = None) -> list[Agreement]:
        """Shadow and re-reading: decisions, those that agreed with the rules, and serious differences.

        A decision agrees when the draft was approved as it stood and the reviewer called no difference serious.
        """
        agreed = sa.and_(review.c.decision == "approve", sa.func.coalesce(review.c.serious, sa.false()).is_(sa.false()))
        query = (
            sa.select(
                review.c.crop_group,
                review.c.kind,
                sa.func.count(),
                sa.func.sum(sa.case((agreed, 1), else_=0)),
                sa.func.sum(sa.case((review.c.serious.is_(sa.true()), 1), else_=0)),
            )
            .where(
                review.c.kind.in_(("shadow", "reread")),
                review.c.state == "closed",
                review.c.sandbox.is_(sa.false()),
                review.c.decision.in_(("approve", "edit", "reject")),
            )
            .group_by(review.c.crop_group, review.c.kind)
            .order_by(review.c.crop_group, review.c.kind)
        )
        if group is not None:
            query = query.where(review.c.crop_group == group)
        return [Agreement(*row) for row in self._connection.execute(query)]

    def overrides(self) -> list[Overridden]:
        """For each reason to hold: closed cases, and those whose draft was approved as it stood."""
        joined = review_reason.join(review, review.c.serial == review_reason.c.review)
        query = (
            sa.select(
                review_reason.c.code,
                sa.func.count(),
                sa.func.sum(sa.case((review.c.decision == "approve", 1), else_=0)),
            )
            .select_from(joined)
            .where(review.c.state == "closed", review_reason.c.severity == "hold", review.c.sandbox.is_(sa.false()))
            .group_by(review_reason.c.code)
            .order_by(review_reason.c.code)
        )
        return [Overridden(*row) for row in self._connection.execute(query)]

    def _one(self, condition: Any) -> Review | None:
        row = self._connection.execute(sa.select(*_COLUMNS).where(condition)).one_or_none()
        return Review(*row) if row else None


_COLUMNS = [review.c[name] for name in Review._fields]
