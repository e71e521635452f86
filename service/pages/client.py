"""``/r/<token>``: a client's own report, opened with the address that the office printed. No account, no script."""

from collections.abc import Callable
from typing import Any, NamedTuple

from flask import Blueprint, Response, render_template, request

from service.desk.links import Opened
from service.render.lay import sheet, trend
from service.render.words import Words

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
}
"""The address is the key to the report: no search engine, no other site, no shared computer is to keep it."""
LANGUAGES = ("en", "es")


class Access(NamedTuple):
    """What the page needs of the house: opening an address, and words (for the day of a report where there is one)."""

    opened: Callable[[str, str | None], Opened | None]
    words: Callable[[str], Words]


def blueprint(access: Access) -> Blueprint:
    """The page, to be registered at the root of the application."""
    client = Blueprint("client", __name__, template_folder="templates")

    @client.get("/r/<token>")
    def report(token: str) -> Response:
        """The report that stands today; the same page of nothing for an unknown, ended and revoked address."""
        asked = request.args.get("language", "")
        found = access.opened(token, asked if asked in LANGUAGES else None)
        if found is None:
            return _page(access.words(_browser()), 404, {"sheet": None, "state": "unknown"})
        language = asked if asked in LANGUAGES else found.language
        words = access.words(language)
        if found.answer is None:
            state = "voided" if found.record.voided else "recalled"
            return _page(words, 200, {"sheet": None, "state": state, "number": found.record.number})
        told = {"sheet": sheet(found.answer, words), "trend": trend(found.history, words), "former": found.former}
        return _page(words, 200, {**told, "state": "stands"}, found.answer["language"])

    report.scope = "open_link"  # type: ignore[attr-defined]
    return client


def _browser() -> str:
    return request.accept_languages.best_match(LANGUAGES) or LANGUAGES[0]


def _page(words: Words, status: int, values: dict[str, Any], spoken: str | None = None) -> Response:
    said = {"t": words.text, "language": words.language, "languages": LANGUAGES, "spoken": spoken or words.language}
    html = render_template("client.html", **said, **values)
    response = Response(html, status, mimetype="text/html")
    response.headers.update(HEADERS)
    return response
