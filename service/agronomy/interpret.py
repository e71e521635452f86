"""The data path from a submission to an interpretation, step by step, to be read aloud.

Each step takes what came before it and returns a new value. A step that lacks what it needs says so and withholds
only what depends on it.
"""

from datetime import date

from service.agronomy import (
    amounts,
    caps,
    cautions,
    citations,
    decision,
    door,
    judgement,
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
from service.agronomy.findings import Interpretation, Reason
from service.agronomy.judgement import Judgement
from service.agronomy.materials import step
from service.agronomy.materials.facts import Scene
from service.agronomy.materials.problem import Solver
from service.agronomy.sample import Case
from service.agronomy.submission import Submission
from service.agronomy.tables import Library


def interpret(
    submission: Submission,
    library: Library,
    today: date,
    explain: bool = True,
    *,
    solver: Solver | None = None,
    judged_by: Judgement | None = None,
    standing: Reason | None = None,
    beside: tuple[Reason, ...] = (),
) -> Interpretation:
    """What the results mean for the target, what to do, what not to do, and whether a person must look first.

    Args:
        submission: shape-checked by the contract; nothing in it has been converted yet.
        library: the tables in force on the submission's ``as_of`` (or ``today``).
        today: the day of issue; the core reads no clock.
        explain: make steps, borderline classes, rivals, alternatives, summary, open subjects and citations.
            Ratings, amounts and outcome do not depend on it.
        solver: chooses materials; without one the answer has none.
        judged_by: what a person who read the case decided; the rules alone where nobody has.
        standing: why a report of this kind does not go out unread at present, whatever the rules say.
        beside: what is to be told although it is not in the submission, such as that two forms contradicted.
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
        *organic.recommend(case, rated.findings, salts, nutrients.recommendations),
        *observations.read(case, salts, exchangeable, acidity),
    ]
    sound, over = caps.enforce(case, wanted)
    judged = judgement.judge(case, sound, judged_by)
    recommendations = judged.recommendations
    warned = cautions.gather(case, rated.findings, salts, exchangeable, acidity, irrigation, recommendations)
    reasons = (*beside, *understood.reasons, *checked.reasons, *rated.reasons, *nutrients.reasons, *over)
    by_rules = decision.decide(case, reasons, recommendations, warned, salts, exchangeable)
    decided = decision.stopped(judgement.cleared(by_rules, judged, judged_by), standing)
    supply = step.NOTHING
    if decided.outcome != "refused":
        scene = Scene(case, recommendations, salts, exchangeable, acidity, soil_texture, summary.barred(warned))
        supply = step.plan(scene, solver)
    warned = cautions.fitting(warned, [use.material for use in supply.materials])
    answer = Interpretation(
        outcome=decided.outcome,
        reasons=decided.reasons,
        summary=None,
        findings=rated.findings,
        salinity=salts,
        sodium=exchangeable,
        texture=soil_texture,
        water=irrigation,
        recommendations=tuple(recommendations),
        cautions=warned,
        not_assessed=(),
        quality_checks=checked.checks,
        editions=citations.editions(case, rated.findings, recommendations),
        sources=(),
        crop=case.crop.id if case.crop else None,
        as_of=case.as_of,
        edited=judged.edited,
        by_rules=by_rules.outcome,
        materials=supply.materials,
        supply=supply.notes,
    )
    return _explained(case, answer, acidity) if explain else answer


def _explained(case: Case, answer: Interpretation, acidity: reaction.Reaction) -> Interpretation:
    """The same answer with what only a reader needs: the lay summary, what nobody tested, and who is cited."""
    findings, salts, sodium_found = answer.findings, answer.salinity, answer.sodium
    recommendations, warned = answer.recommendations, answer.cautions
    answer.summary = summary.summarize(
        case,
        answer.outcome,
        findings,
        salts,
        sodium_found,
        acidity,
        recommendations,
        warned,
        answer.reasons,
        answer.materials,
    )
    answer.not_assessed = not_assessed.list_missing(case, salts, sodium_found, acidity)
    answer.sources = citations.sources(
        findings,
        (salts, sodium_found, answer.texture),
        answer.water,
        recommendations,
        warned,
        (*answer.materials, *answer.supply),
    )
    return answer
