"""The desk over HTTP: a county submits, the programme's scientists read, decide, and are refused where they must be.

States and decisions: contract, section 6 (held). Problem documents: RFC 9457; pointers: RFC 6901.
"""

from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any

import orjson
import pytest
from access_cases import OWN, PROGRAMME, House, house_in
from api_cases import LAWN, URL, strict
from jsonschema import Draft202012Validator

from service.desk.access_keys import Wish

READER, SECOND, COUNTY = "programme reviewer", "programme second", "own submitter"
DESK = "/v1/reviews"
WHY = "The lawn is in deep shade."
UNKNOWN = "00000000-0000-4000-8000-000000000000"


@pytest.fixture(scope="module")
def house(tmp_path_factory, office_of_all) -> Iterator[House]:
    with house_in(tmp_path_factory.mktemp("house"), office_of_all) as made:
        made.key(SECOND, PROGRAMME, Wish("second reader", ("reviewer",)))
        made.key("own agent of orchards", OWN, Wish("agent", ("agent",)))
        yield made


@pytest.fixture(scope="module")
def shaped(house) -> Callable[[str, Any], None]:
    """Checks that a body is exactly of a published shape."""
    schemas = strict(house.client.get("/v1/openapi.json").json["components"]["schemas"])

    def check(name: str, body: Any) -> None:
        shape = {"$ref": f"#/components/schemas/{name}", "components": {"schemas": schemas}}
        Draft202012Validator(shape).validate(body)

    return check


def held(house: House, language: str = "en", **target: Any) -> tuple[dict[str, Any], str]:
    """A report that a class in the shadow holds, as its county sees it, and its case."""
    body = deepcopy(LAWN)
    body["sample"]["lab_number"] = f"26-{next(house.counter):05d}"
    body["options"]["language"] = language
    body["target"].update(target)
    report = house.send(COUNTY, "POST", URL, body).json
    items = house.send(READER, "GET", f"{DESK}?limit=200").json["items"]
    return report, next(item["id"] for item in items if item["interpretation"] == report["id"])


def decide(house: House, case: str, who: str = READER, **decision: Any) -> Any:
    return house.send(who, "POST", f"{DESK}/{case}/decision", decision)


def report_of(house: House, id: str, form: str = "", who: str = COUNTY) -> Any:  # noqa: A002
    return house.send(who, "GET", f"{URL}/{id}{form}")


def test_a_case_is_one_view_with_all_that_decides_it(house, shaped):
    report, case = held(house)
    answer = house.send(READER, "GET", f"{DESK}/{case}")
    shaped("Case", answer.json)
    seen = answer.json
    assert (seen["interpretation"], seen["kind"], seen["by_rules"]) == (report["id"], "shadow", "released")
    assert any(item["kind"] == "nutrient" and item["rate"] for item in seen["draft"]["recommendations"])
    assert not any(item["kind"] == "nutrient" for item in report["recommendations"]), "kept back from the submitter"
    assert seen["why"][0]["code"] == "class_in_shadow"
    assert seen["why"][0]["message"]
    assert seen["submission"]["sample"] == LAWN["sample"] | {"lab_number": seen["submission"]["sample"]["lab_number"]}
    again = house.send(READER, "GET", f"{DESK}/{case}", headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304


def test_the_question_of_the_form_and_the_years_before_stand_in_the_view(house, shaped):
    asked = {"use": "lawn", "question": "Why is it yellow?", "target": LAWN["target"], "place": {"id": "yard-7"}}
    label = house.send("own agent", "POST", "/v1/samples", asked).json["label"]
    first = deepcopy(LAWN)
    first["sample"] |= {"lab_number": "25-1", "place": {"id": "yard-7"}, "taken_on": "2026-04-01"}
    house.send(COUNTY, "POST", URL, first)
    body = deepcopy(LAWN)
    body["sample"] |= {"lab_number": "26-yard", "label": label, "taken_on": "2026-10-01"}
    body["results"][3]["value"] = 12
    report = house.send(COUNTY, "POST", URL, body)
    assert report.status_code == 201, report.json
    items = house.send(READER, "GET", f"{DESK}?limit=200").json["items"]
    case = next(item["id"] for item in items if item["interpretation"] == report.json["id"])
    seen = house.send(READER, "GET", f"{DESK}/{case}").json
    shaped("Case", seen)
    assert seen["question"] == "Why is it yellow?"
    phosphorus = next(line for line in seen["history"] if line["analyte"] == "P")
    assert [point["value"] for point in phosphorus["points"]] == [31, 12]
    assert (phosphorus["change"], phosphorus["verdict"]) == (-19, "fall")


def test_the_reasons_name_the_owner_of_their_rule_in_the_language_of_the_report(house):
    for language, owner in (("en", "soil scientist"), ("es", "especialista en suelos")):
        body = deepcopy(LAWN)
        body["sample"]["lab_number"] = f"26-{next(house.counter):05d}"
        body["options"]["language"] = language
        body["results"].append({"analyte": "Pb", "method": "total_digest", "value": 900, "unit": "mg/kg"})
        report = house.send(COUNTY, "POST", URL, body).json
        items = house.send(READER, "GET", f"{DESK}?kind=held&limit=200").json["items"]
        case = next(item["id"] for item in items if item["interpretation"] == report["id"])
        lead = next(why for why in house.send(READER, "GET", f"{DESK}/{case}").json["why"] if why["analyte"] == "Pb")
        assert (lead["code"], lead["owner"]) == ("total_metal", owner)
        assert lead["to_do"]
    assert items[0]["urgency"] == 3, "danger first"


def test_from_the_county_to_the_queue_to_a_released_report(house, shaped):
    report, case = held(house)
    claimed = house.send(READER, "POST", f"{DESK}/{case}/claim")
    shaped("Review", claimed.json)
    decided = decide(house, case, decision="approve", notes=[{"phrase": "visit"}, {"text": "Call Tuesday."}])
    assert decided.status_code == 200
    shaped("Review", decided.json)
    out = report_of(house, decided.json["issued"]).json
    assert (out["outcome"], out["replaces"], out["provenance"]["released_by"]) == ("released", report["id"], "person")
    assert out["provenance"]["authorized_by"] == decided.json["decided_by"]
    assert [remark["text"] for remark in out["remarks"]][1] == "Call Tuesday."
    assert report_of(house, report["id"]).json["replaced_by"] == out["id"]
    listed = house.send(READER, "GET", f"{DESK}?state=closed&limit=200").json["items"]
    assert case in {item["id"] for item in listed}


@pytest.mark.parametrize(
    ("language", "heading", "instead", "signed"),
    [
        ("en", "CHANGED OR ADDED BY A SOIL SCIENTIST", "instead of", "A soil scientist (key"),
        ("es", "CAMBIOS Y AGREGADOS DE UN ESPECIALISTA EN SUELOS", "en lugar de", "Un especialista en suelos (clave"),
    ],
)
def test_an_edited_report_says_so_in_every_form(house, language, heading, instead, signed):
    _, case = held(house, language)
    edits = [{"subject": "N", "rate": {"value": 2, "unit": "lb/1000 ft2"}, "reason": WHY}]
    issued = decide(house, case, decision="edit", reason=WHY, edits=edits).json["issued"]
    out = report_of(house, issued).json
    assert (out["edited"][0]["now"], out["edited"][0]["reason"]) == ({"value": 2.0, "unit": "lb/1000 ft2"}, WHY)
    for material in (use for use in out["materials"] if use["subject"] == "N"):
        assert material["supplies"]["value"] == pytest.approx(2, rel=0.05), "what to buy follows the person's amount"
    text = " ".join(report_of(house, issued, ".txt").text.split())
    assert heading in text
    assert instead in text
    assert WHY in text
    assert signed in text
    dated = report_of(house, issued, ".ics")
    assert dated.status_code == 200
    replayed = report_of(house, issued, "/replay")
    assert replayed.json == {**out, "replaced_by": None}


def test_an_amount_is_left_out_and_another_added_in_metric_units(house):
    body = deepcopy(LAWN)
    body["sample"]["lab_number"] = f"26-{next(house.counter):05d}"
    body["options"]["units"] = "metric"
    report = house.send(COUNTY, "POST", URL, body).json
    items = house.send(READER, "GET", f"{DESK}?limit=200").json["items"]
    case = next(item["id"] for item in items if item["interpretation"] == report["id"])
    zinc = {"subject": "Zn", "rate": {"value": 0.5, "unit": "g/m2"}, "reason": WHY}
    issued = decide(house, case, decision="edit", reason=WHY, edits=[{"subject": "N", "reason": WHY}, zinc]).json
    out = report_of(house, issued["issued"]).json
    rates = {item["subject"]: item["rate"] for item in out["recommendations"] if item["rate"]}
    assert "N" not in rates
    assert rates["Zn"] == {"value": 0.5, "unit": "g/m2"}
    assert not [use for use in out["materials"] if use["subject"] == "N"]


def test_a_re_test_is_ordered_and_told(house, shaped):
    _, case = held(house)
    tests = [{"analyte": "Na", "method": "saturated_paste_extract"}, {"analyte": "CEC"}]
    asked = decide(house, case, decision="ask", reason="Is it sodic?", tests=tests)
    shaped("Review", asked.json)
    assert (asked.json["state"], asked.json["issued"]) == ("waiting", None)
    assert asked.json["tests"] == [tests[0], {"analyte": "CEC", "method": None}]
    with house.office.records.reading() as reading:
        told = reading.trail.last_notice(OWN, "review.asked")
    assert [test["analyte"] for test in orjson.loads(told.detail)["tests"]] == ["Na", "CEC"]
    assert decide(house, case, decision="approve").status_code == 200, "and may still be decided"


@pytest.mark.parametrize(
    ("decision", "pointer", "code"),
    [
        ({}, "/decision", "missing"),
        ({"decision": "wave"}, "/decision", "unknown_word"),
        ({"decision": "approve", "colour": 1}, "/colour", "unknown_field"),
        ({"decision": "reject"}, "/reason", "missing"),
        ({"decision": "ask"}, "/reason", "missing"),
        ({"decision": "edit", "reason": WHY}, "/edits", "edits_with_edit"),
        ({"decision": "approve", "edits": [{"subject": "N", "reason": WHY}]}, "/edits", "edits_with_edit"),
        ({"decision": "edit", "reason": WHY, "edits": [{"subject": "N"}]}, "/edits/0/reason", "missing"),
        (
            {"decision": "edit", "reason": WHY, "edits": [{"subject": "Zn", "reason": WHY}]},
            "/edits/0/subject",
            "nothing_to_leave_out",
        ),
        (
            {
                "decision": "edit",
                "reason": WHY,
                "edits": [{"subject": "N", "rate": {"value": 2, "unit": "in"}, "reason": WHY}],
            },
            "/edits/0/rate",
            "unit_mismatch",
        ),
        (
            {
                "decision": "edit",
                "reason": WHY,
                "edits": [{"subject": "Zn", "rate": {"value": 40, "unit": "lb/acre"}, "reason": WHY}],
            },
            "/edits",
            "dose_over_cap",
        ),
        ({"decision": "approve", "notes": [{"phrase": "no-such"}]}, "/notes/0/phrase", "unknown_word"),
        ({"decision": "approve", "notes": [{"phrase": "visit", "text": "x"}]}, "/notes/0/phrase", "one_way"),
        ({"decision": "approve", "tests": [{"analyte": "Na"}]}, "/tests", "tests_with_ask"),
        ({"decision": "ask", "reason": WHY, "tests": [{"analyte": "Xy"}]}, "/tests/0/analyte", "unknown_analyte"),
        (
            {"decision": "ask", "reason": WHY, "tests": [{"analyte": "P", "method": "dtpa"}]},
            "/tests/0/method",
            "method_does_not_fit",
        ),
    ],
)
def test_what_cannot_be_decided_is_422_and_names_its_place(house, decision, pointer, code):
    _, case = held(house)
    answer = house.send(READER, "POST", f"{DESK}/{case}/decision", decision)
    assert answer.status_code == 422
    assert [(error["pointer"], error["code"]) for error in answer.json["errors"]] == [(pointer, code)]
    assert house.send(READER, "GET", f"{DESK}/{case}").json["state"] == "open", "nothing was decided"


def test_two_reviewers_do_not_collide_and_any_of_them_stands_in(house):
    _, case = held(house)
    assert house.send(READER, "POST", f"{DESK}/{case}/claim").status_code == 200
    for answer in (house.send(SECOND, "POST", f"{DESK}/{case}/claim"), decide(house, case, SECOND, decision="approve")):
        assert (answer.status_code, answer.json["type"]) == (409, "/problems/claimed")
        assert answer.json["claimed_until"]
    assert house.send(SECOND, "DELETE", f"{DESK}/{case}/claim").json["claimed_by"] is not None, "only one's own"
    assert house.send(READER, "DELETE", f"{DESK}/{case}/claim").json["claimed_by"] is None
    assert decide(house, case, SECOND, decision="approve").status_code == 200
    late = decide(house, case, decision="reject", reason=WHY)
    assert (late.status_code, late.json["type"]) == (409, "/problems/not-in-this-state")


def test_the_own_office_may_read_its_cases_and_another_sees_none(house):
    _, case = held(house)
    assert house.send("own reviewer", "GET", f"{DESK}/{case}").status_code == 200
    for method, path in (("GET", ""), ("POST", "/claim"), ("DELETE", "/claim"), ("POST", "/decision")):
        body = {"decision": "approve"} if path == "/decision" else None
        foreign = house.send("other reviewer", method, f"{DESK}/{case}{path}", body)
        unknown = house.send("other reviewer", method, f"{DESK}/{UNKNOWN}{path}", body)
        assert (foreign.status_code, foreign.data) == (404, unknown.data)


def test_phrases_and_overrides_are_listed(house, shaped):
    phrases = house.send(READER, "GET", f"{DESK}/phrases").json
    shaped("Phrases", phrases)
    assert {"water_deep_seldom", "retest_after_season"} <= {item["phrase"] for item in phrases["items"]}
    shaped("Overrides", house.send(READER, "GET", f"{DESK}/overrides").json)


def test_the_queue_pages_without_gap_or_repeat(house):
    made = {held(house)[1] for _ in range(5)}
    seen: list[str] = []
    address = f"{DESK}?limit=2"
    while address:
        answer = house.send(READER, "GET", address)
        seen += [item["id"] for item in answer.json["items"]]
        address = answer.headers.get("Link", "").partition(">")[0].lstrip("<")
    assert len(seen) == len(set(seen))
    assert made <= set(seen)
    for cursor in ("x", "djE6MQ"):
        assert house.send(READER, "GET", f"{DESK}?cursor={cursor}").status_code == 422
