"""Answers on acid, lime, gypsum, leaching and iron: what the client asked, and what the soil itself asks for."""

from collections.abc import Callable

from service.agronomy.acid_advice import (
    acid_answer,
    aluminum_answer,
    calcium_by_sulfur,
    coffee_answer,
    sulfur_answer,
    vinegar_answer,
)
from service.agronomy.amendments import answer as plain
from service.agronomy.findings import Note, Recommendation, Salinity, Sodium, Texture, Word
from service.agronomy.iron import iron_answer, told_elsewhere
from service.agronomy.ledger import Ledger
from service.agronomy.lime_advice import ash_answer, lime_answer, no_lime
from service.agronomy.reaction import Reaction
from service.agronomy.reclaiming_order import (
    deicing_practice,
    drainage_practice,
    gypsum_answers,
    hardier_practice,
    leaching_answers,
)
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.seedlings import seedling_practice
from service.agronomy.sodium_reading import SODIC
from service.agronomy.units import scaled

SULFUR = frozenset(("lower_ph", "sulfur"))
LIME = frozenset(("raise_ph", "lime"))
PLAIN: tuple[tuple[str, Callable[[Case, Reaction], Recommendation]], ...] = (
    ("vinegar", vinegar_answer),
    ("aluminum_sulfate", aluminum_answer),
    ("acid", acid_answer),
    ("coffee_grounds", coffee_answer),
    ("wood_ash", ash_answer),
)


def answer(
    case: Case, salinity: Salinity | None, sodium: Sodium | None, reaction: Reaction, texture: Texture | None
) -> list[Recommendation]:
    """Recommendations on drainage, acid, lime, gypsum, leaching and iron: each subject once.

    Asked or not, the answer holds drainage, gypsum and leaching that the soil calls for, care for seedlings in salt,
    a crop that cannot stand its lime, iron for yellow leaves on limy soil, and the quiet "none needed" of lime and
    gypsum.
    """
    asked = frozenset(case.submission.site.requests)
    found: list[Recommendation] = []
    unsuited = _crop_choice(case, reaction)
    found += unsuited
    found += drainage_practice(case, salinity, sodium)
    if asked & SULFUR:
        found.append(_sulfur(case, sodium, reaction, texture, asked))
    found += _lime(case, reaction, bool(asked & LIME))
    found += gypsum_answers(case, sodium, texture, "gypsum" in asked)
    found += leaching_answers(case, salinity, sodium, "leaching" in asked)
    found += [*seedling_practice(case, salinity), *deicing_practice(case, salinity)]
    found += [] if unsuited else hardier_practice(case, salinity)
    if told_elsewhere(case, reaction):
        found.append(iron_answer(case, reaction))
    found += [answer_to(case, reaction) for request, answer_to in PLAIN if request in asked]
    return found


def _sulfur(
    case: Case, sodium: Sodium | None, reaction: Reaction, texture: Texture | None, asked: frozenset[str]
) -> Recommendation:
    """Sulfur lowers pH, or frees the calcium of lime in a sodic soil: who asks for a lower pH is answered on that."""
    sodic = sodium is not None and sodium.sodium_class == SODIC
    if sodic and reaction.calcareous and "lower_ph" not in asked:
        return calcium_by_sulfur(case)
    return sulfur_answer(case, reaction, texture)


def _crop_choice(case: Case, reaction: Reaction) -> list[Recommendation]:
    """A plant that cannot stand lime, on soil that has it."""
    crop = case.crop
    if crop is None or "lime_intolerant" not in crop.traits:
        return []
    likely = scaled(reference_of(case.library).factor("lime_unknown_acidify_pH_max").value)
    limy = reaction.calcareous or (
        reaction.calcareous is None and reaction.pH is not None and scaled(reaction.pH) >= likely
    )
    if not limy:
        return []
    ledger = Ledger(case.explain)
    high = crop.pH_range[1] if crop.pH_range else None
    ledger.use(crop.pH_source)
    if crop.pH_source is not None:
        ledger.step("crop_pH", "crop_choice", {"pH": reaction.pH, "high": high}, False, "", crop.pH_source)
    values = {"crop": Word("crop", crop.id), "pH": reaction.pH, "high": high}
    return [plain("not_suited", "crop_choice", Note("rec.crop_not_in_lime", values), ledger)]


def _lime(case: Case, reaction: Reaction, asked: bool) -> list[Recommendation]:
    if asked:
        return [lime_answer(case, reaction)]
    limit = reference_of(case.library).factor("lime_needed_pH_max")
    if reaction.pH is not None and scaled(reaction.pH) >= scaled(limit.value):
        return [no_lime(case, reaction, "none_needed")]
    return []
