"""One decorator that states an endpoint's whole contract: address, parameters, answer, errors."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import marshmallow as ma
from flask_smorest import Blueprint

from service.api.queries import NoQuery
from service.contract.problem import MEDIA_TYPE
from service.contract.problem_schema import ProblemSchema

Handler = TypeVar("Handler", bound=Callable[..., Any])
type_of_shape = type[ma.Schema] | Mapping[str, Any]

HEADERS = "x-header-parameters"
"""Where header parameters wait until the contract is finished; flask-smorest would put them in the query's place."""

SCOPE = "x-scope"
"""Where the scope waits until the contract is finished."""

SAID = {
    200: "Done.",
    304: "Not modified since the ETag that was sent.",
    400: "The request cannot be read.",
    401: "A key is needed, or the one that was shown does not work.",
    403: "The key does not hold the scope, or the request comes from elsewhere.",
    404: "There is no such thing.",
    409: "It contradicts what was kept before, or the first request with this key still runs.",
    412: "It was changed since the ETag in If-Match.",
    413: "The body is too large.",
    415: "The body is not application/json.",
    422: "Fields are at fault; each is named with what would be right.",
    428: "If-Match is missing.",
    503: "The database is busy (type busy) or cannot be used (type not-ready); nothing was kept.",
}


def endpoint(
    blueprint: Blueprint,
    route: str,
    name: str,
    answer: type_of_shape,
    *,
    scope: str,
    status: int = 200,
    said: str = "",
    query: type[ma.Schema] = NoQuery,
    media_type: str = "application/json",
    headers: Mapping[str, Any] | None = None,
    takes: Sequence[Mapping[str, Any]] = (),
    also: Mapping[int, tuple[type[ma.Schema], str]] | None = None,
    errors: tuple[int, ...] = (),
    **documented: Any,
) -> Callable[[Handler], Handler]:
    """Register a handler.

    Args:
        blueprint: where it belongs.
        route: method and path, ``GET /crops/<crop>``.
        name: operation id, unique in the contract.
        answer: shape of the answer with ``status``; ``said`` describes it.
        scope: what a caller must hold, a row of service/desk/rights.py.
        query: the parameters it takes; the handler gets them as a dict, first.
        takes: header parameters, as OpenAPI describes them.
        also: further successes by status: shape and description.
        errors: statuses of problem documents beside 422.
        documented: further members of the OpenAPI operation.
    """
    method, _, path = route.partition(" ")
    answers = blueprint.response(
        status, answer, content_type=media_type, description=said or SAID[200], headers=headers
    )
    failures = [
        blueprint.alt_response(code, schema=ProblemSchema, content_type=MEDIA_TYPE, description=SAID[code])
        for code in errors
    ]
    further = [
        blueprint.alt_response(code, schema=schema, description=words, success=True)
        for code, (schema, words) in (also or {}).items()
    ]
    decorators = [
        blueprint.route(path, methods=[method]),
        blueprint.doc(operationId=name, **{SCOPE: scope}, **{HEADERS: list(takes)} if takes else {}, **documented),
        blueprint.arguments(query(), location="query", unknown=ma.RAISE),
        answers,
        *further,
        *failures,
    ]

    def decorate(handler: Handler) -> Handler:
        decorated: Any = handler
        decorated.scope = scope
        for decorator in reversed(decorators):
            decorated = decorator(decorated)
        return handler

    return decorate
