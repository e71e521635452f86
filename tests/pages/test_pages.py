"""The pages: every address answers, in both languages, light, without anything inline or from outside."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog
from service.pages import blueprint
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words

CONTRACT = json.loads((Path(__file__).resolve().parents[2] / "openapi" / "openapi.json").read_text("utf-8"))
GROUPS = tuple(f"/docs/{tag['name']}" for tag in CONTRACT["tags"])
PAGES = ("/", "/docs", *GROUPS, "/docs/shapes", "/docs/shapes/Submission")
ASSETS = ("saltbush.css", "mark.svg", "try.js", "report.js", "axis.js", "dom.js")
MAXIMUM_BYTES = 150_000


class Page(HTMLParser):
    """What a page holds that a browser would act on."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inline_text: list[str] = []
        self._open = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._open = tag

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open in ("script", "style") and data.strip():
            self.inline_text.append(data)


@pytest.fixture(params=[(page, language) for page in PAGES for language in ("en", "es")], ids="-".join)
def html(request: pytest.FixtureRequest, client: FlaskClient) -> str:
    page, language = request.param
    answer = client.get(page, query_string={"language": language})
    assert answer.status_code == 200
    assert answer.mimetype == "text/html"
    text = answer.get_data(as_text=True)
    assert f'<html lang="{language}">' in text
    return text


def test_nothing_is_inline(html: str) -> None:
    """CSP Level 3: with script-src and style-src 'self' inline code, handlers and style attributes do not run."""
    page = Page(html)
    assert page.inline_text == []
    for tag, attributes in page.tags:
        assert tag != "style"
        assert not [name for name in attributes if name.startswith("on") or name == "style"], (tag, attributes)
        assert not str(attributes.get("href", "")).startswith("javascript:")


def test_nothing_loads_from_outside(html: str) -> None:
    for tag, attributes in Page(html).tags:
        if tag in ("script", "link", "img", "iframe", "source"):
            for name in ("src", "href"):
                assert str(attributes.get(name) or "/").startswith("/"), (tag, attributes)


def test_no_text_is_missing(html: str) -> None:
    assert re.findall(r"\[(?:page|demo|word|report)\.[^\]]*\]", html) == []


def test_every_field_has_a_name(html: str) -> None:
    """WCAG 2.2, 4.1.2 and 1.1.1: fields and pictures have names, ids stand once, one main heading."""
    tags = Page(html).tags
    labelled = {attributes.get("for") for tag, attributes in tags if tag == "label"}
    for tag, attributes in tags:
        if tag in ("select", "textarea") or (tag == "input" and attributes.get("type") != "radio"):
            assert attributes.get("id") in labelled or attributes.get("aria-label"), attributes
        if tag == "img":
            assert "alt" in attributes
    ids = [attributes["id"] for _, attributes in tags if attributes.get("id")]
    assert len(ids) == len(set(ids))
    assert sum(tag == "h1" for tag, _ in tags) == 1


def test_links_inside_a_page_lead_somewhere(html: str) -> None:
    tags = Page(html).tags
    ids = {attributes.get("id") for _, attributes in tags}
    for tag, attributes in tags:
        href = attributes.get("href") or ""
        if tag == "a" and href.startswith("#"):
            assert href[1:] in ids


@pytest.mark.parametrize("address", [*PAGES, "/words/en.json", "/demo/01-ordinary-lawn.json", "/assets/try.js"])
def test_policy_stands_on_every_answer(client: FlaskClient, address: str) -> None:
    headers = client.get(address, buffered=True).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("page", PAGES)
def test_a_page_with_all_it_loads_is_light(client: FlaskClient, page: str) -> None:
    loaded = [page, "/assets/saltbush.css", "/assets/mark.svg"]
    if page == "/":
        loaded += [f"/assets/{name}" for name in ASSETS] + ["/words/es.json", "/demo/01-ordinary-lawn.json"]
    total = sum(
        len(client.get(address, query_string={"language": "es"}, buffered=True).data) for address in set(loaded)
    )
    assert total <= MAXIMUM_BYTES, f"{page} loads {total} bytes"


def test_scripts_import_only_what_is_shipped(client: FlaskClient) -> None:
    for name in ASSETS:
        answer = client.get(f"/assets/{name}", buffered=True)
        assert answer.status_code == 200
        text = answer.get_data(as_text=True)
        assert {found.removeprefix("./") for found in re.findall(r'from "([^"]+)"', text)} <= set(ASSETS)
        for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert word not in text, f"{name} builds markup from text"


def test_scripts_say_only_what_the_catalogue_holds(client: FlaskClient) -> None:
    known = client.get("/words/en.json").get_json()
    for name in ASSETS:
        text = client.get(f"/assets/{name}", buffered=True).get_data(as_text=True)
        codes = set(re.findall(r'"((?:page\.try|report)\.[a-z0-9_.]+)"', text))
        assert codes <= set(known), f"{name}: {sorted(codes - set(known))}"


def test_language_is_asked_for_or_taken_from_the_browser(client: FlaskClient) -> None:
    spanish = client.get("/", headers={"Accept-Language": "es-MX,es;q=0.9,en;q=0.5"})
    assert '<html lang="es">' in spanish.get_data(as_text=True)
    assert "Accept-Language" in spanish.headers["Vary"]
    asked = client.get("/?language=en", headers={"Accept-Language": "es"})
    assert '<html lang="en">' in asked.get_data(as_text=True)
    unknown = client.get("/?language=xx", headers={"Accept-Language": "fr"})
    assert '<html lang="en">' in unknown.get_data(as_text=True)


def test_an_unchanged_page_is_not_sent_again(client: FlaskClient) -> None:
    tag = client.get("/").headers["ETag"]
    again = client.get("/", headers={"If-None-Match": tag})
    assert again.status_code == 304
    assert again.data == b""


@pytest.mark.parametrize(
    "address",
    ["/words/xx.json", "/demo/none.json", "/docs/shapes/None", "/docs/none", "/assets/none.js", "/assets/../site.py"],
)
def test_what_is_not_there_is_404(client: FlaskClient, address: str) -> None:
    assert client.get(address).status_code == 404


def test_a_field_for_a_key_stands_only_where_one_is_needed(
    client: FlaskClient, library: Library, catalog: Catalog
) -> None:
    """HTML, section autofill: "off" keeps a value out of the browser's store; one without a name is in no form data."""
    assert "try-key" not in client.get("/").get_data(as_text=True)
    words = Words("en", Catalogue(), library.index(labels)["en"])
    app = Flask(__name__, static_folder=None)
    app.register_blueprint(blueprint(lambda _: words, dict, lambda: library, lambda: catalog, keyed=lambda: True))
    shown = Page(app.test_client().get("/").get_data(as_text=True)).tags
    (field,) = (given for _, given in shown if given.get("id") == "try-key")
    assert field["autocomplete"] == "off"
    assert not {"name", "value"} & set(field)
    script = client.get("/assets/try.js", buffered=True).get_data(as_text=True)
    for store in ("localStorage", "sessionStorage", "indexedDB", "cookie"):
        assert store not in script
