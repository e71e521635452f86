"""Query parameters: texts that must read as what they stand for; unknown ones are refused."""

from typing import Any

import marshmallow as ma

from service.contract.fields import Choice, Strict, Text, fault, shown
from service.contract.shape import Shape
from service.contract.submission import LANGUAGES, Region

MOST = 200


class QueryFlag(Strict, ma.fields.Boolean):
    """``true`` or ``false``."""

    right = "true or false"

    def read(self, value: Any) -> Any:
        """The truth value."""
        if value not in ("true", "false"):
            raise fault("not_a_boolean", f"{shown(value)} is neither true nor false", self.right)
        return value == "true"


class QueryWhole(Strict, ma.fields.Integer):
    """A whole number in digits."""

    def __init__(self, *, low: int, high: int, **more: Any) -> None:
        more["metadata"] = {"minimum": low, "maximum": high, **more.get("metadata", {})}
        super().__init__(**more)
        self.low, self.high = low, high
        self.right = f"a whole number from {low} to {high}"

    def read(self, value: Any) -> Any:
        """The number."""
        plain = isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 10
        if not plain or not self.low <= int(value) <= self.high:
            raise fault("out_of_range", f"{shown(value)} is no such number", self.right)
        return int(value)


class NoQuery(Shape):
    """No parameters."""


class StoreQuery(Shape):
    """Whether to keep the answer."""

    store = QueryFlag(
        load_default=True,
        metadata={"description": "false gives the same answer and keeps nothing.", "default": True},
    )


class PageQuery(Shape):
    """Which page of a list."""

    limit = QueryWhole(low=1, high=MOST, load_default=50, metadata={"default": 50})
    cursor = Text(longest=200, metadata={"description": "As the former page gave it."})


class InterpretationsQuery(PageQuery):
    """Which interpretations to list."""

    laboratory = Text(longest=100)
    lab_number = Text(longest=100)
    crop = Text(longest=80)
    outcome = Choice("outcome", ("released", "partial", "held", "refused"))


class CompareQuery(Shape):
    """Which two editions to compare."""

    from_ = Text(required=True, longest=40, data_key="from", attribute="from")
    to = Text(required=True, longest=40)
    language = Choice("language", LANGUAGES, metadata={"description": "Of the words; English if not given."})


class CropsQuery(PageQuery):
    """Which crops to list."""

    q = Text(longest=80, metadata={"description": "Part of a common or scientific name."})
    kind = Text(longest=40, metadata={"description": "A kind of crop, such as vegetable."})
    region = Region(metadata={"description": "Only crops with tables made for this region, such as US-UT."})
    language = Choice("language", LANGUAGES, metadata={"description": "Search only names of this language."})
