"""Single calculations, by the functions and tables of the interpretation."""

from service.agronomy.calculations import Calculation
from service.agronomy.errors import AgronomyError, OutOfRange, UnitMismatch, UnknownUnit
from service.contract.answer import encoded
from service.contract.calculation import calculated, load_inputs
from service.contract.json_body import read_json
from service.contract.problem import FieldError, invalid
from service.contract.shape import Shape
from service.desk.office import Office


def calculate(calculation: Calculation, schema: Shape, body: bytes, language: str, office: Office) -> bytes:
    """The answer with its steps. Raises ProblemError."""
    today = office.now().date()
    library = office.library(today)
    inputs = load_inputs(read_json(body), schema, library, today)
    try:
        answer = calculation.run(inputs, library)
    except AgronomyError as problem:
        raise invalid([_fault(problem)]) from problem
    return encoded(calculated(answer, office.words(library, language).say))


def _fault(problem: AgronomyError) -> FieldError:
    if isinstance(problem, OutOfRange):
        return FieldError(
            f"/{problem.field}", "out_of_range", "the value is outside the equation's range", problem.expected
        )
    if isinstance(problem, UnknownUnit):
        return FieldError("", "unknown_unit", "a unit is not known", "a unit of /v1/units")
    if isinstance(problem, UnitMismatch):
        return FieldError("", "unit_does_not_fit", "a unit cannot express its quantity here", "see the contract")
    return FieldError("", "not_computable", "the tables hold no answer for these inputs", "see the contract")
