"""The lay page in codes: one verdict, three to five actions in order, what not to do, when to test again, whom to ask.

It only repeats what the answer says elsewhere and never goes against a caution: what a caution forbids is no action.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from service.agronomy.cautions import forbidding
from service.agronomy.findings import (
    NOTHING,
    Caution,
    Finding,
    Note,
    Reason,
    Recommendation,
    Salinity,
    Sodium,
    Summary,
    Word,
)
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import scaled

MOST_ACTIONS = 5
FEWEST_ACTIONS = 3
MONTHS_PER_YEAR = 12
FULL = 100
SALTY = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
MAIN = frozenset(("P", "K"))
"""Nutrients without which nothing is said of the soil as a whole."""
FED = frozenset(("N", "P2O5", "K2O", "S"))
EXCESS = frozenset(("excessive", "toxic"))
DOSED = frozenset(("nutrient", "amendment", "water"))
DOING = ("water", "amendment", "nutrient", "practice")
CLOSED = frozenset(("held", "refused"))

URGENT = frozenset(
    (
        "lead_level",
        "lead_removal_level",
        "lead_several_sources",
        "arsenic_level",
        "cadmium_level",
        "metal_level_undecided",
        "water_nitrate_infant",
    )
)
"""Cautions about people's health that give the first action and a firm *do not*."""
HEALTH = URGENT | {"boiling_nitrate", "sheep_copper"}
"""Cautions that come before any verdict on the soil."""

FIRST = ("drainage", "resample", "gypsum", "leaching")
"""Subjects that come before the rest: drainage, the missing test and calcium come before leaching and feeding."""

BARRED: Mapping[str, frozenset[str]] = {
    "boron_enough_soil": frozenset(("B", "boron")),
    "boron_in_water": frozenset(("B", "boron")),
    "acid_home": frozenset(("acid",)),
    "acidifying_limy_soil": frozenset(("sulfur", "aluminum_sulfate", "acid", "lower_ph")),
    "wood_ash_alkaline": frozenset(("wood_ash",)),
    "phosphorus_law": frozenset(("P2O5",)),
    "compost_overload": frozenset(("compost", "manure")),
    "salty_soil_fertilizer": frozenset(("manure",)),
    "copper_buildup": frozenset(("Cu",)),
    "zinc_buildup": frozenset(("Zn",)),
    "frozen_ground": frozenset(("N", "P2O5", "K2O", "S", "compost", "manure", "gypsum", "sulfur", "lime")),
}
"""Caution -> subjects of recommendations that it rules out as an action."""


def summarize(
    case: Case,
    outcome: str,
    findings: tuple[Finding, ...],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction | None,
    recommendations: Sequence[Recommendation],
    cautions: Sequence[Caution],
    reasons: Sequence[Reason],
) -> Summary:
    """The page for people, from what was decided. Of a held or refused case it gives no amount."""
    barred = _barred(cautions)
    allowed = [item for item in recommendations if not (item.kind in DOING and item.subject in barred)]
    shown = [item for item in allowed if item.kind not in DOSED] if outcome in CLOSED else allowed
    retest = _retest(case, salinity, sodium, findings, recommendations)
    return Summary(
        verdict=_verdict(case, outcome, findings, salinity, sodium, reaction, shown, cautions),
        actions=_actions(outcome, _tests(case, findings, salinity, sodium), shown, cautions, reasons, retest),
        do_not=_do_not(case, shown, cautions),
        retest=retest,
        contact=_contact(outcome, cautions),
    )


def _barred(cautions: Iterable[Caution]) -> frozenset[str]:
    return frozenset(subject for item in cautions for subject in BARRED.get(item.code, ()))


# --- verdict -----------------------------------------------------------------------------------------------------


def _verdict(
    case: Case,
    outcome: str,
    findings: tuple[Finding, ...],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction | None,
    recommendations: Sequence[Recommendation],
    cautions: Sequence[Caution],
) -> Note:
    """One sentence: the gravest thing that is certain."""
    urgent = any(item.code in HEALTH for item in cautions)
    if outcome == "refused":
        return Note("summary.verdict_refused")
    if outcome == "held":
        return Note("summary.verdict_held_urgent" if urgent else "summary.verdict_held")
    if urgent:
        return Note("summary.verdict_caution_first")
    if case.crop is None:
        return Note("summary.verdict_ratings_only")
    problem = _problem(case, salinity, sodium, recommendations)
    if problem is not None:
        return problem
    if any(item.code == "acidifying_limy_soil" for item in cautions):
        return Note("summary.verdict_pH_stays")
    if not _judged(findings):
        return _little_known(reaction)
    return _feeding(outcome, findings, recommendations)


def _judged(findings: tuple[Finding, ...]) -> bool:
    """Whether enough was rated to speak of the soil as a whole."""
    return any(item.status == "rated" and item.analyte in MAIN for item in findings)


def _little_known(reaction: Reaction | None) -> Note:
    if reaction is None or reaction.pH is None or reaction.pH_class == "unknown":
        return Note("summary.verdict_little_known")
    return Note("summary.verdict_only_pH", {"class": Word("pH_class", reaction.pH_class), "pH": reaction.pH})


def _problem(
    case: Case, salinity: Salinity | None, sodium: Sodium | None, recommendations: Sequence[Recommendation]
) -> Note | None:
    """Sodium before a plant that does not suit the place before salt before a suspicion."""
    if sodium is not None and sodium.sodium_class == "sodic":
        return Note("summary.verdict_saline_sodic" if sodium.soil_class == "saline_sodic" else "summary.verdict_sodic")
    if any(item.kind == "not_suited" and item.subject == "crop_choice" for item in recommendations):
        return Note("summary.verdict_not_suited")
    salty = _salty(case, salinity)
    if salty is None and sodium is not None and sodium.sodium_class == "unknown":
        return Note("summary.verdict_sodium_suspected")
    return salty


def _salty(case: Case, salinity: Salinity | None) -> Note | None:
    """Salt as the verdict: where it costs the target a loss worth a caution, or the soil counts as salty."""
    if salinity is None or salinity.ece is None:
        return None
    kind = "_estimate" if salinity.ece.estimated else ""
    left = salinity.relative_yield_pct
    worth_telling = reference_of(case.library).factor("yield_loss_caution_pct").value
    if left is not None and scaled(FULL - left) >= scaled(worth_telling):
        return Note(f"summary.verdict_salt_costs_yield{kind}", {"yield": float(round(left))})
    return Note(f"summary.verdict_saline{kind}") if salinity.salinity_class in SALTY else None


def _feeding(outcome: str, findings: tuple[Finding, ...], recommendations: Sequence[Recommendation]) -> Note:
    """How the nutrients stand, when neither salt nor sodium comes first."""
    needed = tuple(Word("subject", item.subject) for item in recommendations if item.kind == "nutrient")
    partial = "_partial" if outcome == "partial" else ""
    if any(item.rating in EXCESS for item in findings):
        return Note(f"summary.verdict_excess{partial}")
    if not needed:
        unsaid = tuple(Word("subject", item.subject) for item in recommendations if _left_open(item))
        if unsaid:
            return Note(f"summary.verdict_open{partial}", {"open": tuple(dict.fromkeys(unsaid))})
        return Note(f"summary.verdict_nothing_needed{partial}")
    if all(word.word == "N" for word in needed):
        return Note(f"summary.verdict_only_nitrogen{partial}")
    return Note(f"summary.verdict_needs{partial}", {"needed": tuple(dict.fromkeys(needed))})


def _left_open(item: Recommendation) -> bool:
    """A nutrient for which there is advice but neither an amount nor a *none needed*."""
    return item.kind == "practice" and item.subject in FED


# --- actions -----------------------------------------------------------------------------------------------------


def _actions(
    outcome: str,
    tests: Sequence[Note],
    recommendations: Sequence[Recommendation],
    cautions: Sequence[Caution],
    reasons: Sequence[Reason],
    retest: str,
) -> tuple[Note, ...]:
    """Three to five things to do, in order: health, what is missing, soil, feeding, then the routine."""
    found = [Note(f"summary.first.{item.code}", item.values) for item in cautions if item.code in URGENT]
    if outcome in CLOSED:
        found.append(Note("summary.wait" if outcome == "held" else "summary.send_again"))
    found += [reason.ask for reason in reasons if reason.severity in ASKED and reason.ask is not None]
    found += tests
    ordered = sorted((item for item in recommendations if item.kind in DOING), key=_order)
    found += [action(item) for item in ordered]
    found += list(_routine(recommendations, retest))
    return _once(found)[:MOST_ACTIONS]


ASKED = frozenset(("withhold", "hold", "refuse"))


def _tests(case: Case, findings: tuple[Finding, ...], salinity: Salinity | None, sodium: Sodium | None) -> list[Note]:
    """Tests that come before anything is bought: sodium where it is suspected, salts where they are only estimated."""
    found = []
    if sodium is not None and sodium.sodium_class == "unknown":
        found.append(Note("ask.sodium"))
    if (
        salinity is not None
        and salinity.ece is not None
        and salinity.ece.estimated
        and _salty(case, salinity) is not None
    ):
        found.append(Note("ask.salts"))
    if not _judged(findings):
        found.append(Note("summary.order_routine_test"))
    return found


def _once(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Each message once: the same code with the same values is the same message."""
    kept: list[Note] = []
    for note in notes:
        if note not in kept:
            kept.append(note)
    return tuple(kept)


def _order(item: Recommendation) -> tuple[int, int]:
    subject = FIRST.index(item.subject) if item.subject in FIRST else len(FIRST)
    return subject, DOING.index(item.kind)


def action(item: Recommendation) -> Note:
    """One recommendation as one line: how much of what, in how many doses, for the whole area where it is known."""
    if item.kind == "practice" or item.rate is None or item.in_full:
        return item.text
    values = {"subject": Word("subject", item.subject), "rate": item.rate, "total": item.for_area}
    times = len(item.applications)
    code = "summary.apply_area" if item.for_area is not None else "summary.apply"
    if times > 1:
        first = item.applications[0]
        return Note(f"{code}_split", {**values, "times": times, "dose": first.rate, "when": first.when})
    if times == 1:
        return Note(f"{code}_when", {**values, "when": item.applications[0].when})
    return Note(code, values)


def _routine(recommendations: Sequence[Recommendation], retest: str) -> Iterable[Note]:
    """What closes every list: what need not be bought, and the next test."""
    enough = tuple(Word("subject", item.subject) for item in recommendations if item.kind == "none_needed")
    if enough:
        yield Note("summary.skip", {"subjects": tuple(dict.fromkeys(enough))})
    year, _, month = retest.partition("-")
    yield Note("summary.test_again", {"month": Word("month", str(int(month))), "year": year})
    yield Note("summary.keep_report")


# --- do not, retest, contact -------------------------------------------------------------------------------------


def _do_not(case: Case, recommendations: Sequence[Recommendation], cautions: Sequence[Caution]) -> tuple[Note, ...]:
    """Every firm *do not*, once: of the cautions first, unless a recommendation says it with its arithmetic."""
    said = [item for item in recommendations if item.kind in ("do_not", "not_suited")]
    subjects = frozenset(item.subject for item in said)
    strict = forbidding(case.library) | URGENT
    notes = [
        Note(f"do_not.{item.code}", item.values)
        for item in cautions
        if item.code in strict and subjects.isdisjoint(BARRED.get(item.code, ()))
    ]
    notes += [item.text for item in said]
    return _once(notes)


def _retest(
    case: Case,
    salinity: Salinity | None,
    sodium: Sodium | None,
    findings: tuple[Finding, ...],
    recommendations: Sequence[Recommendation],
) -> str:
    """The month of the next test: sooner where something has to be followed or is not known yet."""
    trouble = (
        _salty(case, salinity) is not None
        or (sodium is not None and sodium.sodium_class != "nonsodic")
        or not _judged(findings)
        or any(item.rating in EXCESS for item in findings)
        or any(item.kind == "amendment" for item in recommendations)
    )
    row = reference_of(case.library).factor("retest_years_problem" if trouble else "retest_years_routine")
    return _later(case.as_of, round(row.value * MONTHS_PER_YEAR))


def _later(day: date, months: int) -> str:
    year, month = divmod(day.year * MONTHS_PER_YEAR + day.month - 1 + months, MONTHS_PER_YEAR)
    return f"{year:04d}-{month + 1:02d}"


def _contact(outcome: str, cautions: Sequence[Caution]) -> Note:
    """Whom to ask: those whom a caution about health names, else the county office."""
    for item in cautions:
        if item.code in HEALTH and item.consult:
            return Note("summary.contact_danger", {"who": tuple(Note(f"consult.{who}") for who in item.consult)})
    return Note("summary.contact_held" if outcome == "held" else "summary.contact", NOTHING)
