"""Answers on acid, lime, gypsum, leaching and iron: what the client asked, and what the soil itself asks for."""

from collections.abc import Callable

from service.agronomy.acid_advice import acid_answer, aluminum_answer, coffee_answer, sulfur_answer, vinegar_answer
from service.agronomy.amendments import answer as plain
from service.agronomy.amendments import withheld
from service.agronomy.findings import Leaching, Note, Recommendation, Salinity, Sodium, Texture, Word
from service.agronomy.iron import chlorosis, iron_answer
from service.agronomy.ledger import Ledger
from service.agronomy.lime_advice import ash_answer, lime_answer, no_lime
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
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
    """Recommendations on acid, lime, gypsum, leaching and iron: each subject once.

    Asked or not, the answer holds gypsum and leaching that the soil calls for, a crop that cannot stand its lime, iron
    for yellow leaves on limy soil, and the quiet "none needed" of lime and gypsum.
    """
    asked = frozenset(case.submission.site.requests)
    found: list[Recommendation] = []
    found += _crop_choice(case, reaction)
    if asked & SULFUR:
        found.append(sulfur_answer(case, reaction, texture))
    found += _lime(case, reaction, bool(asked & LIME))
    found += _gypsum(case, sodium, "gypsum" in asked)
    found += _leaching(case, salinity, "leaching" in asked)
    if "iron" in asked or chlorosis(case, reaction):
        found.append(iron_answer(case, reaction))
    found += [answer_to(case, reaction) for request, answer_to in PLAIN if request in asked]
    return found


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


def _gypsum(case: Case, sodium: Sodium | None, asked: bool) -> list[Recommendation]:
    if sodium is not None and sodium.gypsum is not None:
        return [sodium.gypsum]
    if sodium is None or (sodium.sar is None and sodium.esp is None):
        return [withheld("gypsum", "gypsum_needs_tests")] if asked else []
    line = reference_of(case.library).factor("gypsum_useless_below_sar")
    ledger = Ledger(case.explain)
    useless = sodium.sar is not None and scaled(sodium.sar) < scaled(line.value)
    ledger.step("gypsum_line", "class", {"SAR": sodium.sar, "line": line.value}, useless, "", line)
    if sodium.sodium_class == "nonsodic" and useless:
        code = "rec.gypsum_useless" if asked else "rec.gypsum_none"
        return [plain("do_not" if asked else "none_needed", "gypsum", Note(code, {"SAR": sodium.sar}), ledger)]
    if sodium.sodium_class == "nonsodic":
        return [plain("not_suited", "gypsum", Note("rec.gypsum_not_yet", {"SAR": sodium.sar}), ledger)] if asked else []
    return [withheld("gypsum", "gypsum_withheld")]


def _leaching(case: Case, salinity: Salinity | None, asked: bool) -> list[Recommendation]:
    """The leaching worked out with the salinity, as a recommendation; or why there is none to a client who asked."""
    if salinity is not None and salinity.leaching is not None:
        return [_leach(salinity, salinity.leaching)]
    if not asked:
        return []
    if salinity is None or salinity.ece is None:
        return [withheld("leaching", "leaching_needs_ece")]
    ledger = Ledger(case.explain)
    ledger.steps = list(salinity.steps)
    ledger.given = (salinity.sources, salinity.verification)
    if any(note.code == "salt.leaching_withheld" for note in salinity.notes):
        return [withheld("leaching", "leaching_withheld")]
    if salinity.ece.estimated:
        return [withheld("leaching", "leaching_needs_paste")]
    return [plain("none_needed", "leaching", Note("rec.leaching_none", {"ECe": salinity.ece.value}), ledger)]


def _leach(salinity: Salinity, leaching: Leaching) -> Recommendation:
    """Washing out is an amount of water; the yearly share is a way of irrigating, told in its text."""
    code = f"rec.leaching_{leaching.kind}" + ("" if leaching.volume is None else "_area")
    once = leaching.kind == "reclamation"
    return Recommendation(
        "water" if once else "practice",
        "leaching" if once else "irrigation",
        Note(code, {"depth": leaching.depth, "volume": leaching.volume}),
        rate=leaching.depth if once else None,
        for_area=leaching.volume if once else None,
        because=salinity.steps,
        sources=salinity.sources,
        verification=salinity.verification,
    )
