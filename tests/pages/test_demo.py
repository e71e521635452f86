"""The demo cases of the invented county: valid submissions that come out as their descriptions say."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog
from service.desk.callers import OPEN_CALLER
from service.desk.issue import answer_only
from service.desk.office import Office
from service.render.text import report

FOLDER = Path(__file__).resolve().parents[2] / "service" / "pages" / "demo"
CASES = sorted(path.stem for path in FOLDER.glob("*.json"))
# Ten of them are the cases that the service must get right; the outcomes are agreed with a soil scientist's reading.
OUTCOMES = {
    "01-ordinary-lawn": {"released"},
    "02-salty-beans": {"released"},
    "03-wrong-phosphorus-test": {"partial"},
    "04-ponding-lawn": {"released", "partial"},
    "05-wants-lower-ph": {"released"},
    "06-impossible-salts": {"refused", "partial"},
    "07-galvanized-pail": {"released", "partial"},
    "08-lead-by-old-house": {"held"},
    "09-ph-only": {"released"},
    "10-no-plant-named": {"partial"},
    "11-sodium-garden": {"released"},
}
UNSAID = re.compile(r"\[[A-Za-z0-9_. -]+\]")


@pytest.fixture(scope="module")
def office(catalog: Catalog) -> Office:
    """An office that keeps nothing, on a fixed day."""
    return Office(catalog, "saltbush test", now=lambda: datetime(2026, 4, 20, 9, 0, tzinfo=UTC))


def answer_to(case: str, office: Office, **options: str) -> dict[str, Any]:
    submission = json.loads((FOLDER / f"{case}.json").read_text("utf-8"))
    submission["options"].update(options)
    found: dict[str, Any] = json.loads(answer_only(OPEN_CALLER, json.dumps(submission).encode(), office))
    return found


def sentences(tree: Any) -> Iterator[str]:
    """Every text of an answer, its sources excepted."""
    if isinstance(tree, str):
        yield tree
    elif isinstance(tree, list):
        for item in tree:
            yield from sentences(item)
    elif isinstance(tree, dict):
        for name, item in tree.items():
            if name not in ("sources", "provenance"):
                yield from sentences(item)


def test_every_case_has_an_expected_outcome() -> None:
    assert sorted(OUTCOMES) == CASES


@pytest.mark.parametrize("case", CASES)
def test_a_case_comes_out_as_described(case: str, office: Office) -> None:
    assert answer_to(case, office)["outcome"] in OUTCOMES[case]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case", CASES)
def test_every_sentence_is_said(case: str, language: str, office: Office) -> None:
    answer = answer_to(case, office, language=language)
    unsaid = {found for text in sentences(answer) for found in UNSAID.findall(text)}
    assert not unsaid
    assert not [text for text in sentences(answer) if re.search(r"[a-z,=(:] None\b", text)]


@pytest.mark.parametrize("units", ["us_garden", "us_field", "metric"])
@pytest.mark.parametrize("case", CASES)
def test_the_text_report_reads_in_every_unit_system(case: str, units: str, office: Office, library: Library) -> None:
    text = report(answer_to(case, office, units=units), office.words(library, "en"))
    assert max(map(len, text.splitlines())) <= 80
    body = text.partition("SOURCES\n")[0]
    assert UNSAID.findall(body) == []


@pytest.mark.parametrize("case", CASES)
def test_the_same_case_says_the_same_figures_in_both_languages(case: str, office: Office) -> None:
    english, spanish = (answer_to(case, office, language=language) for language in ("en", "es"))
    assert english["outcome"] == spanish["outcome"]
    for one, other in zip(english["recommendations"], spanish["recommendations"], strict=True):
        assert (one["rate"], one["for_area"], one["code"]) == (other["rate"], other["for_area"], other["code"])


def test_names_are_invented_and_each_case_is_offered(client: FlaskClient) -> None:
    page = client.get("/").get_data(as_text=True)
    for case in CASES:
        submission = client.get(f"/demo/{case}.json").get_json()
        assert submission["site"]["region"] == "US-XX"
        assert submission["site"]["county"] == "Juniper Bench"
        assert "demo" in submission["sample"]["laboratory"]
        assert f'value="{case}"' in page
