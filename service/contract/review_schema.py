"""What a reviewer decides; what is shown of a case, of a release class and of a wish to change one."""

from typing import Any

import marshmallow as ma

from service.agronomy.judgement import Edit
from service.contract.answer_parts import (
    Answered,
    anything,
    flag,
    number,
    part,
    parts,
    string,
    texts,
    whole,
    word,
)
from service.contract.desk_schema import TrendSchema
from service.contract.fields import Choice, Flag, Items, Number, Part, Text, vocabulary
from service.contract.results import Analyte, Method
from service.contract.shape import QuantityOf, Shape, refuse

DECISIONS = ("approve", "edit", "ask", "reject")
KINDS = ("held", "shadow", "reread")
STATES = ("open", "waiting", "closed")
MODES = ("shadow", "release", "paused")
OUTCOMES = ("released", "partial", "held", "refused")
LONGEST = 2000


class EditForm(Shape):
    """One change to the draft."""

    makes = Edit
    subject = Text(required=True, longest=40, metadata={"description": "N, P2O5, K2O, S, gypsum, …"})
    rate = QuantityOf("", metadata={"description": "The new rate; left out, the amount is taken out of the report."})
    reason = Text(required=True, longest=LONGEST, metadata={"description": "Printed with the new amount."})

    @ma.post_load
    def build(self, data: dict[str, Any], **_: Any) -> Edit:
        """The edit."""
        return Edit(data["subject"], data.get("rate"), data["reason"])


class NoteForm(Shape):
    """One sentence for the report: an id of the phrase list, or a text."""

    phrase = Text(longest=40)
    text = Text(longest=LONGEST)

    def check(self, made: dict[str, Any]) -> None:
        """Exactly one of the two."""
        if len(made) != 1:
            refuse("phrase", "one_way", "a note is a phrase or a text", "either phrase or text")


class TestForm(Shape):
    """A test that the client is to order."""

    analyte = Analyte(required=True)
    method = Method(metadata={"description": "Where the method matters."})

    def check(self, made: dict[str, Any]) -> None:
        """A method that there is for the analyte."""
        words = tuple(vocabulary().methods_of(made["analyte"], water=False))
        if "method" in made and made["method"] not in words:
            refuse("method", "method_does_not_fit", "no such method for this analyte", "a method of the analyte", words)


class DecisionForm(Shape):
    """What a reviewer decides about a case."""

    decision = Choice("decision", DECISIONS, required=True)
    reason = Text(longest=LONGEST, metadata={"description": "For edit, ask and reject."})
    edits = Items(Part(EditForm), most=20, metadata={"description": "Only with edit."})
    notes = Items(Part(NoteForm), most=20, metadata={"description": "Sentences added to the report."})
    tests = Items(Part(TestForm), most=20, metadata={"description": "Tests to order anew; only with ask."})
    serious = Flag(metadata={"description": "Whether the draft would have done harm; a rejection counts as serious."})

    def check(self, made: dict[str, Any]) -> None:
        """A reason for whatever is not an approval; edits with edit and nowhere else."""
        decision = made["decision"]
        if decision != "approve" and "reason" not in made:
            refuse("reason", "missing", f"{decision} needs a reason", "why, in a sentence")
        if decision != "ask" and made.get("tests"):
            refuse("tests", "tests_with_ask", "tests are ordered with the decision ask", "leave them out")
        if (decision == "edit") != bool(made.get("edits")):
            refuse("edits", "edits_with_edit", "edits come with the decision edit and nowhere else", "one edit or more")


class SwitchForm(Shape):
    """Why a class is switched."""

    reason = Text(required=True, longest=LONGEST)


class RereadForm(SwitchForm):
    """The share of unread reports drawn for re-reading."""

    share_pct = Number(required=True, low=0, high=100)


class WantedTestSchema(Answered):
    """A test that the client was asked to order."""

    analyte = string()
    method = string(null=True)


class ReviewSchema(Answered):
    """One case on the desk. Moments are in UTC."""

    id = string()
    interpretation = string()
    organization = string()
    release_class = string(null=True)
    crop_group = string(null=True)
    kind = word(*KINDS)
    by_rules = word(*OUTCOMES)
    urgency = whole()
    opened_at = string(format="date-time")
    state = word(*STATES)
    reasons = texts("Codes of the reasons it is there for.")
    claimed_by = string(null=True)
    claimed_until = string(null=True)
    decision = word(*DECISIONS, "overtaken", null=True)
    decided_at = string(null=True)
    decided_by = string(null=True)
    reason = string(null=True)
    serious = ma.fields.Boolean(required=True, allow_none=True)
    tests = parts(WantedTestSchema)
    issued = string(null=True, description="The interpretation that the decision made.")


class WhySchema(Answered):
    """One reason, in the language of the report."""

    code = string()
    severity = word("info", "warning", "withhold", "hold", "refuse")
    analyte = string(null=True)
    message = string()
    ask = string(null=True)
    owner = string(description="Who answers for the rule.")
    to_do = string(description="What to look at before deciding.")


class CaseSchema(ReviewSchema):
    """One case with all that it takes to decide it."""

    why = parts(WhySchema)
    question = string(null=True, description="What the client asked at the counter.")
    draft = anything("The whole draft: figures with rival tables, amounts with their steps, checks.")
    submission = anything("What was sent.")
    history = parts(TrendSchema)


class AgreementSchema(Answered):
    """How often the reviewer decided as the rules had, in one crop group of all offices."""

    decided = whole()
    agreed = whole()
    serious = whole()
    cases_wanted = whole()
    error_upper_95 = number(description="Upper 95 % confidence bound of the share of disagreements (Clopper-Pearson).")


class WishSchema(Answered):
    """A wish to let a class out unread."""

    id = string()
    release_class = string()
    mode = word(*MODES)
    asked_at = string(format="date-time")
    asked_by = string()
    reason = string()
    basis = anything("Agreement so far, and the rows nobody has checked against print.")
    effective_at = string(null=True, description="From then on the same person may approve it.")


class ReleaseClassSchema(Answered):
    """One switch: a crop group in one office, or all."""

    id = string()
    crop_group = string()
    organization = string()
    mode = word(*MODES)
    reread_pct = number(null=True)
    changed_at = string()
    changed_by = string()
    reason = string()
    signed_until = string(null=True, description="Then it falls back to the shadow unless it is signed again.")
    agreement = part(AgreementSchema)
    wishes = parts(WishSchema)


class OverrideSchema(Answered):
    """How often a reason to hold was overridden."""

    code = string()
    held = whole()
    approved = whole()
    share = number(null=True)
    flagged = flag()


class PhraseSchema(Answered):
    """One sentence of the phrase list."""

    phrase = string()
    en = string()
    es = string()
