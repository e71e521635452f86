"""Submitting and reading over HTTP."""

import threading
from copy import deepcopy

import pytest
from api_cases import LAWN, URL, with_results


def test_kept_answer_is_201_with_its_address_and_reads_back_the_same_bytes(client):
    posted = client.post(URL, json=LAWN)
    assert posted.status_code == 201
    assert posted.headers["Location"] == f"{URL}/{posted.json['id']}"
    read = client.get(posted.headers["Location"])
    assert (read.status_code, read.data) == (200, posted.data)
    assert read.headers["ETag"] == posted.headers["ETag"]


def test_answer_not_kept_is_200_and_leaves_nothing(client):
    answer = client.post(f"{URL}?store=false", json=LAWN)
    assert answer.status_code == 200
    assert (answer.json["id"], answer.json["number"]) == (None, None)
    assert "Location" not in answer.headers
    assert client.get(URL).json == {"items": [], "next": None}


def test_same_tag_is_answered_with_304_and_no_body(client):
    posted = client.post(URL, json=LAWN)
    address, tag = posted.headers["Location"], posted.headers["ETag"]
    again = client.get(address, headers={"If-None-Match": tag})
    assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag)
    assert client.get(address, headers={"If-None-Match": '"other"'}).status_code == 200


def test_text_and_replay(client):
    posted = client.post(URL, json=LAWN)
    text = client.get(f"{posted.headers['Location']}.txt")
    assert text.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert posted.json["number"] in text.get_data(as_text=True)
    replayed = client.get(f"{posted.headers['Location']}/replay")
    assert (replayed.data, replayed.headers["Saltbush-Replay"]) == (posted.data, "recomputed")


def test_same_case_again_is_200_and_other_content_409(client):
    first, again = client.post(URL, json=LAWN), client.post(URL, json=LAWN)
    assert (again.status_code, again.data, again.headers["Location"]) == (200, first.data, first.headers["Location"])
    other = deepcopy(LAWN)
    other["results"][0]["value"] = 7.7
    conflict = client.post(URL, json=other)
    assert conflict.status_code == 409
    assert conflict.headers["Content-Type"] == "application/problem+json"
    assert conflict.json["next_revision"] == 2
    other["sample"]["revision"] = 2
    revised = client.post(URL, json=other)
    assert (revised.status_code, revised.json["replaces"]) == (201, first.json["id"])
    assert client.get(first.headers["Location"]).json["replaced_by"] == revised.json["id"]


@pytest.mark.parametrize("key", ["f81d4fae", '"f81d4fae"', "x" * 255])
def test_idempotency_key_repeats_the_first_answer(client, key):
    case = with_results(*LAWN["results"])
    first, again = (client.post(URL, json=case, headers={"Idempotency-Key": key}) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert (again.data, again.headers["Location"]) == (first.data, first.headers["Location"])
    other = client.post(URL, json=LAWN, headers={"Idempotency-Key": key})
    assert (other.status_code, other.json["type"]) == (422, "/problems/key-reused")


@pytest.mark.parametrize("key", ["", "x" * 256, '""', "k\u00e9y"])
def test_unusable_idempotency_key_is_refused(client, key):
    assert client.post(URL, json=LAWN, headers={"Idempotency-Key": key}).status_code == 400
    assert client.get(URL).json["items"] == []


def test_list_pages_by_cursor_and_link(client):
    numbers = [client.post(URL, json=with_results(*LAWN["results"])).json["number"] for _ in range(5)]
    seen, address = [], f"{URL}?limit=2"
    while address:
        page = client.get(address)
        seen += [item["number"] for item in page.json["items"]]
        link = page.headers.get("Link")
        assert (link is None) == (page.json["next"] is None)
        address = link.split(">")[0].lstrip("<") if link else None
    assert seen == numbers[::-1]


def test_list_filters(client):
    client.post(URL, json=LAWN)
    client.post(URL, json=with_results({"analyte": "pH", "method": "saturated_paste", "value": 78}))
    by = {
        name: client.get(f"{URL}?{name}").json["items"] for name in ("outcome=refused", "lab_number=26-01187", "crop=x")
    }
    assert [len(items) for items in by.values()] == [1, 1, 0]
    assert by["outcome=refused"][0]["outcome"] == "refused"


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("limit=0", "?limit"),
        ("limit=9999", "?limit"),
        ("limit=ten", "?limit"),
        ("cursor=abc", "?cursor"),
        ("cursor=djE6eA", "?cursor"),
        ("outcome=lost", "?outcome"),
        ("colour=red", "?colour"),
    ],
)
def test_query_at_fault_is_named(client, query, pointer):
    answer = client.get(f"{URL}?{query}")
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == pointer


@pytest.mark.parametrize("query", ["store=no", "store=", "store=False", "stor=false"])
def test_mistyped_store_never_stores(client, query):
    assert client.post(f"{URL}?{query}", json=LAWN).status_code == 422
    assert client.get(URL).json["items"] == []


def test_unknown_id_is_404_everywhere(client):
    for address in (f"{URL}/x", f"{URL}/x.txt", f"{URL}/x/replay"):
        answer = client.get(address)
        assert (answer.status_code, answer.json["type"]) == (404, "/problems/not-found")


def test_parallel_posts_of_one_case_over_http_have_one_effect(app):
    answers = []

    def post():
        answers.append(app.test_client().post(URL, json=LAWN))

    threads = [threading.Thread(target=post) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answer.status_code for answer in answers) == [200] * 19 + [201]
    assert len({answer.data for answer in answers}) == 1
