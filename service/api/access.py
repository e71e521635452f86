"""Who is asking: the key of a request, and whether it holds what the route demands.

Every route names its scope; one that names none is refused to everybody but open local mode, and a test finds it.
"""

from flask import Flask, current_app, g, request

from service.api.replies import office
from service.contract.problem import Problem, ProblemError
from service.desk.admission import Refused, admit, keyed
from service.desk.callers import ANYONE, OPEN_CALLER, Caller
from service.desk.rights import OPEN_SCOPES, demand

REALM = 'Bearer realm="saltbush"'
PAGES = "pages."
"""Endpoints of the pages for people; they show the library and the documentation."""


def register(app: Flask) -> None:
    """Admit or refuse every request before it is handled."""
    app.before_request(let_in)


def caller() -> Caller:
    """Who asks this request."""
    found: Caller = g.caller
    return found


def scope_of(app: Flask, endpoint: str) -> str:
    """The scope that a route demands; blank where it names none."""
    if endpoint.startswith(PAGES):
        return "read_library"
    return str(getattr(app.view_functions[endpoint], "scope", ""))


def let_in() -> None:
    """Raises ProblemError 401 without a live key, 403 where it does not reach."""
    g.caller = ANYONE
    if request.endpoint is None or request.method == "OPTIONS":
        return
    scope = scope_of(current_app, request.endpoint)
    if scope in OPEN_SCOPES:
        return
    g.caller = _caller()
    demand(g.caller, scope)


def _caller() -> Caller:
    header = request.headers.get("Authorization")
    if header is None:
        if not keyed(office()):
            return OPEN_CALLER
        raise _unauthorized("A key is needed: Authorization: Bearer sb_…", REALM)
    scheme, _, shown = header.partition(" ")
    if scheme.lower() != "bearer":
        raise _unauthorized("Authorization must be of the scheme Bearer.", REALM)
    found = admit(office(), shown.strip())
    if isinstance(found, Refused):
        raise _unauthorized(found.why, f'{REALM}, error="invalid_token", error_description="{found.why}"')
    _mind_origin(found.caller, found.origins)
    return found.caller


def _mind_origin(who: Caller, origins: tuple[str, ...]) -> None:
    """A publishable key works from its pages only, a secret one from no foreign page. Raises ProblemError 403."""
    if who.publishable and request.headers.get("Origin") not in origins:
        raise ProblemError(Problem("host-not-allowed", "This key works only from the pages that it is bound to."))
    if not who.publishable and g.get("origin"):
        raise ProblemError(Problem("host-not-allowed", "A secret key does not belong in a web page."))


def _unauthorized(detail: str, challenge: str) -> ProblemError:
    return ProblemError(Problem("unauthorized", detail, headers={"WWW-Authenticate": challenge}))
