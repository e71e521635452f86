"""Open local mode: only programs on this machine, no page of another origin, no proxy."""

import pytest
from api_cases import LAWN, URL


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8080", "[::1]:8080", "LOCALHOST:1"])
def test_names_of_this_machine_are_served(client, host):
    assert client.get("/healthz", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["juniper-bench.example", "127.0.0.1.example", "10.0.0.1", "[", "", "localhost@evil.example"]
)
def test_other_names_are_refused(client, host):
    """A name of an attacker's that resolves to this machine (DNS rebinding)."""
    answer = client.get("/v1/crops", headers={"Host": host})
    assert answer.status_code in (400, 403)
    assert answer.headers["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("origin", ["https://juniper-bench.example", "null", "http://localhost:9999"])
def test_pages_of_other_origins_are_refused(client, origin):
    answer = client.post(URL, json=LAWN, headers={"Origin": origin})
    assert (answer.status_code, answer.json["type"]) == (403, "/problems/host-not-allowed")
    assert client.get(URL).json["items"] == []
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_own_pages_are_served(client):
    assert client.post(URL, json=LAWN, headers={"Origin": "http://localhost"}).status_code == 201


@pytest.mark.parametrize("name", ["X-Forwarded-For", "Forwarded", "X-Forwarded-Host", "Via"])
def test_forwarded_requests_are_refused(client, name):
    assert client.get("/v1/crops", headers={name: "1.2.3.4"}).status_code == 403


def test_every_answer_forbids_sniffing(client):
    for address in ("/healthz", "/", "/nothing"):
        assert client.get(address).headers["X-Content-Type-Options"] == "nosniff"
