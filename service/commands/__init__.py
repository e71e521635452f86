"""``saltbush``: serve, interpret a file, check crops, write the contract. Heavy modules load only where needed."""

import argparse
import sys
from collections.abc import Callable, Sequence

from service import __version__
from service.catalog.errors import CatalogError
from service.commands import contract, crops, interpret, keys, retention, serve, verify_trail
from service.settings import SettingError

DONE, AT_FAULT, USAGE = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Returns 0 done, 1 the input is at fault, 2 usage."""
    parsed = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = parsed.run
    try:
        return run(parsed)
    except SettingError as problem:
        print(f"saltbush: {problem}", file=sys.stderr)
        return USAGE
    except CatalogError as problem:
        print(f"saltbush: tables at fault\n{problem}", file=sys.stderr)
        return AT_FAULT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="saltbush", description="Reads soil-test results and answers with advice.")
    parser.add_argument("--version", action="version", version=f"saltbush {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    for command in (serve, interpret, crops, keys, verify_trail, retention, contract):
        command.add(commands)
    return parser
