"""What goes when its time is over, and what stays because the law asks for it."""

from collections.abc import Iterable
from typing import NamedTuple

import sqlalchemy as sa

from service.store.tables import (
    identity,
    interpretation,
    legal_hold,
    notice,
    recall_item,
    report_link,
    review,
    review_reason,
    sample,
    used,
    void,
)


class Hold(NamedTuple):
    """Something that must be kept: a report, a sample with its client, or all of an organization."""

    id: str
    organization: str
    object_kind: str
    object_id: str
    reason: str
    placed_at: str
    placed_by: str
    lifted_at: str | None


class Kept(NamedTuple):
    """One report of a case, as far as its end needs it."""

    serial: int
    id: str
    organization: str
    number: str
    issued_on: str
    answer_sha256: str
    sample: str | None
    replaces: str | None


class Person(NamedTuple):
    """A client whose name is still kept, with the sample."""

    identity: str
    organization: str
    sample: str | None


KEPT = [interpretation.c[name] for name in Kept._fields]


class Privacy:
    """Holds, ends, erases."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def place(self, hold: Hold) -> None:
        """Keep a new hold."""
        self._connection.execute(sa.insert(legal_hold).values(**hold._asdict()))

    def lift(self, id: str, at: str) -> bool:  # noqa: A002
        """End a hold; False where it has ended."""
        mine = sa.update(legal_hold).where(legal_hold.c.id == id, legal_hold.c.lifted_at.is_(None))
        return self._connection.execute(mine.values(lifted_at=at)).rowcount == 1

    def holds(self, organization: str | None) -> list[Hold]:
        """Every hold of one organization, or of all, oldest first."""
        query = sa.select(*(legal_hold.c[name] for name in Hold._fields)).order_by(legal_hold.c.placed_at)
        if organization is not None:
            query = query.where(legal_hold.c.organization == organization)
        return [Hold(*row) for row in self._connection.execute(query)]

    def held(self) -> frozenset[tuple[str, str]]:
        """Kind and id of everything under a hold that stands."""
        query = sa.select(legal_hold.c.object_kind, legal_hold.c.object_id).where(legal_hold.c.lifted_at.is_(None))
        return frozenset((kind, id) for kind, id in self._connection.execute(query))  # noqa: A001

    def old_cases(self, before: str, after: int, limit: int) -> list[list[Kept]]:
        """Cases whose newest report was issued before a day, each newest first; behind the serial ``after``."""
        later = interpretation.alias("later")
        query = (
            sa.select(*KEPT)
            .outerjoin(later, later.c.replaces == interpretation.c.id)
            .where(interpretation.c.issued_on < before, later.c.id.is_(None), interpretation.c.serial > after)
            .order_by(interpretation.c.serial)
            .limit(limit)
        )
        return [self._case(Kept(*row)) for row in self._connection.execute(query)]

    def _case(self, newest: Kept) -> list[Kept]:
        found = [newest]
        while (former := found[-1].replaces) is not None:
            row = self._connection.execute(sa.select(*KEPT).where(interpretation.c.id == former)).one()
            found.append(Kept(*row))
        return found

    def remove(self, report: Kept) -> None:
        """One report with all that hangs on it; the trail must have said so before."""
        mine = review.c.interpretation == report.id
        cases = sa.select(review.c.serial).where(mine)
        for statement in (
            sa.delete(review_reason).where(review_reason.c.review.in_(cases)),
            sa.delete(review).where(mine),
            sa.delete(report_link).where(report_link.c.interpretation == report.id),
            sa.delete(void).where(void.c.interpretation == report.id),
            sa.delete(recall_item).where(recall_item.c.interpretation == report.id),
            sa.delete(used).where(used.c.interpretation == report.serial),
            sa.delete(interpretation).where(interpretation.c.id == report.id),
        ):
            self._connection.execute(statement)

    def old_people(self, before: str) -> list[Person]:
        """Clients whose samples were last changed before a moment and whose names are still kept."""
        last = sa.func.max(sa.func.coalesce(sample.c.updated_at, identity.c.created_at))
        query = (
            sa.select(identity.c.id, identity.c.organization, sa.func.max(sample.c.id))
            .outerjoin(sample, sample.c.identity == identity.c.id)
            .where(identity.c.erased_at.is_(None))
            .group_by(identity.c.id, identity.c.organization)
            .having(last < before)
        )
        return [Person(*row) for row in self._connection.execute(query)]

    def old_links(self, before: str) -> list[str]:
        """Links that ended before a moment."""
        query = sa.select(report_link.c.id).where(sa.func.coalesce(report_link.c.revoked_at, "9") < before)
        expired = sa.select(report_link.c.id).where(report_link.c.expires_at < before)
        return list(self._connection.execute(query.union(expired)).scalars())

    def remove_links(self, ids: Iterable[str]) -> None:
        """Forget ended links."""
        self._connection.execute(sa.delete(report_link).where(report_link.c.id.in_(tuple(ids))))

    def old_notices(self, before: str) -> int:
        """How many notices were written before a moment."""
        query = sa.select(sa.func.count()).select_from(notice).where(notice.c.at < before)
        return int(self._connection.execute(query).scalar_one())

    def remove_notices(self, before: str) -> None:
        """Forget old notices."""
        self._connection.execute(sa.delete(notice).where(notice.c.at < before))
