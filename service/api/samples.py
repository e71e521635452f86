"""``/v1/samples``: the form of the counter, the label, where a sample stands; and what an office charges for tests."""

from typing import Any

from flask import Response, request
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.interpretations import KEY_HEADER, idempotency_key
from service.api.queries import NoQuery, PageQuery
from service.api.replies import cursor_of, json_body, office, page_reply, serial_of, tagged
from service.contract.answer import encoded
from service.contract.answer_parts import list_of
from service.contract.fields import Choice
from service.contract.forms import load_form
from service.contract.problem import MEDIA_TYPE, Problem, ProblemError
from service.contract.sample_schema import (
    STATES,
    FeesForm,
    FeesSchema,
    SampleAnswerSchema,
    SampleChangeForm,
    SampleClientSchema,
    SampleForm,
    StepForm,
)
from service.contract.submission import LANGUAGES
from service.desk import fees as money
from service.desk import samples as desk
from service.desk.fees import Fees
from service.desk.issue import Reply
from service.desk.retries import once
from service.desk.samples import Followed
from service.render.sample_label import Label, label_html, label_svg
from service.store.samples import Sample

ROUTE = "POST /v1/samples"
samples = Blueprint(
    "samples", __name__, url_prefix="/v1/samples", description="From the counter to the laboratory and back."
)
fees = Blueprint("fees", __name__, url_prefix="/v1/organizations", description="What tests cost.")
STEP, FEES = StepForm(), FeesForm()
IF_MATCH: dict[str, Any] = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "description": "The ETag of what was read: the change is refused where somebody was quicker.",
    "schema": {"type": "string"},
}


class SamplesQuery(PageQuery):
    """Which samples to list."""

    status = Choice("sample_status", STATES)


class LabelQuery(NoQuery):
    """How to print a label."""

    language = Choice("language", LANGUAGES, metadata={"description": "The form's if not given, else English."})


def _body(form: Any) -> dict[str, Any]:
    return {"required": True, "content": {"application/json": {"schema": form}}}


@endpoint(
    samples,
    "POST ",
    "takeSample",
    SampleAnswerSchema,
    scope="submit_samples",
    status=201,
    said="Taken in; its label is to be written on the bag.",
    takes=[KEY_HEADER],
    errors=(400, 409, 413, 415, 503),
    requestBody=_body(SampleForm),
)
def take(_: dict[str, Any]) -> Response:
    """Take in the form of a sample."""
    body, key = json_body(), idempotency_key()
    if key is None:
        return _reply(desk.take(caller(), office(), body))
    return _reply(once(caller(), office(), ROUTE, key, body, lambda claim: desk.take(caller(), office(), body, claim)))


@endpoint(
    samples, "GET ", "listSamples", list_of(SampleAnswerSchema, "Samples"), scope="read_samples", query=SamplesQuery
)
def listed(query: dict[str, Any]) -> Response:
    """Samples, newest first; their reports are named where one of them is read."""
    limit = query["limit"]
    before = serial_of(query["cursor"]) if "cursor" in query else None
    found = desk.listed(caller(), office(), before, limit + 1, query.get("status"))
    items = [desk.shown(Followed(sample, [])) for sample in found[:limit]]
    return page_reply(items, cursor_of(found[limit - 1].serial) if len(found) > limit else None)


@endpoint(samples, "GET /<id>", "readSample", SampleAnswerSchema, scope="read_samples", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One sample; its ETag is what a change needs."""
    return _shown(desk.find(caller(), office(), id))


@endpoint(samples, "GET /<id>/client", "readSampleClient", SampleClientSchema, scope="manage_samples", errors=(404,))
def client(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Who brought a sample, for the office that took it in: the only address that shows it."""
    found = desk.client(caller(), office(), id)
    shown = {name: getattr(found, name) for name in ("name", "contact", "language", "erased_at")}
    response = tagged(encoded({"id": id, **shown}))
    response.headers["Cache-Control"] = "no-store"
    return response


@endpoint(
    samples,
    "PATCH /<id>",
    "changeSample",
    SampleAnswerSchema,
    scope="manage_samples",
    takes=[IF_MATCH],
    errors=(400, 404, 409, 412, 413, 415, 428),
    requestBody=_body(SampleChangeForm),
)
def change(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Correct a form, who brought it, or whether it is paid: members that are sent replace what was, null clears."""
    body = json_body()
    before = desk.find(caller(), office(), id).sample
    _match(_etag(before))
    return _shown(desk.change(caller(), office(), id, before.version, body))


@endpoint(
    samples,
    "POST /<id>/status",
    "moveSample",
    SampleAnswerSchema,
    scope="manage_samples",
    errors=(400, 404, 409, 413, 415),
    requestBody=_body(StepForm),
)
def move(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Move a sample on; what comes of its results it does by itself."""
    form = load_form(json_body(), STEP)
    return _shown(desk.step(caller(), office(), id, form["status"]))


@endpoint(
    samples,
    "GET /<id>/label",
    "printLabel",
    {"type": "string"},
    scope="read_samples",
    query=LabelQuery,
    media_type="text/html",
    errors=(404,),
)
def label(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The label as a page to print."""
    html, policy = label_html(_label(id, query.get("language")))
    response = tagged(html.encode(), mimetype="text/html")
    response.headers["Content-Security-Policy"] = policy
    return response


@endpoint(
    samples,
    "GET /<id>/label.svg",
    "drawLabel",
    {"type": "string"},
    scope="read_samples",
    query=LabelQuery,
    media_type="image/svg+xml",
    errors=(404,),
)
def label_drawn(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The label as a drawing of 90 by 40 mm."""
    return tagged(label_svg(_label(id, query.get("language"))).encode(), mimetype="image/svg+xml")


@endpoint(fees, "GET /<id>/fees", "readFees", FeesSchema, scope="read_samples", errors=(404,))
def schedule(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """What tests cost in an office."""
    return _priced(id, money.schedule(caller(), office(), id))


@endpoint(
    fees,
    "PUT /<id>/fees",
    "setFees",
    FeesSchema,
    scope="manage_office",
    takes=[IF_MATCH],
    errors=(400, 404, 412, 413, 415, 428),
    requestBody=_body(FeesForm),
)
def set_schedule(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Set what tests cost from now on; fees of samples that were taken in before stay."""
    form = load_form(json_body(), FEES)
    before = money.schedule(caller(), office(), id)
    _match(_priced(id, before).get_etag()[0] or "")
    return _priced(id, money.set_schedule(caller(), office(), id, Fees(**form), before))


def _shown(found: Followed) -> Response:
    return tagged(encoded(desk.shown(found)), etag=_etag(found.sample))


def _etag(sample: Sample) -> str:
    """The version: every change of a sample, and every report of it, makes another."""
    return f"{sample.id[:8]}-{sample.version}"


def _match(etag: str) -> None:
    """Raises ProblemError 428 without If-Match, 412 where it is of another state (RFC 9110, 13.1.1; RFC 6585, 3)."""
    if "If-Match" not in request.headers:
        raise ProblemError(Problem("if-match-needed", "A change needs If-Match, so that nobody's work is lost."))
    if not request.if_match.contains(etag):
        raise ProblemError(Problem("changed-meanwhile", "It is no longer what the ETag in If-Match stands for."))


def _priced(id: str, found: Fees) -> Response:  # noqa: A002
    return tagged(encoded({"organization": id, **found._asdict()}))


def _label(id: str, language: str | None) -> Label:  # noqa: A002
    sample = desk.find(caller(), office(), id).sample
    said = language or desk.language_of(sample) or "en"
    here = office()
    words = here.words(here.library(here.now().date()), said)
    return Label(sample.label, desk.office_name(here, sample), sample.plan or "", sample.created_at[:10], words)


def _reply(reply: Reply) -> Response:
    if reply.status >= 400:
        return Response(reply.body, reply.status, mimetype=MEDIA_TYPE)
    response = tagged(reply.body, reply.status, etag=f"{(reply.id or '')[:8]}-1")
    response.headers["Location"] = f"/v1/samples/{reply.id}"
    return response
