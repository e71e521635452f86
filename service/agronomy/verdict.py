"""The verdict of the lay page: one sentence, the gravest thing that is certain, true to ratings, salt and sodium."""

from service.agronomy.findings import Note, Recommendation, Values, Word
from service.agronomy.page import (
    FULL,
    HEALTH,
    SALTY,
    Page,
    boron_high,
    judged,
    lacking,
    left_open,
    on_leaves,
    overfull,
    salty,
    waiting,
)
from service.agronomy.units import scaled
from service.agronomy.water import sodic_water

MILD = "very_slightly_saline"
ACID = frozenset(("strongly_acid", "moderately_acid"))


def verdict(page: Page) -> Note:
    """One sentence: outcome and health first, then sodium, plant and salt, then how the nutrients stand."""
    urgent = any(item.code in HEALTH for item in page.cautions)
    if page.outcome == "refused":
        return Note("summary.verdict_refused")
    if page.outcome == "held":
        return Note(f"summary.verdict_held{'_urgent' if urgent else _held_for(page)}")
    if urgent:
        return Note("summary.verdict_caution_first")
    if page.case.crop is None:
        return Note("summary.verdict_ratings_only")
    return _problem(page) or _main_thing(page) or _feeding(page)


def _held_for(page: Page) -> str:
    """What is wrong with the soil of a held case, where it is sodium or salt."""
    if page.sodium is not None and page.sodium.sodium_class == "sodic":
        return "_saline_sodic" if page.sodium.soil_class == "saline_sodic" else "_sodic"
    return "_saline" if _salt_measured(page) and salty(page.case, page.salinity) is not None else ""


def _problem(page: Page) -> Note | None:
    """Sodium before a plant that does not suit the place before salt before a suspicion."""
    sodium = page.sodium
    if sodium is not None and sodium.sodium_class == "sodic":
        return Note("summary.verdict_saline_sodic" if sodium.soil_class == "saline_sodic" else "summary.verdict_sodic")
    if any(item.kind == "not_suited" and item.subject == "crop_choice" for item in page.recommendations):
        return Note("summary.verdict_not_suited")
    salt = salty(page.case, page.salinity)
    if salt is None and page.case.water and sodic_water(page.case) is not None:
        return Note("summary.verdict_water_sodic")
    if salt is None and sodium is not None and sodium.sodium_class == "unknown":
        return Note("summary.verdict_sodium_suspected")
    boron = boron_high(page.salinity)
    if boron is None:
        return salt
    values = {"B": boron.values["B"], "threshold": boron.values["threshold"]}
    return Note("summary.verdict_boron", values) if salt is None else Note("summary.verdict_and_boron", {"first": salt})


def _main_thing(page: Page) -> Note | None:
    """Before feeding comes acid, heat that has to pass, zinc on leaves, a pH that stays, how little was sent."""
    acid = _acid(page)
    if acid is not None:
        return acid
    wait = waiting(page)
    if wait is not None:
        return _said("wait", page, _needs("then", page), first=_first_day(wait))
    if any(on_leaves(item) for item in page.recommendations):
        return _said("zinc_on_leaves", page, _needs("too", page))
    if any(item.code == "acidifying_limy_soil" for item in page.cautions):
        return _said("pH_stays", page, _needs("needs", page))
    return None if judged(page.findings) else _little_known(page)


def _acid(page: Page) -> Note | None:
    """Soil more acid than the target likes: lime by its amount, else the test that lime goes by."""
    if any(item.kind == "amendment" and item.subject == "lime" for item in page.recommendations):
        return _said("acid_lime", page, _needs("too", page))
    notes = page.reaction.notes if page.reaction is not None else ()
    below = page.reaction is not None and page.reaction.pH_class in ACID
    if below and any(note.code == "reaction.pH_below" for note in notes):
        return _said("acid", page, _needs("too", page))
    return None


def _first_day(wait: Recommendation) -> object:
    first = wait.applications[0] if wait.applications else None
    return first.from_date if first is not None and first.from_date is not None else wait.text.values.get("first")


def _little_known(page: Page) -> Note:
    reaction = page.reaction
    if reaction is None or reaction.pH is None or reaction.pH_class == "unknown":
        return Note("summary.verdict_little_known")
    return Note("summary.verdict_only_pH", {"class": Word("pH_class", reaction.pH_class), "pH": reaction.pH})


def _feeding(page: Page) -> Note:
    """How the nutrients stand, when nothing else comes first."""
    needed, low, unsaid = _needed(page), lacking(page), left_open(page)
    if overfull(page):
        return _said("excess", page, _needs("needs", page) or Note("summary.also_none"), excess=overfull(page))
    if not needed:
        if low:
            return _said("low", page, low=tuple(low.values()))
        return _said("open", page, open=unsaid) if unsaid else _said(f"nothing_needed{_judged(page)}", page)
    only_nitrogen = all(word.word == "N" for word in needed)
    if not only_nitrogen or low or unsaid or _a_little_salty(page):
        return _said("needs", page, needed=needed)
    tested = "" if _salt_measured(page) else "_tested"
    return _said(f"only_nitrogen{_judged(page) or tested}", page)


def _judged(page: Page) -> str:
    """Where something was withheld, only what could be judged is spoken of."""
    return "_judged" if page.outcome == "partial" else ""


def _needed(page: Page) -> tuple[Word, ...]:
    given = [item for item in page.recommendations if item.kind == "nutrient" and not on_leaves(item)]
    subjects = dict.fromkeys(item.subject for item in given)
    return tuple(Word("subject", subject) for subject in subjects)


def _needs(how: str, page: Page) -> Note | None:
    needed = _needed(page)
    return Note(f"summary.also_{how}", {"needed": needed}) if needed else None


def _salt_measured(page: Page) -> bool:
    return page.salinity is not None and page.salinity.ece is not None and not page.salinity.ece.estimated


def _a_little_salty(page: Page) -> bool:
    """Salt that is no verdict but no good order either."""
    salinity = page.salinity
    if salinity is None or salinity.ece is None or salinity.ece.estimated:
        return False
    left = salinity.relative_yield_pct
    return salinity.salinity_class in (MILD, *SALTY) or (left is not None and scaled(left) < scaled(FULL))


def _said(what: str, page: Page, more: Note | None = None, **values: object) -> Note:
    """A verdict with what must stand beside it: what else is low or open, a little salt, what is left out."""
    return Note(f"summary.verdict_{what}", {**values, "more": _chain([more, *_beside(what, page)])})


def _beside(what: str, page: Page) -> list[Note | None]:
    low, unsaid = lacking(page), left_open(page)
    full = overfull(page)
    return [
        Note("summary.also_excess", {"excess": full}) if full and what != "excess" else None,
        Note("summary.also_low", {"low": tuple(low.values())}) if low and what != "low" else None,
        Note("summary.also_open", {"open": unsaid}) if unsaid and what != "open" else None,
        Note("summary.also_salt") if _a_little_salty(page) else None,
        Note("summary.also_partial") if page.outcome == "partial" else None,
    ]


def _chain(notes: list[Note | None]) -> Note | str:
    """Clauses one after another, as one value of a message."""
    said: Note | str = ""
    for note in reversed([each for each in notes if each is not None]):
        values: Values = {"first": note, "rest": said}
        said = Note("summary.also", values) if said else note
    return said
