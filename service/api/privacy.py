"""Clients' rights and legal holds: forget who brought a sample, export what is kept, ``/v1/legal-holds``."""

import csv
from io import StringIO
from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.replies import json_body, json_reply, office, page_reply, tagged
from service.api.statistics import FormatQuery, wants_csv
from service.contract.answer_parts import Answered, anything, list_of, parts, string
from service.contract.answer_schema import InterpretationSchema
from service.contract.desk_schema import LONGEST
from service.contract.fields import Choice, Text
from service.contract.forms import load_form
from service.contract.shape import Shape
from service.desk import privacy as desk

privacy = Blueprint("privacy", __name__, url_prefix="/v1", description="Clients' rights, legal holds.")


class HoldForm(Shape):
    """What must be kept beyond its time, and why."""

    object_kind = Choice("object_kind", desk.KINDS, required=True)
    object_id = Text(required=True, longest=64)
    reason = Text(required=True, longest=LONGEST)


class HoldSchema(Answered):
    """One legal hold."""

    id = string()
    organization = string()
    object_kind = string()
    object_id = string()
    reason = string()
    placed_at = string(format="date-time")
    placed_by = string()
    lifted_at = string(null=True, format="date-time")


class ErasedSchema(Answered):
    """Whose name is gone."""

    id = string()
    erased = string(examples=["name and contact"])


class RecordsSchema(Answered):
    """Everything that is kept of one sample."""

    client = anything("Name, contact and language; null where nobody is named.")
    sample = anything("The form of the counter.")
    reports = parts(InterpretationSchema)
    trail = anything("Every row of the trail about the sample and its reports.")


FORM = HoldForm()


@endpoint(
    privacy,
    "DELETE /samples/<id>/client",
    "eraseClient",
    ErasedSchema,
    scope="privacy",
    said="Name and contact are gone; results and trail stay.",
    errors=(404, 409),
)
def erase(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Forget who brought a sample."""
    desk.erase(caller(), office(), id)
    return json_reply({"id": id, "erased": "name and contact"})


@endpoint(
    privacy,
    "GET /samples/<id>/records",
    "exportRecords",
    RecordsSchema,
    scope="privacy",
    query=FormatQuery,
    errors=(404,),
)
def export(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Everything that is kept of one sample and who brought it, for a records request; noted in the trail."""
    found = desk.export(caller(), office(), id)
    if wants_csv(query):
        out = StringIO()
        csv.writer(out).writerows(desk.table(found))
        response = tagged(out.getvalue().encode(), mimetype="text/csv")
    else:
        response = json_reply(found)
    response.headers["Cache-Control"] = "no-store"
    return response


@endpoint(
    privacy,
    "POST /legal-holds",
    "placeHold",
    HoldSchema,
    scope="privacy",
    status=201,
    said="Kept until the hold is lifted.",
    errors=(400, 404, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": HoldForm}}},
)
def place(_: dict[str, Any]) -> Response:
    """Keep a report, a sample with its client, or all of an organization beyond its time."""
    form = load_form(json_body(), FORM)
    return json_reply(desk.place(caller(), office(), **_named(form))._asdict(), 201)


def _named(form: dict[str, Any]) -> dict[str, str]:
    return {"kind": form["object_kind"], "id": form["object_id"], "reason": form["reason"]}


@endpoint(privacy, "GET /legal-holds", "listHolds", list_of(HoldSchema, "Holds"), scope="privacy")
def listed(_: dict[str, Any]) -> Response:
    """Legal holds, those that ended too."""
    return page_reply([hold._asdict() for hold in desk.holds(caller(), office())], None)


@endpoint(privacy, "DELETE /legal-holds/<id>", "liftHold", HoldSchema, scope="privacy", errors=(404,))
def lift(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """End a hold; what is over goes with the next `saltbush retention --apply`."""
    return json_reply(desk.lift(caller(), office(), id)._asdict())
