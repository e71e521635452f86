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
    for declare in (_check, _new, _compare, _verify, _freeze):
        declare(actions)


def _check(actions: Any) -> None:
    check = actions.add_parser("check", help="name everything that is wrong, and run the worked cases")
    check.add_argument("folders", nargs="*", type=Path, metavar="FOLDER", help="a folder of your own: only its faults")
    check.set_defaults(run=_later("crops_check:run"))


def _new(actions: Any) -> None:
    new = actions.add_parser("new", help="make the folder of one more crop; asks what the options do not say")
    new.add_argument("id", metavar="ID", help="small letters with hyphens, such as sweet-corn")
    new.add_argument("--folder", type=Path, default=Path("crops"), help="folder of your crops (default: crops)")
    new.add_argument("--like", metavar="CROP", help="a relative: its tables, kind and group are taken over")
    new.add_argument("--english", help="common names, separated by commas")
    new.add_argument("--spanish", help="common names, separated by commas")
    new.add_argument("--scientific", help="scientific name")
    new.add_argument("--kind", help="such as vegetable")
    new.add_argument("--group", help="such as vegetables")
    new.add_argument("--depth", type=float, nargs=2, metavar=("TOP", "BOTTOM"), help="sampling depth, inches")
    new.add_argument("--edition", type=day, default=date.today(), help="day in force from (default: today)")
    new.set_defaults(run=_later("crops_new:run"))


def _compare(actions: Any) -> None:
    compare = actions.add_parser("compare", help="two editions row by row, and whose answers change")
    compare.add_argument("before", metavar="A", help="the older edition, as ratings-colorado/2025-01-01 or its path")
    compare.add_argument("after", metavar="B", help="the newer edition")
    compare.add_argument("--language", choices=("en", "es"), default="en")
    _folder(compare)
    compare.set_defaults(run=_later("crops_compare:run"))


def _verify(actions: Any) -> None:
    verify = actions.add_parser("verify", help="rows not yet checked against print; record checks; sign an edition")
    verify.add_argument("--table", help="rows of this table only")
    verify.add_argument("--limit", type=int, default=20, help="how many rows (default 20; 0: all)")
    verify.add_argument("--csv", action="store_true", help="as a spreadsheet")
    _folder(verify)
    verify.set_defaults(run=_later("crops_verify:show"))
    steps = verify.add_subparsers(title="steps", metavar="STEP")
    record = steps.add_parser("record", help="what print says of one row")
    record.add_argument("table", metavar="TABLE")
    record.add_argument("line", metavar="LINE", type=int, help="line of the newest edition's file")
    record.add_argument("--by", required=True, help="who read it")
    record.add_argument("--on", type=day, default=date.today(), help="when (default: today)")
    record.add_argument("--copy", required=True, help="in which copy: print run, library, page")
    record.add_argument("--correct", action="append", metavar="COLUMN=VALUE", help="what stands there instead")
    record.add_argument("--note", default="")
    _folder(record)
    record.set_defaults(run=_later("crops_verify:note"))
    sign = steps.add_parser("sign", help="make a new edition of the checks: confirmed rows are marked read")
    sign.add_argument("table", metavar="TABLE")
    sign.add_argument("--by", required=True, help="who signs: not who checked, or the same person two days later")
    sign.add_argument("--edition", type=day, default=date.today(), help="day in force from (default: today)")
    _folder(sign)
    sign.set_defaults(run=_later("crops_verify:release"))


def _freeze(actions: Any) -> None:
    freeze = actions.add_parser("freeze", help="release what is new: record its hash, so that it never changes again")
    freeze.add_argument("folder", nargs="?", type=Path, metavar="FOLDER", help="default: the shipped folder")
    freeze.add_argument("--anew", action="store_true", help="before the very first release only: write the whole list")
    freeze.set_defaults(run=_later("crops_freeze:run"))


def _folder(parser: Any) -> None:
    parser.add_argument("--folder", action="append", type=Path, help="a folder of your own, read with the others")


def _later(action: str) -> Callable[[argparse.Namespace], int]:
    def run(arguments: argparse.Namespace) -> int:
        answer: int = resolve_name(f"{HERE}.{action}")(arguments)
        return answer

    return run


def day(text: str) -> date:
    """A date of the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-04-20") from None
