"""From bytes to a checked submission, with the tables in force for it."""

import hashlib
from datetime import date
from typing import NamedTuple

from service.agronomy.submission import Submission
from service.agronomy.tables import Library
from service.contract.json_body import read_json
from service.contract.problem import FieldError, escaped, invalid
from service.contract.signs import refuse_hidden
from service.contract.submission import load_submission, peek_options
from service.desk.office import SAFETY, Office


class Received(NamedTuple):
    """One submission: as sent, as understood, and the tables that judge it."""

    body: bytes
    submission: Submission
    library: Library
    today: date


def receive(body: bytes, office: Office, today: date, keep: bool) -> Received:
    """Read and check one submission.

    Raises:
        ProblemError: 400 or 422, with what would be right.
    """
    document = read_json(body)
    refuse_hidden(document, body)
    as_of, pins = peek_options(document)
    unknown = office.catalog.unknown_pins(pins) if pins else []
    if unknown:
        raise invalid(_unknown_pin(office, name) for name in unknown)
    library = office.library(as_of or today, {**pins, SAFETY: office.safety_edition(today)})
    submission = load_submission(document, library, today)
    if keep and submission.earlier:
        right = "no earlier results, or ?store=false"
        raise invalid([FieldError("/earlier", "not_stored", "earlier results are compared, never stored", right)])
    return Received(body, submission, library, today)


def sha256(data: bytes) -> str:
    """The fingerprint of a record."""
    return hashlib.sha256(data).hexdigest()


def _unknown_pin(office: Office, name: str) -> FieldError:
    table = office.catalog.tables.get(name)
    editions = tuple(sorted(table.editions if table else office.catalog.crop_editions.get(name, ())))
    pointer = f"/options/editions/{escaped(name)}"
    if not editions:
        return FieldError(pointer, "unknown_table", f"there is no table or crop {name[:60]!r}", "an id of /v1/tables")
    return FieldError(pointer, "unknown_edition", "there is no such edition", f"one of {', '.join(editions)}", editions)
