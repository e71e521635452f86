"""``/v1/keys``: keys of an organization. The whole key is in the answer that makes it, and nowhere else."""

from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import PageQuery
from service.api.replies import cursor_of, json_body, json_reply, office, page_reply, position_of, wrong_cursor
from service.contract.access_schema import KeyForm, KeySchema, NewKeySchema, RotationForm
from service.contract.answer_parts import list_of
from service.contract.forms import load_form
from service.desk import access_keys as desk
from service.store.keys import Key

keys = Blueprint("keys", __name__, url_prefix="/v1/keys", description="Who may come in, for how long, to do what.")
FORM, ROTATION = KeyForm(), RotationForm()
SEPARATOR = "\n"
"""Stands in no id and in no label."""


def _body(shape: type) -> dict[str, Any]:
    return {"required": True, "content": {"application/json": {"schema": shape}}}


@endpoint(
    keys,
    "POST ",
    "createKey",
    NewKeySchema,
    scope="manage_keys",
    status=201,
    said="Made; the key is shown this once.",
    errors=(400, 413, 415),
    requestBody=_body(KeyForm),
)
def create(_: dict[str, Any]) -> Response:
    """Make a key for one's own organization; the programme for any."""
    form = load_form(json_body(), FORM)
    organization = form.pop("organization", caller().organization)
    return _shown_once(desk.create(caller(), office(), organization, desk.Wish(**form)))


@endpoint(keys, "GET ", "listKeys", list_of(KeySchema, "Keys"), scope="manage_keys", query=PageQuery)
def listed(query: dict[str, Any]) -> Response:
    """Keys of one's own organization, live or ended; for the programme those of all."""
    limit, after = query["limit"], _position(query["cursor"]) if "cursor" in query else None
    found = desk.listed(caller(), office(), after, limit + 1)
    items = [key._asdict() for key in found[:limit]]
    return page_reply(items, _cursor(found[limit - 1]) if len(found) > limit else None)


@endpoint(keys, "GET /<id>", "readKey", KeySchema, scope="manage_keys", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One key, without its secret."""
    return json_reply(desk.find(caller(), office(), id)._asdict())


@endpoint(
    keys,
    "POST /<id>/rotate",
    "rotateKey",
    NewKeySchema,
    scope="manage_keys",
    status=201,
    said="A second key was made, shown this once; the old one lives until its end.",
    errors=(400, 404, 409, 413, 415),
    requestBody=_body(RotationForm),
)
def rotate(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Make a second key like this one; both work until the old one's end."""
    form = load_form(json_body(), ROTATION)
    return _shown_once(desk.rotate(caller(), office(), id, **form))


@endpoint(keys, "POST /<id>/revoke", "revokeKey", KeySchema, scope="manage_keys", errors=(404,))
def revoke(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """End a key, from the next request on."""
    return json_reply(desk.revoke(caller(), office(), id)._asdict())


def _shown_once(made: desk.Made) -> Response:
    """The answer with the whole key, which nobody on the way may keep."""
    response = json_reply({**made.key._asdict(), "key": made.shown}, 201)
    response.headers["Location"] = f"/v1/keys/{made.key.id}"
    response.headers["Cache-Control"] = "no-store"
    response.headers.pop("ETag", None)
    return response


def _cursor(key: Key) -> str:
    return cursor_of(SEPARATOR.join(key.place))


def _position(cursor: str) -> tuple[str, str, str]:
    parts = position_of(cursor).split(SEPARATOR)
    if len(parts) != 3:
        raise wrong_cursor()
    return parts[0], parts[1], parts[2]
