"""The data path from a submission to an interpretation, step by step, to be read aloud.

Each step takes what came before it and returns a new value. A step that lacks what it needs says so and withholds
only what depends on it.
"""

from collections.abc import Iterable
from datetime import date

from service.agronomy import (
    amounts,
    caps,
    cautions,
    decision,
    door,
    not_assessed,
    observations,
    organic,
    quality,
    ratings,
    reaction,
    requests,
    salinity,
    sodium,
    summary,
    texture,
    water,
)
from service.agronomy.findings import (
    Caution,
    EditionRef,
    Finding,
    Interpretation,
    Recommendation,
    Salinity,
    Sodium,
    Texture,
    Water,
)
from service.agronomy.sample import Case
from service.agronomy.submission import Submission
from service.agronomy.tables import Library


def interpret(submission: Submission, library: Library, today: date, explain: bool = True) -> Interpretation:
    """What the results mean for the target, what to do, what not to do, and whether a person must look first.

    Args:
        submission: shape-checked by the contract; nothing in it has been converted yet.
        library: the tables in force on the submission's ``as_of`` (or ``today``).
        today: the day of issue; the core reads no clock.
        explain: make steps, borderline classes, rivals and alternatives. Ratings, amounts and outcome do not depend
            on it.
    """
    understood = door.understand(submission, library, today, explain)
    checked = quality.check(understood.case)
    case = understood.case.trusting(checked.voids, checked.weakened)

    soil_texture = texture.texture_of(case)
    rated = ratings.rate(case)
    salts = salinity.assess(case, soil_texture)
    exchangeable = sodium.assess(case, salts, soil_texture)
    irrigation = water.assess(case)
    acidity = reaction.assess(case, soil_texture)

    nutrients = amounts.recommend(case, rated.findings, salts, exchangeable, acidity, soil_texture, irrigation)
    wanted = [
        *nutrients.recommendations,
        *requests.answer(case, salts, exchangeable, acidity, soil_texture),
        *organic.recommend(case, rated.findings, salts),
        *observations.read(case, salts, exchangeable, acidity),
    ]
    recommendations, over = caps.enforce(case, wanted)
    warned = cautions.gather(case, rated.findings, salts, exchangeable, acidity, irrigation, recommendations)
    reasons = (*understood.reasons, *checked.reasons, *rated.reasons, *nutrients.reasons, *over)
    decided = decision.decide(case, reasons, recommendations, warned)
    return Interpretation(
        outcome=decided.outcome,
        reasons=decided.reasons,
        summary=summary.summarize(
            case,
            decided.outcome,
            rated.findings,
            salts,
            exchangeable,
            acidity,
            recommendations,
            warned,
            decided.reasons,
        ),
        findings=rated.findings,
        salinity=salts,
        sodium=exchangeable,
        texture=soil_texture,
        water=irrigation,
        recommendations=tuple(recommendations),
        cautions=warned,
        not_assessed=not_assessed.list_missing(case, salts, exchangeable, acidity),
        quality_checks=checked.checks,
        editions=_editions(case, rated.findings, recommendations),
        sources=_sources(case, rated.findings, salts, exchangeable, soil_texture, irrigation, recommendations, warned),
        crop=case.crop.id if case.crop else None,
        as_of=case.as_of,
    )


def _editions(
    case: Case, findings: Iterable[Finding], recommendations: Iterable[Recommendation]
) -> tuple[EditionRef, ...]:
    """The editions that the figures came from: the crop, the tables that rated or dosed, and the shared rules."""
    used = {item.table for item in (*findings, *recommendations) if item.table}
    if case.crop:
        used.add(case.crop.edition)
    used.update(case.library.index(_rule_editions))
    return tuple(sorted(used))


RULE_KINDS = ("ratings-", "amounts-")


def _rule_editions(library: Library) -> frozenset[EditionRef]:
    """Shared tables that every interpretation rests on, whichever crop it is for."""
    return frozenset(ref for name, ref in library.editions.items() if not name.startswith(RULE_KINDS))


def _sources(
    case: Case,
    findings: Iterable[Finding],
    salts: Salinity | None,
    exchangeable: Sodium | None,
    soil_texture: Texture | None,
    irrigation: Water | None,
    recommendations: Iterable[Recommendation],
    warned: Iterable[Caution],
) -> tuple[str, ...]:
    """Every source id cited anywhere in the answer, once."""
    if not case.explain:
        return ()
    used: set[str] = set()
    for cited in (*findings, *recommendations, *warned):
        used.update(cited.sources)
    for part in (salts, exchangeable, soil_texture):
        if part is not None:
            used.update(part.sources)
    if irrigation is not None:
        used.update(source for hazard in irrigation.hazards for source in hazard.sources)
    steps = [step for item in recommendations for step in item.because]
    steps += [step for part in (salts, exchangeable, irrigation) if part is not None for step in part.steps]
    used.update(source for step in steps for source in step.sources)
    used.update(source for item in findings for rival in item.rivals for source in rival.sources)
    return tuple(sorted(used))
