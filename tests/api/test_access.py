"""Keys at the door: the header (RFC 6750), revoking and expiring, pages of other origins (fetch standard, CORS)."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from access_cases import LOOSE, OWN, PAGE, House, house_in
from api_cases import LAWN, URL

from service.app import create_app
from service.desk import access_keys, organizations
from service.desk.access_keys import COMMAND_LINE, Wish
from service.settings import Settings

ASKS = {"Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "authorization,content-type"}


@pytest.fixture(scope="module")
def house(tmp_path_factory, office_of_all) -> Iterator[House]:
    with house_in(tmp_path_factory.mktemp("house"), office_of_all) as made:
        yield made


def test_without_a_key_the_challenge_has_no_error(house):
    """RFC 6750, section 3.1: a request that lacks authentication gets no error code."""
    answer = house.client.get(URL)
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, 'Bearer realm="saltbush"')


@pytest.mark.parametrize(
    "change",
    [
        lambda shown: shown[:-1] + ("0" if shown[-1] != "0" else "1"),
        lambda shown: shown[:-1],
        lambda shown: shown + "0",
        lambda shown: shown.upper(),
        lambda shown: shown.rpartition("_")[0] + "_",
        lambda shown: shown.rpartition("_")[0],
        lambda shown: "sb_key0000000000_" + shown.rpartition("_")[2],
        lambda _: "",
        lambda _: "sb__",
        lambda _: "sb_" + "k" * 5000 + "_x",
        lambda _: "sb_' OR 1=1 --_x",
    ],
)
def test_a_key_that_is_not_quite_right_is_not_known(house, change):
    shown = change(house.shown["own administrator"])
    answer = house.client.get(URL, headers={"Authorization": f"Bearer {shown}"})
    said = 'Bearer realm="saltbush", error="invalid_token", error_description="The key is not known."'
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, said)
    assert answer.json["detail"] == "The key is not known."


@pytest.mark.parametrize("scheme", ["Basic", "Token", "sb"])
def test_other_schemes_are_not_taken(house, scheme):
    answer = house.client.get(URL, headers={"Authorization": f"{scheme} {house.shown['own agent']}"})
    assert answer.status_code == 401
    assert "error" not in answer.headers["WWW-Authenticate"]


def test_the_scheme_may_be_written_in_any_case(house):
    """RFC 9110, section 11.1: the scheme is case-insensitive."""
    answer = house.client.get(URL, headers={"Authorization": f"bearer {house.shown['own agent']}"})
    assert answer.status_code == 200


def test_a_key_in_the_address_is_no_key(house):
    """RFC 6750, section 2.3, warns of it; addresses stand in logs."""
    assert house.client.get(f"{URL}?access_token={house.shown['own agent']}").status_code == 401


@pytest.mark.parametrize(("who", "why"), [("revoked", "revoked"), ("expired", "expired"), ("closed", "closed")])
def test_a_key_that_has_ended_is_told_why(house, who, why):
    answer = house.send(who, "GET", URL)
    assert answer.status_code == 401
    assert why in answer.json["detail"]
    assert 'error="invalid_token"' in answer.headers["WWW-Authenticate"]


def test_who_has_not_the_secret_is_not_told_that_a_key_has_ended(house):
    prefix = house.shown["revoked"].rpartition("_")[0]
    answer = house.client.get(URL, headers={"Authorization": f"Bearer {prefix}_{'0' * 48}"})
    assert answer.json["detail"] == "The key is not known."


def test_revoking_works_from_the_next_request_on_in_every_process(house):
    """Two applications on one database, as two workers are."""
    other = create_app(Settings(), house.office).test_client()
    id = house.key("passing", OWN, Wish("passing", ("agent",)))  # noqa: A001
    headers = house.headers("passing")
    assert [client.get(URL, headers=headers).status_code for client in (house.client, other)] == [200, 200]
    assert house.send("own administrator", "POST", f"/v1/keys/{id}/revoke").json["revoked_at"] is not None
    assert [client.get(URL, headers=headers).status_code for client in (house.client, other)] == [401, 401]


def test_two_keys_live_while_one_is_rotated(house):
    id = house.key("before", OWN, Wish("joined", ("agent", "reviewer")))  # noqa: A001
    end = (house.office.now() + timedelta(hours=1)).isoformat()
    made = house.send("own administrator", "POST", f"/v1/keys/{id}/rotate", {"old_expires_at": end}).json
    house.shown["after"] = made["key"]
    assert (made["replaces"], made["roles"], made["organization"]) == (id, ["agent", "reviewer"], OWN)
    assert [house.send(who, "GET", URL).status_code for who in ("before", "after")] == [200, 200]
    again = house.send("own administrator", "POST", f"/v1/keys/{id}/rotate", {})
    assert (again.status_code, again.json["type"]) == (409, "/problems/not-in-this-state")
    clock = house.office.now
    object.__setattr__(house.office, "now", lambda: datetime.now(UTC) + timedelta(days=2, hours=1, seconds=1))
    assert [house.send(who, "GET", URL).status_code for who in ("before", "after")] == [401, 200]
    object.__setattr__(house.office, "now", clock)


def test_the_whole_key_is_in_the_answer_that_makes_it_and_may_not_be_kept_on_the_way(house):
    made = house.send("own administrator", "POST", "/v1/keys", {"label": "once", "roles": ["agent"]})
    assert made.headers["Cache-Control"] == "no-store"
    assert "ETag" not in made.headers
    read = house.send("own administrator", "GET", made.headers["Location"]).json
    assert {**read, "key": made.json["key"]} == made.json


def test_the_day_of_last_use_is_kept(house):
    id = house.key("used", OWN, Wish("used", ("agent",)))  # noqa: A001
    address = f"/v1/keys/{id}"
    assert house.send("own administrator", "GET", address).json["last_used_on"] is None
    house.send("used", "GET", URL)
    assert house.send("own administrator", "GET", address).json["last_used_on"] == house.office.now().date().isoformat()


@pytest.mark.parametrize(
    ("form", "pointer"),
    [
        ({"label": "x"}, "/roles"),
        ({"label": "x", "roles": []}, "/roles"),
        ({"label": "x", "roles": ["king"]}, "/roles/0"),
        ({"label": "x", "roles": ["agent", "agent"]}, "/roles"),
        ({"label": "x", "roles": ["agent"], "origins": [PAGE]}, "/roles"),
        ({"roles": ["agent"]}, "/label"),
        ({"label": "x", "roles": ["agent"], "secret_sha256": "0"}, "/secret_sha256"),
        ({"label": "x", "roles": ["agent"], "expires_at": "2020-01-01T00:00:00Z"}, "/expires_at"),
        ({"label": "x", "roles": ["agent"], "expires_at": "2030-01-01T00:00:00"}, "/expires_at"),
        ({"label": "x", "roles": ["agent"], "expires_at": "soon"}, "/expires_at"),
        *(
            ({"label": "x", "origins": [origin]}, "/origins/0")
            for origin in (
                "*",
                "null",
                "garden.example",
                "https://garden.example/",
                "https://garden.example/page",
                "https://*.garden.example",
                "https://GARDEN.example",
                "https://user@garden.example",
                "https://garden.example:443",
                "https://garden.example:99999",
                "http://garden.example",
                "javascript://garden.example",
            )
        ),
    ],
)
def test_a_key_that_makes_no_sense_is_not_made(house, form, pointer):
    answer = house.send("own administrator", "POST", "/v1/keys", form)
    assert answer.status_code == 422
    assert pointer in {error["pointer"] for error in answer.json["errors"]}


@pytest.mark.parametrize("origin", ["https://garden.example:8443", "http://localhost:5173", "http://[::1]:3000"])
def test_an_origin_as_browsers_send_it_is_taken(house, origin):
    answer = house.send("own administrator", "POST", "/v1/keys", {"label": "page", "origins": [origin]})
    assert (answer.status_code, answer.json["kind"], answer.json["roles"]) == (201, "publishable", ["submitter"])


def test_a_page_may_submit_and_read_the_answer(house):
    asked = house.client.options(URL, headers={"Origin": PAGE, **ASKS})
    assert asked.status_code == 204
    assert asked.headers["Access-Control-Allow-Origin"] == PAGE
    assert "POST" in asked.headers["Access-Control-Allow-Methods"]
    assert "Authorization" in asked.headers["Access-Control-Allow-Headers"]
    assert "Access-Control-Allow-Credentials" not in asked.headers
    for query in ("", "?store=false"):
        answer = house.send("publishable", "POST", f"{URL}{query}", LOOSE)
        assert answer.status_code in (200, 201)
        assert answer.headers["Access-Control-Allow-Origin"] == PAGE
        assert "Origin" in answer.headers["Vary"]


def test_a_page_reads_its_refusals_too(house):
    for headers in ({}, {"Authorization": "Bearer sb_x_y"}):
        answer = house.client.post(URL, json=LOOSE, headers={"Origin": PAGE, **headers})
        assert (answer.status_code, answer.headers["Access-Control-Allow-Origin"]) == (401, PAGE)
    assert house.send("publishable", "POST", URL, {}).headers["Access-Control-Allow-Origin"] == PAGE


def test_a_page_reads_the_lists_that_its_form_needs(house):
    answer = house.client.get("/v1/crops?limit=1", headers={"Origin": PAGE})
    assert (answer.status_code, answer.headers["Access-Control-Allow-Origin"]) == (200, PAGE)


FOREIGN = (
    "https://other.example",
    "http://garden.example",
    "https://garden.example:8444",
    "https://garden.example.evil.example",
    "https://evilgarden.example",
    "https://GARDEN.example",
    "https://garden.example/",
    "null",
    "*",
    "",
)


@pytest.mark.parametrize("origin", FOREIGN)
def test_no_other_origin_is_let_in_or_repeated(house, origin):
    headers = {"Origin": origin}
    answers = (
        house.client.options(URL, headers={**headers, **ASKS}),
        house.client.get("/v1/crops?limit=1", headers=headers),
        house.send("publishable", "POST", URL, LOOSE, headers=headers),
        house.send("own agent", "GET", URL, headers=headers),
    )
    for answer in answers:
        assert answer.status_code == 403
        assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]


@pytest.mark.parametrize(
    ("method", "address"), [("GET", URL), ("POST", "/v1/keys"), ("DELETE", URL), ("POST", "/v1/calculations/sar")]
)
def test_a_page_is_told_beforehand_what_it_may_not_do(house, method, address):
    headers = {"Origin": PAGE, "Access-Control-Request-Method": method}
    answer = house.client.options(address, headers=headers)
    assert answer.status_code == 403
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_publishable_key_works_nowhere_but_in_its_pages(house):
    shown = {"Authorization": house.headers("publishable")["Authorization"]}
    assert house.client.post(URL, json=LOOSE, headers=shown).status_code == 403


def test_a_secret_key_does_not_work_in_a_page(house):
    answer = house.send("own agent", "POST", URL, LOOSE, headers={"Origin": PAGE})
    assert (answer.status_code, answer.json["type"]) == (403, "/problems/host-not-allowed")


def test_an_origin_goes_with_its_last_key(house):
    origin = {"Origin": "https://passing.example"}
    id = house.key("page", OWN, Wish("page", (), (origin["Origin"],)))  # noqa: A001
    assert house.client.options(URL, headers={**origin, **ASKS}).status_code == 204
    access_keys.revoke(COMMAND_LINE, house.office, id)
    assert house.client.options(URL, headers={**origin, **ASKS}).status_code == 403


def test_a_stranger_with_a_publishable_key_learns_of_no_report_and_replaces_none(house):
    """The key stands in the page for anybody to read; laboratory numbers are easily guessed."""
    first = house.send("own submitter", "POST", URL, LAWN)
    assert first.status_code == 201
    raised = {**LAWN, "sample": {**LAWN["sample"], "revision": 2}}
    for guess in (LAWN, raised, {**raised, "results": LAWN["results"][:2]}):
        answer = house.send("publishable", "POST", URL, guess)
        assert (answer.status_code, answer.json["replaces"]) == (201, None)
        assert answer.json["id"] != first.json["id"]
    assert house.send("own agent", "GET", first.headers["Location"]).json["replaced_by"] is None


def test_the_same_laboratory_number_and_retry_key_belong_to_each_organization(house):
    sent = {**LAWN, "sample": {**LAWN["sample"], "lab_number": "26-77"}}
    callers = ("own submitter", "other submitter", "laboratory", "sandbox")
    retry = {"Idempotency-Key": "the same everywhere"}
    answers = [house.send(who, "POST", URL, sent, headers=retry) for who in callers]
    assert [answer.status_code for answer in answers] == [201] * 4
    assert len({answer.json["id"] for answer in answers}) == 4
    again = house.send("own agent", "POST", URL, sent, headers=retry)
    assert again.json["id"] == answers[0].json["id"]


def test_the_sandbox_counts_for_itself(house):
    numbers = [house.send("sandbox", "POST", URL, LOOSE).json["number"] for _ in range(2)]
    assert numbers[0].startswith("S-")
    assert int(numbers[1][-6:]) == int(numbers[0][-6:]) + 1
    real = house.send("own submitter", "POST", URL, LOOSE).json["number"]
    assert not real.startswith("S-")


def test_with_keys_a_proxy_may_stand_in_front(house):
    headers = {"Host": "soil.example", "X-Forwarded-For": "203.0.113.9", "Via": "1.1 front"}
    assert house.client.get("/v1/crops?limit=1", headers=headers).status_code == 200
    assert house.send("own agent", "GET", URL, headers=headers).status_code == 200
    for page in ("http://soil.example", "https://soil.example"):  # the proxy speaks TLS, we do not
        assert house.send("own agent", "GET", URL, headers={**headers, "Origin": page}).status_code == 200
    for page in ("https://soil.example:8443", "https://soil.example.evil.example", "http://localhost"):
        assert house.send("own agent", "GET", URL, headers={**headers, "Origin": page}).status_code == 403


def test_the_first_key_ends_the_open_mode_of_every_process(app, client):
    office = app.extensions["saltbush"]
    other = create_app(Settings(), office).test_client()
    assert [each.get(URL).status_code for each in (client, other)] == [200, 200]
    assert client.post("/v1/keys", json={"label": "first", "roles": ["administrator"]}).status_code == 403
    assert client.get(URL, headers={"Authorization": "Bearer sb_x_y"}).status_code == 401
    organizations.create(COMMAND_LINE, office, OWN, "county_office", "Juniper County (invented)")
    assert client.get(URL).status_code == 200
    made = access_keys.create(COMMAND_LINE, office, OWN, Wish("first", ("administrator",)))
    assert [each.get(URL).status_code for each in (client, other)] == [401, 401]
    access_keys.revoke(COMMAND_LINE, office, made.key.id)
    assert [each.get(URL).status_code for each in (client, other)] == [401, 401]  # never open again
    assert [client.get(path).status_code for path in ("/healthz", "/readyz", "/docs", "/v1/units")] == [200] * 4


def test_open_mode_answers_this_machine_only(client):
    """A Host header can be invented by whoever reaches the port; the address of the connection cannot."""
    answer = client.get(URL, environ_overrides={"REMOTE_ADDR": "192.0.2.7"})
    assert (answer.status_code, answer.json["type"]) == (403, "/problems/host-not-allowed")
    assert client.get(URL, environ_overrides={"REMOTE_ADDR": "::1"}).status_code == 200


def test_ids_are_taken_once_and_nobody_closes_the_ground_under_their_feet(house):
    form = {"id": "one-more", "kind": "app", "name": "An app (invented)"}
    answers = [house.send("programme administrator", "POST", "/v1/organizations", form) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 409]
    for id in ("local", "all"):  # noqa: A001
        assert house.send("programme administrator", "POST", "/v1/organizations", {**form, "id": id}).status_code == 409
    assert house.send("programme administrator", "POST", "/v1/organizations/state/close").status_code == 409


def test_lists_of_keys_page_through(house):
    found, address = [], "/v1/keys?limit=3"
    while address:
        page = house.send("programme administrator", "GET", address).json
        found += [key["id"] for key in page["items"]]
        address = page["next"] and f"/v1/keys?limit=3&cursor={page['next']}"
    assert len(found) == len(set(found)) >= len(house.shown)


def test_many_requests_at_once_with_a_new_key(house):
    """The first day of use is written by one of them, and keeps none out."""
    id = house.key("crowd", OWN, Wish("crowd", ("agent",)))  # noqa: A001
    headers, statuses = house.headers("crowd"), []

    def ask() -> None:
        statuses.append(house.app.test_client().get(URL, headers=headers).status_code)

    threads = [threading.Thread(target=ask) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert statuses == [200] * 20
    assert house.send("own administrator", "GET", f"/v1/keys/{id}").json["last_used_on"] is not None
