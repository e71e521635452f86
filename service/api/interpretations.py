"""``/v1/interpretations``: submit, list, read, print, prove."""

from typing import Any

from flask import Response, request
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import InterpretationsQuery, StoreQuery
from service.api.replies import (
    cursor_of,
    json_body,
    office,
    page_reply,
    serial_of,
    tagged,
)
from service.contract.answer_parts import list_of
from service.contract.answer_schema import HeadingSchema, InterpretationSchema
from service.contract.problem import MEDIA_TYPE, Problem, ProblemError
from service.contract.submission import SubmissionSchema
from service.desk import records
from service.desk.issue import Reply, answer_only, issue
from service.desk.retries import once

ROUTE = "POST /v1/interpretations"
LONGEST_KEY = 255
KEY_HEADER: dict[str, Any] = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "Repeat a request with the same key and body and get the first answer; kept for 48 hours.",
    "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST_KEY},
}
REPLAY_HEADER = {
    "Saltbush-Replay": {
        "description": "recomputed: the same engine gave the same bytes again; stored: engine, tables or sources are "
        "no longer those of then; differs: the same gave other bytes, which is a fault of ours.",
        "schema": {"type": "string", "enum": ["recomputed", "stored", "differs"]},
    }
}
BODY = {"required": True, "content": {"application/json": {"schema": SubmissionSchema}}}

interpretations = Blueprint(
    "interpretations", __name__, url_prefix="/v1/interpretations", description="From a sample to advice."
)


@endpoint(
    interpretations,
    "POST ",
    "interpret",
    InterpretationSchema,
    scope="interpret",
    status=201,
    said="Interpreted and kept.",
    query=StoreQuery,
    takes=[KEY_HEADER],
    also={200: (InterpretationSchema, "Not kept, or the first answer to the same case.")},
    errors=(400, 409, 413, 415, 503),
    requestBody=BODY,
)
def submit(query: dict[str, Any]) -> Response:
    """Interpret one sample for one target."""
    body = json_body()
    if not query["store"]:
        return tagged(answer_only(caller(), body, office()))
    key = idempotency_key()
    if key is None:
        return _reply(issue(caller(), body, office()))
    return _reply(once(caller(), office(), ROUTE, key, body, lambda claim: issue(caller(), body, office(), claim)))


@endpoint(
    interpretations,
    "GET ",
    "listInterpretations",
    list_of(HeadingSchema, "Interpretations"),
    scope="read_reports",
    query=InterpretationsQuery,
)
def listed(query: dict[str, Any]) -> Response:
    """What was issued, newest first."""
    limit = query.pop("limit")
    cursor = query.pop("cursor", None)
    before = serial_of(cursor) if cursor else None
    found = office().records.page(caller().sight, before, limit + 1, query)
    items = [{name: value for name, value in line._asdict().items() if name != "serial"} for line in found[:limit]]
    return page_reply(items, cursor_of(found[limit - 1].serial) if len(found) > limit else None)


@endpoint(interpretations, "GET /<id>", "readInterpretation", InterpretationSchema, scope="read_reports", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One interpretation as it stands today."""
    return tagged(*_shown(records.present(records.find(caller(), office(), id))))


@endpoint(
    interpretations,
    "GET /<id>.txt",
    "readInterpretationAsText",
    {"type": "string"},
    scope="read_reports",
    media_type="text/plain",
    errors=(404,),
)
def read_text(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One interpretation as a text to read or print."""
    body, status, etag = _shown(records.as_text(records.find(caller(), office(), id), office()))
    return tagged(body, status, etag, "text/plain")


@endpoint(
    interpretations,
    "GET /<id>.ics",
    "readInterpretationAsCalendar",
    {"type": "string"},
    scope="read_reports",
    media_type="text/calendar",
    errors=(404,),
)
def read_calendar(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The dates of one interpretation as a calendar file (RFC 5545); those of a replaced one are cancelled."""
    body, status, etag = _shown(records.as_calendar(records.find(caller(), office(), id), office()))
    return tagged(body, status, etag, "text/calendar")


@endpoint(
    interpretations,
    "GET /<id>/replay",
    "replayInterpretation",
    InterpretationSchema,
    scope="read_reports",
    said="The bytes as first issued.",
    headers=REPLAY_HEADER,
    errors=(404,),
)
def replay(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The bytes as first issued, computed anew when the engine is the same."""
    again = records.replay(records.find(caller(), office(), id), office())
    response = tagged(again.body)
    response.headers["Saltbush-Replay"] = again.how
    return response


def _shown(shown: records.Shown) -> tuple[bytes, int, str]:
    return shown.body, 200, shown.etag


def _reply(reply: Reply) -> Response:
    if reply.status >= 400:
        return Response(reply.body, reply.status, mimetype=MEDIA_TYPE)
    response = tagged(reply.body, reply.status)
    response.headers["Location"] = f"/v1/interpretations/{reply.id}"
    return response


def idempotency_key() -> str | None:
    """The Idempotency-Key, with or without the quotes of a structured field."""
    sent = request.headers.get("Idempotency-Key")
    if sent is None:
        return None
    key = sent[1:-1] if len(sent) > 1 and sent[0] == sent[-1] == '"' else sent
    if not 1 <= len(key) <= LONGEST_KEY or not key.isascii() or not key.isprintable():
        detail = f"Idempotency-Key must be 1 to {LONGEST_KEY} printable ASCII characters."
        raise ProblemError(Problem("bad-request", detail))
    return key
