"""Release classes: which go out unread, which are tried in the shadow, which are stopped; and wishes to change one."""

from typing import Any, NamedTuple

import sqlalchemy as sa

from service.store.tables import release_class, release_class_change


class ReleaseClass(NamedTuple):
    """One switch: a crop group in one office, or ``all``."""

    id: str
    crop_group: str
    organization: str
    mode: str
    reread_pct: float | None
    changed_at: str
    changed_by: str
    reason: str


class Change(NamedTuple):
    """A wish to change a class, until somebody else approves it or its day comes."""

    id: str
    release_class: str
    mode: str
    asked_at: str
    asked_by: str
    reason: str
    basis: str
    effective_at: str | None
    approved_by: str | None
    decided_at: str | None


class Classes:
    """Reads and writes the switches."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def some(self, ids: tuple[str, ...]) -> dict[str, ReleaseClass]:
        """The switches with these ids that somebody has ever set."""
        query = sa.select(*_columns(release_class, ReleaseClass)).where(release_class.c.id.in_(ids))
        return {row[0]: ReleaseClass(*row) for row in self._connection.execute(query)}

    def page(self, organization: str | None, after: str, limit: int) -> list[ReleaseClass]:
        """Switches in order of their id, from the one behind ``after``; of every organization for ``None``."""
        query = sa.select(*_columns(release_class, ReleaseClass)).where(release_class.c.id > after)
        if organization is not None:
            query = query.where(release_class.c.organization == organization)
        query = query.order_by(release_class.c.id).limit(limit)
        return [ReleaseClass(*row) for row in self._connection.execute(query)]

    def put(self, switch: ReleaseClass) -> None:
        """Set a switch, whether it was there or not."""
        values: dict[str, Any] = switch._asdict()
        changed = sa.update(release_class).where(release_class.c.id == switch.id).values(values)
        if self._connection.execute(changed).rowcount == 0:
            self._connection.execute(sa.insert(release_class).values(values))

    def ask(self, change: Change) -> None:
        """Keep a wish."""
        self._connection.execute(sa.insert(release_class_change).values(change._asdict()))

    def wish(self, id: str) -> Change | None:  # noqa: A002
        """One wish."""
        query = sa.select(*_columns(release_class_change, Change)).where(release_class_change.c.id == id)
        row = self._connection.execute(query).one_or_none()
        return Change(*row) if row else None

    def open_wishes(self, class_id: str) -> list[Change]:
        """Wishes for one class that nobody has decided, the oldest first."""
        query = (
            sa.select(*_columns(release_class_change, Change))
            .where(release_class_change.c.release_class == class_id, release_class_change.c.decided_at.is_(None))
            .order_by(release_class_change.c.asked_at, release_class_change.c.id)
        )
        return [Change(*row) for row in self._connection.execute(query)]

    def decide(self, id: str, at: str, by: str | None) -> None:  # noqa: A002
        """Close a wish; ``by`` is None where it was withdrawn or overtaken."""
        wish = sa.update(release_class_change).where(release_class_change.c.id == id)
        self._connection.execute(wish.values(decided_at=at, approved_by=by))

    def lapse(self, class_id: str, at: str) -> None:
        """Close every open wish for a class without anybody's approval."""
        changes = release_class_change.c
        still = sa.update(release_class_change).where(changes.release_class == class_id, changes.decided_at.is_(None))
        self._connection.execute(still.values(decided_at=at, approved_by=None))


def _columns(table: sa.Table, row: Any) -> list[Any]:
    return [table.c[name] for name in row._fields]
