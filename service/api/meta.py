"""The service about itself: alive, ready, its contract, its kinds of problems."""

from typing import Any

from flask import Response, current_app
from flask_smorest import Blueprint

from service.api.endpoint import endpoint
from service.api.replies import json_reply, office
from service.contract.meta_schema import KindSchema, ReadySchema, StatusSchema
from service.contract.problem import KINDS, Problem, ProblemError

CONTRACT = "saltbush-contract"

meta = Blueprint("meta", __name__, description="The service about itself.")


@endpoint(meta, "GET /healthz", "alive", StatusSchema, scope="about")
def alive(_: dict[str, Any]) -> Response:
    """Whether the process answers; nothing else is looked at."""
    return json_reply({"status": "alive"})


@endpoint(meta, "GET /readyz", "ready", ReadySchema, errors=(503,), scope="about")
def ready(_: dict[str, Any]) -> Response:
    """Whether the database answers and has the shape this version needs."""
    if not office().records.ready():
        raise ProblemError(Problem("not-ready", "The database is missing or was made by another version."))
    return json_reply({"status": "ready", "engine": office().engine})


@endpoint(meta, "GET /v1/openapi.json", "contract", {"type": "object"}, scope="about")
def openapi(_: dict[str, Any]) -> Response:
    """This contract."""
    return json_reply(current_app.extensions[CONTRACT])


@endpoint(meta, "GET /problems/<kind>", "explainProblem", KindSchema, errors=(404,), scope="about")
def explain(_: dict[str, Any], kind: str) -> Response:
    """What a type of problem means and what to do about it."""
    if kind not in KINDS:
        raise ProblemError(Problem("not-found", "There is no such kind of problem."))
    status, title, remedy = KINDS[kind]
    return json_reply({"type": f"/problems/{kind}", "title": title, "status": status, "remedy": remedy})
