"""The matrix document is honest: every formula, every function, every step, every test that it lists."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from proofs import FILE, encoded, find

from service.agronomy.calculations import CALCULATIONS
from service.agronomy.dosing import EQUATIONS
from service.agronomy.formulas import FORMULAS, RATE_EQUATIONS
from service.agronomy.tables import FormulaRow, Library

CORE = Path(__file__).resolve().parents[2] / "service" / "agronomy"


@pytest.fixture(scope="module")
def rows(library: Library) -> frozenset[str]:
    """Ids of the table."""
    return frozenset(row.formula for row in library.rows("formulas", FormulaRow))


def test_every_row_of_the_table_stands_in_the_index_and_no_other(rows: frozenset[str]) -> None:
    assert set(FORMULAS) == rows


def test_every_function_has_a_datasheet() -> None:
    functions = [*(function for listed in FORMULAS.values() for function in listed), *RATE_EQUATIONS.values()]
    assert [function.__qualname__ for function in functions if not function.__doc__] == []


def test_rate_equations_are_those_that_rows_may_name() -> None:
    assert set(RATE_EQUATIONS) == set(EQUATIONS)


def trees() -> list[ast.Module]:
    return [ast.parse(path.read_text("utf-8")) for path in sorted(CORE.rglob("*.py"))]


def cited() -> Iterator[str]:
    """Formula ids that stand in the source as the second argument of a step."""
    for tree in trees():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and len(node.args) > 1:
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                if name in ("step", "Step"):
                    yield from (each.value for each in ast.walk(node.args[1]) if isinstance(each, ast.Constant))


def test_every_step_names_a_formula_or_a_function(rows: frozenset[str]) -> None:
    """A step without a row of the table carries the name of the function that took it."""
    functions = {
        node.name.lstrip("_") for tree in trees() for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)
    }
    assert set(cited()) - rows - functions == set()


def test_what_a_step_cites_is_carried_out_by_a_function(rows: frozenset[str]) -> None:
    """A row said to be kept for comparison only is not cited by any step."""
    assert [formula for formula in set(cited()) & rows if not FORMULAS[formula]] == []


def test_calculations_name_rows_of_the_table(rows: frozenset[str]) -> None:
    assert {formula for one in CALCULATIONS.values() for formula in one.formulas} <= rows


def test_every_formula_that_is_used_is_proven() -> None:
    """Each has a test that calls its function, or one marked with it."""
    proven = find()
    assert [formula for formula, functions in FORMULAS.items() if functions and formula not in proven] == []
    assert [name for name in RATE_EQUATIONS if name not in proven] == []
    assert [formula for formula in proven if formula not in FORMULAS and formula not in RATE_EQUATIONS] == []


def test_the_list_of_tests_is_the_one_shipped() -> None:
    """After a change of tests: python tests/house/proofs.py."""
    assert encoded(find()) == FILE.read_bytes()
