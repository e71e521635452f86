"""What all handlers share: the office, JSON replies with tags, checked bodies, cursors."""

import base64
import hashlib
from typing import Any
from urllib.parse import urlencode

from flask import Response, current_app, request
from werkzeug.exceptions import RequestEntityTooLarge

from service.contract.answer import encoded
from service.contract.fields import Flaw
from service.contract.problem import MEDIA_TYPE, FieldError, Problem, ProblemError, invalid
from service.desk.office import Office

OFFICE = "saltbush"
LARGEST_BODY = 2_000_000
PHRASES: dict[int, str] = {413: "413 Content Too Large", 422: "422 Unprocessable Content"}
"""Where Werkzeug still has the words of RFC 7231 and not of RFC 9110."""


def office() -> Office:
    """The office this application works for."""
    found: Office = current_app.extensions[OFFICE]
    return found


def json_reply(tree: Any, status: int = 200) -> Response:
    """A document that may be kept and asked about again: 304 while it is the same."""
    return tagged(encoded(tree), status)


def tagged(body: bytes, status: int = 200, etag: str | None = None, mimetype: str = "application/json") -> Response:
    """A body with a strong tag; If-None-Match is answered here."""
    response = Response(body, status, mimetype=mimetype)
    response.set_etag(etag or hashlib.sha256(body).hexdigest()[:32])
    response.headers["Cache-Control"] = "no-cache"
    if status == 200 and request.method in ("GET", "HEAD"):
        response.make_conditional(request)
    return response


def problem_reply(problem: Problem) -> Response:
    """A problem document with the headers that belong to it."""
    status = PHRASES.get(problem.status, problem.status)
    response = Response(problem.encoded(), status, mimetype=MEDIA_TYPE)
    response.headers.extend(dict(problem.headers))
    response.headers["Cache-Control"] = "no-store"
    return response


def json_body() -> bytes:
    """The body of a request that says it is JSON. Raises ProblemError 415."""
    if request.mimetype != "application/json":
        sent = f"{request.mimetype[:60]!r}" if request.mimetype else "no Content-Type"
        raise _not_taken(f"The request came with {sent}.")
    charset = request.mimetype_params.get("charset", "utf-8")
    if charset.lower() not in ("utf-8", "utf8"):
        raise _not_taken(f"The request came with charset {charset[:60]!r}.")
    if request.headers.get("Content-Encoding", "identity") != "identity":
        raise _not_taken("The body is compressed.")
    body = request.get_data(cache=False)
    if request.content_length is None and len(body) >= LARGEST_BODY:
        raise RequestEntityTooLarge  # sent in chunks: what is here is only the beginning
    return body


def _not_taken(came: str) -> ProblemError:
    right = "Send Content-Type: application/json, in UTF-8 and uncompressed."
    return ProblemError(Problem("unsupported-media-type", f"{came} {right}"))


def cursor_of(position: object) -> str:
    """An opaque cursor."""
    return base64.urlsafe_b64encode(f"v1:{position}".encode()).decode().rstrip("=")


def position_of(cursor: str) -> str:
    """What a cursor stands for. Raises ProblemError 422."""
    try:
        text = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
    except ValueError:
        text = ""
    if not text.startswith("v1:"):
        raise wrong_cursor()
    return text[3:]


def serial_of(cursor: str) -> int:
    """The serial number that a cursor stands for. Raises ProblemError 422."""
    position = position_of(cursor)
    if not (position.isascii() and position.isdigit() and len(position) < 19):
        raise wrong_cursor()
    return int(position)


def wrong_cursor() -> ProblemError:
    """The refusal of a cursor that no list has handed out."""
    right = "the cursor as the former page gave it"
    return invalid([FieldError("?cursor", "unknown_cursor", "this is no cursor of this list", right)])


def page_reply(items: list[Any], following: str | None) -> Response:
    """One page of a list, with the address of the next one in the Link header too."""
    response = json_reply({"items": items, "next": following})
    if following:
        arguments = {**request.args.to_dict(), "cursor": following}
        response.headers["Link"] = f'<{request.path}?{urlencode(arguments)}>; rel="next"'
    return response


def query_errors(messages: Any) -> list[FieldError]:
    """Faults of query parameters, with ``?name`` for a pointer."""
    found = []
    for name, flaws in dict(messages).items():
        for flaw in flaws if isinstance(flaws, list) else [flaws]:
            known = flaw if isinstance(flaw, Flaw) else Flaw("invalid", str(flaw)[:200], "see the contract")
            if known.code == "unknown_field" and not known.allowed:
                known = known._replace(expected="no query parameters")
            found.append(FieldError(f"?{str(name)[:60]}", *known))
    return found
