"""``/v1/interpretations/{id}/links``: an address with which a client opens a report, as text and as a QR code."""

from typing import Any

from flask import Response, request

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.interpretations import interpretations
from service.api.replies import json_body, json_reply, office, page_reply
from service.contract.answer_parts import list_of
from service.contract.desk_schema import LinkForm, LinkSchema, NewLinkSchema
from service.contract.forms import load_form
from service.desk import links
from service.render.qr import qr_svg
from service.store.links import Link

FORM = LinkForm()
LINKS = list_of(LinkSchema, "Links")
GROUP = 5


@endpoint(
    interpretations,
    "POST /<id>/links",
    "makeLink",
    NewLinkSchema,
    scope="share_links",
    status=201,
    said="The address is in url, shown this once.",
    errors=(400, 404, 409, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": LinkForm}}},
)
def make(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """A new address with which a client opens this report, or the one that replaces it; no account is needed."""
    link, secret = links.make(caller(), office(), id, load_form(json_body(), FORM).get("days", links.DAYS))
    url = f"{request.host_url}r/{secret}"
    grouped = "-".join(secret[start : start + GROUP] for start in range(0, len(secret), GROUP))
    printed = f"{request.host}/r/{grouped}"
    response = json_reply({**_shown(link), "url": url, "printed": printed, "qr_svg": qr_svg(url)}, 201)
    response.headers["Cache-Control"] = "no-store"
    return response


@endpoint(
    interpretations,
    "GET /<id>/links",
    "listLinks",
    LINKS,
    scope="share_links",
    errors=(404,),
)
def listed(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The addresses of a report, without what makes them unguessable."""
    return page_reply([_shown(link) for link in links.listed(caller(), office(), id)], None)


@endpoint(
    interpretations,
    "DELETE /<id>/links/<link_id>",
    "revokeLink",
    LINKS,
    scope="share_links",
    said="It opens nothing any more; the answer lists the report's addresses.",
    errors=(404,),
)
def revoke(_: dict[str, Any], id: str, link_id: str) -> Response:  # noqa: A002
    """End an address at once."""
    links.revoke(caller(), office(), id, link_id)
    return page_reply([_shown(link) for link in links.listed(caller(), office(), id)], None)


def _shown(link: Link) -> dict[str, Any]:
    return {name: value for name, value in link._asdict().items() if name != "organization"}
