"""Organizations: county offices, laboratories, apps, and the state programme that sees them all."""

from service.contract.problem import Problem, ProblemError
from service.desk.callers import LOCAL, Caller
from service.desk.office import Office
from service.desk.times import utc
from service.store.keys import Organization
from service.store.store import Book

RESERVED = (LOCAL, "all")
"""What stands for something else where an organization's id could stand."""

CREATED = "organization.created"
CLOSED = "organization.closed"
OBJECT = "organization"


def reach(caller: Caller) -> str | None:
    """The one organization that a caller's administration reaches, or None for all."""
    return None if caller.sees_all else caller.organization


def create(caller: Caller, office: Office, id: str, kind: str, name: str) -> Organization:  # noqa: A002
    """A new organization. Raises ProblemError 409 where the id is taken."""
    with office.records.writing() as book:
        return create_in(book, caller, office, id, kind, name)


def create_in(book: Book, caller: Caller, office: Office, id: str, kind: str, name: str) -> Organization:  # noqa: A002
    """The same in a transaction that has begun."""
    made = Organization(id, kind, name, utc(office.now()), None)
    if id in RESERVED or book.keys.organization(id) is not None:
        raise ProblemError(Problem("exists", "There is an organization of this id."))
    book.keys.add_organization(made)
    book.trail.append(made.id, made.created_at, caller.actor, CREATED, OBJECT, made.id, "", {"kind": made.kind})
    return made


def listed(caller: Caller, office: Office, after: str, limit: int) -> list[Organization]:
    """Organizations in reach, in the order of their ids."""
    with office.records.reading() as reading:
        return reading.keys.organizations(reach(caller), after, limit)


def find(caller: Caller, office: Office, id: str) -> Organization:  # noqa: A002
    """One organization in reach. Raises ProblemError 404."""
    with office.records.reading() as reading:
        return in_reach(caller, reading.keys.organization(id))


def close(caller: Caller, office: Office, id: str) -> Organization:  # noqa: A002
    """Close an organization: its keys work no more, its records stay. Raises ProblemError 404, 409 for one's own."""
    now = utc(office.now())
    with office.records.writing() as book:
        found = in_reach(caller, book.keys.organization(id))
        if found.id == caller.organization:
            raise ProblemError(Problem("not-in-this-state", "Nobody closes the organization of the key in use."))
        if found.closed_at is not None:
            return found
        book.keys.close(id, now)
        book.trail.append(id, now, caller.actor, CLOSED, OBJECT, id)
    return found._replace(closed_at=now)


def in_reach(caller: Caller, found: Organization | None) -> Organization:
    """What was found, if it is the caller's to see. Raises ProblemError 404."""
    only = reach(caller)
    if found is None or (only is not None and found.id != only):
        raise ProblemError(Problem("not-found", "There is no organization of this id."))
    return found
