"""``/v1/reviews``: the soil scientist's queue."""

from typing import Any

import orjson
from flask import Response
from flask_smorest import Blueprint

from service.agronomy.tables import WordRow
from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import PageQuery
from service.api.replies import cursor_of, json_body, json_reply, office, page_reply, position_of, wrong_cursor
from service.contract.answer_parts import list_of
from service.contract.fields import Choice, Reading, ReadingContext
from service.contract.forms import load_form
from service.contract.review_schema import (
    KINDS,
    STATES,
    CaseSchema,
    DecisionForm,
    OverrideSchema,
    PhraseSchema,
    ReviewSchema,
)
from service.contract.vocabulary import Vocabulary
from service.desk import history as trends
from service.desk import reviews as desk
from service.desk.phrases import TABLE, Phrasing
from service.store.reviews import Review

reviews = Blueprint("reviews", __name__, url_prefix="/v1/reviews", description="What only a person may release.")
DECISION = DecisionForm()
FLAG_FROM, FLAG_SHARE = 50, 0.8
"""A reason overridden in more than 80 % of 50 cases or more is shown to its owner: too many holds make people blind."""


class QueueQuery(PageQuery):
    """Which cases."""

    state = Choice("state", STATES, load_default="open")
    kind = Choice("kind", KINDS)


@endpoint(reviews, "GET ", "listReviews", list_of(ReviewSchema, "Reviews"), scope="review", query=QueueQuery)
def listed(query: dict[str, Any]) -> Response:
    """What waits, the most urgent first and then the oldest."""
    limit = query["limit"]
    after = _position(query["cursor"]) if "cursor" in query else None
    found = desk.queue(caller(), office(), after, limit + 1, query["state"], query.get("kind"))
    last = found[limit - 1][0] if len(found) > limit else None
    following = cursor_of(f"{last.urgency}.{last.serial}") if last else None
    return page_reply([_shown(review, reasons) for review, reasons in found[:limit]], following)


@endpoint(reviews, "GET /phrases", "listPhrases", list_of(PhraseSchema, "Phrases"), scope="review")
def phrases(_: dict[str, Any]) -> Response:
    """Sentences that may be added to a report by their id."""
    rows = office().library(office().now().date()).rows(TABLE, WordRow)
    return page_reply([{"phrase": row.word, "en": row.label_en, "es": row.label_es} for row in rows], None)


@endpoint(reviews, "GET /overrides", "listOverrides", list_of(OverrideSchema, "Overrides"), scope="review")
def overrides(_: dict[str, Any]) -> Response:
    """How often each reason to hold was overridden; flagged where it seems to hold for nothing."""
    with office().records.reading() as reading:
        found = reading.reviews.overrides()
    return page_reply([override(*line) for line in found], None)


@endpoint(reviews, "GET /<id>", "readReview", CaseSchema, scope="review", errors=(404,))
def read(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """One case: figures, reasons, draft with rival tables, what was sent."""
    found = desk.case(caller(), office(), id)
    record = found.record
    draft = orjson.loads(record.draft or record.answer)
    tree = {
        **_shown(found.review, found.reasons),
        "why": [why._asdict() for why in desk.whys(office(), draft)],
        "question": desk.question(office(), record),
        "draft": draft,
        "submission": orjson.loads(record.submission),
        "history": [trends.shown(line) for line in trends.history_of(office(), record)],
    }
    return json_reply(tree)


@endpoint(reviews, "POST /<id>/claim", "claimReview", ReviewSchema, scope="review", errors=(404, 409))
def claim(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Take a case for a quarter of an hour; again to keep it longer."""
    return json_reply(_shown(desk.claim(caller(), office(), id), []))


@endpoint(reviews, "DELETE /<id>/claim", "unclaimReview", ReviewSchema, scope="review", errors=(404,))
def unclaim(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Give a case back."""
    return json_reply(_shown(desk.unclaim(caller(), office(), id), []))


@endpoint(
    reviews,
    "POST /<id>/decision",
    "decideReview",
    ReviewSchema,
    scope="review",
    said="Decided; issued names the report that went out.",
    errors=(400, 404, 409, 413, 415),
    requestBody={"required": True, "content": {"application/json": {"schema": DecisionForm}}},
)
def decide(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Approve, edit with a reason, ask for data, or reject."""
    today = office().now().date()
    with ReadingContext(Reading(office().library(today).index(Vocabulary), today)):
        form = load_form(json_body(), DECISION)
    decision = desk.Decision(
        form["decision"],
        form.get("reason"),
        tuple(form.get("edits", ())),
        tuple(Phrasing(**note) for note in form.get("notes", ())),
        form.get("serious"),
        tuple(desk.WantedTest(**test) for test in form.get("tests", ())),
    )
    return json_reply(_shown(desk.decide(caller(), office(), id, decision).review, []))


def _shown(review: Review, reasons: list[tuple[str, str]]) -> dict[str, Any]:
    hidden = ("serial", "edits", "notes", "sandbox")
    tree = {name: value for name, value in review._asdict().items() if name not in hidden}
    tree["tests"] = [
        dict(zip(desk.WantedTest._fields, test, strict=True)) for test in orjson.loads(review.tests or "[]")
    ]
    return {**tree, "reasons": [code for code, _ in reasons]}


def override(code: str, held: int, approved: int) -> dict[str, Any]:
    """A reason with the share of its holds that were approved as they stood, flagged where that is most of them."""
    share = approved / held if held else None
    flagged = held >= FLAG_FROM and share is not None and share > FLAG_SHARE
    return {"code": code, "held": held, "approved": approved, "share": share, "flagged": flagged}


def _position(cursor: str) -> tuple[int, int]:
    urgency, _, serial = position_of(cursor).partition(".")
    if not (urgency.isdecimal() and serial.isdecimal() and len(serial) < 19 and len(urgency) < 3):
        raise wrong_cursor()
    return int(urgency), int(serial)
