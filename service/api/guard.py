"""The door in open local mode: nobody has a key, so only programs on this machine may talk to the service.

A web page elsewhere could make a visitor's browser send requests here (a foreign Origin, or a name that resolves to
this machine), and a proxy could bring in strangers: all three are refused.
"""

from urllib.parse import urlsplit

from flask import Flask, Response, request

from service.api.replies import LARGEST_BODY
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.signs import hidden_sign, sign_error
from service.settings import LOOPBACK

FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Via")


def register(app: Flask) -> None:
    """Check every request before it is routed to a handler."""
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    app.before_request(refuse_strangers)
    app.before_request(refuse_odd_queries)
    app.after_request(harden)


def refuse_strangers() -> None:
    """Raises ProblemError 403 for a foreign Host, Origin or a forwarded request."""
    if _name(f"//{request.host}") not in LOOPBACK:
        raise _refused("The Host header does not name this machine.")
    origin = request.headers.get("Origin")
    if origin is not None and origin != request.host_url.rstrip("/"):
        raise _refused("The request comes from a page of another origin.")
    if any(name in request.headers for name in FORWARDED):
        raise _refused("The request was forwarded; open local mode takes none.")


def refuse_odd_queries() -> None:
    """Raises ProblemError 422 for a parameter given twice, of which one would silently win, or with a hidden sign."""
    if not request.query_string or not request.path.startswith("/v1/"):
        return
    found = []
    for name, values in request.args.lists():
        pointer = f"?{name[:60]}"
        if len(values) > 1:
            wrong = f"the parameter {name[:60]!r} was given {len(values)} times"
            found.append(FieldError(pointer, "repeated_key", wrong, "each parameter once"))
        sign = hidden_sign("".join((name, *values)))
        if sign is not None:
            found.append(sign_error(pointer, sign))
    if found:
        raise invalid(found)


def harden(response: Response) -> Response:
    """Headers for every answer."""
    response.headers["Server"] = "saltbush"
    response.headers.setdefault("X-Content-Type-Options", "nosniff")
    response.headers.setdefault("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
    return response


def _name(address: str) -> str | None:
    try:
        return urlsplit(address).hostname
    except ValueError:
        return None


def _refused(detail: str) -> ProblemError:
    return ProblemError(Problem("host-not-allowed", detail))
