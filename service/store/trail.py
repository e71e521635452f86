"""The trail: one row for every write, chained for each organization so that a later change shows; and notices.

How a row is hashed stands in DEVELOPERS.md, "The trail"; tests/trail/verify_export.py is the same in other hands.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple
from uuid import uuid4

import sqlalchemy as sa

from service.store.tables import interpretation, layout, notice, trail, trail_head

START = "0" * 64
"""What the first row of a chain has for the hash before it."""


class TrailBrokenError(Exception):
    """The chain does not end where this transaction thought: nothing of it may be kept."""


class Entry(NamedTuple):
    """One row of the trail."""

    organization: str
    sequence: int
    at: str
    actor: str
    action: str
    object_kind: str
    object_id: str
    content_sha256: str
    detail: str
    previous: str
    hash: str


class Head(NamedTuple):
    """Where a chain ends."""

    organization: str
    sequence: int
    hash: str


class Notice(NamedTuple):
    """Something an organization has to be told."""

    serial: int
    id: str
    organization: str
    kind: str
    object_id: str
    at: str
    detail: str


def canonical(value: Any) -> str:
    """JSON with sorted keys, no spaces and no escapes beyond the needed: RFC 8785 for texts and whole numbers."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def hash_of(fields: Mapping[str, Any]) -> str:
    """SHA-256 of a row's columns in canonical JSON, its own ``hash`` left out."""
    rest = {name: value for name, value in fields.items() if name != "hash"}
    return hashlib.sha256(canonical(rest).encode()).hexdigest()


class Trail:
    """Appends and reads; nothing here changes or removes a row, and the database refuses both."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._heads: dict[str, Head] = {}

    def append(
        self,
        organization: str,
        at: str,
        actor: str,
        action: str,
        object_kind: str,
        object_id: str,
        content_sha256: str = "",
        detail: Mapping[str, Any] | None = None,
    ) -> Entry:
        """One row at the end of the organization's chain, in the transaction of the write that it tells of.

        Args:
            at: ISO 8601 with offset.
            action: such as ``interpretation.issued``.
            content_sha256: of the bytes written, where there are any.
            detail: what else is to be known; texts, whole numbers, booleans, lists of such; no names of people.
        """
        head = self._heads.get(organization) or self.head(organization)
        fields: dict[str, Any] = {
            "organization": organization,
            "sequence": head.sequence + 1,
            "at": at,
            "actor": actor,
            "action": action,
            "object_kind": object_kind,
            "object_id": object_id,
            "content_sha256": content_sha256,
            "detail": canonical(detail or {}),
            "previous": head.hash,
        }
        entry = Entry(**fields, hash=hash_of(fields))
        self._connection.execute(sa.insert(trail), entry._asdict())
        self._move(head, entry)
        return entry

    def _move(self, before: Head, entry: Entry) -> None:
        after = Head(entry.organization, entry.sequence, entry.hash)
        if before.sequence:
            still = (trail_head.c.organization == before.organization, trail_head.c.hash == before.hash)
            moved = sa.update(trail_head).where(*still).values(sequence=after.sequence, hash=after.hash)
            if self._connection.execute(moved).rowcount != 1:
                raise TrailBrokenError(entry.organization)
        else:
            self._connection.execute(sa.insert(trail_head), after._asdict())
        self._heads[entry.organization] = after

    def head(self, organization: str) -> Head:
        """The end of one chain; sequence 0 where nothing was written yet."""
        query = sa.select(trail_head).where(trail_head.c.organization == organization)
        row = self._connection.execute(query).one_or_none()
        return Head(*row) if row else Head(organization, 0, START)

    def heads(self) -> list[Head]:
        """The end of every chain."""
        return [Head(*row) for row in self._connection.execute(sa.select(trail_head).order_by("organization"))]

    def organizations(self) -> list[str]:
        """Every organization that has rows, whether it has a head or not."""
        query = sa.select(trail.c.organization).distinct().order_by(trail.c.organization)
        return list(self._connection.execute(query).scalars())

    def page(self, organization: str, after: int, limit: int) -> list[Entry]:
        """Rows in order of their sequence, from the one behind ``after``."""
        query = (
            sa.select(trail)
            .where(trail.c.organization == organization, trail.c.sequence > after)
            .order_by(trail.c.sequence)
            .limit(limit)
        )
        return [Entry(*row) for row in self._connection.execute(query)]

    def entries(self, organization: str, chunk: int = 1000) -> Iterator[Entry]:
        """A whole chain, from its first row."""
        after = -1
        while rows := self.page(organization, after, chunk):
            yield from rows
            after = rows[-1].sequence

    def of(self, object_kind: str, object_id: str) -> list[Entry]:
        """What was done with one object, oldest first."""
        query = (
            sa.select(trail)
            .where(trail.c.object_kind == object_kind, trail.c.object_id == object_id)
            .order_by(trail.c.at, trail.c.sequence)
        )
        return [Entry(*row) for row in self._connection.execute(query)]

    def tell(
        self, organization: str, at: str, kind: str, object_id: str, detail: Mapping[str, Any] | None = None
    ) -> str:
        """A notice for the organization, such as ``interpretation.replaced``; ids only. Returns its id."""
        made = {"id": str(uuid4()), "organization": organization, "kind": kind, "object_id": object_id, "at": at}
        self._connection.execute(sa.insert(notice).values(**made, detail=canonical(detail or {})))
        return made["id"]

    def notices(self, organization: str, after: int, limit: int, kind: str | None = None) -> list[Notice]:
        """Notices in the order they were written, from the one behind the serial ``after``."""
        query = (
            sa.select(*(notice.c[name] for name in Notice._fields))
            .where(notice.c.organization == organization, notice.c.serial > after)
            .order_by(notice.c.serial)
            .limit(limit)
        )
        if kind is not None:
            query = query.where(notice.c.kind == kind)
        return [Notice(*row) for row in self._connection.execute(query)]

    def last_notice(self, organization: str, kind: str) -> Notice | None:
        """The newest notice of a kind."""
        query = (
            sa.select(*(notice.c[name] for name in Notice._fields))
            .where(notice.c.organization == organization, notice.c.kind == kind)
            .order_by(notice.c.serial.desc())
            .limit(1)
        )
        row = self._connection.execute(query).one_or_none()
        return Notice(*row) if row else None

    def answers(self, ids: list[str]) -> dict[str, bytes]:
        """Stored answers by id of the interpretation."""
        query = sa.select(interpretation.c.id, interpretation.c.answer).where(interpretation.c.id.in_(ids))
        return {name: bytes(answer) for name, answer in self._connection.execute(query)}

    def sealed_records(self, chunk: int = 200) -> Iterator[Mapping[str, Any]]:
        """Every stored interpretation, column by column, as `records.sealed` wants it."""
        columns = [column for column in interpretation.c if column.name != "layout"]
        query = sa.select(*columns, layout.c.editions).outerjoin_from(interpretation, layout)
        query = query.order_by(interpretation.c.serial).limit(chunk)
        after = -1
        while rows := self._connection.execute(query.where(interpretation.c.serial > after)).mappings().all():
            yield from (dict(row) for row in rows)
            after = rows[-1]["serial"]
