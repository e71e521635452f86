"""``/v1/organizations``: who works with this service."""

from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import PageQuery
from service.api.replies import cursor_of, json_body, json_reply, office, page_reply, position_of
from service.contract.access_schema import OrganizationForm, OrganizationSchema
from service.contract.answer_parts import list_of
from service.contract.forms import load_form
from service.desk import organizations as desk

organizations = Blueprint(
    "organizations",
    __name__,
    url_prefix="/v1/organizations",
    description="County offices, laboratories, apps, and the state programme that sees them all.",
)
FORM = OrganizationForm()


@endpoint(
    organizations,
    "POST ",
    "createOrganization",
    OrganizationSchema,
    scope="manage_organizations",
    status=201,
    said="Made; its first key is made with /v1/keys.",
    errors=(400, 409, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": OrganizationForm}}},
)
def create(_: dict[str, Any]) -> Response:
    """Add an organization."""
    form = load_form(json_body(), FORM)
    made = desk.create(caller(), office(), form["id"], form["kind"], form["name"])
    response = json_reply(made._asdict(), 201)
    response.headers["Location"] = f"/v1/organizations/{made.id}"
    return response


@endpoint(
    organizations,
    "GET ",
    "listOrganizations",
    list_of(OrganizationSchema, "Organizations"),
    scope="manage_keys",
    query=PageQuery,
)
def listed(query: dict[str, Any]) -> Response:
    """One's own organization; for the programme all of them."""
    limit, after = query["limit"], position_of(query["cursor"]) if "cursor" in query else ""
    found = desk.listed(caller(), office(), after, limit + 1)
    items = [organization._asdict() for organization in found[:limit]]
    return page_reply(items, cursor_of(found[limit - 1].id) if len(found) > limit else None)


@endpoint(organizations, "GET /<id>", "readOrganization", OrganizationSchema, scope="manage_keys", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One organization."""
    return json_reply(desk.find(caller(), office(), id)._asdict())


@endpoint(
    organizations,
    "POST /<id>/close",
    "closeOrganization",
    OrganizationSchema,
    scope="manage_organizations",
    errors=(404, 409),
)
def close(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Close an organization: its keys work no more from the next request on; its records stay."""
    return json_reply(desk.close(caller(), office(), id)._asdict())
