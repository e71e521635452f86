"""What becomes of issued reports over HTTP: standing, notices, recalls, statistics as a spreadsheet."""

import csv
import io

import pytest
from api_cases import LAWN, URL

ROWS = "recalls/rows?table=classes"


@pytest.fixture
def report(client):
    return client.post(URL, json=LAWN).json


def test_standing_says_what_became_of_a_report(client, report):
    first = f"{URL}/{report['id']}"
    calm = {"outcome": "released", "replaced_by": None, "voided": None, "recalled": None, "review": None}
    assert client.get(f"{first}/standing").json == calm
    before = client.get(first)
    client.post(f"{first}/void", json={"reason": "posted twice"})
    after = client.get(first)
    assert after.json["standing"]["voided"]["reason"] == "posted twice"
    assert before.headers["ETag"] != after.headers["ETag"]
    assert client.get(first, headers={"If-None-Match": before.headers["ETag"]}).status_code == 200
    assert client.get(first, headers={"If-None-Match": after.headers["ETag"]}).status_code == 304
    assert client.get(f"{first}/standing").json["voided"]["reason"] == "posted twice"
    assert client.post(f"{first}/void", json={"reason": "again"}).status_code == 409


def test_an_office_sees_what_a_reviewer_asked(client):
    lead = {"analyte": "Pb", "method": "total_digest", "value": 260, "unit": "mg/kg"}
    garden = {"crop": "vegetable-garden", "area": {"value": 200, "unit": "ft2"}}
    held = client.post(URL, json={**LAWN, "results": [*LAWN["results"], lead], "target": garden}).json
    (case,) = client.get("/v1/reviews").json["items"]
    asked = {"decision": "ask", "reason": "Which bed was it?"}
    assert client.post(f"/v1/reviews/{case['id']}/decision", json=asked).status_code == 200
    told = client.get(f"{URL}/{held['id']}/standing").json
    assert (told["outcome"], told["review"]) == ("held", {"state": "waiting", "asked": "Which bed was it?"})


def test_notices_are_polled_by_cursor_and_nothing_is_told_twice(client, report):
    page = client.get("/v1/notices").json
    assert [(row["kind"], row["object_id"]) for row in page["items"]] == [("interpretation.released", report["id"])]
    assert client.get(f"/v1/notices?cursor={page['next']}").json == {"items": [], "next": None}
    later = client.post(URL, json={**LAWN, "sample": {**LAWN["sample"], "revision": 2}}).json
    page = client.get(f"/v1/notices?cursor={page['next']}").json
    told = {row["kind"]: row for row in page["items"]}
    assert told["interpretation.released"]["object_id"] == later["id"]
    assert told["interpretation.replaced"]["object_id"] == report["id"]
    assert told["interpretation.replaced"]["detail"]["by"] == later["id"]
    only = client.get("/v1/notices?kind=interpretation.replaced").json["items"]
    assert [row["kind"] for row in only] == ["interpretation.replaced"]


def test_a_recall_by_a_row_of_the_list(client, report):
    row = client.get(f"/v1/{ROWS}").json["items"][0]["row"]
    made = client.post("/v1/recalls", json={"reason": "wrong limit", "row": row})
    assert (made.status_code, made.json["found"]) == (201, 1)
    address = made.headers["Location"]
    assert [item["id"] for item in client.get(f"{address}/items").json["items"]] == [report["id"]]
    assert client.post(f"{address}/hold").json["counts"][0]["state"] == "held"
    assert client.get(f"{URL}/{report['id']}").json["standing"]["recalled"]["reason"] == "wrong limit"
    assert client.post(f"{address}/reissue").json == {"reissued": 1, "failed": [], "left": 0}
    assert client.get(f"{URL}/{report['id']}").json["replaced_by"] is not None
    assert [one["id"] for one in client.get("/v1/recalls").json["items"]] == [made.json["id"]]


@pytest.mark.parametrize(
    ("form", "pointer"),
    [
        ({"reason": "nothing named"}, "/rule"),
        ({"reason": "no table", "edition": "2025-01-01", "crop": "apple"}, "/edition"),
        ({"crop": "apple"}, "/reason"),
        ({"reason": "day", "from": "2026-02-30"}, "/from"),
        ({"reason": "batch", "lab_numbers": []}, "/lab_numbers"),
        ({"reason": "value", "value": {"analyte": "EC", "low": "x"}}, "/value/low"),
    ],
)
def test_a_recall_that_says_too_little_is_refused(client, form, pointer):
    answer = client.post("/v1/recalls", json=form)
    assert answer.status_code == 422
    assert pointer in [error["pointer"] for error in answer.json["errors"]]


def test_statistics_as_json_and_as_a_spreadsheet(client, report):
    asked = client.get("/v1/statistics")
    assert asked.headers["Vary"] == "Accept"
    (line,) = asked.json["items"]
    assert (line["reports"], line["outcomes"]["released"], line["share_unread"]) == (1, 1, 1.0)
    for answer in (
        client.get("/v1/statistics", headers={"Accept": "text/csv"}),
        client.get("/v1/statistics?format=csv"),
    ):
        assert answer.mimetype == "text/csv"
        (row,) = csv.DictReader(io.StringIO(answer.get_data(as_text=True)))
        assert (row["organization"], row["reports"], row["released"], row["median_days"]) == ("local", "1", "1", "")
    assert client.get("/v1/statistics?format=json", headers={"Accept": "text/csv"}).mimetype == "application/json"


def test_a_county_that_begins_like_a_formula_stays_a_text(client):
    """OWASP, CSV Injection."""
    for number in range(10):
        sample = {**LAWN["sample"], "lab_number": str(number)}
        client.post(URL, json={**LAWN, "sample": sample, "site": {"county": "=HYPERLINK(1)"}})
    text = client.get("/v1/statistics/counties?format=csv").get_data(as_text=True)
    assert "'=HYPERLINK(1)" in text
    assert "\n=" not in text


@pytest.mark.parametrize("query", ["from=2026-13-01", "to=x", "format=xml", "year=1", "organisation=x"])
def test_wrong_questions_are_refused(client, query):
    address = "/v1/statistics/counties" if query.startswith("year") else "/v1/statistics"
    assert client.get(f"{address}?{query}").status_code == 422


def test_erasing_and_holding_over_http(client):
    form = {"use": "lawn", "client": {"name": "Ana Invented", "language": "es"}, "consent": True}
    sample = client.post("/v1/samples", json=form).json["id"]
    placed = client.post(
        "/v1/legal-holds", json={"object_kind": "sample", "object_id": sample, "reason": "a claim in court"}
    )
    assert placed.status_code == 201
    assert client.delete(f"/v1/samples/{sample}/client").status_code == 409
    assert client.delete(f"/v1/legal-holds/{placed.json['id']}").json["lifted_at"] is not None
    assert client.get(f"/v1/samples/{sample}/records").json["client"]["name"] == "Ana Invented"
    assert client.delete(f"/v1/samples/{sample}/client").status_code == 200
    told = client.get(f"/v1/samples/{sample}/records")
    assert told.json["client"]["name"] is None
    assert told.headers["Cache-Control"] == "no-store"
    assert client.get(f"/v1/samples/{sample}/records?format=csv").mimetype == "text/csv"
