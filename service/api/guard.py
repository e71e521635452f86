"""The door, before anybody is asked for a key.

In open local mode nobody has a key, so only programs on this machine may talk to the service. A web page elsewhere
could make a visitor's browser send requests here (a foreign Origin, or a name that resolves to this machine), and a
proxy could bring in strangers: all are refused. Once there are keys, Host and proxies are the deployment's affair, and
a page of another origin is served only where a publishable key is bound to it (CORS, fetch.spec.whatwg.org).
"""

from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, g, request
from werkzeug.exceptions import HTTPException

from service.api import access
from service.api.replies import LARGEST_BODY, office
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.signs import hidden_sign, sign_error
from service.desk.admission import keyed, origins
from service.desk.rights import PUBLISHABLE
from service.settings import LOOPBACK

FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Via")
SHARED = PUBLISHABLE | {"read_library"}
"""Scopes whose routes a page of a registered origin may use: submitting, and the lists that its form needs."""

PREFLIGHT = {
    "Access-Control-Allow-Methods": "GET, POST",
    "Access-Control-Allow-Headers": "Authorization, Content-Type, Idempotency-Key, If-None-Match",
    "Access-Control-Max-Age": "600",
}
EXPOSED = "ETag, Link, Location, Retry-After, WWW-Authenticate"


def register(app: Flask) -> None:
    """Check every request before it is routed to a handler."""
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    app.before_request(refuse_strangers)
    app.before_request(answer_preflight)
    access.register(app)
    app.before_request(refuse_odd_queries)
    app.after_request(share)
    app.after_request(harden)


def refuse_strangers() -> None:
    """Raises ProblemError 403 for a foreign origin and, while there is no key, for whatever is not of this machine."""
    if request.path == "/healthz":  # says nothing, and must say it also when the database is gone
        return
    strange = _strange()
    origin = _foreign_origin()
    if strange is None and origin is None:
        return
    if not keyed(office()):
        raise _refused(strange or "The request comes from a page of another origin.")
    if origin is not None and not _ours_behind_tls(origin):
        if origin not in origins(office()):
            raise _refused("The request comes from a page of another origin, to which no key is bound.")
        g.origin = origin


def _strange() -> str | None:
    if _name(f"//{request.host}") not in LOOPBACK:
        return "The Host header does not name this machine."
    if any(name in request.headers for name in FORWARDED):
        return "The request was forwarded; open local mode takes none."
    if request.remote_addr and not _of_this_machine(request.remote_addr):
        return "The request comes from another machine; open local mode takes none."
    return None


def _foreign_origin() -> str | None:
    """The origin of the page that sends the request, where it is not our own."""
    origin = request.headers.get("Origin")
    if origin is None or origin == request.host_url.rstrip("/"):
        return None
    return origin


def _ours_behind_tls(origin: str) -> bool:
    """Whether a page is ours as its browser sees it, with a proxy that speaks TLS in front.

    Nothing here rests on what a browser sends of itself (no cookies), so that the same host is enough.
    """
    return origin == f"https://{request.host}"


def answer_preflight() -> Response | None:
    """The answer to a browser that asks beforehand whether its page may send a request."""
    wanted = request.headers.get("Access-Control-Request-Method")
    if request.method != "OPTIONS" or wanted is None or not g.get("origin"):
        return None
    if not _shared(wanted):
        raise _refused("Pages of other origins may not use this address so.")
    return Response(status=204, headers=PREFLIGHT)


def share(response: Response) -> Response:
    """Let a page of a registered origin read the answer; never with credentials of the browser's own."""
    asked = request.headers.get("Access-Control-Request-Method", "") if request.method == "OPTIONS" else request.method
    if not _shared(asked):
        return response
    response.vary.add("Origin")
    if g.get("origin"):
        response.headers["Access-Control-Allow-Origin"] = g.origin
        response.headers["Access-Control-Expose-Headers"] = EXPOSED
    return response


def _shared(method: str) -> bool:
    """Whether a page of a registered origin may send this method to this address."""
    if not request.path.startswith("/v1/"):
        return False
    try:
        endpoint, _ = current_app.create_url_adapter(request).match(method=method)  # type: ignore[union-attr]
    except HTTPException:
        return False
    return access.scope_of(current_app, endpoint) in SHARED


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


def _of_this_machine(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def _refused(detail: str) -> ProblemError:
    return ProblemError(Problem("host-not-allowed", detail))
