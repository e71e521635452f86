"""Refusals that say what would be right."""

import json
import sqlite3

import pytest
from api_cases import LAWN, URL

from service.agronomy.calculations import CALCULATIONS


@pytest.mark.parametrize("content_type", ["text/plain", "application/json; charset=latin-1"])
def test_415_says_what_would_be_right(client, content_type):
    answer = client.post(URL, data=json.dumps(LAWN), content_type=content_type)
    assert answer.status_code == 415
    assert "application/json" in answer.json["detail"]


def test_utf_8_may_be_said(client):
    answer = client.post(URL, data=json.dumps(LAWN), content_type="application/json; charset=UTF-8")
    assert answer.status_code == 201


def test_405_names_the_methods(client):
    detail = client.delete(URL).json["detail"]
    assert "GET" in detail
    assert "POST" in detail


def test_unknown_calculation_lists_those_there_are(client):
    answer = client.post("/v1/calculations/nope", json={})
    assert (answer.status_code, answer.json["allowed"]) == (404, sorted(CALCULATIONS))


def test_no_parameters_are_expected_where_there_are_none(client):
    assert client.get("/v1/units?x=1").json["errors"][0]["expected"] == "no query parameters"


def test_parameter_given_twice_is_422(client):
    answer = client.post(f"{URL}?store=false&store=true", json=LAWN)
    assert answer.status_code == 422
    assert [(error["pointer"], error["code"]) for error in answer.json["errors"]] == [("?store", "repeated_key")]


@pytest.mark.parametrize("sign", ["\u202e", "\u200b", "\ufeff", "\u2028", "\u2029", "\u00ad"])
def test_hidden_signs_are_422_with_their_place(client, sign):
    """Categories Cf, Zl and Zp of the Unicode Character Database."""
    answer = client.post(URL, json={**LAWN, "sample": {**LAWN["sample"], "label": f"bed{sign}1"}})
    error = answer.json["errors"][0]
    assert (answer.status_code, error["pointer"], error["code"]) == (422, "/sample/label", "control_character")
    assert f"U+{ord(sign):04X}" in error["message"]
    assert client.get(URL, query_string={"laboratory": f"a{sign}"}).status_code == 422


def test_letters_of_any_language_are_taken(client):
    answer = client.post(URL, json={**LAWN, "sample": {**LAWN["sample"], "comment": "jardín de Ñuñoa, 東"}})
    assert answer.status_code == 201


def test_nothing_far_off_is_suggested(client):
    assert "suggestions" not in client.get("/v1/crops/nope").json


def test_a_locked_database_is_busy(client, tmp_path):
    """Another program holds the write lock; SQLite answers SQLITE_BUSY after its timeout."""
    (path,) = tmp_path.glob("*.db")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        answer = client.post(URL, json=LAWN)
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert (answer.status_code, answer.json["type"]) == (503, "/problems/busy")


def test_a_database_without_tables_is_not_ready(client, tmp_path):
    (path,) = tmp_path.glob("*.db")
    with sqlite3.connect(path) as other:
        other.execute("DROP TABLE interpretation")
    answer = client.get(URL)
    assert (answer.status_code, answer.json["type"]) == (503, "/problems/not-ready")
    assert "busy" not in answer.json["detail"]
