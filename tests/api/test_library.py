"""Crops, tables and vocabularies over HTTP."""

import os
import shutil
from dataclasses import replace

import pytest

from service.catalog.catalog import Catalog


def items(client, address):
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.json["items"]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("q=tomate&language=es", "tomato"),
        ("q=tomate", "tomato"),
        ("q=MANZAN", "apple"),
        ("q=malus", "apple"),
        ("q=fescue&language=en", "tall-fescue-lawn"),
        ("q=tall-fescue", "tall-fescue-lawn"),
    ],
)
def test_crops_are_found_by_common_and_scientific_name(client, query, found):
    assert found in [crop["id"] for crop in items(client, f"/v1/crops?{query}")]


def test_a_name_of_another_language_is_not_found_when_one_is_asked_for(client):
    assert items(client, "/v1/crops?q=manzan&language=en") == []


def test_crops_by_kind(client):
    kinds = {crop["kind"] for crop in items(client, "/v1/crops?limit=200")}
    for kind in kinds:
        assert {crop["kind"] for crop in items(client, f"/v1/crops?kind={kind}")} == {kind}


def test_crops_by_region(client):
    """Tables made for Utah judge the apple; no table here is made for Ohio."""
    utah = {crop["id"] for crop in items(client, "/v1/crops?limit=200&region=US-UT")}
    assert "apple" in utah
    assert items(client, "/v1/crops?limit=200&region=US-OH") == []
    for crop in utah:
        served = client.get(f"/v1/crops/{crop}").json
        assert "utah" in {row["calibration"] for row in served["sufficiency"] + served["amounts"]}, crop


def test_unknown_kind_is_refused_with_the_kinds_there_are(client):
    answer = client.get("/v1/crops?kind=cactus-fruit")
    (error,) = answer.json["errors"]
    assert (answer.status_code, error["pointer"]) == (422, "?kind")
    assert "vegetable" in error["allowed"]


@pytest.mark.parametrize("typed", ["tomattoe", "Jítomatte", "tomatto"])
def test_near_misses_are_suggested_and_never_chosen(client, typed):
    """A list that finds nothing and an address that leads nowhere say what may have been meant."""
    listed = client.get(f"/v1/crops?q={typed}").json
    assert (listed["items"], listed["next"]) == ([], None)
    assert "tomato" in listed["suggestions"]
    answer = client.get(f"/v1/crops/{typed}")
    assert answer.status_code == 404
    assert "tomato" in answer.json["suggestions"]
    assert "tomato" in answer.json["detail"]


def test_nothing_like_it_is_not_suggested(client):
    assert "suggestions" not in client.get("/v1/crops?q=zzzzzz").json
    assert "suggestions" not in client.get("/v1/crops/zzzzzz").json


def test_editions_of_a_crop_are_compared(client):
    same = client.get("/v1/crops/apple/compare?from=2025-01-01&to=2025-01-01").json
    assert {table["table"] for table in same["tables"]} >= {"sufficiency", "amounts", "salt_tolerance"}
    assert all(not (table["added"] or table["removed"] or table["changed"]) for table in same["tables"])
    assert client.get("/v1/crops/apple/compare?from=2025-01-01&to=1999-01-01").status_code == 404
    assert client.get("/v1/crops/moon-cactus/compare?from=2025-01-01&to=2025-01-01").status_code == 404


def test_crops_page(client):
    every = [crop["id"] for crop in items(client, "/v1/crops?limit=200")]
    seen, address = [], "/v1/crops?limit=3"
    while address:
        page = client.get(address)
        seen += [crop["id"] for crop in page.json["items"]]
        address = page.headers["Link"].split(">")[0].lstrip("<") if page.json["next"] else None
    assert seen == every
    assert every == sorted(every)


def test_every_crop_and_edition_is_served_with_its_rows_and_their_sources(client):
    for crop in items(client, "/v1/crops?limit=200"):
        today = client.get(f"/v1/crops/{crop['id']}").json
        for edition in crop["editions"]:
            served = client.get(f"/v1/crops/{crop['id']}/editions/{edition['edition']}").json
            rows = served["sufficiency"] + served["amounts"] + served["salt_tolerance"]
            assert all(row["verification"] for row in rows)
            assert {source for row in rows for source in row["sources"]} <= set(served["sources"])
        assert today["edition"] in [edition["edition"] for edition in crop["editions"]]


def test_every_table_is_served_row_by_row(client):
    for table in items(client, "/v1/tables"):
        listed = client.get(f"/v1/tables/{table['id']}/editions").json
        assert listed["items"] == table["editions"]
        for edition in table["editions"]:
            served = client.get(f"/v1/tables/{table['id']}/editions/{edition['edition']}").json
            assert served["rows"]
            assert served["sha256"] == edition["sha256"]
            assert {source for row in served["rows"] for source in row["sources"]} <= set(served["sources"])


@pytest.mark.parametrize(
    "address",
    [
        "/v1/crops/moon-cactus",
        "/v1/crops/apple/editions/1999-01-01",
        "/v1/crops/moon-cactus/editions/2025-01-01",
        "/v1/tables/nothing/editions",
        "/v1/tables/classes/editions/1999-01-01",
        "/v1/tables/nothing/editions/2025-01-01",
    ],
)
def test_what_is_not_there_is_404(client, address):
    answer = client.get(address)
    assert (answer.status_code, answer.json["type"]) == (404, "/problems/not-found")


def test_editions_are_compared_row_by_row(app, client, office_of_all):
    """A made edition in which one class got another name, one went, one came, and the order is another."""
    office = app.extensions["saltbush"]
    table = office.catalog.tables["classes"]
    ref, rows = table.editions["2025-01-01"]
    renamed, came = replace(rows[0], name="made up"), replace(rows[0], ladder="made up", name="new")
    kept = (came, renamed, *reversed(rows[1:-1]))
    later = {**table.editions, "2026-01-01": (ref._replace(edition="2026-01-01"), kept)}
    tables = {**office.catalog.tables, "classes": replace(table, editions=later)}
    office.__dict__["catalog"] = Catalog(tables, office.catalog.crop_editions, office.catalog.sources)
    told = client.get("/v1/tables/classes/editions/compare?from=2025-01-01&to=2026-01-01").json
    assert [row["name"] for row in told["removed"]] == [rows[-1].name]
    assert [row["name"] for row in told["added"]] == ["new"]
    (changed,) = told["changed"]
    assert (changed["columns"], changed["from"]["name"], changed["to"]["name"]) == (["name"], rows[0].name, "made up")
    assert any(f"was {rows[0].name}, now made up" in effect["text"] for effect in told["effects"])
    assert client.get("/v1/tables/classes/compare?from=2025-01-01&to=2026-01-01").json == told
    same = client.get("/v1/tables/classes/editions/compare?from=2026-01-01&to=2026-01-01").json
    assert (same["removed"], same["added"], same["changed"]) == ([], [], [])
    assert [effect["text"] for effect in same["effects"]] == ["No answer changes"]
    spanish = client.get("/v1/tables/classes/compare?from=2026-01-01&to=2026-01-01&language=es").json
    assert [effect["text"] for effect in spanish["effects"]] == ["Ninguna respuesta cambia"]
    assert client.get("/v1/tables/classes/editions/compare?from=2026-01-01").status_code == 422
    assert client.get("/v1/tables/classes/editions/compare?from=1999-01-01&to=2026-01-01").status_code == 404


def test_checks_against_print_are_served(app, client, tmp_path):
    """One row as printed, one cell corrected; an edition nobody checked has none."""
    assert items(client, "/v1/tables/classes/editions/2025-01-01/checks") == []
    office = app.extensions["saltbush"]
    table = replace(office.catalog.tables["classes"], folder=tmp_path)
    tables = {**office.catalog.tables, "classes": table}
    office.__dict__["catalog"] = Catalog(tables, office.catalog.crop_editions, office.catalog.sources)
    lines = ["line,row,by,on,copy,column,corrected_to,note", "2,ab,A. Reader,2026-11-02,library copy,,,"]
    lines += ["3,cd,A. Reader,2026-11-02,library copy,upper,16,a slip", ""]
    (tmp_path / "2025-01-01.checks.csv").write_text("\n".join(lines), "utf-8")
    sound, corrected = items(client, "/v1/tables/classes/editions/2025-01-01/checks")
    assert (sound["line"], sound["by"], sound["column"], sound["corrected_to"]) == (2, "A. Reader", None, None)
    assert (corrected["column"], corrected["corrected_to"], corrected["note"]) == ("upper", "16", "a slip")
    assert client.get("/v1/tables/classes/editions/1999-01-01/checks").status_code == 404


CHECKS = "/v1/tables/classes/editions/2025-01-01/checks"
READ = {"line": 2, "by": "A. Reader", "copy": "library copy", "on": "2026-04-02"}


@pytest.fixture
def kept(app, tmp_path):
    """The table ``classes`` in a folder that may be written."""
    office = app.extensions["saltbush"]
    table = office.catalog.tables["classes"]
    folder = shutil.copytree(table.folder, tmp_path / "classes")
    tables = {**office.catalog.tables, "classes": replace(table, folder=folder)}
    office.__dict__["catalog"] = Catalog(tables, office.catalog.crop_editions, office.catalog.sources)
    return folder


def test_a_row_is_signed_off(client, kept):
    """As printed, then corrected; the list has both, and the table itself is untouched."""
    before = (kept / "2025-01-01.csv").read_bytes()
    named = {"column": "sources", "value": "HB60"}
    answer = client.post(CHECKS, json={**READ, "corrections": [named]})
    assert (answer.status_code, len(answer.json["items"])) == (201, 1), answer.json
    both = {**READ, "line": 3, "corrections": [{"column": "upper", "value": "5"}, named]}
    assert client.post(CHECKS, json=both).status_code == 201
    listed = [(check["line"], check["by"], check["column"], check["corrected_to"]) for check in items(client, CHECKS)]
    sources = ("A. Reader", "sources", "HB60")
    assert listed == [(2, *sources), (3, "A. Reader", "upper", "5"), (3, *sources)]
    assert (kept / "2025-01-01.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"line": 9999}, "no row on line 9999"),
        ({"corrections": [{"column": "colour", "value": "red"}]}, "'colour' is no column"),
        ({"corrections": [{"column": "upper", "value": "five"}]}, "upper cannot be 'five'"),
        ({"corrections": [{"column": "sources", "value": "nobody"}]}, "'nobody' is no source"),
        ({"by": None}, "missing"),
        ({"line": 1}, "1 is out of range"),
        ({"on": "2100-01-01"}, "future"),
        ({"signed": True}, "no field 'signed'"),
    ],
)
def test_a_check_that_cannot_be_recorded_says_why(client, kept, change, told):
    asked = {name: value for name, value in {**READ, **change}.items() if value is not None}
    answer = client.post(CHECKS, json=asked)
    assert answer.status_code == 422
    assert any(told in error["message"] for error in answer.json["errors"]), answer.json["errors"]
    assert not list(kept.glob("*.checks.csv"))


def test_checks_are_for_the_newest_edition_where_the_folder_may_be_written(client, kept, monkeypatch):
    """No such table or edition is 404; an older edition 409; tables that are only to be read 403."""
    assert client.post(CHECKS.replace("classes", "nothing"), json=READ).status_code == 404
    assert client.post(CHECKS.replace("2025", "1999"), json=READ).status_code == 404
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # the tests may run as root, who may write anywhere
    answer = client.post(CHECKS, json=READ)
    assert (answer.status_code, answer.json["type"].rpartition("/")[2]) == (403, "read-only")


def test_vocabularies_hold_what_a_form_needs(client):
    """The codes are those that the contract lists."""
    analytes = {row["analyte"]: row for row in items(client, "/v1/analytes")}
    wanted = (
        "pH EC SAR ESP Na Ca Mg K Cl SO4 HCO3 B NO3 NO3-N NH4-N P P2O5 K2O Zn Fe Mn Cu Pb As Cd OM CEC lime "
        "sand silt clay"
    )
    assert set(wanted.split()) <= set(analytes)
    assert "olsen" in analytes["P"]["methods"]
    assert "mg/kg" in analytes["P"]["units"]
    assert "dS/m" not in analytes["P"]["units"]
    assert "water_sample" in analytes["EC"]["water_methods"]
    assert {"olsen", "bray_p1", "dtpa"} <= {row["method"] for row in items(client, "/v1/methods")}
    assert {"ppm", "mmho/cm", "meq/L", "lb/acre", "%"} <= {row["spelling"] for row in items(client, "/v1/units")}
    assert all(source["citation"] for source in items(client, "/v1/sources"))


def test_word_lists_are_those_of_the_contract_in_both_languages(client):
    lists = {each["list"]: each["words"] for each in items(client, "/v1/words")}
    wanted = "plastic paper stainless_steel galvanized brass_or_bronze other_metal unknown"
    assert {word["word"] for word in lists["container"]} == set(wanted.split())
    assert {word["word"] for word in lists["drainage"]} == {"free", "slow", "ponded", "unknown"}
    for words in lists.values():
        for word in words:
            assert word["labels"]["en"]
            assert word["labels"]["es"]


def test_lists_may_be_kept_by_the_caller(client):
    first = client.get("/v1/units")
    again = client.get("/v1/units", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


def test_kinds_of_problems_explain_themselves(client):
    answer = client.get("/v1/nothing").json
    explained = client.get(answer["type"]).json
    assert (explained["title"], explained["status"]) == (answer["title"], answer["status"])
    assert explained["remedy"]
    assert client.get("/problems/nothing").status_code == 404
