"""The page that a client opens with a printed address."""

import re
from html import unescape

import pytest
from api_cases import LAWN, URL

SECRET = "0123456789abcdefghjkmnpqrs"


@pytest.fixture
def report(client):
    return client.post(URL, json=LAWN).json


@pytest.fixture
def link(client, report):
    return client.post(f"{URL}/{report['id']}/links", json={}).json


def page(client, link, **query):
    return client.get(link["url"].removeprefix("http://localhost"), query_string=query)


def said(answer):
    return unescape(answer.get_data(as_text=True))


def test_the_lay_part_stands_before_the_figures(client, report, link):
    text = said(page(client, link))
    order = [report["summary"]["verdict"], *report["summary"]["actions"], "Your figures", "saturated paste"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert report["number"] in text


def test_nothing_keeps_or_passes_on_the_address(client, link):
    """RFC 9309 and X-Robots-Tag; Referrer Policy (W3C); Cache-Control: no-store (RFC 9111, 5.2.2.5)."""
    answer = page(client, link)
    assert answer.headers["X-Robots-Tag"].startswith("noindex")
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "script" not in said(answer)
    assert [address for address in re.findall(r'(?:src|href)="([^"]+)"', said(answer)) if "//" in address] == []


def test_the_code_says_the_address(link):
    """ISO/IEC 18004 as another library's encoder draws it: a square symbol in one path."""
    assert link["qr_svg"].startswith("<svg")
    assert link["url"].endswith(link["printed"].rpartition("/")[2].replace("-", ""))


def test_both_languages(client, link):
    assert 'lang="es"' in said(page(client, link, language="es"))
    assert "Sus resultados" in said(page(client, link, language="es")) or "Qué hacer" in said(
        page(client, link, language="es")
    )


def test_a_corrected_report_is_shown_and_said_so(client, report, link):
    changed = {**LAWN, "sample": {**LAWN["sample"], "revision": 2}}
    number = client.post(URL, json=changed).json["number"]
    text = said(page(client, link))
    assert "This report was corrected" in text
    assert number in text


def test_a_void_report_shows_no_figure(client, report, link):
    client.post(f"{URL}/{report['id']}/void", json={"reason": "posted twice"})
    text = said(page(client, link))
    assert "withdrawn" in text
    assert "7.8" not in text
    assert report["summary"]["verdict"] not in text


@pytest.mark.parametrize("token", [SECRET, "x", "%2e%2e", "%00", "%F0%9F%98%80", "a" * 5000, "'--"])
def test_unknown_ended_and_revoked_addresses_look_the_same(client, report, link, token):
    ended = client.delete(f"{URL}/{report['id']}/links/{link['id']}")
    assert ended.status_code == 200
    revoked, unknown = page(client, link), client.get(f"/r/{token}")
    assert (revoked.status_code, revoked.data) == (404, unknown.data)
    assert [*revoked.headers] == [*unknown.headers]


def test_earlier_results_of_the_place_are_told_apart_from_noise(client):
    """ISO 5725-6: two results of one method differ by chance by up to 2.77 standard deviations (0.1 for pH)."""
    for year, value in (("2024", 7.2), ("2025", 7.4), ("2026", 7.9)):
        sample = {"depth": LAWN["sample"]["depth"], "place": {"id": "back"}, "taken_on": f"{year}-04-01"}
        results = [{"analyte": "pH", "method": "saturated_paste", "value": value}, LAWN["results"][-1]]
        report = client.post(URL, json={**LAWN, "sample": sample, "results": results}).json
    text = said(page(client, client.post(f"{URL}/{report['id']}/links", json={}).json))
    assert "7.4 on April 1, 2025, now 7.9" in text
    assert "it has risen" in text
    assert "no real change" in text
