"""Reported values: the bulk of a submission, so valid ones take a short way past marshmallow.

Anything out of the ordinary goes to the schema untouched, so that there is one set of refusals.
"""

from typing import Any

import marshmallow as ma

from service.agronomy.submission import Depth, Result
from service.agronomy.tables import AnalyteRow
from service.contract.fields import (
    LARGEST,
    SMALLEST,
    Choice,
    Items,
    Number,
    Part,
    Strict,
    Text,
    UnitName,
    fault,
    shown,
    vocabulary,
)
from service.contract.shape import Shape, check_dimension, refuse
from service.contract.vocabulary import NOT_STATED, Vocabulary

MOST_RESULTS = 1000
MOST_FAULTY = 50
DEEPEST = 10_000.0
_FIELDS = frozenset(("analyte", "method", "value", "unit", "qualifier", "depth"))
_SIGNS = (None, "<", ">")


class DepthSchema(Shape):
    """A layer of soil, from the surface down."""

    makes = Depth
    top = Number(required=True, low=0.0, high=DEEPEST)
    bottom = Number(required=True, low=0.0, high=DEEPEST)
    unit = UnitName(required=True)

    def check(self, made: Depth) -> None:
        """Top above bottom, in a unit of length."""
        check_dimension(made.unit, "length")
        if made.top >= made.bottom:
            refuse("bottom", "depth_reversed", "the bottom is not below the top", f"more than {made.top:g}")


class Analyte(Strict, ma.fields.String):
    """An analyte of the vocabulary."""

    right = "an analyte of /v1/analytes"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not an analyte", self.right)
        known = vocabulary()
        if value not in known.analytes:
            near = known.closest("analyte", value)
            hint = f"; perhaps {', '.join(near)}" if near else ""
            raise fault("unknown_analyte", f"{shown(value)} is not a known analyte{hint}", self.right, near=near)
        return value


class Method(Strict, ma.fields.String):
    """A method code of the vocabulary."""

    right = "a method of /v1/methods, or not_stated"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not a method", self.right)
        known = vocabulary()
        if value != NOT_STATED and value not in known.method_codes:
            near = known.closest("method", value)
            hint = f"; perhaps {', '.join(near)}" if near else ""
            raise fault("unknown_method", f"{shown(value)} is not a known method{hint}", self.right, near=near)
        return value


class ResultSchema(Shape):
    """One reported value of the soil."""

    makes = Result
    water = False
    analyte = Analyte(required=True, metadata={"examples": ["P"]})
    method = Method(allow_none=True, metadata={"examples": ["olsen"]})
    value = Number(allow_none=True, metadata={"examples": [28]})
    unit = UnitName(allow_none=True, metadata={"examples": ["mg/kg"]})
    qualifier = Choice("qualifier", ("<", ">"), allow_none=True)
    text = Text(longest=40, allow_none=True, metadata={"description": "A class word instead of a figure."})
    depth = Part(DepthSchema, allow_none=True)

    def check(self, made: Result) -> None:
        """Method, figure or word, and unit must fit the analyte."""
        known = vocabulary()
        row = known.analytes[made.analyte]
        _check_method(known, row, made, self.water)
        _check_content(row, made)
        _check_unit(known, row, made, self.water)


class WaterResultSchema(ResultSchema):
    """One reported value of the irrigation water."""

    water = True


class Results(Items):
    """The list of results."""

    def __init__(self, schema: type[ResultSchema], *, least: int, **more: Any) -> None:
        super().__init__(Part(schema), least=least, most=MOST_RESULTS, **more)
        self.water = schema.water
        self.schema = schema()

    def read(self, value: Any) -> Any:
        """The results; what needs no second look does not get one."""
        if value.__class__ is not list or not self.least <= len(value) <= self.most:
            return super().read(value)
        accepted = vocabulary().accepted
        results: list[Result] = []
        errors: dict[Any, Any] = {}
        for index, item in enumerate(value):
            try:
                results.append(plain_result(item, self.water, accepted) or self._looked_at(item, accepted))
            except ma.ValidationError as problem:
                errors[index] = problem.messages
                if len(errors) == MOST_FAULTY:
                    break
        if errors:
            raise ma.ValidationError(errors)
        return tuple(results)

    def quick(self, value: Any) -> Any:
        """The results; they take the short way anyhow."""
        return self.read(value)

    def _looked_at(self, item: Any, accepted: set[tuple[Any, ...]]) -> Result:
        result: Result = self.schema.load(item)
        if result.value is not None and result.text is None:
            accepted.add((result.analyte, result.method, result.unit, self.water))
        return result


def plain_result(item: Any, water: bool, accepted: set[tuple[Any, ...]]) -> Result | None:
    """A result of which nothing needs a second look, or None.

    ``accepted`` holds the combinations of analyte, method and unit that the schema has let through before.
    """
    if item.__class__ is not dict or not item.keys() <= _FIELDS:
        return None
    analyte, method, unit = item.get("analyte"), item.get("method"), item.get("unit")
    value, qualifier = item.get("value"), item.get("qualifier")
    try:
        if (analyte, method, unit, water) not in accepted or qualifier not in _SIGNS:
            return None
    except TypeError:  # an array or object where a word belongs
        return None
    if (value.__class__ is not float and value.__class__ is not int) or not -LARGEST < value < LARGEST:
        return None
    if value and -SMALLEST < value < SMALLEST:
        return None
    if item.get("depth") is not None:
        return None
    return Result(str(analyte), method, float(value), unit, qualifier)


def _check_method(known: Vocabulary, row: AnalyteRow, made: Result, water: bool) -> None:
    words = tuple(known.methods_of(row.analyte, water))
    where = "in irrigation water" if water else "in soil"
    if not words:
        refuse("analyte", "analyte_does_not_fit", f"{row.analyte} is not an analyte {where}", "another analyte")
    if made.method is None or made.method == NOT_STATED or made.method in words:
        return
    right = f"one of {', '.join(words)}"
    refuse("method", "method_does_not_fit", f"{made.method} is not a method for {row.analyte} {where}", right, words)


def _check_content(row: AnalyteRow, made: Result) -> None:
    if made.value is None and made.text is None:
        right = 'a number; below detection is the limit in "value" with "qualifier" "<"'
        refuse("value", "missing", "there is neither a value nor a text", right)
    if made.text is None:
        return
    if made.value is not None:
        refuse("text", "value_and_text", "there is a value and a text", "one of the two")
    if made.text not in row.text_words:
        words = row.text_words
        right = f"one of {', '.join(words)}" if words else f"a number; {row.analyte} is not reported in words"
        refuse("text", "unknown_word", f"{shown(made.text)} is not a word for {row.analyte}", right, words)


def _check_unit(known: Vocabulary, row: AnalyteRow, made: Result, water: bool) -> None:
    if made.unit is None:
        if made.value is not None and not row.unit_optional:
            units = known.units_for(row.analyte, made.method, water)
            right = f"the unit that was reported, such as {units[0]}; a unit is never guessed"
            refuse("unit", "missing_unit", "the unit is missing", right, units)
        return
    if not known.units.known(made.unit) or not known.unit_fits(row.analyte, made.method, made.unit, water):
        units = known.units_for(row.analyte, made.method, water)
        by = f" by {made.method}" if made.method else ""
        wrong = f"{made.unit!r} cannot express {row.analyte}{by}"
        refuse("unit", "unit_does_not_fit", wrong, f"a unit such as {units[0]}", units)
