"""``/v1/trail``: what was done in an organization, row by row, and an export that anybody can prove."""

from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import PageQuery, QueryFlag, QueryWhole
from service.api.replies import cursor_of, office, page_reply, position_of, wrong_cursor
from service.contract.answer_parts import Answered, list_of, string, whole
from service.contract.fields import Text
from service.contract.shape import Shape
from service.desk import trail as desk

NDJSON = "application/x-ndjson"
LATEST = 2**31 - 1

trail = Blueprint("trail", __name__, url_prefix="/v1", description="The chained record of everything written.")


class EntrySchema(Answered):
    """One row of the trail; ``hash`` is over all its other members, as DEVELOPERS.md has it."""

    organization = string()
    sequence = whole()
    at = string(format="date-time")
    actor = string(description="The id of a key, or local, command_line, a job.")
    action = string(examples=["interpretation.issued"])
    object_kind = string()
    object_id = string()
    content_sha256 = string(description="Of the bytes written, where there are any.")
    detail = string(description="A JSON object as text, as it was hashed.")
    previous = string(description="The hash of the row before; of the first row 64 zeros.")
    hash = string()


WHOSE = {"description": "Whose trail; only the programme may name another than its own."}


class TrailQuery(PageQuery):
    """Whose rows."""

    organization = Text(longest=64, metadata=WHOSE)


class ExportQuery(Shape):
    """What an export holds."""

    organization = Text(longest=64, metadata=WHOSE)

    answers = QueryFlag(
        load_default=False,
        metadata={"description": "true puts behind each row the answer that it issued.", "default": False},
    )
    after = QueryWhole(
        low=0,
        high=LATEST,
        load_default=0,
        metadata={"description": "Only rows behind this sequence number.", "default": 0},
    )


@endpoint(trail, "GET /trail", "listTrail", list_of(EntrySchema, "Trail"), scope=desk.SCOPE, query=TrailQuery)
def listed(query: dict[str, Any]) -> Response:
    """Rows of one organization, oldest first."""
    limit, after = query["limit"], _sequence(query["cursor"]) if "cursor" in query else 0
    found = desk.page(caller(), office(), after, limit + 1, query.get("organization"))
    items = [entry._asdict() for entry in found[:limit]]
    return page_reply(items, cursor_of(found[limit - 1].sequence) if len(found) > limit else None)


@endpoint(
    trail,
    "GET /trail.ndjson",
    "exportTrail",
    {"type": "string"},
    scope=desk.SCOPE,
    query=ExportQuery,
    said="Rows as lines of canonical JSON; the last line is the head of the chain.",
    media_type=NDJSON,
)
def exported(query: dict[str, Any]) -> Response:
    """The whole chain of one organization, to be proved elsewhere."""
    lines = desk.export(caller(), office(), query["answers"], query["after"], query.get("organization"))
    response = Response(lines, mimetype=NDJSON)
    response.headers["Cache-Control"] = "no-store"
    response.headers["Content-Disposition"] = 'attachment; filename="trail.ndjson"'
    return response


def _sequence(cursor: str) -> int:
    text = position_of(cursor)
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise wrong_cursor()
    return int(text)
