"""Requests and answers of single calculations; each calculation declares its inputs as data."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import marshmallow as ma

from service.agronomy.calculations import Answer, Calculation, Input, WrongInput
from service.agronomy.findings import Note
from service.agronomy.tables import Library
from service.contract.answer import Say, reason, step, type_of_json
from service.contract.answer_parts import Answered, anything, parts, string, word
from service.contract.answer_schema import ReasonSchema, StepSchema
from service.contract.fields import (
    Choice,
    Crop,
    Day,
    Flag,
    Items,
    Number,
    Part,
    Reading,
    ReadingContext,
    Strict,
    Text,
    UnitName,
    Whole,
    fault,
)
from service.contract.problem import FieldError, invalid
from service.contract.shape import QuantityOf, Shape, field_errors
from service.contract.vocabulary import Vocabulary

MOST = 100
MOST_MATERIALS = 30
FAR = 10**9
ANY = "any"
YEAR_AHEAD = 366
FARTHEST = 200
"""Longest pointer that is sent back: a key may be anything."""
FAULTS = {
    "out_of_range": "the value is outside the range in which the equation holds",
    "impossible_value": "no soil and no water has this value",
    "beyond_arithmetic": "no finite answer comes of these figures",
    "missing": "this field is missing",
    "one_way": "two ways to say the same were mixed, or neither was complete",
    "unknown_unit": "the unit is not known",
    "unit_does_not_fit": "the unit cannot express this quantity",
    "unknown_quantity": "this is neither an analyte nor a dimension",
    "not_a_form": "the two are not forms of one analyte",
    "sum_not_100": "the fractions do not add up to 100",
    "unknown_ion": "this ion is not part of the balance",
    "repeated_ion": "one ion was sent twice",
    "not_a_lawn": "this crop is not a lawn",
    "no_schedule": "this lawn has no feeding times in the tables",
    "unknown_material": "the material is not in the library",
    "not_a_grade": "this is not a grade",
    "grade_over_100": "the grade adds up to more than 100 %",
    "grade_impossible": "no fertilizer holds so much",
    "not_supplied": "the product does not supply this nutrient",
    "not_materials": "this is no list of materials",
    "not_offered": "this material is not among those sent",
    "prices_needed": "least cost cannot be found without prices",
    "unknown_nutrient": "this is no nutrient",
}


class Mapped(Strict, ma.fields.Dict):
    """An object whose keys are free and whose values are alike."""

    right = "an object"

    def __init__(self, inner: Any, **more: Any) -> None:
        super().__init__(keys=ma.fields.String(), values=inner, **more)
        self.inner = inner

    def read(self, value: Any) -> Any:
        """Each value by the inner field."""
        if value.__class__ is not dict or len(value) > MOST:
            raise fault("not_an_object", f"not an object of at most {MOST} members", self.right)
        read, errors = {}, {}
        for key, each in value.items():
            try:
                read[key] = self.inner.deserialize(each)
            except ma.ValidationError as problem:
                errors[key] = problem.messages
        if errors:
            raise ma.ValidationError(errors)
        return read


class ReadingSchema(Shape):
    """One hydrometer reading."""

    minutes = Number(required=True, above=0.0)
    reading_g_per_L = Number(required=True)
    temperature_C = Number(required=True)


class Materials(Strict, ma.fields.Raw):
    """Ids and grades, or the word ``any``."""

    right = 'an array of 1 to 30 ids or grades, or "any"'

    def __init__(self, **more: Any) -> None:
        listed = {
            "type": "array",
            "items": {"type": "string", "minLength": 1, "maxLength": 60},
            "minItems": 1,
            "maxItems": MOST_MATERIALS,
        }
        more["metadata"] = {"oneOf": [{"const": ANY}, listed], **more.get("metadata", {})}
        super().__init__(**more)
        self.listed = Items(Text(longest=60), least=1, most=MOST_MATERIALS)

    def read(self, value: Any) -> Any:
        """The word, or the list."""
        return value if value == ANY else self.listed.deserialize(value)


class ConstraintsSchema(Shape):
    """Rules that a blend keeps beside those of the tables; caps, bags and what is at hand by nutrient or material."""

    caps = Mapped(QuantityOf("", above=None, allow_none=False))
    most_products = Whole(low=1, high=MOST)
    whole_bags = Flag()
    bags = Mapped(QuantityOf("", above=None, allow_none=False))
    at_hand = Mapped(QuantityOf("", above=None, allow_none=False))
    slow_share = Number(low=0.0, high=1.0)
    apart = Items(Items(Text(), least=2, most=2), most=MOST)


class WarningSchema(Answered):
    """Something to bear in mind."""

    code = string()
    message = string()


class CalculationAnswerSchema(Answered):
    """What every calculation answers."""

    status = word("given", "withheld")
    reasons = parts(ReasonSchema)
    result = anything("The figures, by the names of the contract.")
    steps = parts(StepSchema)
    warnings = parts(WarningSchema)


def schema_of(calculation: Calculation) -> type[Shape]:
    """The request shape of one calculation."""
    made: Any = Shape.from_dict({given.name: _field(given) for given in calculation.inputs})
    made.__name__ = "".join(part.title() for part in calculation.name.split("_")) + "RequestSchema"
    made.__doc__ = calculation.doc
    return made  # type: ignore[no-any-return]


def load_inputs(document: Any, schema: Shape, library: Library, today: date) -> Mapping[str, Any]:
    """Checked inputs. Raises ProblemError 422."""
    with ReadingContext(Reading(library.index(Vocabulary), today)):
        try:
            return schema.load(document)  # type: ignore[no-any-return]
        except ma.ValidationError as problem:
            raise invalid(field_errors(problem.messages)) from None


def calculated(answer: Answer, say: Say) -> type_of_json:
    """An answer as JSON."""
    return {
        "status": answer.status,
        "reasons": [reason(found, say) for found in answer.reasons],
        "result": _said(answer.result, say),
        "steps": [step(found, say) for found in answer.steps],
        "warnings": [{"code": note.code, "message": say(note)} for note in answer.warnings],
    }


def field_error(problem: WrongInput) -> FieldError:
    """What the core refused, with its JSON pointer."""
    pointer = f"/{problem.field[:FARTHEST]}" if problem.field else ""
    message = FAULTS.get(problem.code, "the value cannot be taken")
    return FieldError(pointer, problem.code, message, problem.expected, problem.allowed, problem.suggestions)


def _said(value: Any, say: Say) -> Any:
    """A result with its messages as sentences."""
    if isinstance(value, Note):
        return say(value)
    if isinstance(value, Mapping):
        return {name: _said(each, say) for name, each in value.items()}
    return [_said(each, say) for each in value] if type(value) in (tuple, list) else value


def _field(given: Input) -> Any:
    common: dict[str, Any] = {"required": given.required, "allow_none": not given.required}
    common["metadata"] = {
        "description": given.doc,
        **({"examples": [given.example]} if given.example is not None else {}),
    }
    return _MAKERS[given.kind](given, common)


def _number(given: Input, common: dict[str, Any]) -> Any:
    low, above = (None, given.minimum) if given.exclusive_minimum else (given.minimum, None)
    high, below = (None, given.maximum) if given.exclusive_maximum else (given.maximum, None)
    return Number(low=low, above=above, high=high, below=below, **common)


def _integer(given: Input, common: dict[str, Any]) -> Any:
    low, high = (int(bound) if bound is not None else None for bound in (given.minimum, given.maximum))
    return Whole(low=-FAR if low is None else low, high=FAR if high is None else high, **common)


def _words(given: Input, common: dict[str, Any]) -> Any:
    inner = Choice(given.name, given.words) if given.words else Text()
    return Items(inner, most=MOST, **common)


_MAKERS: Mapping[str, Callable[[Input, dict[str, Any]], Any]] = {
    "number": _number,
    "integer": _integer,
    "quantity": lambda given, common: QuantityOf(given.dimension, above=0.0 if given.dimension else None, **common),
    "unit": lambda _, common: UnitName(**common),
    "crop": lambda _, common: Crop(**common),
    "date": lambda _, common: Day(latest=YEAR_AHEAD, **common),
    "boolean": lambda _, common: Flag(**common),
    "word": lambda given, common: Choice(given.name, given.words, **common),
    "text": lambda _, common: Text(**common),
    "quantities": lambda _, common: Mapped(QuantityOf("", above=None, allow_none=False), **common),
    "prices": lambda _, common: Mapped(Number(low=0.0), **common),
    "readings": lambda _, common: Items(Part(ReadingSchema), least=1, most=MOST, **common),
    "words": _words,
    "materials": lambda _, common: Materials(**common),
    "constraints": lambda _, common: Part(ConstraintsSchema, **common),
    "any": lambda _, common: ma.fields.Raw(**common),
}
