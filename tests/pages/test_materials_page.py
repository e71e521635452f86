"""The page of materials: every row and rule of the tables, in both languages, light and hardened as all pages."""

import re

import pytest
from flask.testing import FlaskClient

from service.agronomy.tables import Library, MaterialRow, MaterialRuleRow

MAXIMUM_BYTES = 150_000
ADDRESS = "/library/materials"


def shown(client: FlaskClient, language: str = "en") -> str:
    answer = client.get(ADDRESS, query_string={"language": language})
    assert answer.status_code == 200
    assert len(answer.data) <= MAXIMUM_BYTES
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    return answer.get_data(as_text=True)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_material_and_every_rule_is_there(client: FlaskClient, library: Library, language: str) -> None:
    html = shown(client, language)
    for row in library.rows("materials", MaterialRow):
        name = row.name_en if language == "en" else row.name_es
        assert f'id="m-{row.material}"' in html
        assert name in html
    assert html.count('<span class="warrant">') == len(library.rows("material-rules", MaterialRuleRow))


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_word_is_missing_and_nothing_is_inline(client: FlaskClient, language: str) -> None:
    """CSP Level 3: with style-src 'self' inline styles and scripts would not work."""
    html = shown(client, language)
    assert not re.findall(r"\[[a-z_]+(?:\.[a-z_0-9]+)+\]", html)
    assert not re.search(r"<(?:script|style)\b|<[^>]+\s(?:style|on\w+)=", html)
    assert html.count("<h1") == 1
    ids = re.findall(r'<[^>]+\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', html)) <= set(ids)


def test_figures_carry_their_own_marks(client: FlaskClient) -> None:
    """Urea: 46 % N is common practice here, its salt index recalled, its place on the list read."""
    urea = shown(client).partition('id="m-urea"')[2].partition("</tr>")[0]
    assert re.search(r'm-practice"[^>]*>N 46<', urea)
    assert re.search(r'm-memory"[^>]*>75.4<', urea)
    assert re.search(r'm-read"[^>]*>prohibited<', urea)
    assert "0.77 lb a pint, 0.74 kg/L" in urea  # 0.77 lb in a pint, by a trade table


def test_figures_follow_the_language(client: FlaskClient) -> None:
    assert "0.77 lb la pinta" in shown(client, "es")


def test_what_is_kept_apart_is_named_on_both_sides(client: FlaskClient) -> None:
    html = shown(client)
    assert "Urea | triple superphosphate 0-46-0, ordinary superphosphate 0-20-0" in html
