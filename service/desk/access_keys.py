"""Keys: who may come in, for how long, to do what; made, shown once, rotated, revoked.

A key reads ``sb_<prefix>_<secret>``. The prefix finds it; of the secret only the SHA-256 is kept, which is enough for
192 random bits (NIST SP 800-63B, 5.1.2.2: look-up secrets of 112 bits and more need an approved one-way hash).
"""

import secrets
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import uuid4

from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.desk.admission import MARK, hashed
from service.desk.callers import LOCAL, ROLES, Caller
from service.desk.office import Office
from service.desk.organizations import reach
from service.desk.times import utc
from service.store.keys import PUBLISHABLE, Key
from service.store.store import Book

SECRET = "secret"  # noqa: S105 (a kind of key)
SECRET_BYTES = 24
OVERLAP = timedelta(days=7)
"""How long a rotated key lives beside its successor unless told otherwise."""

CREATED, ROTATED, REVOKED_ACTION, OBJECT = "key.created", "key.rotated", "key.revoked", "key"
COMMAND_LINE = Caller(LOCAL, LOCAL, frozenset(ROLES), "command-line")
"""Whoever may write the database anyway."""


class Wish(NamedTuple):
    """What a new key is to be. With ``origins`` it is publishable."""

    label: str
    roles: tuple[str, ...] = ()
    origins: tuple[str, ...] = ()
    sandbox: bool = False
    expires_at: str | None = None


class Made(NamedTuple):
    """A new key, and the whole of it as it is shown this once."""

    key: Key
    shown: str


def create(caller: Caller, office: Office, organization: str, wish: Wish) -> Made:
    """A new key of an organization in reach.

    Raises:
        ProblemError: 422 what is wished does not go together; there is no such organization, or it is closed.
    """
    with office.records.writing() as book:
        return create_in(book, caller, office, organization, wish)


def create_in(book: Book, caller: Caller, office: Office, organization: str, wish: Wish) -> Made:
    """The same in a transaction that has begun."""
    now = utc(office.now())
    _check(wish, now)
    owner = book.keys.organization(organization)
    if owner is None or owner.closed_at is not None or reach(caller) not in (None, organization):
        raise invalid([FieldError("/organization", "unknown_organization", "there is no such organization", "its id")])
    made = _new(organization, wish, caller, now)
    _keep(book, caller, made, CREATED, {})
    return made


def listed(caller: Caller, office: Office, after: tuple[str, str, str] | None, limit: int) -> list[Key]:
    """Keys in reach, by organization, label and id."""
    with office.records.reading() as reading:
        return reading.keys.page(reach(caller), after, limit)


def find(caller: Caller, office: Office, id: str) -> Key:  # noqa: A002
    """One key in reach. Raises ProblemError 404."""
    with office.records.reading() as reading:
        return _in_reach(caller, reading.keys.find(id))


def revoke(caller: Caller, office: Office, id: str) -> Key:  # noqa: A002
    """End a key from the next request on; one that was revoked before keeps its moment. Raises ProblemError 404."""
    now = utc(office.now())
    with office.records.writing() as book:
        found = _in_reach(caller, book.keys.find(id))
        if found.revoked_at is not None:
            return found
        book.keys.revoke(id, now)
        book.trail.append(found.organization, now, caller.actor, REVOKED_ACTION, OBJECT, id)
    return found._replace(revoked_at=now)


def rotate(
    caller: Caller,
    office: Office,
    id: str,  # noqa: A002
    old_expires_at: str | None = None,
    expires_at: str | None = None,
) -> Made:
    """A second key like the first, which lives on for a while so that nothing stands still.

    Args:
        old_expires_at: end of the first, never later than it was; a week from now if not given.
        expires_at: end of the second; if not given, as long as the first was made for.

    Raises:
        ProblemError: 404; 409 the key has ended or has a successor; 422 an end that is past.
    """
    now = office.now()
    with office.records.writing() as book:
        old = _in_reach(caller, book.keys.find(id))
        _may_rotate(book, old, utc(now))
        wish = Wish(old.label, old.roles, old.origins, old.sandbox, expires_at or _as_long(old, now))
        _check(wish, utc(now))
        end = min(old_expires_at or utc(now + OVERLAP), old.expires_at or "9")
        _in_future("/old_expires_at", end, utc(now))
        made = _new(old.organization, wish, caller, utc(now), replaces=old.id)
        book.keys.expire(old.id, end)
        _keep(book, caller, made, ROTATED, {"old_expires_at": end, "replaces": old.id})
    return made


def _check(wish: Wish, now: str) -> None:
    if wish.origins and set(wish.roles) - {"submitter"}:
        right = "no roles beside origins, or no origins"
        raise invalid([FieldError("/roles", "not_for_a_page", "a key bound to pages may only submit", right)])
    if not wish.origins and not wish.roles:
        wrong = "a key needs a role, or the origins that it is bound to"
        raise invalid([FieldError("/roles", "missing", wrong, f"some of {', '.join(ROLES)}", ROLES)])
    if wish.expires_at is not None:
        _in_future("/expires_at", wish.expires_at, now)


def _in_future(pointer: str, end: str, now: str) -> None:
    if end <= now:
        raise invalid([FieldError(pointer, "in_the_past", f"{end} is past", "a moment after now")])


def _may_rotate(book: Book, old: Key, now: str) -> None:
    if old.revoked_at is not None or (old.expires_at is not None and old.expires_at <= now):
        raise ProblemError(Problem("not-in-this-state", "The key has ended; make a new one."))
    successor = book.keys.successor(old.id)
    if successor is not None:
        raise ProblemError(Problem("not-in-this-state", f"The key was rotated to {successor}; rotate that one."))
    if (owner := book.keys.organization(old.organization)) is None or owner.closed_at is not None:
        raise ProblemError(Problem("not-in-this-state", "The organization is closed."))


def _as_long(old: Key, now: datetime) -> str | None:
    if old.expires_at is None:
        return None
    return utc(now + (datetime.fromisoformat(old.expires_at) - datetime.fromisoformat(old.created_at)))


def _new(organization: str, wish: Wish, caller: Caller, now: str, replaces: str | None = None) -> Made:
    """A key whose prefix tells what it is for, and whose secret has 192 random bits."""
    kind = PUBLISHABLE if wish.origins else SECRET
    word = "try" if wish.sandbox else {PUBLISHABLE: "pub", SECRET: "key"}[kind]
    prefix, secret = word + secrets.token_hex(5), secrets.token_hex(SECRET_BYTES)
    ends = (now, caller.actor, wish.expires_at, None, None, replaces)
    roles = wish.roles or ("submitter",)
    key = Key(str(uuid4()), organization, prefix, kind, wish.label, roles, wish.origins, wish.sandbox, *ends)
    return Made(key, f"{MARK}_{prefix}_{secret}")


def _keep(book: Book, caller: Caller, made: Made, action: str, more: dict[str, str]) -> None:
    key = made.key
    book.keys.add(key, hashed(made.shown.rpartition("_")[2]))
    detail = {"kind": key.kind, "prefix": key.prefix, "roles": list(key.roles), "sandbox": key.sandbox, **more}
    if key.expires_at is not None:
        detail["expires_at"] = key.expires_at
    book.trail.append(key.organization, key.created_at, caller.actor, action, OBJECT, key.id, "", detail)


def _in_reach(caller: Caller, found: Key | None) -> Key:
    only = reach(caller)
    if found is None or (only is not None and found.organization != only):
        raise ProblemError(Problem("not-found", "There is no key of this id."))
    return found
