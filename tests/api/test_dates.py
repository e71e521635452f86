"""The dates of a kept interpretation as a calendar file over HTTP: no more than its view shows, nobody's name."""

from copy import deepcopy

import pytest
from api_cases import LAWN, URL
from icalendar import Calendar


def events(answer):
    return list(Calendar.from_ical(answer.data).walk("VEVENT"))


def test_every_dated_dose_of_the_answer_is_an_event_on_its_days(client):
    posted = client.post(URL, json=LAWN)
    file = client.get(f"{posted.headers['Location']}.ics")
    assert (file.status_code, file.headers["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    doses = [dose for item in posted.json["recommendations"] for dose in item["applications"] if dose["from"]]
    assert doses
    found = events(file)
    assert [event["DTSTART"].dt.isoformat() for event in found[:-1]] == [dose["from"] for dose in doses]
    assert found[-1]["DTSTART"].dt.isoformat() == f"{posted.json['summary']['retest']}-01"


def test_the_same_bytes_each_time_and_304_for_their_tag(client):
    address = f"{client.post(URL, json=LAWN).headers['Location']}.ics"
    first, again = client.get(address), client.get(address)
    assert first.data == again.data
    assert client.get(address, headers={"If-None-Match": first.headers["ETag"]}).status_code == 304


def test_a_replaced_answer_is_cancelled(client):
    first = client.post(URL, json=LAWN)
    address = f"{first.headers['Location']}.ics"
    before = client.get(address)
    revised = deepcopy(LAWN)
    revised["sample"]["revision"] = 2
    client.post(URL, json=revised)
    after = client.get(address)
    assert before.headers["ETag"] != after.headers["ETag"]
    assert {str(event["STATUS"]) for event in events(after)} == {"CANCELLED"}


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_laboratory_or_sample_number_is_in_it(client, language):
    body = {**LAWN, "options": {"language": language}}
    body["sample"] = {**LAWN["sample"], "comment": "north strip by the fence"}
    file = client.get(f"{client.post(URL, json=body).headers['Location']}.ics").get_data(as_text=True)
    for private in (body["sample"]["laboratory"], body["sample"]["lab_number"], "north strip"):
        assert private not in file


def test_a_held_answer_gives_no_amount(client):
    """Lead at 260 mg/kg is read by a person first: the draft's doses are in nobody's calendar."""
    lead = {"analyte": "Pb", "method": "total_digest", "value": 260, "unit": "mg/kg"}
    body = {**LAWN, "results": [*LAWN["results"], lead], "target": {"crop": "vegetable-garden"}}
    posted = client.post(URL, json=body)
    assert posted.json["outcome"] == "held"
    found = events(client.get(f"{posted.headers['Location']}.ics"))
    assert [event["SUMMARY"] for event in found if "lb" in event["SUMMARY"]] == []


def test_an_unknown_id_is_404(client):
    assert client.get(f"{URL}/x.ics").status_code == 404
