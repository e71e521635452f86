"""Samples as the counter takes them in; the people who brought them stand in a table of their own."""

from collections.abc import Mapping
from typing import Any, NamedTuple

import sqlalchemy as sa

from service.store.records import Sight
from service.store.sight import seen
from service.store.tables import identity, interpretation, sample


class Sample(NamedTuple):
    """One sample; ``document`` is its form as JSON, without the client."""

    serial: int
    id: str
    organization: str
    label: str
    status: str
    version: int
    identity: str | None
    place: str | None
    plan: str | None
    laboratory: str | None
    fee_cents: int | None
    paid: bool | None
    document: str
    created_at: str
    updated_at: str
    sandbox: bool


class Client(NamedTuple):
    """Who brought a sample; empty once erased."""

    id: str
    organization: str
    name: str | None
    contact: str | None
    language: str | None
    created_at: str
    erased_at: str | None


class Samples:
    """Adds, changes and finds samples and clients."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def add(self, values: Mapping[str, Any]) -> None:
        """Keep a new sample."""
        self._connection.execute(sa.insert(sample).values(dict(values)))

    def add_client(self, client: Client) -> None:
        """Keep who brought it."""
        self._connection.execute(sa.insert(identity).values(client._asdict()))

    def client(self, id: str) -> Client | None:  # noqa: A002
        """Who brought a sample."""
        row = self._connection.execute(sa.select(*_of(identity, Client)).where(identity.c.id == id)).one_or_none()
        return Client(*row) if row else None

    def change_client(self, id: str, values: Mapping[str, Any]) -> None:  # noqa: A002
        """Correct who brought it."""
        self._connection.execute(sa.update(identity).where(identity.c.id == id).values(**values))

    def erase(self, id: str, at: str) -> bool:  # noqa: A002
        """Empty a client's name and contact; False where they were erased before or never were."""
        mine = sa.update(identity).where(identity.c.id == id, identity.c.erased_at.is_(None))
        return self._connection.execute(mine.values(name=None, contact=None, erased_at=at)).rowcount == 1

    def find(self, id: str) -> Sample | None:  # noqa: A002
        """One sample by its id."""
        return self._one(sample.c.id == id)

    def labelled(self, label: str) -> Sample | None:
        """One sample by its label."""
        return self._one(sample.c.label == label)

    def change(self, id: str, version: int, values: Mapping[str, Any]) -> bool:  # noqa: A002
        """Change a sample that still stands at ``version``; False where somebody was quicker."""
        mine = sa.update(sample).where(sample.c.id == id, sample.c.version == version)
        return self._connection.execute(mine.values(**values, version=version + 1)).rowcount == 1

    def reports(self, id: str, sight: Sight) -> list[str]:  # noqa: A002
        """Ids of the interpretations of a sample that are in sight, oldest first."""
        query = sa.select(interpretation.c.id).where(interpretation.c.sample == id, seen(sight))
        return list(self._connection.execute(query.order_by(interpretation.c.serial)).scalars())

    def page(self, sight: Sight, before: int | None, limit: int, status: str | None) -> list[Sample]:
        """Samples in sight, newest first, older than the serial ``before``: an office's, a laboratory's, or all."""
        query = sa.select(*_of(sample, Sample)).order_by(sample.c.serial.desc()).limit(limit)
        if before is not None:
            query = query.where(sample.c.serial < before)
        if status is not None:
            query = query.where(sample.c.status == status)
        found = [Sample(*row) for part in _owned(sight) for row in self._connection.execute(query.where(part))]
        return sorted(found, key=lambda row: -row.serial)[:limit]

    def _one(self, condition: Any) -> Sample | None:
        row = self._connection.execute(sa.select(*_of(sample, Sample)).where(condition)).one_or_none()
        return Sample(*row) if row else None


def _owned(sight: Sight) -> list[sa.ColumnElement[bool]]:
    """Conditions that no sample meets twice, each with an index of its own to run along; the sandbox is not in all."""
    if sight.everything:
        return [sample.c.sandbox.is_(sa.false())]
    own = sample.c.organization == sight.organization
    if not sight.laboratory:
        return [own]
    return [own, sa.and_(sample.c.laboratory == sight.organization, sample.c.organization != sight.organization)]


def _of(table: sa.Table, row: Any) -> list[Any]:
    return [table.c[name] for name in row._fields]
