"""Whatever comes in: a specific answer, nothing half kept, never a 5xx, never an exception's own text."""

import json

import pytest
from api_cases import LAWN, URL, with_results
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

PH = {"analyte": "pH", "method": "saturated_paste", "value": 7.8}
JSON = {"content_type": "application/json"}


def kept(client):
    return len(client.get(URL).json["items"])


@pytest.mark.parametrize(
    ("body", "status", "kind"),
    [
        (b"", 400, "malformed-json"),
        (b"not json", 400, "malformed-json"),
        (b'{"results": [', 400, "malformed-json"),
        (b'{"results": [{"value": NaN}]}', 400, "malformed-json"),
        (b'{"results": [{"value": Infinity}]}', 400, "malformed-json"),
        (b'{"a": 1, "a": 2}', 422, "invalid-request"),
        (b"null", 422, "invalid-request"),
        (b"[]", 422, "invalid-request"),
        (b"{}", 422, "invalid-request"),
        (b" " * 2_000_001, 413, "too-large"),
        (b"[" * 1_000_000, 400, "malformed-json"),
        (json.dumps(with_results(*[PH] * 5000)).encode(), 422, "invalid-request"),
    ],
)
def test_body_at_fault(client, body, status, kind):
    answer = client.post(URL, data=body, **JSON)
    assert (answer.status_code, answer.json["type"]) == (status, f"/problems/{kind}")
    assert answer.json["status"] == status
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert kept(client) == 0


def test_ten_megabytes_are_refused_by_their_announced_size(client):
    answer = client.post(URL, data=b"x" * 10_000_000, **JSON)
    assert (answer.status_code, answer.json["type"]) == (413, "/problems/too-large")


@pytest.mark.parametrize("content_type", [None, "text/plain", "application/xml", "multipart/form-data", "text/json"])
def test_other_content_types_are_415(client, content_type):
    answer = client.post(URL, data=json.dumps(LAWN), content_type=content_type)
    assert (answer.status_code, answer.json["type"]) == (415, "/problems/unsupported-media-type")


def test_compressed_bodies_are_415(client):
    answer = client.post(URL, data=b"\x1f\x8b", headers={"Content-Encoding": "gzip"}, **JSON)
    assert answer.status_code == 415


@pytest.mark.parametrize(
    "results",
    [
        [{**PH, "value": 78}],
        [PH, {"analyte": "EC", "method": "saturated_paste_extract", "value": 1380, "unit": "dS/m"}],
        [PH, {"analyte": "P", "method": "olsen", "value": -4, "unit": "mg/kg"}],
        [
            PH,
            *(
                {"analyte": name, "method": "hydrometer", "value": value, "unit": "%"}
                for name, value in (("sand", 70), ("silt", 40), ("clay", 30))
            ),
        ],
        [PH, *({"analyte": "P", "method": "olsen", "value": value, "unit": "mg/kg"} for value in (4, 40))],
    ],
    ids=["pH 78", "EC 1380", "negative P", "sand silt clay 140", "P twice"],
)
def test_figures_that_cannot_be_true_are_interpreted_as_refused_or_partial(client, results):
    """They parse, so they are no error of the request: the answer says which figure it does not believe."""
    answer = client.post(URL, json=with_results(*results))
    assert answer.status_code == 201
    assert answer.json["outcome"] in ("refused", "partial")
    grave = [reason for reason in answer.json["reasons"] if reason["severity"] in ("refuse", "withhold")]
    assert grave
    assert kept(client) == 1


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH"])
def test_other_methods_are_405_and_say_what_is_allowed(client, method):
    answer = client.open(URL, method=method)
    assert (answer.status_code, answer.json["type"]) == (405, "/problems/method-not-allowed")
    assert {"GET", "POST"} <= set(answer.headers["Allow"].split(", "))


def test_unknown_address_is_a_problem_document(client):
    answer = client.get("/v1/nothing")
    assert (answer.status_code, answer.json["type"]) == (404, "/problems/not-found")


def test_our_own_fault_tells_nothing(app, client, monkeypatch):
    """A bug in the core reaches the caller as a bare 500."""
    import service.desk.drafting as desk

    def broken(*_, **__):
        raise ValueError("secret path /etc/x")

    monkeypatch.setattr(desk, "interpret", broken)
    answer = client.post(URL, json=LAWN)
    assert (answer.status_code, answer.json["type"]) == (500, "/problems/internal")
    assert "secret" not in answer.get_data(as_text=True)
    assert kept(client) == 0


def test_a_database_that_is_gone_is_503_with_retry_after(app, client, tmp_path):
    for path in tmp_path.glob("saltbush.db*"):
        path.unlink()
    app.extensions["saltbush"].records.close()
    answer = client.post(URL, json=LAWN)
    assert (answer.status_code, answer.json["type"]) == (503, "/problems/not-ready")
    assert answer.headers["Retry-After"]
    assert client.get("/readyz").status_code == 503
    assert client.get("/healthz").status_code == 200


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=12,
)
PLACES = (
    "sample results target site options earlier results/0 results/0/value results/1/unit target/area sample/depth "
    "site/well site/irrigation_water options/editions site/amended results/0/depth target/condition "
    "site/organic_inputs site/observations sample/place results/3/text"
)
places = st.sampled_from(PLACES.split())


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=places, value=anything)
def test_nothing_makes_it_fail(client, place, value):
    """Any JSON in any place gives 200 or a problem document of the 4xx kind."""
    document = json.loads(json.dumps(LAWN))
    *way, last = place.split("/")
    node = document
    for key in way:
        node = node[int(key)] if isinstance(node, list) else node.setdefault(key, {})
    if isinstance(node, list):
        node[int(last)] = value
    else:
        node[last] = value
    answer = client.post(f"{URL}?store=false", data=json.dumps(document), **JSON)
    assert answer.status_code in (200, 400, 422), answer.get_data(as_text=True)
    if answer.status_code != 200:
        assert answer.json["errors"] or answer.json["detail"]


def test_where_no_parameter_is_known_the_refusal_says_so(client):
    """An unknown parameter never gets "one of" with nothing after it."""
    for address, right in (
        ("/v1/units?moon=full", "no query parameters"),
        ("/v1/interpretations?moon=full", "one of "),
    ):
        answer = client.get(address)
        assert answer.status_code == 422
        (error,) = answer.json["errors"]
        assert error["expected"].startswith(right)
        assert error["expected"].strip() != "one of"
