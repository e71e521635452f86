"""How much of each nutrient: N by season, the others by their soil test, with *none needed* said aloud.

The order of the answer is fixed: N, P2O5, K2O, S, Zn, Fe, Mn, Cu, B.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.findings import Finding, Note, Reason, Recommendation, Salinity, Sodium, Texture, Water
from service.agronomy.iron import told_elsewhere
from service.agronomy.micronutrients import (
    iron_words,
    micronutrient_words,
    recommend_boron,
    recommend_foliar_zinc,
)
from service.agronomy.nitrogen import recommend_nitrogen
from service.agronomy.phosphorus import phosphorus_words, potassium_words, sulfur_words
from service.agronomy.plot import prepare_settings
from service.agronomy.provisional import without_rates
from service.agronomy.reaction import Reaction
from service.agronomy.restraint import growth_left, held_back
from service.agronomy.sample import Case
from service.agronomy.spreading import in_words
from service.agronomy.tested import SUBJECT_WORDS, rated, recommend_tested, type_of_words

WORDS: Mapping[str, type_of_words] = {
    "P2O5": phosphorus_words,
    "K2O": potassium_words,
    "S": sulfur_words,
    "Zn": micronutrient_words,
    "Fe": iron_words,
    "Mn": micronutrient_words,
    "Cu": micronutrient_words,
}
"""Who finds the sentence for each nutrient dosed by its test; N and B have their own steps."""


class Recommended(NamedTuple):
    """Recommendations in the fixed order of nutrients, and reasons for the decision."""

    recommendations: tuple[Recommendation, ...]
    reasons: tuple[Reason, ...]


NOTHING_TO_DOSE = Recommended((), ())


def recommend(
    case: Case,
    findings: Iterable[Finding],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction,
    texture: Texture | None,
    water: Water | None,  # noqa: ARG001 - its nitrate is read from the case
) -> Recommended:
    """Amounts of nutrients for the target, in the client's units, each with its calibration and its steps.

    Without a crop there are ratings and no amounts. A nutrient that was not tested is left out; one whose test is
    withheld gets no amount. A sample of which nothing can be trusted gets no plan at all.
    """
    crop = case.crop
    if crop is None or (case.soil and len(case.voids) >= len(case.soil)):
        return NOTHING_TO_DOSE
    plot = case.library.index(prepare_settings).plot(case, crop, salinity, texture, reaction.calcareous)
    first = _first_rated(findings)
    given: list[Recommendation] = []
    reasons: list[Reason] = []
    nitrogen = recommend_nitrogen(plot, growth_left(case, salinity))
    if nitrogen.recommendation is not None:
        given.append(nitrogen.recommendation)
    reasons.extend(nitrogen.reasons)
    for nutrient, words in WORDS.items():
        tested = rated(plot, nutrient, first)
        answer = recommend_foliar_zinc(plot, tested) if nutrient == "Zn" else None
        if answer is None and tested is not None and not (nutrient == "Fe" and told_elsewhere(case, reaction)):
            answer = recommend_tested(tested, words)
        if answer is not None:
            given.append(answer.recommendation)
            reasons.extend(answer.reasons)
    boron = recommend_boron(plot, rated(plot, "B", first))
    if boron is not None:
        given.append(boron.recommendation)
        reasons.extend(boron.reasons)
    given = without_rates(case, given)
    fed = held_back(case, given, salinity, sodium, reaction)
    given = fed if fed[:1] and fed[0].subject == "fertilizer" else [*fed, *_shopping(case, fed)]
    return Recommended(tuple(given), tuple(reasons))


def _first_rated(findings: Iterable[Finding]) -> dict[str, Finding]:
    """For each analyte the first finding with a class: it alone decides the amount."""
    first: dict[str, Finding] = {}
    for finding in findings:
        if finding.status == "rated":
            first.setdefault(finding.analyte, finding)
    return first


def _shopping(case: Case, given: Iterable[Recommendation]) -> list[Recommendation]:
    """For a client who asks what to buy: which nutrients to look for, and which to leave in the shop.

    What is short without an amount in our tables is named too: an answer that nothing is to be bought would be false.
    """
    if "fertilizer" not in case.submission.site.requests:
        return []
    needed = tuple(SUBJECT_WORDS[item.subject] for item in given if item.kind == "nutrient")
    spared = tuple(SUBJECT_WORDS[item.subject] for item in given if item.kind in ("none_needed", "do_not"))
    open_ = tuple(
        SUBJECT_WORDS[item.subject] for item in given if item.kind == "practice" and item.subject in SUBJECT_WORDS
    )
    code = "rec.fertilizer_buy_only" if spared else "rec.fertilizer_buy"
    if not needed and open_:
        code = "rec.fertilizer_ask"
    elif not needed:
        code = "rec.fertilizer_none" if spared else "rec.fertilizer_untested"
    return [in_words("practice", "fertilizer", Note(code, {"needed": needed, "spared": spared, "open": open_}))]
