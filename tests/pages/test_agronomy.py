"""The matrix document: every formula of the table with its range, source, mark, functions and tests."""

import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from service.agronomy.calculations import CALCULATIONS
from service.agronomy.formulas import FORMULAS, RATE_EQUATIONS
from service.agronomy.tables import FormulaRow, Library
from service.pages.agronomy import matrix, proofs

HEAVIEST = 300_000


@pytest.fixture(params=["en", "es"])
def html(request: pytest.FixtureRequest, client: FlaskClient) -> str:
    answer = client.get("/docs/agronomy", query_string={"language": request.param})
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def articles(html: str) -> dict[str, str]:
    """The part of the page about each formula or equation, by its id."""
    parts = re.split(r'<article class="operation" id="([^"]+)"', html)
    return {
        name: unescape(text.partition("</article>")[0]) for name, text in zip(parts[1::2], parts[2::2], strict=True)
    }


def test_every_formula_stands_there_whole(html: str, library: Library) -> None:
    shown = articles(html)
    for row in library.rows("formulas", FormulaRow):
        text = shown[row.formula]
        for said in (row.expression, row.symbols, row.valid_range, row.accuracy, row.place, row.note):
            assert said in text, row.formula
        for name, value in row.coefficients.items():
            assert f"{name} = {value:.10g}" in text
        assert all(source in text for source in row.sources)
        for function in FORMULAS[row.formula]:
            assert function.__qualname__ in text
        assert all(proof.test in text for proof in proofs().get(row.formula, ()))


def test_every_mark_is_said(client: FlaskClient, library: Library) -> None:
    """A figure that nobody has checked against the print must be seen as such."""
    shown = articles(client.get("/docs/agronomy?language=en").get_data(as_text=True))
    marks = {
        row.verification: re.findall("<em>([^<]*)</em>", shown[row.formula])[0]
        for row in library.rows("formulas", FormulaRow)
    }
    assert len(set(marks.values())) == len(marks) > 1


def test_every_rate_equation_shows_the_rows_that_name_it(html: str, library: Library) -> None:
    shown = articles(html)
    for equation in library.index(matrix).equations:
        text = shown[equation.function.name]
        for rate in equation.rates:
            assert rate.calibration in text
            assert rate.coefficients in text
    named = {
        equation.function.name.rpartition(".")[2] for equation in library.index(matrix).equations if equation.rates
    }
    assert named == set(RATE_EQUATIONS), "an equation that no row names"


def test_calculations_are_linked_to_their_address(html: str, client: FlaskClient) -> None:
    addresses = set(re.findall(r'href="/docs/calculations\?language=\w\w#(calculate_\w+)"', html))
    assert {f"calculate_{name}" for name, one in CALCULATIONS.items() if one.formulas} == addresses
    docs = client.get("/docs/calculations").get_data(as_text=True)
    assert all(f'id="{address}"' in docs for address in addresses)


def test_the_page_is_sound(html: str) -> None:
    """Nothing inline, nothing from outside but links, no text missing, ids once, one main heading."""
    assert re.findall(r"\[(?:page|word)\.[^\]]*\]", html) == []
    assert not re.search(r"<(script|style)\b|\son\w+=|\sstyle=", html)
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert html.count("<h1") == 1
    assert len(html.encode()) < HEAVIEST


def test_the_documentation_leads_there(client: FlaskClient) -> None:
    assert "/docs/agronomy" in client.get("/docs").get_data(as_text=True)
