"""``saltbush openapi``: the published contract as the code has it."""

import argparse
import sys
from pathlib import Path
from pkgutil import resolve_name
from typing import Any

from service.commands.serve import APPLICATION


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("openapi", help="write the OpenAPI document")
    parser.add_argument("--output", type=Path, help="write there instead of to standard output")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the document that /v1/openapi.json serves, indented for review."""
    document = document_bytes()
    if arguments.output is None:
        sys.stdout.buffer.write(document)
    else:
        arguments.output.write_bytes(document)
    return 0


def document_bytes() -> bytes:
    """The contract of this code and the shipped tables; no database is touched."""
    import orjson

    from service.settings import Settings

    app = resolve_name(APPLICATION)(Settings(database="sqlite://"))
    body = app.test_client().get("/v1/openapi.json").data
    return orjson.dumps(orjson.loads(body), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
