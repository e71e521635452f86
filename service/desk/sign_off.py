"""Recording a check of a row against print, as ``saltbush crops verify record`` does, where the folder may be written.

A check alone changes no answer: the signed edition is made and released at the command line.
"""

import os

from service.catalog.catalog import Table
from service.catalog.signoff import Check, CheckError, record
from service.contract.fields import Reading, ReadingContext
from service.contract.forms import load_form
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.row_check import RowCheck, RowCheckRequestSchema
from service.contract.vocabulary import Vocabulary
from service.desk.office import Office

SCHEMA = RowCheckRequestSchema()


def record_check(office: Office, table: Table, edition: str, body: bytes) -> list[Check]:
    """The lines that were written.

    Raises:
        ProblemError: 403 where the folder cannot be written, 409 for an edition that is not the newest, 422 for a row,
            a column or a figure that is none.
    """
    today = office.now().date()
    if edition != table.newest:
        detail = f"Checks are recorded for the newest edition of {table.id}, {table.newest}."
        raise ProblemError(Problem("not-newest", detail))
    if not os.access(table.folder, os.W_OK):
        raise ProblemError(Problem("read-only", f"The folder of {table.id} cannot be written by this service."))
    with ReadingContext(Reading(office.library(today).index(Vocabulary), today)):
        asked: RowCheck = load_form(body, SCHEMA)
    on = (asked.on or today).isoformat()
    check = Check(asked.line, "", asked.by, on, asked.copy, note=asked.note)
    corrections = {each.column: each.value for each in asked.corrections}
    try:
        return record(table, office.catalog, check, corrections)
    except CheckError as problem:
        right = "a line, a column and a figure of this edition, and a printed source"
        raise invalid([FieldError("", "not_checkable", str(problem), right)]) from problem
