"""``/v1/samples`` and ``/v1/sampling-plans`` through HTTP.

Conditional changes: RFC 9110, section 13.1.1 (412) and RFC 6585, section 3 (428). Figures of the plans are those
of the guides named beside them.
"""

import re
from typing import Any
from xml.etree import ElementTree

import pytest

from service.contract.sample_schema import BY_HAND, STATES, USES
from service.desk import sample_states

URL, PLANS = "/v1/samples", "/v1/sampling-plans"
CLIENT = {"name": "Zebulon Quarrington", "contact": "555-0199"}
FORM: dict[str, Any] = {"client": CLIENT, "consent": True, "use": "lawn", "target": {"crop": "tall-fescue-lawn"}}


@pytest.fixture
def made(client):
    return client.post(URL, json=FORM)


def test_a_sample_is_taken_in_and_found_again(client, made):
    assert (made.status_code, made.headers["Location"]) == (201, f"{URL}/{made.json['id']}")
    found = client.get(made.headers["Location"])
    assert (found.json, found.headers["ETag"]) == (made.json, made.headers["ETag"])
    assert client.get(URL).json["items"] == [made.json]
    assert client.get(f"{URL}?status=received").json["items"] == []
    assert "Quarrington" not in made.text + found.text
    assert client.get(f"{URL}/{made.json['id']}/client").json["name"] == CLIENT["name"]


def test_the_same_key_takes_one_sample(client):
    answers = [client.post(URL, json=FORM, headers={"Idempotency-Key": "counter-7"}) for _ in range(3)]
    assert {answer.data for answer in answers} == {answers[0].data}
    assert len(client.get(URL).json["items"]) == 1
    assert client.post(URL, json={"use": "lawn"}, headers={"Idempotency-Key": "counter-7"}).status_code == 422


def test_a_change_needs_the_state_that_was_read(client, made):
    address, body = made.headers["Location"], {"use": "garden"}
    assert client.patch(address, json=body).status_code == 428
    assert client.patch(address, json=body, headers={"If-Match": '"other"'}).status_code == 412
    changed = client.patch(address, json=body, headers={"If-Match": made.headers["ETag"]})
    assert (changed.status_code, changed.json["use"]) == (200, "garden")
    assert changed.headers["ETag"] != made.headers["ETag"]
    assert client.patch(address, json=body, headers={"If-Match": made.headers["ETag"]}).status_code == 412


def test_a_step_is_taken_or_refused_with_what_could_be(client, made):
    address = f"{made.headers['Location']}/status"
    assert client.post(address, json={"status": "received"}).json["status"] == "received"
    refused = client.post(address, json={"status": "closed"})
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/not-in-this-state")
    assert "at_laboratory" in refused.json["detail"]
    assert client.post(address, json={"status": "reported"}).status_code == 422


def test_the_contract_names_the_states_of_the_desk():
    assert (sorted(STATES), sorted(BY_HAND)) == (sorted(sample_states.STATES), sorted(sample_states.BY_HAND))


@pytest.mark.parametrize(("language", "use", "taken"), [("en", "Lawn", "Taken in"), ("es", "Césped", "Registrada")])
def test_a_label_shows_code_office_use_and_day_and_nobody(client, made, language, use, taken):
    drawn = client.get(f"{made.headers['Location']}/label.svg?language={language}")
    assert drawn.mimetype == "image/svg+xml"
    root = ElementTree.fromstring(drawn.text)
    texts = [node.text for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert texts == [made.json["label"], "local", use, f"{taken} {made.json['created_at'][:10]}"]
    assert (root.attrib["width"], root.attrib["height"]) == ("90mm", "40mm")
    page = client.get(f"{made.headers['Location']}/label?language={language}")
    assert drawn.text in page.text
    assert "script" not in page.headers["Content-Security-Policy"]
    assert "Quarrington" not in page.text


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("use", USES)
def test_every_use_has_a_plan_in_both_languages(client, use, language):
    plan = client.get(f"{PLANS}?use={use}&language={language}").json
    assert plan["plan"]["depth"]["to"] > plan["plan"]["depth"]["from"] >= 0
    assert all(plan[part] for part in ("kit", "steps", "dry", "avoid", "season"))
    assert set(plan["sources"]) == {
        name for guide in (plan["plan"], *plan["other_guides"]) for name in guide["sources"]
    }


@pytest.mark.parametrize(
    ("use", "depth", "cores", "source"),
    [
        ("lawn", (0, 3), (10, 15), "CSU-LAB"),
        ("new_lawn", (0, 6), (5, 5), "UMN-LG"),
        ("trees_and_shrubs", (0, 12), (5, 10), "UMN-LG"),
        ("pasture", (0, 4), (12, 20), "CLEM-SAMP"),
    ],
)
def test_a_plan_says_what_its_guide_prints(client, use, depth, cores, source):
    plan = client.get(f"{PLANS}?use={use}").json["plan"]
    assert (plan["depth"]["from"], plan["depth"]["to"]) == depth
    assert (plan["cores"]["low"], plan["cores"]["high"], plan["sources"]) == (*cores, [source])
    assert plan["depth"]["verification"] == plan["cores"]["verification"] == "read"


def test_the_scatter_says_how_many_cores_and_the_area_how_many_samples(client):
    """CV 50 %, error 25 %, 95 %: 18 cores (Cochran 1977, t iterated); Clemson: 20 acres of pasture to a sample."""
    assert client.get(f"{PLANS}?use=field&cv=50&error=25&confidence=95").json["cores"]["cores"] == 18
    for area, count in (("20", 1), ("20.5", 2), ("100", 5)):
        assert client.get(f"{PLANS}?use=pasture&area={area}&unit=acre").json["samples"]["count"] == count
    assert client.get(f"{PLANS}?use=lawn").json["samples"] is None


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("", "?use"),
        ("use=moon", "?use"),
        ("use=lawn&area=3", "?unit"),
        ("use=lawn&area=3&unit=kg", "?unit"),
        ("use=lawn&cv=0", "?cv"),
        ("use=lawn&cv=nan", "?cv"),
        ("use=lawn&cv=1e2", "?cv"),
        ("use=lawn&cv=.", "?cv"),
    ],
)
def test_what_is_not_understood_is_refused(client, query, pointer):
    answer = client.get(f"{PLANS}?{query}")
    assert (answer.status_code, [error["pointer"] for error in answer.json["errors"]]) == (422, [pointer])


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("use", USES)
def test_the_printable_plan_says_what_the_interface_says(client, use, language):
    page = client.get(f"/sampling-plan?use={use}&language={language}")
    plan = client.get(f"{PLANS}?use={use}&language={language}").json
    text = re.sub(r"\s+", " ", page.text)
    assert page.status_code == 200
    assert plan["name"] in text
    for part in ("kit", "steps", "dry", "avoid", "season"):
        assert all(item["text"] in text for item in plan[part])
    assert all(source["citation"] in text for source in plan["sources"].values())
    assert text.count("<svg") == 2
