"""What the shapes of answers are made of."""

from typing import Any

import marshmallow as ma


class Answered(ma.Schema):
    """An object of an answer: every field is always present, and more may be added later."""

    class Meta:
        """More may be added."""

        unknown = ma.INCLUDE


def string(null: bool = False, **metadata: Any) -> Any:
    """A text."""
    return ma.fields.String(required=True, allow_none=null, metadata=metadata)


def word(*words: str, null: bool = False) -> Any:
    """A word of a list fixed by the contract."""
    return ma.fields.String(required=True, allow_none=null, metadata={"enum": [*words, None] if null else list(words)})


def number(null: bool = False, **metadata: Any) -> Any:
    """A number."""
    return ma.fields.Float(required=True, allow_none=null, metadata=metadata)


def whole(null: bool = False) -> Any:
    """A whole number."""
    return ma.fields.Integer(required=True, allow_none=null)


def flag() -> Any:
    """true or false."""
    return ma.fields.Boolean(required=True)


def day(null: bool = False) -> Any:
    """A calendar day."""
    return ma.fields.Date(required=True, allow_none=null)


def part(schema: type[ma.Schema], null: bool = False) -> Any:
    """A nested object."""
    return ma.fields.Nested(schema, required=True, allow_none=null)


def parts(schema: type[ma.Schema]) -> Any:
    """A list of objects."""
    return ma.fields.List(ma.fields.Nested(schema), required=True)


def texts(description: str = "") -> Any:
    """A list of texts."""
    return ma.fields.List(
        ma.fields.String(), required=True, metadata={"description": description} if description else {}
    )


def table_of(inner: Any, description: str) -> Any:
    """An object with free keys."""
    return ma.fields.Dict(keys=ma.fields.String(), values=inner, required=True, metadata={"description": description})


def anything(description: str) -> Any:
    """A value whose type depends on the row or the step."""
    return ma.fields.Raw(required=True, allow_none=True, metadata={"description": description})


def list_of(schema: type[ma.Schema], name: str) -> type[ma.Schema]:
    """The shape of a list: its items and the cursor of the next page."""
    made = Answered.from_dict(
        {"items": parts(schema), "next": string(null=True, description="Cursor of the next page.")}
    )
    made.__name__ = f"{name}Schema"
    made.__doc__ = f"A page of {name}."
    return made
