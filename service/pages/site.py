"""The blueprint of the pages: home with "try a sample", the API documentation, their words and demo cases."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import orjson
from flask import Blueprint, Response, abort, render_template, request

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog
from service.pages import library as library_pages
from service.pages import materials as materials_page
from service.pages import sampling
from service.pages.agronomy import matrix
from service.pages.contract_view import Group, Shape, operations, shapes
from service.render.words import Words

HERE = Path(__file__).parent
# Nothing from outside, nothing inline: what is not listed here does not load.
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
}
SCRIPT_TEXTS = ("word.", "report.", "page.try.")
# Lists that the script never says: form words, and the crops, whose names it has from /v1/crops.
UNSPOKEN = ("word.crop.", "word.request", "word.symptom", "word.amended.", "word.organic_")
type_of_words = Callable[[str], Words]


def blueprint(
    words: type_of_words,
    openapi: Callable[[], Mapping[str, Any]],
    library: Callable[[], Library],
    catalog: Callable[[], Catalog],
    languages: Sequence[str] = ("en", "es"),
    keyed: Callable[[], bool] = lambda: False,
) -> Blueprint:
    """The pages, to be registered at the root of the application.

    Args:
        words: the words of a language; called once per request.
        openapi: the published contract as a mapping.
        library: the tables in force.
        catalog: all editions of all tables.
        languages: the languages that pages are offered in, the default one first.
        keyed: whether requests need a key; asked for each visit to the home page.
    """
    pages = Blueprint("pages", __name__, template_folder="templates", static_folder="static", static_url_path="/assets")
    cases = _demo_cases()

    @pages.get("/")
    def home() -> Response:
        """What the service is, and a sample to try."""
        origin = request.host_url.rstrip("/")
        return _page("home.html", words, languages, cases=tuple(cases), origin=origin, keyed=keyed())

    @pages.get("/docs")
    def docs() -> Response:
        """Every address of the interface, by group."""
        groups: tuple[Group, ...] = operations(openapi())
        return _page("docs.html", words, languages, groups=groups, info=openapi().get("info", {}))

    @pages.get("/docs/<name>")
    def docs_group(name: str) -> Response:
        """The addresses of one group, each with its parameters, answers and examples."""
        found = next((group for group in operations(openapi()) if group.name == name), None)
        return _page("docs_group.html", words, languages, group=found) if found else abort(404)

    @pages.get("/docs/shapes")
    def docs_shapes() -> Response:
        """The shapes of requests and answers, by name."""
        found: tuple[Shape, ...] = shapes(openapi())
        return _page("shapes.html", words, languages, shapes=found)

    @pages.get("/docs/shapes/<name>")
    def docs_shape(name: str) -> Response:
        """One shape with its fields."""
        found = next((shape for shape in shapes(openapi()) if shape.name == name), None)
        return _page("shape.html", words, languages, shape=found) if found else abort(404)

    @pages.get("/docs/agronomy")
    def docs_agronomy() -> Response:
        """Every equation with its range, sources, functions and tests."""
        return _page("agronomy.html", words, languages, matrix=library().index(matrix))

    @pages.get("/words/<language>.json")
    def script_words(language: str) -> Response:
        """The texts that the page's script needs."""
        if language not in languages:
            abort(404)
        texts = words(language).texts(*SCRIPT_TEXTS)
        spoken = {code: text for code, text in texts.items() if not code.startswith(UNSPOKEN)}
        return _cached(Response(orjson.dumps(spoken), mimetype="application/json"))

    @pages.get("/demo/<name>.json")
    def demo(name: str) -> Response:
        """A submission of the invented county, ready to send."""
        if name not in cases:
            abort(404)
        return _cached(Response(cases[name], mimetype="application/json"))

    library_site = library_pages.Site(
        lambda template, **values: _page(template, words, languages, **values),
        lambda: words(_language(languages)),
        library,
        catalog,
    )
    library_pages.register(pages, library_site)
    materials_page.register(pages, library_site)
    sampling.register(pages, library_site)

    @pages.after_request
    def harden(response: Response) -> Response:
        response.headers.update(HEADERS)
        return response

    return pages


def _demo_cases() -> dict[str, bytes]:
    return {path.stem: path.read_bytes() for path in sorted((HERE / "demo").glob("*.json"))}


def _page(template: str, words: type_of_words, languages: Sequence[str], **values: Any) -> Response:
    language = _language(languages)
    said = words(language)
    said_by = {"t": said.text, "word": said.word, "has": said.has}
    html = render_template(template, **said_by, language=language, languages=languages, here=request.path, **values)
    response = Response(html, mimetype="text/html")
    response.vary.add("Accept-Language")
    return _cached(response)


def _language(languages: Sequence[str]) -> str:
    """The language asked for in the address, else the browser's, else the default."""
    asked = request.args.get("language", "")
    return asked if asked in languages else request.accept_languages.best_match(languages) or languages[0]


def _cached(response: Response) -> Response:
    """May be kept, must be asked about again: answers 304 while nothing changed."""
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response
