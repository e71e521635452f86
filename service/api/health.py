"""Whether the process lives and whether it can do its work."""

from flask import Blueprint, Response

from service.api.replies import json_reply, office
from service.contract.problem import Problem, ProblemError

health = Blueprint("health", __name__)


@health.get("/healthz")
def alive() -> Response:
    """The process answers; nothing else is looked at."""
    return json_reply({"status": "alive"})


@health.get("/readyz")
def ready() -> Response:
    """The database answers and has the shape this version needs."""
    if not office().records.ready():
        raise ProblemError(Problem("not-ready", "The database is missing or was made by another version."))
    return json_reply({"status": "ready", "engine": office().engine})
