"""Small request bodies that need no tables to be read: one schema, strictly."""

from typing import Any

import marshmallow as ma

from service.contract.json_body import read_json
from service.contract.problem import invalid
from service.contract.shape import Shape, field_errors
from service.contract.signs import refuse_hidden


def load_form(body: bytes, schema: Shape) -> Any:
    """What the schema makes of a body. Raises ProblemError 400 or 422, naming each field."""
    document = read_json(body)
    refuse_hidden(document, body)
    return checked(document, schema)


def checked(document: Any, schema: Shape) -> Any:
    """What the schema makes of a document. Raises ProblemError 422."""
    try:
        return schema.load(document)
    except ma.ValidationError as problem:
        raise invalid(field_errors(problem.messages)) from None
