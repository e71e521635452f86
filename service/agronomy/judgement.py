"""What a soil scientist decided about a case that the rules hold: the holds are cleared, amounts may be changed.

The caps are enforced on what a person wrote as on everything else.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from service.agronomy import caps
from service.agronomy.amounts import WORDS
from service.agronomy.decision import OUTCOMES, RELEASED, Decision
from service.agronomy.errors import AgronomyError
from service.agronomy.findings import Application, Edited, Note, Reason, Recommendation, Word
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.units import Units

NUTRIENTS = ("N", *WORDS, "B")
AMENDMENTS = frozenset(("gypsum", "sulfur", "lime", "compost", "manure"))
AREAL = "lb/1000 ft2"
DIMENSIONS = ("areal_rate", "per_tree")
READ = Reason("read_by_person", "info")


class Edit(NamedTuple):
    """One change to the draft: a subject's new rate, or None to leave its recommendation out; and why."""

    subject: str
    rate: Quantity | None
    reason: str


class Judgement(NamedTuple):
    """A person read the case; what was changed, or why no advice can be given on it."""

    edits: tuple[Edit, ...] = ()
    rejected: str | None = None


class Judged(NamedTuple):
    """The advice after the edits, what they did, and the caps they broke: with one broken nothing may go out."""

    recommendations: Sequence[Recommendation]
    edited: tuple[Edited, ...]
    over: tuple[Reason, ...]


class WrongEdit(AgronomyError):
    """An edit that cannot be made; ``index`` is its place, ``expected`` what would be right."""

    def __init__(self, index: int, field: str, code: str, expected: str) -> None:
        super().__init__(code)
        self.index, self.field, self.code, self.expected = index, field, code, expected


def judge(case: Case, recommendations: Sequence[Recommendation], judgement: Judgement | None) -> Judged:
    """The advice as a person wants it to go out.

    Raises WrongEdit for a subject without an amount to leave out, one that takes no amount, a unit of another dimension
    than the draft's or one in which no hard cap stands, and a rate that is not above zero.
    """
    if judgement is None or not judgement.edits:
        return Judged(recommendations, (), ())
    kept = list(recommendations)
    edited: list[Edited] = []
    for index, edit in enumerate(judgement.edits):
        place = next((at for at, item in enumerate(kept) if item.subject == edit.subject and item.rate), None)
        before = kept[place] if place is not None else None
        after = _written(case, index, edit, before)
        if place is not None:
            kept[place : place + 1] = [after] if after else []
        elif after:
            kept = [item for item in kept if item.subject != edit.subject]
            kept.insert(0, after)
        edited.append(Edited(edit.subject, before.rate if before else None, edit.rate, edit.reason))
    sound, over = caps.enforce(case, kept)
    return Judged(sound, tuple(edited), over)


def _written(case: Case, index: int, edit: Edit, before: Recommendation | None) -> Recommendation | None:
    """The recommendation that a person wrote; None where it is left out."""
    if edit.rate is None:
        if before is None:
            raise WrongEdit(index, "subject", "nothing_to_leave_out", "a subject that the draft gives an amount for")
        return None
    if before is None and edit.subject not in NUTRIENTS and edit.subject not in AMENDMENTS:
        right = f"one of {', '.join((*NUTRIENTS, *sorted(AMENDMENTS)))}"
        raise WrongEdit(index, "subject", "takes_no_amount", right)
    base = _base(case, index, edit.rate, before)
    _check_capped(case, index, edit.subject, edit.rate)
    per_tree = case.library.index(Units.of).dimension(edit.rate.unit) == "per_tree"
    kind = "amendment" if edit.subject in AMENDMENTS else "nutrient"
    values = {"subject": Word("subject", edit.subject), "rate": edit.rate, "reason": edit.reason}
    said = Note("rec.by_person", values)
    written = before or Recommendation(kind, edit.subject, said)
    return replace(
        written,
        text=said,
        rate=edit.rate,
        for_area=None if per_tree else case.units.total(base),
        applications=_shared(case, written, base, per_tree),
        base_rate=base,
        base_doses=_scaled(written, base),
        because=(),
        sources=(),
        verification="practice",
        in_full=False,
    )


def _check_capped(case: Case, index: int, subject: str, rate: Quantity) -> None:
    """A person too writes only amounts that a hard cap can hold: above zero, in a dimension in which one stands."""
    if rate.value <= 0:
        raise WrongEdit(index, "rate", "out_of_range", "0 < x; without a rate the amount is left out")
    caps_here = [cap for cap in case.library.index(caps.Caps.of).of_subject(subject) if caps.applies(case, cap.row)]
    wanted = case.library.index(Units.of).dimension(rate.unit)
    if not any(cap.dimension == wanted for cap in caps_here):
        units = sorted({cap.printed.unit for cap in caps_here if cap.dimension in DIMENSIONS})
        right = f"a rate in a unit such as {', '.join(units)}" if units else "a subject with a hard cap by area or tree"
        raise WrongEdit(index, "rate" if units else "subject", "no_hard_cap", right)


def _base(case: Case, index: int, rate: Quantity, before: Recommendation | None) -> float:
    """The new rate in g/m2 or g/tree, of the same dimension as the draft's."""
    units = case.library.index(Units.of)
    like = before.rate.unit if before is not None and before.rate else AREAL
    wanted = units.dimension(like)
    if not units.known(rate.unit) or units.dimension(rate.unit) != wanted or wanted not in DIMENSIONS:
        raise WrongEdit(index, "rate", "unit_mismatch", f"a rate in a unit such as {like}")
    return units.areal(rate) if wanted == "areal_rate" else units.convert(rate.value, rate.unit, "g/tree")


def _scaled(before: Recommendation, base: float) -> tuple[float, ...]:
    if not before.base_rate or not before.base_doses:
        return ()
    return tuple(dose * base / before.base_rate for dose in before.base_doses)


def _shared(case: Case, before: Recommendation, base: float, per_tree: bool) -> tuple[Application, ...]:
    """The draft's doses, each by the same share."""
    show = case.units.per_tree if per_tree else case.units.rate
    return tuple(
        dose._replace(rate=show(grams)) for dose, grams in zip(before.applications, _scaled(before, base), strict=False)
    )


def cleared(decided: Decision, judged: Judged, judgement: Judgement | None) -> Decision:
    """The outcome once a person has read the case: its holds are information, what is unsound stays withheld."""
    if judgement is None:
        return decided
    if judgement.rejected is not None:
        refused = Reason(
            "rejected_by_person", "refuse", None, {"why": judgement.rejected}, Note("ask.rejected_by_person")
        )
        return Decision("refused", (refused, *decided.reasons))
    reasons = [reason._replace(severity="info") if reason.severity == "hold" else reason for reason in decided.reasons]
    ranked = (*judged.over, *(reason for reason in reasons if reason.severity != "info"), READ)
    outcome = OUTCOMES[ranked[0].severity] if ranked else RELEASED
    return Decision(outcome, (*ranked, *(reason for reason in reasons if reason.severity == "info")))
