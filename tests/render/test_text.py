"""The readable text report: the homeowner's part first, nothing wider than 80 columns, every part there."""

from typing import Any

import pytest

from service.render.catalogue import Catalogue
from service.render.text import report
from service.render.text_figures import limits, quantity
from service.render.words import Words

ANSWER: dict[str, Any] = {
    "number": "2026-000123",
    "issued_at": "2026-04-20T10:00:00Z",
    "replaced_by": None,
    "outcome": "partial",
    "crop": None,
    "reasons": [
        {"code": "a", "severity": "withhold", "message": "The phosphorus test does not fit.", "ask": "an Olsen test"},
        {"code": "b", "severity": "info", "message": "The first edition was used.", "ask": None},
    ],
    "summary": {
        "verdict": "The soil is sound.",
        "actions": ["Spread nitrogen in May.", "Water it in."],
        "do_not": ["Do not add lime."],
        "retest": "2029-04",
        "contact": "the county office",
    },
    "findings": [
        {
            "analyte": "K",
            "method": "ammonium_acetate",
            "reported": {"value": 340, "unit": "mg/kg"},
            "qualifier": None,
            "rating": "high",
            "status": "rated",
            "class": {"lower": 300, "upper": None, "unit": "mg/kg", "rule": "lower <= x"},
            "borderline": {"other_rating": "medium", "probability": 0.12},
            "why": "Enough.",
        },
        {
            "analyte": "P",
            "method": "bray_p1",
            "reported": {"value": 4, "unit": "ppm"},
            "qualifier": "<",
            "rating": None,
            "status": "withheld",
            "class": None,
            "borderline": None,
            "why": "The test does not fit limy soil.",
        },
    ],
    "salinity": {
        "ECe": {"value": 2.9, "unit": "dS/m", "estimated": True, "range": {"low": 2.1, "high": 3.8}},
        "class": "slightly_saline",
        "relative_yield_pct": 64.2,
        "leaching": {"depth": {"value": 6, "unit": "in"}, "conditions": ["Drain it first."]},
        "notes": ["Confirm by a saturated paste."],
    },
    "sodium": {"SAR": 1.5, "ESP": {"value": 1.0, "how": "from_SAR"}, "class": "nonsodic", "soil_class": "normal"},
    "texture": {"class": "sandy_loam", "notes": []},
    "recommendations": [
        {
            "kind": "nutrient",
            "subject": "N",
            "text": "Give it in two doses.",
            "rate": {"value": 2, "unit": "lb/1000 ft2"},
            "for_area": {"value": 6.4, "unit": "lb"},
            "applications": [{"when": "in May", "rate": {"value": 1, "unit": "lb/1000 ft2"}, "limit": "1 lb at once"}],
            "because": [{"step": "The season's rate", "inputs": {"low": 2}, "value": 2, "unit": "lb/1000 ft2"}],
            "sources": ["A-1"],
            "verification": "read",
        }
    ],
    "materials": [],
    "cautions": [
        {"code": "c", "severity": "danger", "text": "Lead is high.", "consult": "the health department", "sources": []},
        {"code": "d", "severity": "notice", "text": "Sweep the walks.", "consult": None, "sources": []},
    ],
    "not_assessed": [{"subject": "boron", "why": "Not tested.", "ask": "hot-water boron"}],
    "quality_checks": [{"check": "x", "status": "pass", "message": "The ions add up."}],
    "sources": {"A-1": {"citation": "Author (2014). Title.", "url": "https://example.org/a"}},
    "provenance": {
        "engine": "saltbush 0.1.0",
        "tables": [{"id": "ratings", "edition": "2025-01-01", "sha256": "0"}],
        "submission_sha256": "f" * 64,
        "released_by": "rules",
        "disclaimer": "Guidance only.",
    },
}


@pytest.fixture(scope="module")
def english() -> Words:
    return Words("en", Catalogue())


def test_the_homeowner_reads_first_what_matters_first(english: Words) -> None:
    text = report(ANSWER, english)
    order = [
        "Soil report 2026-000123",
        "Lead is high.",
        "The soil is sound.",
        "1. Spread nitrogen in May.",
        "Do not add lime.",
        "April 2029",
        "the county office",
        "an Olsen test",
        "340 mg/kg",
        "Confirm by a saturated paste.",
        "Give it in two doses.",
        "The season's rate",
        "Sweep the walks.",
        "hot-water boron",
        "[A-1]",
        "f" * 54,
        "Guidance only.",
    ]
    places = [text.find(part) for part in order]
    assert -1 not in places, [part for part, place in zip(order, places, strict=True) if place < 0]
    assert places == sorted(places)


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_line_is_wider_than_80_columns(language: str) -> None:
    text = report(ANSWER, Words(language, Catalogue()))
    assert max(map(len, text.splitlines())) <= 80
    assert "[word" not in text
    assert "[report" not in text


def test_a_figure_that_is_not_used_shows_no_rating(english: Words) -> None:
    lines = [line for line in report(ANSWER, english).splitlines() if "< 4 ppm" in line]
    assert len(lines) == 1
    assert "not used" in lines[0]


def test_a_figure_that_another_part_rests_on_is_not_called_unrated(english: Words) -> None:
    finding = {"analyte": "Na", "status": "not_rated", "code": "finding.used_for_sodium", "why": "Used for SAR."}
    text = report({**ANSWER, "findings": [finding]}, english)
    assert "Used for SAR." in text
    assert "not rated" not in text


def test_depth_is_named_only_where_layers_differ(english: Words) -> None:
    one, other = ANSWER["findings"]
    same = report({**ANSWER, "findings": [{**one, "depth_in": [0, 6]}, {**other, "depth_in": [0, 6]}]}, english)
    layers = report({**ANSWER, "findings": [{**one, "depth_in": [0, 6]}, {**other, "depth_in": [6, 24]}]}, english)
    assert same.split().count("deep") == 0
    assert layers.split().count("deep") == 2


def test_an_empty_answer_still_reads(english: Words) -> None:
    text = report(
        {"outcome": "refused", "reasons": [{"severity": "refuse", "message": "pH 78.", "ask": None}]}, english
    )
    assert "cannot be interpreted" in text
    assert "pH 78." in text


def test_limits_of_a_class(english: Words) -> None:
    assert limits({"lower": 25, "upper": 40, "unit": "mg/kg"}, english) == "25 to 40 ppm"
    assert limits({"lower": None, "upper": 25, "unit": "mg/kg"}, english) == "below 25 ppm"
    assert limits({"lower": 7.4, "upper": None, "unit": "1"}, english) == "7.4 and up"
    assert limits({"lower": None, "upper": None, "unit": "1"}, english) == ""
    assert limits(None, english) == ""


def test_quantities_of_the_answer(english: Words) -> None:
    assert quantity({"value": 3, "unit": "lb"}, english) == "3 lb"
    assert quantity({"value": "strong", "unit": None}, english) == "strong"
    assert quantity(None, english) == "–"


def test_a_dose_names_its_days_and_a_figure_its_own_unit(english: Words) -> None:
    """The laboratory's spelling stays (mmho/cm), and a dose without days prints none."""
    (item,) = [each for each in ANSWER["recommendations"] if each.get("applications")]
    dated = {**item["applications"][0], "from": "2026-05-01", "to": "2026-05-20"}
    figure = {**ANSWER["findings"][0], "reported": {"value": 1.6, "unit": "mmho/cm"}, "qualifier": None}
    answer = {**ANSWER, "findings": [figure], "recommendations": [{**item, "applications": [dated]}]}
    text = " ".join(report(answer, english).split())
    assert "in May, May 1, 2026 – May 20, 2026 (1 lb at once)" in text
    assert "1.6 mmho/cm" in text
    assert "in May (1 lb at once)" in " ".join(report(ANSWER, english).split())


def urea(**more: Any) -> dict[str, Any]:
    return {
        "material": "urea",
        "name": "Urea",
        "grade": "46-0-0",
        "subject": "N",
        "amount": {"value": 5, "unit": "lb"},
        **more,
    }


@pytest.mark.parametrize(("count", "told"), [(1, "1 bag of 50 lb"), (2, "2 bags of 50 lb")])
def test_one_bag_is_no_bags(count: int, told: str) -> None:
    size, over = {"value": 50, "unit": "lb"}, {"value": 3, "unit": "lb"}
    use = urea(bags={"count": count, "size": size, "left_over": over})
    assert told in report({**ANSWER, "materials": [use]}, Words("en", Catalogue()))


def test_what_was_left_out_of_the_tables_is_not_told_but_the_clients_own_product_is() -> None:
    """Nobody who sends no product asks why another one was not chosen."""
    words = Words("en", Catalogue(), {"word.product.balanced_16_16_16": "balanced dry fertilizer 16-16-16"})
    notes = [
        {"kind": "left_out", "text": "Not the table's.", "materials": ["balanced_16_16_16"]},
        {"kind": "left_out", "text": "Not your own.", "materials": ["shed-1"]},
        {"kind": "short", "text": "One pound is missing.", "materials": []},
    ]
    text = report({**ANSWER, "materials": [urea()], "supply": notes}, words)
    assert "Not the table's." not in text
    assert "Not your own." in text
    assert "One pound is missing." in text
