"""The matrix of the agronomy: every equation with its range, its sources, the functions that carry it out, its tests.

Made from the tables and the code. Only the list of tests is shipped as a file, because an installed copy has none;
``tests/house/proofs.py`` writes it and a test compares.
"""

import inspect
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import orjson

from service.agronomy.calculations import CALCULATIONS
from service.agronomy.formulas import FORMULAS, RATE_EQUATIONS
from service.agronomy.tables import AmountRow, FormulaRow, Library, Row


class Cited(NamedTuple):
    """One source as the page shows it."""

    id: str
    citation: str
    url: str | None


class Function(NamedTuple):
    """A function of the core: where it stands, how it is called, its datasheet."""

    name: str
    signature: str
    summary: str
    datasheet: str


class Proof(NamedTuple):
    """A test, and what it says it checks against."""

    test: str
    says: str


class Basis(NamedTuple):
    """What a figure rests on: place in the source, mark, note, sources."""

    place: str
    verification: str
    note: str
    sources: tuple[Cited, ...]


class Entry(NamedTuple):
    """One row of the table ``formulas``."""

    row: FormulaRow
    coefficients: str
    basis: Basis
    functions: tuple[Function, ...]
    calculations: tuple[str, ...]
    proofs: tuple[Proof, ...]


class Topic(NamedTuple):
    """Formulas about one subject."""

    name: str
    entries: tuple[Entry, ...]


class Rate(NamedTuple):
    """One rate row that names an equation."""

    calibration: str
    nutrient: str
    coefficients: str
    unit: str
    basis: Basis


class Equation(NamedTuple):
    """An equation that rate rows name, with the rows."""

    function: Function
    rates: tuple[Rate, ...]
    proofs: tuple[Proof, ...]


class Matrix(NamedTuple):
    """The whole document."""

    topics: tuple[Topic, ...]
    equations: tuple[Equation, ...]


def matrix(library: Library) -> Matrix:
    """The matrix of one library: ``library.index(matrix)``."""
    topics: dict[str, tuple[Entry, ...]] = {}
    for row in library.rows("formulas", FormulaRow):
        topics[row.topic] = (*topics.get(row.topic, ()), _entry(library, row))
    rates = _rates(library)
    equations = (
        Equation(_function(function), rates.get(name, ()), proofs().get(name, ()))
        for name, function in RATE_EQUATIONS.items()
    )
    return Matrix(tuple(Topic(name, topics[name]) for name in sorted(topics, key=str.casefold)), tuple(equations))


def _entry(library: Library, row: FormulaRow) -> Entry:
    return Entry(
        row,
        _coefficients(row.coefficients),
        _basis(library, row),
        tuple(_function(function) for function in FORMULAS.get(row.formula, ())),
        tuple(name for name, one in CALCULATIONS.items() if row.formula in one.formulas),
        proofs().get(row.formula, ()),
    )


def _basis(library: Library, row: Row) -> Basis:
    known = (library.sources.get(source) for source in row.sources)
    cited = tuple(
        Cited(source, found.citation if found else "", found.url if found else None)
        for source, found in zip(row.sources, known, strict=True)
    )
    return Basis(row.place, row.verification, row.note, cited)


def _rates(library: Library) -> Mapping[str, tuple[Rate, ...]]:
    """Rate rows by the equation they name; a row that several crops share stands once."""
    found: dict[str, dict[tuple[str, int], Rate]] = {}
    for row in _amounts(library):
        if row.equation:
            rate = Rate(
                row.calibration, row.nutrient, _coefficients(row.coefficients), row.rate_unit, _basis(library, row)
            )
            found.setdefault(row.equation, {})[(row.table.id, row.line)] = rate
    return {name: tuple(rates.values()) for name, rates in found.items()}


def _amounts(library: Library) -> Iterable[AmountRow]:
    for rows in library.tables.values():
        yield from (row for row in rows if isinstance(row, AmountRow))
    for crop in library.crops.values():
        yield from (row for row in crop.amounts if not row.use_table)


def _coefficients(figures: Mapping[str, float]) -> str:
    return ", ".join(f"{name} = {value:.10g}" for name, value in figures.items())


@cache
def _function(function: Callable[..., Any]) -> Function:
    datasheet = inspect.getdoc(function) or ""
    summary, _, rest = datasheet.partition("\n")
    name = f"{function.__module__.removeprefix('service.agronomy.')}.{function.__qualname__}"
    return Function(name, str(inspect.signature(function)), summary, rest.strip())


@cache
def proofs() -> Mapping[str, tuple[Proof, ...]]:
    """Formula or equation -> the tests that call its functions."""
    listed = orjson.loads(files("service.pages").joinpath("data", "proofs.json").read_bytes())
    return {name: tuple(Proof(*proof) for proof in tests) for name, tests in listed.items()}
