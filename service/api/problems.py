"""Every failure leaves as a problem document; no exception's own text ever does."""

import logging
from http import HTTPStatus
from typing import Any

import orjson
from flask import Flask, Response, request
from flask_smorest import Api
from werkzeug.exceptions import HTTPException

from service.agronomy.calculations import CALCULATIONS
from service.api.replies import problem_reply, query_errors
from service.contract.problem import MEDIA_TYPE, Problem, ProblemError, invalid
from service.contract.problem_schema import ProblemSchema
from service.store.store import StoreBusyError, StoreUnavailableError

CALCULATION = "/v1/calculations/"
LOG = logging.getLogger(__name__)
BY_STATUS = {
    400: ("bad-request", "The request cannot be read."),
    404: ("not-found", "There is nothing at this address."),
    405: ("method-not-allowed", "This address does not take this method."),
    413: ("too-large", "The body is larger than 2 MB."),
    415: ("unsupported-media-type", "This address takes application/json."),
    429: ("too-many-requests", "Too many requests in a short time."),
    500: ("internal", "Something went wrong on our side."),
    503: ("not-ready", "The service cannot answer at the moment."),
}


class ProblemApi(Api):  # type: ignore[misc]
    """flask-smorest's Api, speaking RFC 9457."""

    ERROR_SCHEMA = ProblemSchema

    def handle_http_exception(self, error: HTTPException) -> Any:
        """Replace flask-smorest's own error body."""
        return http_problem(error)


def register(app: Flask) -> None:
    """Hand every exception of the application to this module."""
    app.register_error_handler(ProblemError, lambda error: problem_reply(error.problem))
    app.register_error_handler(StoreUnavailableError, unavailable)
    app.register_error_handler(HTTPException, http_problem)
    app.register_error_handler(Exception, unexpected)


def http_problem(error: HTTPException) -> Any:
    """An error of the framework as a problem document; redirects pass."""
    code = error.code or 500
    if code < 400 or error.response is not None:
        return error
    messages = getattr(error, "data", {}).get("messages", {})
    if "query" in messages:
        return problem_reply(invalid(query_errors(messages["query"])).problem)
    if code not in BY_STATUS:
        return _plain(code)
    methods = ", ".join(sorted(getattr(error, "valid_methods", None) or ()))
    response = problem_reply(_of_framework(code, methods))
    if methods:
        response.headers["Allow"] = methods
    if getattr(error, "retry_after", None):
        response.headers["Retry-After"] = str(error.retry_after)  # type: ignore[attr-defined]
    return response


def _of_framework(code: int, methods: str) -> Problem:
    kind, detail = BY_STATUS[code]
    if code == 405 and methods:
        return Problem(kind, f"{detail[:-1]}; it takes {methods}.")
    if code == 404 and request.path.startswith(CALCULATION):
        name, names = request.path.removeprefix(CALCULATION), sorted(CALCULATIONS)
        detail = f"There is no calculation {name[:60]!r}; there are {', '.join(names)}."
        return Problem(kind, detail, extra={"allowed": names})
    return Problem(kind, detail)


def unavailable(error: Exception) -> Response:
    """The database is busy, or cannot be used at all; nothing was written."""
    LOG.error("the database is not available", exc_info=error)
    if isinstance(error, StoreBusyError):
        return problem_reply(Problem("busy", "The database is busy; nothing was kept.", headers={"Retry-After": "5"}))
    detail = "The database cannot be reached, is full or has not been set up; nothing was kept."
    return problem_reply(Problem("not-ready", detail, headers={"Retry-After": "60"}))


def unexpected(_: Exception) -> Response:
    """A fault of ours: into the log with everything, to the caller with nothing."""
    LOG.exception("unexpected error")
    return problem_reply(Problem(*BY_STATUS[500]))


def _plain(code: int) -> Response:
    title = HTTPStatus(code).phrase if code in set(HTTPStatus) else "Error"
    body = orjson.dumps({"type": "about:blank", "title": title, "status": code, "detail": title})
    return Response(body, code, mimetype=MEDIA_TYPE)
