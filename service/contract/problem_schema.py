"""The shape of a problem document, for the published contract."""

import marshmallow as ma

from service.contract.answer_parts import string, whole
from service.contract.problem import KINDS


class FieldErrorSchema(ma.Schema):
    """One fault of one field."""

    class Meta:
        """More may be added."""

        unknown = ma.INCLUDE

    pointer = string(description="JSON pointer (RFC 6901) into the body, or ?name for a query parameter.")
    code = string()
    message = string(description="What was wrong.")
    expected = string(description="What would be right.")
    allowed = ma.fields.List(ma.fields.String())
    suggestions = ma.fields.List(ma.fields.String())


class ProblemSchema(ma.Schema):
    """A problem document (RFC 9457)."""

    class Meta:
        """More may be added."""

        unknown = ma.INCLUDE

    type = string(examples=[f"/problems/{next(iter(KINDS))}"])
    title = string()
    status = whole()
    detail = string()
    errors = ma.fields.List(ma.fields.Nested(FieldErrorSchema))
