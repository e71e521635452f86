"""At the door: whose key this is, looked up anew for each request."""

import hashlib
import hmac
from typing import NamedTuple

from service.desk.callers import SANDBOX, Caller
from service.desk.office import Office
from service.desk.times import utc
from service.store.keys import PUBLISHABLE, Key, Presented
from service.store.store import StoreUnavailableError

MARK = "sb"
NOBODY = hashlib.sha256(b"").hexdigest()


class Admitted(NamedTuple):
    """Who showed a key, and from which pages the key may be used; none for a secret key."""

    caller: Caller
    origins: tuple[str, ...]


class Refused(NamedTuple):
    """Why a key does not work. The same words for one that never was and one with a wrong secret."""

    why: str


UNKNOWN = Refused("The key is not known.")
REVOKED = Refused("The key was revoked.")
EXPIRED = Refused("The key has expired.")
CLOSED = Refused("The key's organization is closed.")


def hashed(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def keyed(office: Office) -> bool:
    """Whether a key was ever made. Keys are never deleted, so a yes holds for good; a no is asked anew each time."""
    remembered = office.__dict__.get("_keyed", False)
    if not remembered and office.store is not None:
        with office.records.reading() as reading:
            remembered = reading.keys.any()
        if remembered:
            object.__setattr__(office, "_keyed", True)
    return bool(remembered)


def origins(office: Office) -> frozenset[str]:
    """The origins whose pages hold a live publishable key."""
    with office.records.reading() as reading:
        return reading.keys.origins(utc(office.now()))


def admit(office: Office, shown: str) -> Admitted | Refused:
    """Whose key this is, looked up anew for each request, so that a revoked one is refused from the next request on."""
    prefix, secret = _parts(shown)
    with office.records.reading() as reading:
        found = reading.keys.presented(prefix) if prefix else None
    right = found.secret_sha256 if found else NOBODY
    if not hmac.compare_digest(hashed(secret), right) or found is None:
        return UNKNOWN
    ended = _ended(found, utc(office.now()))
    if ended is not None:
        return ended
    _note_use(office, found.key)
    return Admitted(_caller(found), found.key.origins)


def _parts(shown: str) -> tuple[str, str]:
    mark, _, rest = shown.partition("_")
    prefix, _, secret = rest.partition("_")
    return (prefix if mark == MARK and len(prefix) <= 16 else ""), secret


def _ended(found: Presented, now: str) -> Refused | None:
    if found.key.revoked_at is not None:
        return REVOKED
    if found.key.expires_at is not None and found.key.expires_at <= now:
        return EXPIRED
    return CLOSED if found.organization.closed_at is not None else None


def _caller(found: Presented) -> Caller:
    key, owner = found.key, found.organization
    desk = f"{owner.id}{SANDBOX}" if key.sandbox else owner.id
    return Caller(desk, owner.kind, frozenset(key.roles), key.id, key.sandbox, key.kind == PUBLISHABLE)


def _note_use(office: Office, key: Key) -> None:
    """Keep the day of last use; a database that is busy keeps nobody out."""
    day = office.now().date().isoformat()
    if key.last_used_on == day:
        return
    try:
        with office.records.writing() as book:
            book.keys.used(key.id, day)
    except StoreUnavailableError:
        return
