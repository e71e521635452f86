"""What becomes of an issued report: how it stands, voiding it, and notices to poll."""

from typing import Any

import orjson
from flask import Response

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.interpretations import interpretations
from service.api.queries import PageQuery
from service.api.replies import cursor_of, json_body, json_reply, office, page_reply, serial_of
from service.api.trail import trail
from service.contract.answer_parts import list_of
from service.contract.desk_schema import HistorySchema, NoticeSchema, ReasonForm, WhereItStandsSchema
from service.contract.fields import Text
from service.contract.forms import load_form
from service.desk import history as trends
from service.desk import records, voiding
from service.desk import trail as desk

REASON = ReasonForm()


class NoticesQuery(PageQuery):
    """Which notices."""

    kind = Text(longest=40)


@endpoint(
    interpretations,
    "GET /<id>/standing",
    "readStanding",
    WhereItStandsSchema,
    scope="read_reports",
    errors=(404,),
)
def standing(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """How a report stands today: replaced, void, withdrawn, or waiting for what a reviewer asked."""
    return json_reply(records.stands(caller(), office(), id))


@endpoint(
    interpretations,
    "GET /<id>/history",
    "readHistory",
    HistorySchema,
    scope="read_reports",
    errors=(404,),
)
def history(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Results of the same place before: only by the same method at the same depth, with what is mere noise."""
    return json_reply({"items": [trends.shown(line) for line in trends.history(caller(), office(), id)]})


@endpoint(
    interpretations,
    "POST /<id>/void",
    "voidInterpretation",
    WhereItStandsSchema,
    scope="void",
    said="Void; its laboratory number is free again.",
    errors=(400, 404, 409, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": ReasonForm}}},
)
def void(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Mark a report that was posted by mistake as void, for good."""
    voiding.void(caller(), office(), id, load_form(json_body(), REASON)["reason"])
    return json_reply(records.stands(caller(), office(), id))


@endpoint(
    trail,
    "GET /notices",
    "listNotices",
    list_of(NoticeSchema, "Notices"),
    scope="read_reports",
    query=NoticesQuery,
)
def notices(query: dict[str, Any]) -> Response:
    """What the organization has to be told, oldest first; the last cursor asks for what came since."""
    after = serial_of(query["cursor"]) if "cursor" in query else 0
    found = desk.notices(caller(), office(), after, query["limit"], query.get("kind"))
    items = [
        {"id": row.id, "kind": row.kind, "object_id": row.object_id, "at": row.at, "detail": orjson.loads(row.detail)}
        for row in found
    ]
    return page_reply(items, cursor_of(found[-1].serial) if found else None)
