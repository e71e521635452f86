"""``/v1/release-classes``: what goes out unread, and the stop switch."""

from typing import Any

import orjson
from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.replies import json_body, json_reply, office, page_reply
from service.contract.answer_parts import list_of
from service.contract.fields import Text
from service.contract.forms import load_form
from service.contract.review_schema import ReleaseClassSchema, RereadForm, SwitchForm, WishSchema
from service.contract.shape import Shape
from service.desk import switching as desk
from service.store.classes import Change

release_classes = Blueprint(
    "release_classes", __name__, url_prefix="/v1/release-classes", description="What goes out unread."
)
SWITCH, REREAD = SwitchForm(), RereadForm()
ERRORS = (400, 404, 409, 413, 415)


class ClassesQuery(Shape):
    """Whose classes."""

    organization = Text(longest=64, metadata={"description": "One's own if not given."})


def _body(shape: type[Shape]) -> dict[str, Any]:
    return {"required": True, "content": {"application/json": {"schema": shape}}}


@endpoint(
    release_classes,
    "GET ",
    "listReleaseClasses",
    list_of(ReleaseClassSchema, "ReleaseClasses"),
    scope="statistics",
    query=ClassesQuery,
)
def listed(query: dict[str, Any]) -> Response:
    """Every class of an office with its agreement so far, and the switch for all."""
    return page_reply([_class(found) for found in desk.listed(caller(), office(), query.get("organization"))], None)


@endpoint(release_classes, "GET /<id>", "readReleaseClass", ReleaseClassSchema, scope="statistics", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One class."""
    return _now(id)


@endpoint(
    release_classes,
    "POST /<id>/pause",
    "pauseReleaseClass",
    ReleaseClassSchema,
    scope="switch_classes",
    said="Stopped from the next request on.",
    errors=ERRORS,
    requestBody=_body(SwitchForm),
)
def pause(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Stop a class, or with the id ``all`` everything."""
    desk.switch(caller(), office(), id, "paused", load_form(json_body(), SWITCH)["reason"])
    return _now(id)


@endpoint(
    release_classes,
    "POST /<id>/resume",
    "resumeReleaseClass",
    ReleaseClassSchema,
    scope="switch_classes",
    said="A class comes back in the shadow; all is lifted.",
    errors=ERRORS,
    requestBody=_body(SwitchForm),
)
def resume(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Lift a stop."""
    desk.resume(caller(), office(), id, load_form(json_body(), SWITCH)["reason"])
    return _now(id)


@endpoint(
    release_classes,
    "POST /<id>/shadow",
    "shadowReleaseClass",
    ReleaseClassSchema,
    scope="switch_classes",
    errors=ERRORS,
    requestBody=_body(SwitchForm),
)
def shadow(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Bring every report of a class to a person again, and go on counting agreement."""
    desk.switch(caller(), office(), id, "shadow", load_form(json_body(), SWITCH)["reason"])
    return _now(id)


@endpoint(
    release_classes,
    "POST /<id>/reread",
    "setRereading",
    ReleaseClassSchema,
    scope="switch_classes",
    errors=ERRORS,
    requestBody=_body(RereadForm),
)
def reread(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Set the share of unread reports that is drawn for re-reading."""
    form = load_form(json_body(), REREAD)
    desk.reread(caller(), office(), id, form["share_pct"], form["reason"])
    return _now(id)


@endpoint(
    release_classes,
    "POST /<id>/wishes",
    "wishRelease",
    WishSchema,
    scope="approve_class",
    status=201,
    said="Asked for; somebody else approves it, or the same person a day later.",
    errors=ERRORS,
    requestBody=_body(SwitchForm),
)
def wish(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Ask that a class goes out unread."""
    return json_reply(_wish(desk.wish(caller(), office(), id, load_form(json_body(), SWITCH)["reason"])), 201)


@endpoint(
    release_classes,
    "POST /<id>/wishes/<wish_id>/approve",
    "approveRelease",
    ReleaseClassSchema,
    scope="approve_class",
    said="The class goes out unread from the next request on.",
    errors=(404, 409),
)
def approve(_: dict[str, Any], id: str, wish_id: str) -> Response:  # noqa: A002
    """Approve a wish as a second person."""
    desk.approve(caller(), office(), id, wish_id)
    return _now(id)


def _now(id: str) -> Response:  # noqa: A002
    return json_reply(_class(desk.one(caller(), office(), id)))


def _class(shown: desk.Shown) -> dict[str, Any]:
    counted = shown.agreement
    agreement = {
        "decided": counted.decided,
        "agreed": counted.agreed,
        "serious": counted.serious,
        "cases_wanted": desk.CASES_WANTED,
    }
    return {
        **shown.switch._asdict(),
        "signed_until": shown.signed_until,
        "agreement": {**agreement, "error_upper_95": shown.error_upper_95},
        "wishes": [_wish(change) for change in shown.wishes],
    }


def _wish(change: Change) -> dict[str, Any]:
    hidden = ("approved_by", "decided_at", "basis")
    tree = {name: value for name, value in change._asdict().items() if name not in hidden}
    return {**tree, "basis": orjson.loads(change.basis)}
