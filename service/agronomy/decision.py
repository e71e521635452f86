"""Whether an answer may leave without a person: all rules run, and the gravest reason decides.

refused > held > partial > released. "Not tested" alone is no reason; something withheld as unsound is.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from service.agronomy.findings import (
    Caution,
    Interpretation,
    Note,
    Reason,
    Recommendation,
    Salinity,
    Sodium,
    Word,
)
from service.agronomy.health import forage_concern, infant_nitrate, metals, shown
from service.agronomy.kept_back import without_amounts
from service.agronomy.lime_state import LABORATORY_PH
from service.agronomy.reclaiming import reclamation
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, ReleaseRuleRow
from service.agronomy.units import scaled

ORDER = ("info", "warning", "withhold", "hold", "refuse")
RELEASED = "released"
OUTCOMES: Mapping[str, str] = {
    "info": RELEASED,
    "warning": RELEASED,
    "withhold": "partial",
    "hold": "held",
    "refuse": "refused",
}
AMOUNTS = frozenset(("nutrient", "amendment", "water"))
BORON = frozenset(("B", "boron"))

ANSWERS: Mapping[str, frozenset[str]] = {
    "lower_ph": frozenset(("sulfur",)),
    "raise_ph": frozenset(("lime",)),
    "gypsum": frozenset(("gypsum",)),
    "sulfur": frozenset(("sulfur",)),
    "lime": frozenset(("lime",)),
    "wood_ash": frozenset(("wood_ash",)),
    "compost": frozenset(("compost",)),
    "manure": frozenset(("manure",)),
    "iron": frozenset(("Fe", "iron_chelate")),
    "boron": frozenset(("B",)),
    "acid": frozenset(("acid",)),
    "aluminum_sulfate": frozenset(("aluminum_sulfate",)),
    "vinegar": frozenset(("vinegar",)),
    "coffee_grounds": frozenset(("coffee_grounds",)),
    "leaching": frozenset(("leaching",)),
    "fertilizer": frozenset(("N", "P2O5", "K2O", "fertilizer")),
}
"""Subjects of recommendations that answer a request, with an amount, a *none needed* or a *do not*."""


class Decision(NamedTuple):
    """Outcome (released, partial, held, refused) and the reasons for it, gravest first."""

    outcome: str
    reasons: tuple[Reason, ...]


class ReleaseRules:
    """Severity of each reason by the table ``release-rules``, prepared once."""

    __slots__ = ("severity",)

    def __init__(self, severity: Mapping[str, int]) -> None:
        self.severity = severity

    @classmethod
    def of(cls, library: Library) -> "ReleaseRules":
        """Prepare the table."""
        return cls({row.code: ORDER.index(row.severity) for row in library.rows("release-rules", ReleaseRuleRow)})


def decide(
    case: Case,
    reasons: Iterable[Reason],
    recommendations: Sequence[Recommendation],
    cautions: Sequence[Caution],  # noqa: ARG001 - what a person must see is found from the case, not from a warning
    salinity: Salinity | None = None,
    sodium: Sodium | None = None,
) -> Decision:
    """The outcome, and every reason once, gravest first.

    Args:
        reasons: what the steps before found: the door, the quality checks, the ratings, the amounts, the caps.
        recommendations: what is left of the advice after the caps.
        salinity, sodium: what is to be reclaimed is held also where no amount could be worked out.
        cautions: the warnings given; a warning lost on the way must not release a case, so none is relied on.

    The table ``release-rules`` may make a reason graver than the step that gave it, never milder.
    """
    table = case.library.index(ReleaseRules.of).severity
    once: dict[tuple[str, str | None, str | None], tuple[int, Reason]] = {}
    for reason in (*reasons, *_own(case, recommendations, salinity, sodium)):
        own = ORDER.index(reason.severity)
        rank = max(own, table.get(reason.code, own))
        key = (reason.code, reason.analyte, reason.pointer)
        if key not in once or once[key][0] < rank:
            once[key] = (rank, reason._replace(severity=ORDER[rank]))
    ranked = tuple(reason for _, reason in sorted(once.values(), key=_gravest_first))
    return Decision(OUTCOMES[ranked[0].severity] if ranked else RELEASED, ranked)


def stopped(decided: Decision, standing: Reason | None) -> Decision:
    """The same, held where something else than the case stands against letting it out unread."""
    if standing is None or decided.outcome in ("held", "refused"):
        return decided
    return Decision("held", (standing, *decided.reasons))


def _gravest_first(item: tuple[int, Reason]) -> int:
    return -item[0]


def _own(
    case: Case, recommendations: Sequence[Recommendation], salinity: Salinity | None, sodium: Sodium | None
) -> Iterable[Reason]:
    yield from (item.reason for item in recommendations if item.reason is not None)
    yield from _crop(case, recommendations)
    yield from _requests(case, recommendations)
    yield from _metals(case)
    yield from _nitrate(case)
    yield from _extreme_pH(case)
    yield from _forage(case)
    yield from _boron_and_acid(case, recommendations)
    yield from reclamation(case, recommendations, salinity, sodium)


def _crop(case: Case, recommendations: Sequence[Recommendation]) -> Iterable[Reason]:
    """Ratings without amounts: no crop named, or a crop whose library entry has ratings only."""
    if case.crop is None:
        yield Reason("crop_not_given", "withhold", None, {}, Note("ask.crop"), "/target/crop")
    elif not case.crop.amounts and not any(_unsuited(item) for item in recommendations):
        yield Reason("crop_ratings_only", "withhold", None, {"crop": Word("crop", case.crop.id)}, None, "/target/crop")


def _unsuited(item: Recommendation) -> bool:
    return item.kind == "not_suited" and item.subject == "crop_choice"


def _requests(case: Case, recommendations: Sequence[Recommendation]) -> Iterable[Reason]:
    """Something asked for to which the answer says neither how much, nor none, nor do not."""
    if case.crop is None:
        return
    answered = {item.subject for item in recommendations}
    for place, request in enumerate(case.submission.site.requests):
        subjects = ANSWERS.get(request)
        if subjects and subjects.isdisjoint(answered):
            what = {"request": Word("request", request)}
            yield Reason("request_withheld", "withhold", request, what, None, f"/site/requests/{place}")


def _metals(case: Case) -> Iterable[Reason]:
    """A total metal at the lowest level of the region, or not to be told from it."""
    for metal in metals(case):
        level = metal.hold
        if level is None:
            continue
        values = {
            "metal": Word("analyte", level.analyte),
            "value": shown(metal.measurement),
            "level": Quantity(level.value, level.unit),
            "since": level.in_force_from,
            "edition": level.table.edition,
        }
        code = "total_metal" if metal.total else "metal_by_extract"
        if metal.at is None:
            code = "total_metal_undecided"
        yield Reason(code, "hold", level.analyte, values, Note(f"ask.{code}", values))


def _nitrate(case: Case) -> Iterable[Reason]:
    """Nitrate that an infant may drink."""
    found = infant_nitrate(case)
    if found is not None:
        code, value = found
        yield Reason(code, "hold", "NO3-N", {"value": value}, Note("ask.well_test"))


def _extreme_pH(case: Case) -> Iterable[Reason]:
    """A pH beyond what soils have: a slip of the pen before it is a soil."""
    line, pH = reference_of(case.library).factor("pH_extreme_min"), case.find("pH", *LABORATORY_PH)
    if pH is not None and scaled(pH.low) >= scaled(line.value):
        values = {"pH": pH.low, "limit": line.value}
        yield Reason("pH_extreme", "hold", "pH", values, Note("ask.pH_extreme"), f"/results/{pH.index}/value")


def _forage(case: Case) -> Iterable[Reason]:
    """Feed for livestock on soil rich in nitrate or a trace element."""
    for rule, analyte, value in forage_concern(case):
        yield Reason(rule, "hold", analyte, {"analyte": Word("analyte", analyte), "value": value}, Note("ask.forage"))


def _boron_and_acid(case: Case, recommendations: Sequence[Recommendation]) -> Iterable[Reason]:
    """Any boron amount, and acid in any form: never without a person. A firm *do not* is an answer and no form."""
    dosed = {item.subject for item in recommendations if item.kind in AMOUNTS}
    refused = {item.subject for item in recommendations if item.kind == "do_not"}
    if not dosed.isdisjoint(BORON):
        yield Reason("boron_amount", "hold", "B", {}, Note("ask.boron"))
    if "acid" in dosed or ("acid" in case.submission.site.requests and "acid" not in refused):
        yield Reason("acid", "hold", None, {}, Note("ask.acid"))


def visible_to_submitter(interpretation: Interpretation) -> Interpretation:
    """What the sender of a held or refused case may see: everything but amounts.

    Kept back are recommendations of kind nutrient, amendment and water, any other word that carries an amount, the
    materials for them, the leaching, the gypsum, what a person changed, and the reasoning that would give them away.
    Ratings, reasons, cautions, every *do not* and the practices without an amount stay; a refused case keeps its
    figures, its reasons and the warnings of danger, because advice on half a report is none.
    """
    if interpretation.outcome not in ("held", "refused"):
        return interpretation
    seen = replace(
        interpretation,
        reasons=tuple(_without_dose(reason) for reason in interpretation.reasons),
        salinity=_without_leaching(interpretation.salinity),
        sodium=_without_gypsum(interpretation.sodium),
        recommendations=without_amounts(interpretation.recommendations),
        edited=(),
        materials=(),
        supply=(),
    )
    if seen.outcome == "held":
        return seen
    danger = tuple(caution for caution in seen.cautions if caution.severity == "danger")
    return replace(seen, recommendations=(), cautions=danger, not_assessed=())


DOSE_VALUES = frozenset(("per_100", "per_1000", "per_acre", "dose"))
KEPT_BACK = DOSE_VALUES | {"slip"}
"""A slip beside a dose is the dose over its factor; a slip of a figure that the client sent gives nothing away."""


def _without_dose(reason: Reason) -> Reason:
    """A reason that shows a dose becomes its short form, which does not."""
    if DOSE_VALUES.isdisjoint(reason.values):
        return reason
    values = {name: value for name, value in reason.values.items() if name not in KEPT_BACK}
    return reason._replace(code=f"{reason.code}_kept_back", values=values)


def _without_leaching(salinity: Salinity | None) -> Salinity | None:
    if salinity is None or salinity.leaching is None:
        return salinity
    return replace(salinity, leaching=None, steps=())


def _without_gypsum(sodium: Sodium | None) -> Sodium | None:
    if sodium is None or sodium.gypsum is None:
        return sodium
    return replace(sodium, gypsum=None, steps=())
