"""What a submission may say: every refusal has a pointer, a code and what would be right."""

from copy import deepcopy
from datetime import date

import pytest

from service.agronomy.submission import Depth, Quantity, Result, Submission
from service.contract.problem import ProblemError
from service.contract.submission import load_submission, peek_options

TODAY = date(2026, 4, 20)
PLAIN = {
    "sample": {
        "laboratory": "juniper-bench-demo-laboratory",
        "lab_number": "26-01187",
        "taken_on": "2026-04-11",
        "received_on": "2026-04-15",
        "depth": {"top": 0, "bottom": 4, "unit": "in"},
        "tool": "stainless_steel",
        "container": "plastic",
    },
    "results": [
        {"analyte": "pH", "method": "saturated_paste", "value": 7.6},
        {"analyte": "P", "method": "olsen", "value": 28, "unit": "mg/kg"},
        {"analyte": "Zn", "method": "dtpa", "value": 0.1, "qualifier": "<", "unit": "mg/kg"},
    ],
    "target": {"crop": "tall-fescue-lawn", "area": {"value": 5000, "unit": "ft2"}},
    "options": {"units": "us_garden", "language": "en"},
}


def changed(pointer, value):
    """The plain submission with one place changed; ``...`` removes it."""
    document = deepcopy(PLAIN)
    *way, last = pointer.strip("/").split("/")
    node = document
    for key in way:
        node = node[int(key)] if isinstance(node, list) else node.setdefault(key, {})
    if value is ...:
        del node[last]
    elif isinstance(node, list):
        node[int(last)] = value
    else:
        node[last] = value
    return document


def errors_of(document, library):
    with pytest.raises(ProblemError) as caught:
        load_submission(document, library, TODAY)
    problem = caught.value.problem.document()
    assert problem["status"] == 422
    return problem["errors"]


def test_plain_submission_becomes_the_domain_dataclasses(library):
    found = load_submission(PLAIN, library, TODAY)
    assert isinstance(found, Submission)
    assert found.sample.depth == Depth(0.0, 4.0, "in")
    assert found.sample.taken_on == date(2026, 4, 11)
    assert found.results[1] == Result("P", "olsen", 28.0, "mg/kg")
    assert found.results[2].qualifier == "<"
    assert found.target.area == Quantity(5000.0, "ft2")
    assert found.site.surface_water_distance is None


def test_everything_optional_may_be_null_or_left_out(library):
    """null means not said: it reads like a field that is not there."""
    little = {"results": [{"analyte": "pH", "value": 7.6}], "target": {"crop": None}}
    nulls = {
        **little,
        "sample": dict.fromkeys(("laboratory", "lab_number", "label", "place", "taken_on", "depth", "comment")),
        "site": {"well": None, "irrigation_water": None, "symptoms": None, "surface_water": {"distance": None}},
        "options": {"as_of": None, "calibration": None, "editions": {}},
    }
    assert load_submission(little, library, TODAY) == load_submission(nulls, library, TODAY)


def test_whole_site_is_read(library):
    site = {
        "region": "US-XX",
        "county": "Juniper Bench",
        "slope_pct": 3,
        "surface_water": {"distance": {"value": 30, "unit": "ft"}},
        "amended": [{"material": "gypsum", "on": "2025-10-01", "amount": None}],
        "texture": "sandy_loam",
        "drainage": "free",
        "symptoms": ["ponding"],
        "observations": {"vinegar_fizz": "strong"},
        "house_built": 1998,
        "children": False,
        "well": {"distance": {"value": 40, "unit": "ft"}, "infant": False},
        "irrigation_water": {"results": [{"analyte": "EC", "method": "water_sample", "value": 0.6, "unit": "dS/m"}]},
        "organic_inputs": [{"material": "steer_manure", "depth": {"value": 3, "unit": "in"}, "per": "year"}],
        "requests": ["lower_ph", "gypsum", "compost"],
    }
    found = load_submission({**PLAIN, "site": site}, library, TODAY).site
    assert found.surface_water_distance == Quantity(30.0, "ft")
    assert found.amended[0].on == date(2025, 10, 1)
    assert found.irrigation_water.results[0].method == "water_sample"
    assert found.observations == {"vinegar_fizz": "strong"}
    assert found.requests == ("lower_ph", "gypsum", "compost")


REFUSALS = [
    ("/results/0/value", "7.6", "not_a_number"),
    ("/results/0/value", True, "not_a_number"),
    ("/results/0/value", [7.6], "not_a_number"),
    ("/results/0/value", 1e300, "out_of_range"),
    ("/results/0/value", 10**400, "out_of_range"),
    ("/results/1/value", "ND", "not_a_number"),
    ("/results/1/value", "<0.2", "not_a_number"),
    ("/results/1/value", ..., "missing"),
    ("/results/1/unit", ..., "missing_unit"),
    ("/results/1/unit", "mg/kilo", "unknown_unit"),
    ("/results/1/unit", "dS/m", "unit_does_not_fit"),
    ("/results/1/unit", 7, "not_a_text"),
    ("/results/1/method", "saturated_paste", "method_does_not_fit"),
    ("/results/1/method", "olsn", "unknown_method"),
    ("/results/1/method", "water_sample", "method_does_not_fit"),
    ("/results/1/analyte", "Unobtainium", "unknown_analyte"),
    ("/results/1/analyte", ..., "missing"),
    ("/results/1/qualifier", "~", "unknown_word"),
    ("/results/1/text", "strong", "value_and_text"),
    ("/results/1/note", "x", "unknown_field"),
    ("/results/1/depth", {"top": 24, "bottom": 12, "unit": "in"}, "depth_reversed"),
    ("/results/1", None, "not_an_object"),
    ("/results", [], "wrong_count"),
    ("/results", {}, "not_an_array"),
    ("/results", ..., "missing"),
    ("/target", ..., "missing"),
    ("/target/crop", ..., "missing"),
    ("/target/crop", "tomatoe", "unknown_crop"),
    ("/target/crop", 7, "not_a_text"),
    ("/target/area/value", 0, "out_of_range"),
    ("/target/area/value", -5, "out_of_range"),
    ("/target/area/unit", "lb", "unit_does_not_fit"),
    ("/target/stage", "blooming", "unknown_word"),
    ("/target/condition", {"use": "casino"}, "unknown_word"),
    ("/sample/container", "Plástic", "unknown_word"),
    ("/sample/depth", {"top": 4, "bottom": 0, "unit": "in"}, "depth_reversed"),
    ("/sample/depth", {"top": -1, "bottom": 4, "unit": "in"}, "out_of_range"),
    ("/sample/depth", {"top": 0, "bottom": 4, "unit": "lb"}, "unit_does_not_fit"),
    ("/sample/taken_on", "2027-01-01", "date_in_future"),
    ("/sample/taken_on", "2026-02-30", "not_a_date"),
    ("/sample/taken_on", "11.4.2026", "not_a_date"),
    ("/sample/taken_on", "20260411", "not_a_date"),
    ("/sample/received_on", "2026-04-10", "received_before_taken"),
    ("/sample/revision", 0, "out_of_range"),
    ("/sample/revision", 1.5, "not_whole"),
    ("/sample/mixed_areas", "no", "not_a_boolean"),
    ("/sample/mixed_areas", 0, "not_a_boolean"),
    ("/sample/lab_number", "", "wrong_length"),
    ("/sample/lab_number", "a\x00b", "control_character"),
    ("/sample", [], "not_an_object"),
    ("/site/region", "Juniper", "wrong_length"),
    ("/site/region", "usut", "not_a_region"),
    ("/site/zone", "zzz", "not_a_zone"),
    ("/site/zone", "14", "not_a_zone"),
    ("/site/zone", "6c", "not_a_zone"),
    ("/site/symptoms", ["sadness"], "unknown_word"),
    ("/site/symptoms", ["ponding", "ponding"], "repeated_item"),
    ("/site/observations", {"crystal_ball": "yes"}, "unknown_field"),
    ("/site/irrigation_water", {"results": [{"analyte": "EC", "method": "water_1_2"}]}, "method_does_not_fit"),
    ("/options/units", "imperial", "unknown_word"),
    ("/options/language", "fr", "unknown_word"),
    ("/options/calibration", "nowhere", "unknown_word"),
    ("/options/editions", {"classes": 5}, "not_a_text"),
    ("/extra", 1, "unknown_field"),
]


@pytest.mark.parametrize(("pointer", "value", "code"), REFUSALS, ids=lambda item: str(item)[:30])
def test_each_fault_is_named_at_its_place(library, pointer, value, code):
    errors = errors_of(changed(pointer, value), library)
    assert [error["code"] for error in errors] == [code]
    assert errors[0]["pointer"].startswith(pointer)
    assert errors[0]["message"]
    assert errors[0]["expected"]


def test_several_faults_come_at_once(library):
    document = changed("/sample/container", "bucket")
    document["results"][0]["value"] = "x"
    document["target"]["crop"] = "moon-cactus"
    found = {error["pointer"] for error in errors_of(document, library)}
    assert found == {"/sample/container", "/results/0/value", "/target/crop"}


def test_word_lists_travel_with_the_refusal(library):
    error = errors_of(changed("/sample/container", "bucket"), library)[0]
    assert "galvanized" in error["allowed"]


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ("tomatoe", "tomato"),
        ("Tomate", "tomato"),
        ("CHILE PEPPER", "chile-pepper"),
        ("manzano", "apple"),
        ("cebolla", "onion"),
    ],
)
def test_unknown_crop_suggests_without_regard_to_case_accent_and_language(library, sent, meant):
    assert meant in errors_of(changed("/target/crop", sent), library)[0]["suggestions"]


def test_unknown_crop_never_becomes_a_nearest_match(library):
    assert "suggestions" not in errors_of(changed("/target/crop", "zzzzzz"), library)[0]


@pytest.mark.parametrize(
    ("pointer", "sent", "meant"),
    [
        ("/results/1/analyte", "phosphorus", "P"),
        ("/results/1/unit", "mg/kgg", "mg/kg"),
        ("/results/1/method", "Olsen", "olsen"),
        ("/sample/container", "plástic", "plastic"),
    ],
)
def test_near_misses_are_suggested(library, pointer, sent, meant):
    assert meant in errors_of(changed(pointer, sent), library)[0]["suggestions"]


def test_more_than_a_thousand_results_are_refused_before_they_are_read(library):
    document = {**PLAIN, "results": [{"nonsense": 1}] * 1001}
    assert [error["code"] for error in errors_of(document, library)] == ["wrong_count"]


def test_a_flood_of_faults_is_cut_short(library):
    document = {**PLAIN, "results": [{"analyte": f"x{n}", "value": 1} for n in range(1000)]}
    assert len(errors_of(document, library)) <= 100


@pytest.mark.parametrize("document", [None, [], "text", 7, True])
def test_a_body_that_is_no_object_is_refused_as_such(library, document):
    assert errors_of(document, library)[0]["code"] == "not_an_object"


def test_per_acre_units_of_a_soil_test_are_left_to_the_core(library):
    """Whether lb/acre can be understood depends on depth and bulk density: a question of the case, not of its shape."""
    document = changed("/results/1/unit", "lb/acre")
    assert load_submission(document, library, TODAY).results[1].unit == "lb/acre"


@pytest.mark.parametrize("document", [None, 7, {"options": 3}, {"options": {"as_of": "x", "editions": [1]}}])
def test_looking_ahead_at_the_options_trusts_nothing(document):
    assert peek_options(document) == (None, {})
