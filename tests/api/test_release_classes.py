"""The switches over HTTP: stopping at once, letting out with a second person's word.

The promises are those of laboratory autoverification (CLSI AUTO15): rules fixed in advance, a person can switch them
off at once and say which results went out by rule.
"""

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from access_cases import OTHER, OWN, PROGRAMME, House, house_in
from api_cases import LAWN, URL, strict
from jsonschema import Draft202012Validator

from service.desk.access_keys import Wish

READER, SECOND = "programme reviewer", "programme second"
CLASSES = "/v1/release-classes"
TURF = f"{CLASSES}/cool_season_turf.{OWN}"
WHY = {"reason": "a drill"}


@pytest.fixture
def house(tmp_path, office_of_all) -> Iterator[House]:
    with house_in(tmp_path, office_of_all) as made:
        made.key(SECOND, PROGRAMME, Wish("second reader", ("reviewer",)))
        yield made


def outcome(house: House) -> tuple[str, str | None]:
    body = deepcopy(LAWN)
    body["sample"]["lab_number"] = f"26-{next(house.counter):05d}"
    answer = house.send("own submitter", "POST", URL, body).json
    return answer["outcome"], answer["reasons"][0]["code"] if answer["reasons"] else None


def let_out(house: House) -> Any:
    wish = house.send(READER, "POST", f"{TURF}/wishes", {"reason": "500 cases agreed"})
    assert wish.status_code == 201
    return house.send(SECOND, "POST", f"{TURF}/wishes/{wish.json['id']}/approve")


def test_let_out_by_two_persons_stopped_by_one(house):
    assert outcome(house) == ("held", "class_in_shadow")
    wish = house.send(READER, "POST", f"{TURF}/wishes", {"reason": "500 cases agreed"}).json
    assert wish["basis"]["unverified_rows"] > 0
    own = house.send(READER, "POST", f"{TURF}/wishes/{wish['id']}/approve")
    assert (own.status_code, own.json["type"]) == (409, "/problems/second-person")
    let = house.send(SECOND, "POST", f"{TURF}/wishes/{wish['id']}/approve").json
    assert (let["mode"], let["wishes"]) == ("release", [])
    assert let["signed_until"]
    assert outcome(house)[0] == "released"
    assert house.send("own administrator", "POST", f"{TURF}/pause", WHY).json["mode"] == "paused"
    assert outcome(house) == ("held", "class_paused")
    assert house.send(READER, "POST", f"{TURF}/resume", WHY).json["mode"] == "shadow"
    assert outcome(house) == ("held", "class_in_shadow")


def test_one_switch_stops_every_class_of_every_office(house):
    let_out(house)
    stop = f"{CLASSES}/all"
    assert house.send("own reviewer", "POST", f"{stop}/pause", WHY).status_code == 404, "only the programme stops all"
    assert house.send(READER, "POST", f"{stop}/pause", WHY).json["mode"] == "paused"
    assert outcome(house) == ("held", "class_paused")
    assert house.send(READER, "POST", f"{stop}/resume", WHY).json["mode"] == "release"
    assert outcome(house)[0] == "released", "each class is as it was"


def test_the_programme_lists_the_classes_of_an_office(house):
    shapes = strict(house.client.get("/v1/openapi.json").json["components"]["schemas"])
    shape = {"$ref": "#/components/schemas/ReleaseClasses", "components": {"schemas": shapes}}
    let_out(house)
    listed = house.send(READER, "GET", f"{CLASSES}?organization={OWN}").json
    Draft202012Validator(shape).validate(listed)
    modes = {item["id"]: item["mode"] for item in listed["items"]}
    assert modes["all"] == "release"
    assert modes[f"cool_season_turf.{OWN}"] == "release"
    assert modes[f"stone_fruit.{OWN}"] == "shadow"
    own = house.send("own agent", "GET", f"{CLASSES}?organization={OTHER}").json
    assert {item["organization"] for item in own["items"]} <= {OWN}, "nobody else's but the programme's to see"


@pytest.mark.parametrize(
    ("path", "body", "status", "said"),
    [
        ("/pause", {}, 422, "/reason"),
        ("/pause", {"reason": ""}, 422, "/reason"),
        ("/reread", {"reason": "x", "share_pct": 101}, 422, "/share_pct"),
        ("/reread", {"reason": "x", "share_pct": -1}, 422, "/share_pct"),
        ("/reread", {"reason": "x"}, 422, "/share_pct"),
        ("/resume", WHY, 409, None),
        ("/wishes/no-such/approve", None, 404, None),
    ],
)
def test_refusals_name_their_place(house, path, body, status, said):
    answer = house.send(READER, "POST", f"{TURF}{path}", body)
    assert answer.status_code == status
    assert [error["pointer"] for error in answer.json.get("errors", ())] == ([said] if said else [])


def test_foreign_and_unknown_classes_answer_the_same(house):
    unknown = house.send("other reviewer", "GET", f"{CLASSES}/no_such_group.{OWN}")
    for method, path, body in (("GET", "", None), ("POST", "/pause", WHY), ("POST", "/wishes", WHY)):
        foreign = house.send("other reviewer", method, f"{TURF}{path}", body)
        assert (foreign.status_code, foreign.data) == (404, unknown.data)


def test_a_second_wish_waits_for_the_first_and_a_decided_one_is_gone(house):
    first = house.send(READER, "POST", f"{TURF}/wishes", WHY).json
    assert house.send(SECOND, "POST", f"{TURF}/wishes", WHY).status_code == 409
    approve = f"{TURF}/wishes/{first['id']}/approve"
    assert house.send(SECOND, "POST", approve).status_code == 200
    assert house.send(SECOND, "POST", approve).status_code == 409
    assert house.send(READER, "POST", f"{TURF}/wishes", WHY).status_code == 409, "it goes out already"
