"""The form of the counter: what is asked when a sample is brought, and what is shown of a sample afterwards."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import marshmallow as ma

from service.agronomy.tables import VERIFICATION_ORDER, Library
from service.contract.access_schema import OrganizationId
from service.contract.answer_parts import Answered, anything, flag, part, parts, string, texts, whole, word
from service.contract.fields import (
    Choice,
    Flag,
    Items,
    Part,
    Reading,
    ReadingContext,
    Strict,
    Text,
    Whole,
    fault,
    shown,
)
from service.contract.forms import checked
from service.contract.shape import Shape, refuse
from service.contract.submission import LANGUAGES, PlaceSchema, SampleSchema, SiteSchema, TargetSchema
from service.contract.vocabulary import Vocabulary

USES = (
    "new_lawn",
    "lawn",
    "garden",
    "flower_bed",
    "trees_and_shrubs",
    "orchard",
    "field",
    "pasture",
    "problem_area",
)
STATES = (
    "expected",
    "received",
    "at_laboratory",
    "insufficient",
    "waiting_review",
    "reported",
    "closed",
    "cancelled",
)
BY_HAND = ("received", "at_laboratory", "insufficient", "closed", "cancelled")
MOST_TARGETS, MOST_TESTS, LONGEST = 10, 50, 2000
MOST_FEES, MOST_CENTS = 200, 1_000_000
TEST, CENTS = Text(longest=60), Whole(low=0, high=MOST_CENTS)


class ClientForm(Shape):
    """Who brought the sample. Kept apart from everything else, and shown by one address alone."""

    name = Text(allow_none=True, longest=200)
    contact = Text(allow_none=True, longest=500, metadata={"description": "Telephone, e-mail or address."})
    language = Choice("language", LANGUAGES, allow_none=True, metadata={"description": "Of the report."})


class BroughtSchema(SampleSchema):
    """The bag of soil as the client describes it; what only the laboratory can say is not asked here."""

    class Meta(Shape.Meta):
        """What is left out."""

        exclude = ("laboratory", "lab_number", "revision", "label", "received_on", "place")


class SampleForm(Shape):
    """The form of the counter. Every field but the use may be left out; what is not said is not guessed."""

    client = Part(ClientForm, allow_none=True)
    place = Part(PlaceSchema, allow_none=True)
    use = Choice("sampling_use", USES, required=True)
    target = Part(TargetSchema, allow_none=True)
    more_targets = Items(
        Part(TargetSchema),
        most=MOST_TARGETS,
        allow_none=True,
        metadata={"description": "Further targets of the same sample: each gets a report of its own."},
    )
    site = Part(SiteSchema, allow_none=True)
    sample = Part(BroughtSchema, allow_none=True)
    tests = Items(Text(longest=60), most=MOST_TESTS, unique=True, allow_none=True)
    question = Text(longest=LONGEST, allow_none=True)
    consent = Flag(
        allow_none=True,
        metadata={"description": "The client agrees that name and contact are kept; needed where they are given."},
    )
    laboratory = OrganizationId(
        allow_none=True,
        metadata={"description": "The organization that will test it; it sees the form, not the client."},
    )

    def check(self, made: dict[str, Any]) -> None:
        """Nobody's name is kept without consent."""
        client = made.get("client") or {}
        if (client.get("name") or client.get("contact")) and made.get("consent") is not True:
            wrong = "name and contact are kept only if the client agrees"
            refuse("consent", "consent_needed", wrong, "true, or a client without name and contact")


class SampleChangeForm(SampleForm):
    """What is corrected; members that are left out stay as they are."""

    use = Choice("sampling_use", USES)
    paid = Flag(metadata={"description": "Whether the fee is paid."})

    def check(self, made: dict[str, Any]) -> None:
        """Checked as a whole, together with what stays."""


class StepForm(Shape):
    """Where a sample stands now."""

    status = Choice(
        "sample_status", ("received", "at_laboratory", "insufficient", "closed", "cancelled"), required=True
    )


class CentsOf(Strict, ma.fields.Dict):
    """An object of amounts in cents by name of the test."""

    right = 'an object such as {"routine": 2800}, in US cents'

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not dict or len(value) > MOST_FEES:
            raise fault("not_an_object", f"{shown(value)} is not an object of at most {MOST_FEES} amounts", self.right)
        errors = {}
        for name, cents in value.items():
            try:
                TEST.deserialize(name)
                CENTS.deserialize(cents)
            except ma.ValidationError as problem:
                errors[name] = problem.messages
        if errors:
            raise ma.ValidationError(errors)
        return dict(value)


class FeesForm(Shape):
    """What tests cost."""

    tests = CentsOf(
        required=True,
        metadata={
            "description": "Test → US cents. Where it is empty nothing is charged and any test may be named.",
            "additionalProperties": {"type": "integer", "minimum": 0, "maximum": MOST_CENTS},
        },
    )
    unpaid_to_laboratory = Flag(
        load_default=False, metadata={"description": "Whether unpaid samples may go to the laboratory."}
    )


class FeesSchema(Answered):
    """What tests cost in an office."""

    organization = string()
    tests = anything("Test → US cents.")
    unpaid_to_laboratory = flag()


class SampleAnswerSchema(Answered):
    """One sample, without the client. Moments are in UTC."""

    id = string()
    label = string(description="The last sign is the check character of ISO 7064, MOD 37,36.")
    status = word(*STATES)
    organization = string()
    laboratory = string(null=True)
    use = word(*USES)
    place = anything("The spot it was taken from, or null.")
    target = anything("What grows there, as the form said.")
    more_targets = anything("Further targets of the same sample.")
    site = anything("The ground around it, as the form said.")
    sample = anything("The bag of soil, as the form said.")
    tests = texts()
    question = string(null=True)
    consent = flag()
    language = string(null=True)
    fee_cents = whole(null=True)
    paid = ma.fields.Boolean(required=True, allow_none=True)
    interpretations = texts("Reports of this sample that are in sight, oldest first.")
    created_at = string(format="date-time")
    updated_at = string(format="date-time")


class SampleClientSchema(Answered):
    """Who brought a sample; null once erased."""

    id = string(description="Of the sample.")
    name = string(null=True)
    contact = string(null=True)
    language = string(null=True)
    erased_at = string(null=True)


class GuideSchema(Answered):
    """What one guide says. Each figure has its own mark, since a guide seldom prints all of them."""

    purpose = string()
    depth = anything("from, to, unit, verification.")
    cores = anything("low, high, verification: cores of one composite sample.")
    largest_area = anything("value, unit, verification; null where one sample serves one uniform area of any size.")
    amount = anything("value, unit, verification: soil to send; null where the guide does not say.")
    note = string()
    sources = texts()


class SamplingTextSchema(Answered):
    """One piece of advice and how far it was checked."""

    code = string()
    text = string()
    verification = word(*VERIFICATION_ORDER)
    sources = texts()


class SamplingPlanSchema(Answered):
    """How to sample for one use."""

    use = word(*USES)
    name = string()
    language = word(*LANGUAGES)
    edition = string()
    plan = part(GuideSchema)
    other_guides = parts(GuideSchema)
    cores = anything("low, high: by the guide; with cv also cores, cv_pct, error_pct, confidence_pct, t.")
    samples = anything("Composite samples for the area that was given: count, area; null without an area.")
    kit = parts(SamplingTextSchema)
    steps = parts(SamplingTextSchema)
    dry = parts(SamplingTextSchema)
    avoid = parts(SamplingTextSchema)
    season = parts(SamplingTextSchema)
    sources = anything("What the figures rest on, by id.")


FORM = SampleForm()


def load_sample(document: Any, library: Library, today: date) -> Mapping[str, Any]:
    """A checked form, by the same fields as a submission has.

    Raises:
        ProblemError: 422 with a pointer to each field at fault.
    """
    with ReadingContext(Reading(library.index(Vocabulary), today)):
        form: Mapping[str, Any] = checked(document, FORM)
    return form
