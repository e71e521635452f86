"""Marshmallow fields that take nothing for granted: no number as text, no truth value as number, no unknown word.

Every refusal is a `Flaw`: a code, what was wrong, what would be right.
"""

import re
import unicodedata
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any, NamedTuple

import marshmallow as ma
from marshmallow.experimental.context import Context

from service.contract.vocabulary import Vocabulary

LARGEST = 1e12
SMALLEST = 1e-9
"""Figures outside these two (zero apart) are slips of a program, not measurements."""
LONGEST_TEXT = 200
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
FIRST_DAY = date(1950, 1, 1)
_LITERALS = {True: "true", False: "false", None: "null"}


class Reading(NamedTuple):
    """What the fields need to know while they read one submission."""

    vocabulary: Vocabulary
    today: date


class Flaw(NamedTuple):
    """One fault of one value, without its place."""

    code: str
    message: str
    expected: str
    allowed: tuple[str, ...] = ()
    suggestions: tuple[str, ...] = ()


ReadingContext = Context[Reading]


def vocabulary() -> Vocabulary:
    """The closed lists in force for the submission being read."""
    return ReadingContext.get().vocabulary


def fault(code: str, message: str, expected: str, allowed: tuple[str, ...] = (), near: tuple[str, ...] = ()) -> Any:
    """The exception that carries one flaw through marshmallow."""
    return ma.ValidationError([Flaw(code, message, expected, allowed, near)])


def shown(value: Any) -> str:
    """What was sent, short enough for a message."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "an array"
    text = _LITERALS.get(value) if value is None or isinstance(value, bool) else None
    text = text or (repr(value) if isinstance(value, str) else str(value))
    return text if len(text) <= 60 else f"{text[:57]}..."


class Strict:
    """What all fields share: flaws instead of sentences for a missing or null value."""

    right = "a value"

    def read(self, value: Any) -> Any:
        """What the value means. Raises marshmallow's ValidationError, made by `fault`."""
        raise NotImplementedError

    def quick(self, value: Any) -> Any:
        """The same for a value that is most likely right; any exception sends the whole document the careful way."""
        return self.read(value)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **_: Any) -> Any:  # noqa: ARG002
        return self.read(value)

    def make_error(self, key: str, **_: Any) -> ma.ValidationError:
        """Marshmallow's own refusals, as flaws."""
        if key == "required":
            return fault("missing", "this field is missing", self.right)  # type: ignore[no-any-return]
        if key == "null":
            return fault("null", "null is not allowed here", self.right)  # type: ignore[no-any-return]
        return fault("wrong_type", "the value has the wrong type", self.right)  # type: ignore[no-any-return]


class Number(Strict, ma.fields.Float):
    """A JSON number: finite, no text, no truth value, within its bounds."""

    def __init__(
        self,
        *,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        below: float | None = None,
        **more: Any,
    ):
        bounds = {"minimum": low, "maximum": high, "exclusiveMinimum": above, "exclusiveMaximum": below}
        described = {name: bound for name, bound in bounds.items() if bound is not None}
        more["metadata"] = {**described, **more.get("metadata", {})}
        super().__init__(**more)
        self.low, self.high, self.above, self.below = low, high, above, below
        self.right = _bounds("a number", low, high, above, below)

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not float and value.__class__ is not int:
            raise _not_a_number(value, self.right)
        if not -LARGEST < value < LARGEST:
            raise fault("out_of_range", f"{shown(value)} is beyond any measurement", "a finite number below 1e12")
        if value and -SMALLEST < value < SMALLEST:
            raise fault("out_of_range", f"{shown(value)} is finer than any measurement", "zero, or 1e-9 and more")
        if (
            (self.low is not None and value < self.low)
            or (self.high is not None and value > self.high)
            or (self.above is not None and value <= self.above)
            or (self.below is not None and value >= self.below)
        ):
            raise fault("out_of_range", f"{shown(value)} is out of range", self.right)
        return self._as_kind(value)

    def _as_kind(self, value: float) -> float:
        return float(value)


class Whole(Number):
    """A whole JSON number."""

    def __init__(self, *, low: int, high: int, **more: Any) -> None:
        super().__init__(low=low, high=high, **more)
        self.right = _bounds("a whole number", low, high, None, None)

    def _as_kind(self, value: float) -> int:
        if int(value) != value:
            raise fault("not_whole", f"{shown(value)} is not whole", self.right)
        return int(value)


class Flag(Strict, ma.fields.Boolean):
    """true or false, nothing that looks like it."""

    right = "true or false"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not bool:
            raise fault("not_a_boolean", f"{shown(value)} is neither true nor false", self.right)
        return value


class Text(Strict, ma.fields.String):
    """A text of bounded length without control characters."""

    def __init__(self, *, longest: int = LONGEST_TEXT, blank: bool = False, **more: Any) -> None:
        shortest = 0 if blank else 1
        more["metadata"] = {"minLength": shortest, "maxLength": longest, **more.get("metadata", {})}
        super().__init__(**more)
        self.longest, self.shortest = longest, shortest
        self.right = f"a text of {shortest} to {longest} characters"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not a text", self.right)
        if not self.shortest <= len(value) <= self.longest:
            raise fault("wrong_length", f"the text has {len(value)} characters", self.right)
        if not value.isprintable() and any(unicodedata.category(sign) == "Cc" and sign != "\n" for sign in value):
            raise fault("control_character", "the text holds a control character", "printable characters")
        return value


class Day(Strict, ma.fields.Date):
    """A calendar day, ``2026-04-11``.

    ``latest`` is how many days after today are still accepted; one day allows for a caller east of this machine.
    """

    right = "a day such as 2026-04-11"

    def __init__(self, *, latest: int = 1, **more: Any) -> None:
        super().__init__(**more)
        self.latest = latest

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str or not _DAY.fullmatch(value):
            raise fault("not_a_date", f"{shown(value)} is not a date", self.right)
        try:
            day = date.fromisoformat(value)
        except ValueError:
            raise fault("not_a_date", f"{value} is not in the calendar", self.right) from None
        last = ReadingContext.get().today + timedelta(days=self.latest)
        if day > last:
            raise fault("date_in_future", f"{value} lies in the future", f"a day not after {last.isoformat()}")
        if day < FIRST_DAY:
            raise fault("date_too_early", f"{value} is too long ago", f"a day from {FIRST_DAY.isoformat()} on")
        return day


class Choice(Strict, ma.fields.String):
    """One word of a closed list: a list of the words table by its name, or words fixed by the contract."""

    def __init__(self, name: str, words: tuple[str, ...] = (), **more: Any) -> None:
        super().__init__(**more)
        self.list, self.fixed = name, words
        self.right = f"a word of the list {name}"

    def words(self, known: Vocabulary) -> tuple[str, ...]:
        """The words allowed."""
        return self.fixed or known.words.get(self.list, ())

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        words = self.fixed or self.words(vocabulary())
        if value.__class__ is str and value in words:
            return value
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not a word", f"one of {', '.join(words)}", words)
        near = () if self.fixed else vocabulary().closest(self.list, value)
        raise fault("unknown_word", f"{shown(value)} is not in the list", f"one of {', '.join(words)}", words, near)


class UnitName(Strict, ma.fields.String):
    """A spelling of the unit table, of one dimension where ``dimension`` is given."""

    right = "a unit, such as ft2 or in"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not a unit", "the unit's spelling as a text")
        known = vocabulary()
        if not known.units.known(value) and value not in known.yield_units:
            raise unknown_unit(value)
        return value


class Crop(Strict, ma.fields.String):
    """The id of a crop of the library; never a nearest match."""

    right = "the id of a crop (see /v1/crops), or null for ratings without amounts"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not str:
            raise fault("not_a_text", f"{shown(value)} is not a crop id", self.right)
        known = vocabulary()
        if value not in known.library.crops:
            near = known.closest("crop", value)
            hint = f"; perhaps {', '.join(near)}" if near else ""
            raise fault("unknown_crop", f"{shown(value)} is not in the library{hint}", self.right, near=near)
        return value


class Items(Strict, ma.fields.List[Any]):
    """An array of bounded length, its items in a tuple."""

    def __init__(self, inner: Any, *, most: int, least: int = 0, unique: bool = False, **more: Any) -> None:
        more["metadata"] = {"maxItems": most, **({"minItems": least} if least else {}), **more.get("metadata", {})}
        super().__init__(inner, **more)
        self.most, self.least, self.unique = most, least, unique
        self.right = f"an array of {least} to {most} items"

    def read(self, value: Any) -> Any:
        """The items, each by its own field."""
        if value.__class__ is not list:
            raise fault("not_an_array", f"{shown(value)} is not an array", self.right)
        if not self.least <= len(value) <= self.most:
            raise fault("wrong_count", f"the array has {len(value)} items", self.right)
        return self._made(tuple(ma.fields.List._deserialize(self, value, None, None)))

    def quick(self, value: Any) -> Any:
        """The items, each the short way."""
        if value.__class__ is not list or not self.least <= len(value) <= self.most:
            raise fault("not_an_array", "not such an array", self.right)
        inner: Any = self.inner
        return self._made(tuple(inner.quick(each) for each in value))

    def _made(self, items: tuple[Any, ...]) -> tuple[Any, ...]:
        if self.unique and len(set(items)) != len(items):
            raise fault("repeated_item", "an item stands twice", "each item once")
        return items


class Part(Strict, ma.fields.Nested):  # type: ignore[misc]
    """A nested object."""

    right = "an object"

    def read(self, value: Any) -> Any:
        """The dataclass of the nested schema."""
        return self.schema.load(value)

    def quick(self, value: Any) -> Any:
        """The dataclass, the short way."""
        schema: Any = self.schema
        return schema.quick(value)


def unknown_unit(unit: str) -> Any:
    """The refusal of a spelling nobody knows."""
    known = vocabulary()
    near = known.closest("unit", unit)
    hint = f"; perhaps {', '.join(near)}" if near else ""
    return fault("unknown_unit", f"{shown(unit)} is not a known unit{hint}", "a unit of /v1/units", near=near)


def _not_a_number(value: Any, right: str) -> Any:
    if isinstance(value, str) and value.strip()[:1] in ("<", ">"):
        right = 'a JSON number in "value" and the sign in "qualifier"'
    elif isinstance(value, str):
        right = f'{right} without quotes; below detection is the limit in "value" with "qualifier" "<"'
    return fault("not_a_number", f"{shown(value)} is not a number", right)


def _bounds(what: str, low: float | None, high: float | None, above: float | None, below: float | None) -> str:
    said = [f"of at least {low:g}"] if low is not None else []
    said += [f"above {above:g}"] if above is not None else []
    said += [f"of at most {high:g}"] if high is not None else []
    said += [f"below {below:g}"] if below is not None else []
    return " ".join([what, " and ".join(said)]).strip()


def mapping_of(value: Any) -> Mapping[str, Any]:
    """The value when it is an object, else nothing: for looking ahead before anything is checked."""
    return value if isinstance(value, dict) else {}
