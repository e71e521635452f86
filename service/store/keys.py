"""Organizations and their keys. A key's secret is not here: only its prefix and the hash of its secret."""

from collections.abc import Iterable
from typing import Any, NamedTuple

import sqlalchemy as sa

from service.store.tables import api_key, organization

PUBLISHABLE = "publishable"


class Organization(NamedTuple):
    """One organization. Moments are ISO 8601 in UTC."""

    id: str
    kind: str
    name: str
    created_at: str
    closed_at: str | None


class Key(NamedTuple):
    """One key without what proves it. ``kind`` is secret or publishable; ``roles`` and ``origins`` in order."""

    id: str
    organization: str
    prefix: str
    kind: str
    label: str
    roles: tuple[str, ...]
    origins: tuple[str, ...]
    sandbox: bool
    created_at: str
    created_by: str
    expires_at: str | None
    revoked_at: str | None
    last_used_on: str | None
    replaces: str | None

    @property
    def place(self) -> tuple[str, str, str]:
        """Where it stands in a list."""
        return self.organization, self.label, self.id


class Presented(NamedTuple):
    """A key as it is looked up when somebody shows it, with what its owner is."""

    key: Key
    secret_sha256: str
    organization: Organization


KEY = tuple(api_key.c[name] for name in Key._fields)
ORGANIZATION = tuple(organization.c[name] for name in Organization._fields)


class Keys:
    """Reads and writes over one connection."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def settings(self, id: str) -> str | None:  # noqa: A002
        """What an organization has set for itself, as JSON."""
        query = sa.select(organization.c.settings).where(organization.c.id == id)
        found: str | None = self._connection.execute(query).scalar_one_or_none()
        return found

    def change_settings(self, id: str, settings: str) -> None:  # noqa: A002
        """Set it anew."""
        self._connection.execute(sa.update(organization).where(organization.c.id == id).values(settings=settings))

    def any(self) -> bool:
        """Whether a key was ever made, live or not."""
        return self._connection.execute(sa.select(api_key.c.id).limit(1)).first() is not None

    def presented(self, prefix: str) -> Presented | None:
        """The key of a prefix, found by its unique index."""
        query = (
            sa.select(*KEY, api_key.c.secret_sha256, *ORGANIZATION)
            .join(organization, organization.c.id == api_key.c.organization)
            .where(api_key.c.prefix == prefix)
        )
        row = self._connection.execute(query).one_or_none()
        if row is None:
            return None
        end = len(KEY)
        return Presented(_key(row[:end]), row[end], Organization(*row[end + 1 :]))

    def origins(self, now: str) -> frozenset[str]:
        """Every origin that a live publishable key is bound to."""
        live = (organization.c.closed_at.is_(None), api_key.c.revoked_at.is_(None))
        query = (
            sa.select(api_key.c.origins)
            .join(organization, organization.c.id == api_key.c.organization)
            .where(api_key.c.kind == PUBLISHABLE, *live, sa.func.coalesce(api_key.c.expires_at, "9") > now)
        )
        return frozenset(origin for line in self._connection.execute(query).scalars() for origin in line.split())

    def used(self, id: str, day: str) -> None:  # noqa: A002
        """Note the day of last use, once a day."""
        earlier = sa.func.coalesce(api_key.c.last_used_on, "") < day
        self._connection.execute(sa.update(api_key).where(api_key.c.id == id, earlier).values(last_used_on=day))

    def add(self, key: Key, secret_sha256: str) -> None:
        """Keep a new key."""
        values: dict[str, Any] = {**key._asdict(), "roles": " ".join(key.roles), "origins": " ".join(key.origins)}
        self._connection.execute(sa.insert(api_key).values(**values, secret_sha256=secret_sha256))

    def find(self, id: str) -> Key | None:  # noqa: A002
        """One key."""
        row = self._connection.execute(sa.select(*KEY).where(api_key.c.id == id)).one_or_none()
        return _key(row) if row else None

    def successor(self, id: str) -> str | None:  # noqa: A002
        """The key that one was rotated to."""
        found: str | None = self._connection.execute(
            sa.select(api_key.c.id).where(api_key.c.replaces == id)
        ).scalar_one_or_none()
        return found

    def page(self, owner: str | None, after: tuple[str, str, str] | None, limit: int) -> list[Key]:
        """Keys of one organization, or of all, by organization, label and id, from the one behind ``after``."""
        order = (api_key.c.organization, api_key.c.label, api_key.c.id)
        query = sa.select(*KEY).order_by(*order).limit(limit)
        if after is not None:
            query = query.where(sa.tuple_(*order) > sa.tuple_(*after))
        if owner is not None:
            query = query.where(api_key.c.organization == owner)
        return [_key(row) for row in self._connection.execute(query)]

    def revoke(self, id: str, at: str) -> None:  # noqa: A002
        """End a key; one that has ended before keeps its moment."""
        query = sa.update(api_key).where(api_key.c.id == id, api_key.c.revoked_at.is_(None))
        self._connection.execute(query.values(revoked_at=at))

    def expire(self, id: str, at: str) -> None:  # noqa: A002
        """Set the end of a key."""
        self._connection.execute(sa.update(api_key).where(api_key.c.id == id).values(expires_at=at))

    def add_organization(self, made: Organization) -> None:
        """Keep a new organization."""
        self._connection.execute(sa.insert(organization).values(made._asdict()))

    def organization(self, id: str) -> Organization | None:  # noqa: A002
        """One organization."""
        row = self._connection.execute(sa.select(*ORGANIZATION).where(organization.c.id == id)).one_or_none()
        return Organization(*row) if row else None

    def organizations(self, only: str | None, after: str, limit: int) -> list[Organization]:
        """All organizations, or one, in the order of their ids."""
        query = sa.select(*ORGANIZATION).where(organization.c.id > after).order_by(organization.c.id).limit(limit)
        if only is not None:
            query = query.where(organization.c.id == only)
        return [Organization(*row) for row in self._connection.execute(query)]

    def close(self, id: str, at: str) -> None:  # noqa: A002
        """Close an organization: its keys work no more."""
        query = sa.update(organization).where(organization.c.id == id, organization.c.closed_at.is_(None))
        self._connection.execute(query.values(closed_at=at))


def _key(row: Iterable[Any]) -> Key:
    key = Key(*row)
    return key._replace(roles=tuple(str(key.roles).split()), origins=tuple(str(key.origins).split()))
