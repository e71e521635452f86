"""Single calculations, by the functions and tables of the interpretation."""

from service.agronomy.calculations import Calculation, WrongInput
from service.agronomy.calculations import calculate as run
from service.agronomy.errors import AgronomyError
from service.blending import solve
from service.contract.answer import encoded
from service.contract.calculation import calculated, field_error, load_inputs
from service.contract.json_body import read_json
from service.contract.problem import FieldError, invalid
from service.contract.shape import Shape
from service.contract.signs import refuse_hidden
from service.desk.office import Office

NO_ANSWER = FieldError("", "not_computable", "the tables hold no answer for these inputs", "see the contract")


def calculate(calculation: Calculation, schema: Shape, body: bytes, language: str, office: Office) -> bytes:
    """The answer with its steps. Raises ProblemError."""
    today = office.now().date()
    library = office.library(today)
    document = read_json(body)
    refuse_hidden(document, body)
    inputs = load_inputs(document, schema, library, today)
    try:
        answer = run(calculation, inputs, library, solve)
    except WrongInput as problem:
        raise invalid([field_error(problem)]) from problem
    except AgronomyError as problem:
        raise invalid([NO_ANSWER]) from problem
    return encoded(calculated(answer, office.words(library, language).say))
