"""``saltbush crops``: the workshop of the library: check, new, compare, verify, freeze."""

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path
from pkgutil import resolve_name
from typing import Any

HERE = "service.commands"


def add(commands: Any) -> None:
    """Declare the command and its actions. What an action needs is imported when it runs."""
    parser = commands.add_parser("crops", help="work on tables and crops")
    actions = parser.add_subparsers(title="actions", required=True, metavar="ACTION")
    check = actions.add_parser("check", help="name everything that is wrong, and run the worked cases")
    check.add_argument("folders", nargs="*", type=Path, metavar="FOLDER", help="a folder of your own: only its faults")
    check.set_defaults(run=_later("crops_check"))
    compare = actions.add_parser("compare", help="two editions row by row, and whose answers change")
    compare.add_argument("before", metavar="A", help="the older edition, as ratings-colorado/2025-01-01 or its path")
    compare.add_argument("after", metavar="B", help="the newer edition")
    compare.add_argument("--folder", action="append", type=Path, help="a folder of your own, read with the others")
    compare.add_argument("--language", choices=("en", "es"), default="en")
    compare.set_defaults(run=_later("crops_compare"))
    freeze = actions.add_parser("freeze", help="release what is new: record its hash, so that it never changes again")
    freeze.add_argument("folder", nargs="?", type=Path, metavar="FOLDER", help="default: the shipped folder")
    freeze.add_argument("--anew", action="store_true", help="before the very first release only: write the whole list")
    freeze.set_defaults(run=_later("crops_freeze"))


def _later(module: str) -> Callable[[argparse.Namespace], int]:
    def run(arguments: argparse.Namespace) -> int:
        answer: int = resolve_name(f"{HERE}.{module}:run")(arguments)
        return answer

    return run


def day(text: str) -> date:
    """A date of the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-04-20") from None
