"""How a calculation is declared: its inputs as data, its answer, and the checks that all calculations share."""

from collections.abc import Callable, Iterable, Mapping
from math import isfinite
from typing import Any, NamedTuple

from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import NOTHING, Note, Reason, Step
from service.agronomy.materials.problem import Solver
from service.agronomy.tables import FormulaRow, Library, MethodRow
from service.agronomy.units import scaled


class Input(NamedTuple):
    """One field of a calculation's request.

    ``kind``: number, quantity, integer, boolean, word (one of ``words``, or of the list of the words table that has
    the field's name), text, unit, date, crop, quantities (object of name -> quantity), prices (object of name ->
    number), readings (hydrometer), words (list), materials (list, or ``any``), constraints (of a blend), or ``any``.
    ``dimension`` of a quantity: length, area, areal_rate ... above zero; blank for any.
    Bounds are inclusive unless ``exclusive_minimum``/``exclusive_maximum`` is set.
    ``like``: analyte and method whose possible range in the table ``methods`` holds for this number.
    """

    name: str
    kind: str
    doc: str
    required: bool = True
    words: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    exclusive_minimum: bool = False
    exclusive_maximum: bool = False
    example: Any = None
    dimension: str = ""
    like: tuple[str, str] | None = None


class Answer(NamedTuple):
    """``result`` holds numbers, strings, booleans, dates, `Quantity`, `Note`, None, and mappings or tuples of them."""

    result: Mapping[str, Any]
    steps: tuple[Step, ...] = ()
    warnings: tuple[Note, ...] = ()
    reasons: tuple[Reason, ...] = ()
    status: str = "given"


class Calculation(NamedTuple):
    """One named calculation.

    ``fields`` says which input an argument of the core's functions stands for, so that a figure outside an equation's
    range is pointed to. ``formulas`` are the rows of the table ``formulas`` that it works by.
    """

    name: str
    doc: str
    inputs: tuple[Input, ...]
    run: Callable[[Given], Answer]
    fields: Mapping[str, str] = NOTHING
    formulas: tuple[str, ...] = ()


def given_answer(given: Given, result: Mapping[str, Any]) -> Answer:
    """An answer with the steps and warnings taken down on the way."""
    return Answer(result, tuple(given.ledger.steps), tuple(given.warnings))


def withheld_answer(given: Given, names: Iterable[str], *reasons: Reason) -> Answer:
    """No amount: the result's fields are there and empty, and the steps that would give the amount away are not."""
    return Answer(dict.fromkeys(names), (), tuple(given.warnings), reasons, "withheld")


def calculate(
    calculation: Calculation, inputs: Mapping[str, Any], library: Library, solver: Solver | None = None
) -> Answer:
    """The answer to checked inputs; an input left out is not in ``inputs``. Raises WrongInput, TableError.

    ``solver`` chooses materials where a calculation asks for a choice.

    A figure that no laboratory could report is refused before anything is computed, and so is a result that is not
    finite: numbers of any size get an answer.
    """
    for declared in calculation.inputs:
        if declared.like is not None and declared.name in inputs:
            check_possible(library, declared.like, inputs[declared.name], declared.name)
    try:
        answer = calculation.run(Given(inputs, library, solver))
    except OutOfRange as problem:
        raise WrongInput(_input(calculation, problem.field), "out_of_range", problem.expected) from problem
    except ArithmeticError as problem:
        raise WrongInput("", "beyond_arithmetic", "figures that a soil or a water can have") from problem
    if not _finite(answer.result):
        raise WrongInput("", "beyond_arithmetic", "figures that a soil or a water can have")
    return answer._replace(steps=tuple(_with_sources(step, library) for step in answer.steps))


def _input(calculation: Calculation, argument: str) -> str:
    """The input that an argument of the core stands for; blank for several at once."""
    names = {declared.name for declared in calculation.inputs}
    return argument if argument in names else calculation.fields.get(argument, "")


def check_possible(library: Library, like: tuple[str, str], value: float, field: str) -> None:
    """Refuse a figure outside the possible range of its analyte and method. Raises WrongInput."""
    row = library.index(possible_ranges)[like]
    low, high = row.possible_min, row.possible_max
    if (low is not None and scaled(value) < scaled(low)) or (high is not None and scaled(value) > scaled(high)):
        bounds = "" if low is None else f"{low:g} <= "
        bounds += "x" if high is None else f"x <= {high:g}"
        raise WrongInput(field, "impossible_value", f"{bounds} {row.unit}".strip())


def possible_ranges(library: Library) -> Mapping[tuple[str, str], MethodRow]:
    """The table ``methods`` by analyte and method, prepared once."""
    return {(row.analyte, row.method): row for row in library.rows("methods", MethodRow)}


def _finite(value: Any) -> bool:
    if isinstance(value, float):
        return isfinite(value)
    if isinstance(value, Mapping):
        return all(map(_finite, value.values()))
    return all(map(_finite, value)) if isinstance(value, (tuple, list)) else True


def _with_sources(step: Step, library: Library) -> Step:
    """A step that cites nothing of its own rests on its formula's sources."""
    if step.sources:
        return step
    return step._replace(sources=library.index(formula_sources).get(step.formula, ()))


def formula_sources(library: Library) -> Mapping[str, tuple[str, ...]]:
    """Formula id -> its sources, prepared once."""
    return {row.formula: row.sources for row in library.rows("formulas", FormulaRow)}
