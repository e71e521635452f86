"""The trail over HTTP: own rows by cursor, an export that other code than ours proves."""

import json
import sys
from pathlib import Path

import pytest
from access_cases import house_in

sys.path.append(str(Path(__file__).resolve().parents[1] / "trail"))

from verify_export import verdict


@pytest.fixture(scope="module")
def house(tmp_path_factory, office_of_all):
    with house_in(tmp_path_factory.mktemp("trail"), office_of_all) as made:
        for _ in range(2):
            made.posted()
        made.posted("other submitter")
        yield made


def test_rows_of_the_own_organization_come_by_cursor_without_gap_or_repeat(house):
    found, address = [], "/v1/trail?limit=2"
    while address:
        answer = house.send("own administrator", "GET", address)
        assert answer.status_code == 200
        found += answer.json["items"]
        address = answer.json["next"] and f"/v1/trail?limit=2&cursor={answer.json['next']}"
    assert [row["sequence"] for row in found] == list(range(1, len(found) + 1))
    assert {row["organization"] for row in found} == {"juniper-county"}
    assert [row["action"] for row in found].count("interpretation.issued") == 2


@pytest.mark.parametrize("answers", ["true", "false"])
def test_the_export_is_proved_by_other_code(house, answers):
    answer = house.send("own administrator", "GET", f"/v1/trail.ndjson?answers={answers}")
    assert (answer.status_code, answer.mimetype) == (200, "application/x-ndjson")
    assert verdict(answer.data) == []
    lines = [json.loads(line) for line in answer.data.splitlines()]
    assert sum("answer" in line for line in lines) == (2 if answers == "true" else 0)
    assert "sagebrush-county" not in answer.text


def test_an_export_from_a_row_on_continues(house):
    whole = house.send("own administrator", "GET", "/v1/trail.ndjson").data.splitlines()
    later = house.send("own administrator", "GET", "/v1/trail.ndjson?after=2").data.splitlines()
    assert later == whole[2:]


@pytest.mark.parametrize("address", ["/v1/trail?cursor=abc", "/v1/trail.ndjson?after=x", "/v1/trail.ndjson?before=1"])
def test_what_cannot_be_read_is_refused(house, address):
    assert house.send("own administrator", "GET", address).status_code == 422
