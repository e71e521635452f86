"""Addresses with which clients open their own reports; only a fingerprint of each is kept."""

from typing import NamedTuple

import sqlalchemy as sa

from service.store.tables import report_link


class Link(NamedTuple):
    """One address, without what makes it unguessable."""

    id: str
    interpretation: str
    organization: str
    created_at: str
    created_by: str
    expires_at: str
    revoked_at: str | None


_COLUMNS = [report_link.c[name] for name in Link._fields]


class Links:
    """Adds, finds and revokes."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def add(self, link: Link, token_sha256: str) -> None:
        """Keep a new address by its fingerprint."""
        self._connection.execute(sa.insert(report_link).values(**link._asdict(), token_sha256=token_sha256))

    def of(self, interpretation: str) -> list[Link]:
        """Every address of a report, oldest first."""
        query = sa.select(*_COLUMNS).where(report_link.c.interpretation == interpretation)
        return [Link(*row) for row in self._connection.execute(query.order_by(report_link.c.created_at))]

    def live(self, token_sha256: str, now: str) -> Link | None:
        """The address of a fingerprint, if it is neither revoked nor over at ``now`` (UTC)."""
        mine = (report_link.c.token_sha256 == token_sha256, report_link.c.revoked_at.is_(None))
        query = sa.select(*_COLUMNS).where(*mine, report_link.c.expires_at > now)
        row = self._connection.execute(query).one_or_none()
        return Link(*row) if row else None

    def revoke(self, interpretation: str, id: str, at: str) -> bool:  # noqa: A002
        """End one address; False where it has ended or is of another report."""
        mine = (report_link.c.id == id, report_link.c.interpretation == interpretation)
        ended = sa.update(report_link).where(*mine, report_link.c.revoked_at.is_(None)).values(revoked_at=at)
        return self._connection.execute(ended).rowcount == 1
