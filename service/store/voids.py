"""Reports that were posted by mistake, and what stands in place of a report today."""

import hashlib
from typing import Any

import sqlalchemy as sa

from service.store.records import Mark
from service.store.tables import interpretation, recall, recall_item, void

HELD = "held"


class Voids:
    """Marks reports as void and says how a report stands."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def add(self, id: str, at: str, by: str, reason: str) -> None:  # noqa: A002
        """Mark one report as void."""
        self._connection.execute(sa.insert(void).values(interpretation=id, at=at, by=by, reason=reason))

    def of(self, id: str) -> Mark | None:  # noqa: A002
        """When and why a report was voided."""
        row = self._connection.execute(sa.select(void.c.at, void.c.reason).where(void.c.interpretation == id)).first()
        return Mark(*row) if row else None

    def withdrawn(self, id: str) -> Mark | None:  # noqa: A002
        """When and why a report was withdrawn by a recall that still stands."""
        query = (
            sa.select(recall.c.at, recall.c.reason)
            .join(recall_item, recall_item.c.recall == recall.c.id)
            .where(recall_item.c.interpretation == id, recall_item.c.state == HELD)
            .order_by(recall.c.at.desc())
        )
        row = self._connection.execute(query.limit(1)).first()
        return Mark(*row) if row else None

    def marks(self, id: str, replaced_by: str | None) -> dict[str, Any]:  # noqa: A002
        """How a report stands, as members of a `Record`; a void replacement leaves the former standing."""
        while replaced_by is not None and self.of(replaced_by) is not None:
            later = sa.select(interpretation.c.id).where(interpretation.c.replaces == replaced_by)
            replaced_by = self._connection.execute(later).scalar()
        return {"replaced_by": replaced_by, "voided": self.of(id), "recalled": self.withdrawn(id)}

    def free_key(self, business_key: str) -> str:
        """The key under which a case is kept: its own, or one made from it where a void report has that for good."""
        taken = sa.select(void.c.interpretation).join(interpretation, interpretation.c.id == void.c.interpretation)
        query = taken.where(interpretation.c.business_key == sa.bindparam("key"))
        while self._connection.execute(query, {"key": business_key}).first() is not None:
            business_key = hashlib.sha256(business_key.encode()).hexdigest()
        return business_key
