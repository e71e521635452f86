"""Which interpretations somebody may see, as conditions of a query."""

import sqlalchemy as sa

from service.store.records import Sight
from service.store.tables import interpretation

Condition = sa.ColumnElement[bool]


def seen(sight: Sight) -> Condition:
    """The condition on interpretations that are in sight."""
    return sa.or_(*owners(sight))


def owners(sight: Sight) -> tuple[Condition, ...]:
    """The same in parts that no interpretation meets twice, each with an index of its own to run along.

    The sandbox is never among everything.
    """
    if sight.everything:
        return (interpretation.c.sandbox.is_(False),)
    own = interpretation.c.organization == sight.organization
    if not sight.laboratory:
        return (own,)
    sent = interpretation.c.laboratory_organization == sight.organization
    return own, sa.and_(sent, interpretation.c.organization != sight.organization)
