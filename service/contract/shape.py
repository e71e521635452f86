"""The base of every request schema, and the walk from marshmallow's errors to JSON pointers."""

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any, NoReturn

import marshmallow as ma

from service.agronomy.submission import Quantity
from service.contract.fields import Flaw, Number, Part, UnitName, vocabulary
from service.contract.problem import FieldError, escaped

_UNKNOWN = Flaw("unknown_field", "", "")
_NOT_AN_OBJECT = Flaw("not_an_object", "the value is not an object", "a JSON object")


class Shape(ma.Schema):
    """An object of the contract: unknown fields are refused, null means *not said*, the result is a dataclass."""

    makes: Any = dict
    error_messages: Any = {"unknown": _UNKNOWN, "type": _NOT_AN_OBJECT}  # noqa: RUF012

    class Meta:
        """Nothing unknown gets in."""

        unknown = ma.RAISE

    @ma.post_load
    def build(self, data: dict[str, Any], **_: Any) -> Any:
        """The dataclass, checked as a whole."""
        made = self.makes(**{name: value for name, value in data.items() if value is not None})
        self.check(made)
        return made

    def quick(self, data: Any) -> Any:
        """What `load` gives, for data that are right: each given member is read, absent ones cost nothing.

        Raises:
            ValidationError: something needs `load`, which also says what.
        """
        if data.__class__ is not dict or not self.needed <= data.keys():
            raise ma.ValidationError("incomplete")
        made = {}
        for key, value in data.items():
            field = self.readers.get(key)
            if field is None or (value is None and not field.allow_none):
                raise ma.ValidationError("odd")
            made[field.name] = None if value is None else field.quick(value)
        return self.build(made)

    @cached_property
    def readers(self) -> Mapping[str, Any]:
        """The fields by the key they are sent under."""
        return {field.data_key or name: field for name, field in self.load_fields.items()}

    @cached_property
    def needed(self) -> frozenset[str]:
        """The keys that must be there."""
        return frozenset(key for key, field in self.readers.items() if field.required)

    def check(self, made: Any) -> None:
        """What only the whole object can tell. Raises marshmallow's ValidationError."""

    def handle_error(self, error: ma.ValidationError, data: Any, **_: Any) -> None:  # noqa: ARG002
        """Name the unknown fields and those that would have been known."""
        if isinstance(error.messages, dict):
            names = tuple(field.data_key or name for name, field in self.load_fields.items())
            for key, flaws in error.messages.items():
                if flaws == [_UNKNOWN]:
                    error.messages[key] = [unknown_field(str(key), names)]


class QuantitySchema(Shape):
    """A number with its unit."""

    makes = Quantity
    value = Number(required=True)
    unit = UnitName(required=True)


class QuantityOf(Part):
    """A quantity of one dimension: ``length``, ``area``; blank for any."""

    def __init__(self, dimension: str, *, above: float | None = 0.0, **more: Any) -> None:
        more.setdefault("allow_none", True)
        said = f"A quantity of {dimension}." if dimension else "A quantity."
        more["metadata"] = {"description": said, **more.get("metadata", {})}
        super().__init__(QuantitySchema, **more)
        self.dimension, self.above = dimension, above
        self.right = 'an object such as {"value": 3, "unit": "in"}'

    def read(self, value: Any) -> Any:
        """The quantity, if it is of the dimension."""
        return self._fitting(super().read(value))

    def quick(self, value: Any) -> Any:
        """The quantity, the short way."""
        return self._fitting(super().quick(value))

    def _fitting(self, quantity: Quantity) -> Quantity:
        if self.above is not None and quantity.value <= self.above:
            refuse("value", "out_of_range", f"the value is not above {self.above:g}", f"a number above {self.above:g}")
        if self.dimension:
            check_dimension(quantity.unit, self.dimension)
        return quantity


def check_dimension(unit: str, dimension: str) -> None:
    """Refuse a known unit that measures something else."""
    known = vocabulary()
    if not known.units.known(unit) or known.units.dimension(unit) != dimension:
        units = known.units_of(dimension)
        wrong = f"{unit!r} is not a unit of {dimension}"
        refuse("unit", "unit_does_not_fit", wrong, f"one of {', '.join(units)}", units)


def refuse(name: str, code: str, message: str, right: str, allowed: tuple[str, ...] = ()) -> NoReturn:
    """Refuse one field of an object that was checked as a whole."""
    raise ma.ValidationError({name: [Flaw(code, message, right, allowed)]})


def unknown_field(key: str, names: tuple[str, ...]) -> Flaw:
    """The refusal of a field nobody knows; where there are none at all, that is what would be right."""
    right = f"one of {', '.join(names)}" if names else "no field at all"
    return Flaw("unknown_field", f"there is no field {key[:60]!r} here", right, names)


def field_errors(messages: Any, path: str = "") -> Iterator[FieldError]:
    """Marshmallow's tree of messages as flat faults with JSON pointers."""
    if isinstance(messages, Mapping):
        for key, below in messages.items():
            yield from field_errors(below, path if key == "_schema" else f"{path}/{escaped(key)}")
    elif isinstance(messages, Flaw):
        yield FieldError(path, *messages)
    elif isinstance(messages, list):
        for item in messages:
            yield from field_errors(item, path)
    else:
        yield FieldError(path, "invalid", str(messages)[:200], "see the contract")
