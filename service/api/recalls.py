"""``/v1/recalls``: every report that used a bad value, rule, row or batch; withdrawing and issuing anew."""

from typing import Any

import orjson
from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import PageQuery
from service.api.replies import (
    cursor_of,
    json_body,
    json_reply,
    office,
    page_reply,
    position_of,
    serial_of,
    wrong_cursor,
)
from service.contract.answer_parts import list_of
from service.contract.fields import Text
from service.contract.forms import load_form
from service.contract.recall_schema import (
    CalledSchema,
    RecallForm,
    RecallHeadingSchema,
    RecallSchema,
    RedoneSchema,
    RowSchema,
)
from service.contract.shape import Shape
from service.desk import recalls as desk
from service.store.recalls import Recall

recalls = Blueprint("recalls", __name__, url_prefix="/v1/recalls", description="Calling reports back.")
FORM = RecallForm()


class RowsQuery(Shape):
    """Which rows."""

    table = Text(required=True, longest=80)


@endpoint(
    recalls,
    "POST ",
    "makeRecall",
    RecallSchema,
    scope="recall",
    status=201,
    said="Listed; nothing was withdrawn yet.",
    errors=(400, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": RecallForm}}},
)
def make(_: dict[str, Any]) -> Response:
    """Find every report in sight that meets all criteria; nothing is withdrawn yet."""
    form = load_form(json_body(), FORM)
    first, last = (form[name].isoformat() if name in form else None for name in ("from", "to"))
    criteria = desk.Criteria(
        {kind: form[kind] for kind in desk.WORDS if kind in form},
        (form["table"], form.get("edition")) if "table" in form else None,
        form.get("laboratory"),
        tuple(form.get("lab_numbers", ())),
        first,
        last,
        form.get("county"),
        form.get("value"),
    )
    made = desk.make(caller(), office(), form["reason"], criteria)
    response = json_reply(_shown(made), 201)
    response.headers["Location"] = f"/v1/recalls/{made.recall.id}"
    return response


@endpoint(recalls, "GET ", "listRecalls", list_of(RecallHeadingSchema, "Recalls"), scope="recall", query=PageQuery)
def listed(query: dict[str, Any]) -> Response:
    """Recalls, newest first."""
    limit = query["limit"]
    before = _position(query["cursor"]) if "cursor" in query else None
    found = desk.listed(caller(), office(), before, limit + 1)
    last = found[limit - 1] if len(found) > limit else None
    return page_reply([_heading(one) for one in found[:limit]], cursor_of(f"{last.at}|{last.id}") if last else None)


@endpoint(recalls, "GET /rows", "listRecallRows", list_of(RowSchema, "RecallRows"), scope="recall", query=RowsQuery)
def rows(query: dict[str, Any]) -> Response:
    """Rows of a table that kept reports rest on, as a recall takes them."""
    with office().records.reading() as reading:
        found = reading.recalls.words(f"row:{query['table']}@")
    return page_reply([{"row": word.removeprefix("row:")} for word in sorted(found)], None)


@endpoint(recalls, "GET /<id>", "readRecall", RecallSchema, scope="recall", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One recall and where its reports stand."""
    return json_reply(_shown(desk.find(caller(), office(), id)))


@endpoint(
    recalls,
    "GET /<id>/items",
    "listRecalled",
    list_of(CalledSchema, "Recalled"),
    scope="recall",
    query=PageQuery,
    errors=(404,),
)
def items(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Reports of a recall, oldest first."""
    limit, after = query["limit"], serial_of(query["cursor"]) if "cursor" in query else 0
    found = desk.items(caller(), office(), id, after, limit + 1)
    hidden = ("serial", "laboratory_organization")
    shown = [{name: value for name, value in one._asdict().items() if name not in hidden} for one in found[:limit]]
    return page_reply(shown, cursor_of(found[limit - 1].serial) if len(found) > limit else None)


@endpoint(recalls, "POST /<id>/hold", "holdRecalled", RecallSchema, scope="recall", errors=(404,))
def hold(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Withdraw every listed report that still stands; whose it is, is told."""
    return json_reply(_shown(desk.hold(caller(), office(), id)))


@endpoint(recalls, "POST /<id>/lift", "liftRecall", RecallSchema, scope="recall", errors=(404,))
def lift(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Let withdrawn reports stand again as they are."""
    return json_reply(_shown(desk.lift(caller(), office(), id)))


@endpoint(recalls, "POST /<id>/reissue", "reissueRecalled", RedoneSchema, scope="recall", errors=(404,))
def reissue(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Interpret withdrawn reports anew with the tables of today, up to 200 at a time; each new one replaces its own."""
    return json_reply(desk.reissue(caller(), office(), id)._asdict())


def _heading(one: Recall) -> dict[str, Any]:
    return {**one._asdict(), "criteria": orjson.loads(one.criteria)}


def _shown(found: desk.Shown) -> dict[str, Any]:
    names = ("organization", "outcome", "state", "reports")
    return {**_heading(found.recall), "counts": [dict(zip(names, row, strict=True)) for row in found.counts]}


def _position(cursor: str) -> tuple[str, str]:
    at, _, id = position_of(cursor).partition("|")  # noqa: A001
    if not at or not id:
        raise wrong_cursor()
    return at, id
