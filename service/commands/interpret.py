"""``saltbush interpret``: the same answer as the service gives, without a server and without a database."""

import argparse
import sys
from datetime import date
from pathlib import Path
from typing import Any

from service.settings import Settings

OUR_FAULT = 70
"""EX_SOFTWARE of sysexits.h: neither the submission nor the way it was called is at fault."""


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("interpret", help="interpret one submission from a file")
    parser.add_argument("file", metavar="FILE.json", help="the submission; - reads standard input")
    parser.add_argument("--format", choices=("json", "text", "ics"), default="json")
    parser.add_argument("--output", type=Path, help="write there instead of to standard output")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 whatever the outcome, 1 when the submission cannot be read, 70 for a fault of ours."""
    from service.contract.problem import ProblemError

    try:
        body = sys.stdin.buffer.read() if arguments.file == "-" else Path(arguments.file).read_bytes()
    except OSError as problem:
        return _fault(f"{arguments.file}: {problem.strerror}")
    try:
        answer = _answer(body, arguments.format)
    except ProblemError as problem:
        return _fault(_told(problem))
    except Exception as problem:  # whatever it is, the caller gets one line and a status of its own
        return _fault(f"internal fault ({type(problem).__name__}); the submission was not interpreted", OUR_FAULT)
    if arguments.output is None:
        sys.stdout.buffer.write(answer)
        return 0
    try:
        arguments.output.write_bytes(answer)
    except OSError as problem:
        return _fault(f"{arguments.output}: {problem.strerror}")
    return 0


def _answer(body: bytes, form: str) -> bytes:
    import orjson

    from service.catalog.catalog import load_catalog
    from service.desk.callers import OPEN_CALLER
    from service.desk.engine import engine_id
    from service.desk.issue import answer_only
    from service.desk.office import Office
    from service.render.text import report

    office = Office(load_catalog(Settings.from_environment().crop_folders), engine_id())
    tree = orjson.loads(answer_only(OPEN_CALLER, body, office))
    if form == "json":
        return orjson.dumps(tree, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
    words = office.words(office.library(date.fromisoformat(tree["as_of"])), tree["language"])
    if form == "ics":
        from service.render.calendar import calendar

        return calendar(tree, words)
    return report(tree, words).encode() + b"\n"


def _told(problem: Any) -> str:
    found = problem.problem
    lines = [f"{error.pointer or '/'}: {error.message}; expected {error.expected}" for error in found.errors]
    return "\n".join(lines or [found.detail])


def _fault(message: str, status: int = 1) -> int:
    print(message, file=sys.stderr)
    return status
