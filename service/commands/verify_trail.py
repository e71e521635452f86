"""``saltbush verify-trail``: prove that nothing kept was changed since it was written."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from service.desk.trail_check import Proof
    from service.store.trail import Head

SHOWN = 100
"""Faults printed; thousands say no more."""


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("verify-trail", help="prove that no report and no row of the trail was changed")
    parser.add_argument("export", nargs="?", type=Path, metavar="FILE", help="an export; not given: the whole database")
    parser.add_argument("--database", default="", help="SQLAlchemy URL (default: as serve would use it)")
    parser.add_argument(
        "--head",
        action="append",
        default=[],
        type=_published,
        metavar="ORGANIZATION:SEQUENCE:HASH",
        help="a head published earlier; may be given more than once",
    )
    parser.add_argument("--publish", action="store_true", help="tell every organization where its chain ends today")
    parser.set_defaults(run=run)


def _published(text: str) -> "Head":
    from service.store.trail import Head

    organization, sequence, found = (["", *text.rsplit(":", 2)])[-3:]
    if not organization or not sequence.isdigit() or len(found) != 64:
        raise argparse.ArgumentTypeError(f"{text!r} is no ORGANIZATION:SEQUENCE:HASH")
    return Head(organization, int(sequence), found)


def run(arguments: argparse.Namespace) -> int:
    """Print what was proved. Returns 0 when all is as it was written, 1 when something is not."""
    from service.store.store import StoreUnavailableError

    try:
        proof = _of_export(arguments) if arguments.export else _of_database(arguments)
    except (OSError, StoreUnavailableError) as problem:
        print(f"saltbush: nothing was proved: {problem or 'the database cannot be read'}", file=sys.stderr)
        return 1
    return _said(proof)


def _of_export(arguments: argparse.Namespace) -> "Proof":
    from service.desk.trail_check import prove_export

    with arguments.export.open("rb") as file:
        return prove_export(file, arguments.head)


def _of_database(arguments: argparse.Namespace) -> "Proof":
    from service.desk.office import local_time
    from service.desk.trail import tell_heads
    from service.desk.trail_check import prove_database
    from service.settings import Settings
    from service.store.store import Store

    store = Store(arguments.database or Settings.from_environment().database_url)
    try:
        with store.reading() as reading:
            proof = prove_database(reading, arguments.head)
        if arguments.publish and not proof.broken:
            tell_heads(store, local_time())
    finally:
        store.close()
    return proof


def _said(proof: "Proof") -> int:
    for fault in proof.broken[:SHOWN]:
        place = f"{fault.organization or 'export'}, row {fault.sequence}" if fault.sequence else fault.organization
        print(f"{place or 'export'}: {fault.what}")
    if len(proof.broken) > SHOWN:
        print(f"... and {len(proof.broken) - SHOWN} more")
    for head in proof.heads:
        print(f"head {head.organization}:{head.sequence}:{head.hash}")
    state = f"{len(proof.broken)} faults" if proof.broken else "all is as it was written"
    print(f"{proof.rows} rows, {proof.records} interpretations: {state}")
    return int(bool(proof.broken))
