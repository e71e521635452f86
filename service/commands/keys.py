"""``saltbush keys``: organizations and their keys, made by whoever may write the database; the first key comes so."""

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from service.settings import PREFIX, Settings

KINDS = ("county_office", "laboratory", "app", "programme")
ROLES = ("submitter", "agent", "reviewer", "table_signer", "administrator")
ONCE = "This is the whole key. It is not kept and cannot be shown again."
MANY = 1000


def add(commands: Any) -> None:
    """Declare the command and its actions."""
    parser = commands.add_parser("keys", help="make, list, rotate and revoke keys")
    actions = parser.add_subparsers(title="actions", required=True, metavar="ACTION")
    _declare_create(actions)
    listed = _action(actions, "list", "keys, live or ended, without their secrets", _list)
    listed.add_argument("--organization", metavar="ID", help="only those of one organization")
    revoke = _action(actions, "revoke", "end a key, from the next request on", _revoke)
    revoke.add_argument("key", metavar="KEY", help="its id, or its prefix")
    rotate = _action(actions, "rotate", "make a second key like one; both work until the old one's end", _rotate)
    rotate.add_argument("key", metavar="KEY", help="id or prefix of the old key")
    rotate.add_argument("--old-expires", metavar="MOMENT", help="end of the old key (default: a week from now)")
    rotate.add_argument("--expires", metavar="MOMENT", help="end of the new key")
    _action(actions, "organizations", "organizations, open or closed", _organizations)


def _action(actions: Any, name: str, said: str, act: Callable[..., None]) -> Any:
    parser = actions.add_parser(name, help=said)
    parser.add_argument("--database", help="SQLAlchemy URL (default: a SQLite file in the data folder)")
    parser.set_defaults(run=lambda arguments: run(arguments, act))
    return parser


def _declare_create(actions: Any) -> None:
    create = _action(actions, "create", "make a key, and its organization where that is new", _create)
    create.add_argument("--organization", required=True, metavar="ID", help="such as juniper-county")
    create.add_argument("--kind", choices=KINDS, help="of a new organization")
    create.add_argument("--name", help="of a new organization")
    create.add_argument("--role", choices=ROLES, action="append", default=[], help="may be given several times")
    create.add_argument("--label", default="made at the command line", help="what the key is for")
    create.add_argument("--origin", action="append", default=[], help="page that may use it; makes a publishable key")
    create.add_argument("--sandbox", action="store_true", help="for trying out; what it writes never counts")
    create.add_argument("--expires", metavar="MOMENT", help="such as 2027-03-01T00:00:00-07:00 (default: never)")


def run(arguments: argparse.Namespace, act: Callable[..., None]) -> int:
    """Act on the database; 1 with what is wrong and what would be right."""
    from service.contract.problem import ProblemError
    from service.store.store import StoreUnavailableError

    if arguments.database is not None:
        os.environ[f"{PREFIX}DATABASE"] = arguments.database
    try:
        with _office() as office:
            act(arguments, office)
    except ProblemError as found:
        told = [f"{error.pointer}: {error.message}; expected {error.expected}" for error in found.problem.errors]
        print("\n".join(f"saltbush: {line}" for line in told or [found.problem.detail]), file=sys.stderr)
        return 1
    except StoreUnavailableError:
        print("saltbush: the database cannot be used; nothing was changed", file=sys.stderr)
        return 1
    return 0


@contextmanager
def _office() -> Iterator[Any]:
    """An office that needs no tables, on a database that is made or brought up to date first."""
    from service.catalog.catalog import Catalog
    from service.commands.serve import prepare
    from service.desk.office import Office
    from service.store.store import Store

    settings = Settings.from_environment()
    prepare(settings)
    store = Store(settings.database_url)
    try:
        yield Office(Catalog({}, {}, {}), "keys", store)
    finally:
        store.close()


def _create(arguments: argparse.Namespace, office: Any) -> None:
    from service.contract.access_schema import KeyForm
    from service.contract.forms import checked
    from service.desk.access_keys import COMMAND_LINE, Wish, create_in

    sent: dict[str, Any] = {"organization": arguments.organization, "label": arguments.label}
    sent |= {"sandbox": arguments.sandbox, "roles": arguments.role, "origins": arguments.origin}
    form = checked({**sent, "expires_at": arguments.expires} if arguments.expires else sent, KeyForm())
    owner = form.pop("organization")
    with office.records.writing() as book:
        _found_or_made(arguments, office, book, owner)
        made = create_in(book, COMMAND_LINE, office, owner, Wish(**form))
    _show(made)


def _found_or_made(arguments: argparse.Namespace, office: Any, book: Any, id: str) -> None:  # noqa: A002
    """The organization, made where it is new. Raises ProblemError where what is said of it does not fit."""
    from service.contract.access_schema import OrganizationForm
    from service.contract.forms import checked
    from service.contract.problem import Problem, ProblemError
    from service.desk.access_keys import COMMAND_LINE
    from service.desk.organizations import create_in

    known = book.keys.organization(id)
    if known is None:
        if not arguments.kind or not arguments.name:
            raise ProblemError(Problem("not-found", f"{id} is new; say what it is with --kind and --name"))
        form = checked({"id": id, "kind": arguments.kind, "name": arguments.name}, OrganizationForm())
        create_in(book, COMMAND_LINE, office, **form)
    elif arguments.kind not in (None, known.kind) or arguments.name not in (None, known.name):
        raise ProblemError(Problem("exists", f"{id} is there already: {known.kind}, {known.name!r}"))


def _list(arguments: argparse.Namespace, office: Any) -> None:
    with office.records.reading() as reading:
        keys: list[Any] = []
        while found := reading.keys.page(arguments.organization, keys[-1].place if keys else None, MANY):
            keys += found
    for key in keys:
        ends = f"revoked {key.revoked_at}" if key.revoked_at else f"until {key.expires_at or 'revoked'}"
        used = f"last used {key.last_used_on or 'never'}"
        what = [*key.roles, *key.origins, *(["sandbox"] if key.sandbox else [])]
        print("\t".join((key.id, key.organization, key.prefix, ",".join(what), ends, used, key.label)))


def _organizations(_: argparse.Namespace, office: Any) -> None:
    with office.records.reading() as reading:
        known: list[Any] = []
        while found := reading.keys.organizations(None, known[-1].id if known else "", MANY):
            known += found
    for each in known:
        print("\t".join((each.id, each.kind, f"closed {each.closed_at}" if each.closed_at else "open", each.name)))


def _revoke(arguments: argparse.Namespace, office: Any) -> None:
    from service.desk.access_keys import COMMAND_LINE, revoke

    ended = revoke(COMMAND_LINE, office, _id_of(arguments.key, office))
    print(f"{ended.id} of {ended.organization} was revoked at {ended.revoked_at}")


def _rotate(arguments: argparse.Namespace, office: Any) -> None:
    from service.contract.access_schema import RotationForm
    from service.contract.forms import checked
    from service.desk.access_keys import COMMAND_LINE, rotate

    said = {"old_expires_at": arguments.old_expires, "expires_at": arguments.expires}
    form = checked({name: value for name, value in said.items() if value}, RotationForm())
    _show(rotate(COMMAND_LINE, office, _id_of(arguments.key, office), **form))


def _id_of(key: str, office: Any) -> str:
    with office.records.reading() as reading:
        found = reading.keys.presented(key)
    return found.key.id if found else key


def _show(made: Any) -> None:
    """The key alone on standard output, so that it can be piped to where it is kept."""
    print(made.shown)
    ends = f", until {made.key.expires_at}" if made.key.expires_at else ""
    print(f"{ONCE}\nIts id is {made.key.id}, of {made.key.organization}{ends}.", file=sys.stderr)
