"""What goes into a calendar: each product on each date once, and of each nutrient only what no product brings.

Works on the JSON answer of the contract. A product that brings three nutrients is one entry, or it would be spread
three times; a dose of a nutrient that products bring is no entry of its own, on whatever day they bring it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, NamedTuple

from service.agronomy.findings import Word
from service.agronomy.submission import Quantity
from service.agronomy.units import significant
from service.render.rates import in_unit
from service.render.text_figures import quantity
from service.render.text_materials import product
from service.render.words import Words

TO_DO = frozenset(("nutrient", "amendment", "water", "practice"))
"""Kinds of recommendations that are something to do. That nothing is needed is no entry of a calendar."""
KEPT_BACK = frozenset(("held", "refused"))
ONE_DAY = timedelta(days=1)
HARDLY = 0.05
"""Share of a dose that nobody spreads by itself: what rounding left of it. How a plan is told, not a rule."""
type_of_json = Mapping[str, Any]
type_of_dose = tuple[str, type_of_json, type_of_json]
"""A dose: its place in the answer, what it is a dose of, the dose."""


class Entry(NamedTuple):
    """One event: its place in the answer, its title, what stands in it, its first and last day."""

    place: str
    title: str
    lines: tuple[str, ...]
    first: date
    last: date


def entries(answer: type_of_json, words: Words) -> Iterator[Entry]:
    """Dated doses of products, then of what no product brings, then the next test."""
    for place, use, dose in _doses(answer.get("materials"), "per_application"):
        if dose.get("from"):
            yield _product_entry(f"material-{place}", answer, use, dose, words)
    for place, item, dose in _left_to_give(answer):
        if dose.get("from"):
            yield _nutrient_entry(place, item, dose, words)
    retest = str((answer.get("summary") or {}).get("retest") or "")
    if retest:
        yield _retest(retest, words)


def undated(answer: type_of_json, words: Words) -> list[str]:
    """What is to be done by the plant's stage or by what is seen: a date would be invented."""
    found = []
    if answer.get("outcome") in KEPT_BACK:
        found.append(words.text(f"report.outcome.{answer['outcome']}"))
    found.extend(str(note.get("text") or "") for note in answer.get("supply") or () if note.get("kind") == "short")
    found.extend(_undated_products(answer, words))
    found.extend(_undated_doses(answer, words))
    return found


def _undated_products(answer: type_of_json, words: Words) -> Iterator[str]:
    for use in answer.get("materials") or ():
        doses = use.get("per_application") or ()
        told = [
            f"{_brought(answer, use, dose, words)}, {dose.get('when') or ''}" for dose in doses if not _day_of(dose)
        ]
        if not doses:
            told = [_brought(answer, use, use, words)]
        if told:
            yield " ".join((f"{'; '.join(told)}.", *(use.get("how") or ())))


def _undated_doses(answer: type_of_json, words: Words) -> Iterator[str]:
    """Advice without a product: its text, and the stage of each dose that has no day."""
    staged: dict[str, list[str]] = {}
    for place, _, dose in _left_to_give(answer):
        if not _day_of(dose):
            staged.setdefault(place.partition("-")[0], []).append(
                f"{quantity(dose.get('rate'), words)}, {dose.get('when')}"
            )
    brought = _brought_subjects(answer)
    for position, item in enumerate(answer.get("recommendations") or ()):
        stages, doses = staged.get(str(position), []), item.get("applications") or ()
        if item.get("kind") not in TO_DO or (not stages and (doses or _is_fed(item, brought))):
            continue
        yield _titled(item, "; ".join((item.get("text") or "", *stages)), words)


def _doses(items: Iterable[type_of_json] | None, name: str) -> Iterator[type_of_dose]:
    """Every dose with its place in the answer and what it is a dose of."""
    for position, item in enumerate(items or ()):
        for number, dose in enumerate(item.get(name) or ()):
            yield f"{position}-{number}", item, dose


def _brought_subjects(answer: type_of_json) -> frozenset[str]:
    return frozenset(name for use in answer.get("materials") or () for name in _serves(use))


def _serves(use: type_of_json) -> tuple[str, ...]:
    return tuple(use.get("serves") or (str(use.get("subject")),))


def _is_fed(item: type_of_json, brought: frozenset[str]) -> bool:
    return bool(item.get("rate")) and str(item.get("subject")) in brought


def _left_to_give(answer: type_of_json) -> Iterator[type_of_dose]:
    """The doses of recommendations that no product brings; of what runs short, each dose with what is missing."""
    brought = _brought_subjects(answer)
    short = any(note.get("kind") == "short" for note in answer.get("supply") or ())
    for position, item in enumerate(answer.get("recommendations") or ()):
        doses = item.get("applications") or ()
        subject = str(item.get("subject"))
        if subject not in brought:
            rates: list[Any] = [dose.get("rate") for dose in doses]
        elif short:
            rates = _missing(answer, subject, doses)
        else:
            continue
        for number, (dose, rate) in enumerate(zip(doses, rates, strict=True)):
            if rate is not None:
                yield f"{position}-{number}", item, {**dose, "rate": rate}


def _missing(answer: type_of_json, subject: str, doses: Sequence[type_of_json]) -> list[Any]:
    """What each dose lacks once the products are spread: too much on one day is off the next, then off the last."""
    wanted = [float(dose["rate"]["value"]) for dose in doses]
    left = list(wanted)
    over = 0.0
    given = _given(answer, subject, doses)
    for place, rate in enumerate(given):
        lacking = left[place] - rate - over
        left[place], over = max(lacking, 0.0), max(-lacking, 0.0)
    for place in reversed(range(len(left))):
        taken = min(left[place], over)
        left[place], over = left[place] - taken, over - taken
    return [
        {"value": significant(rest, 2), "unit": dose["rate"]["unit"]} if rest > HARDLY * want else None
        for rest, want, dose in zip(left, wanted, doses, strict=True)
    ]


def _given(answer: type_of_json, subject: str, doses: Sequence[type_of_json]) -> list[float]:
    """What the products bring with each dose of a nutrient, in the unit of that dose."""
    given = [0.0] * len(doses)
    for use in answer.get("materials") or ():
        supplied = (
            use.get("supplies") if subject == use.get("subject") else (use.get("also_supplies") or {}).get(subject)
        )
        spread = use.get("per_application") or ()
        if not supplied or not doses:
            continue
        parts = [float((dose.get("amount") or dose.get("rate") or {"value": 1.0})["value"]) for dose in spread] or [1.0]
        days = [_day_of(dose) for dose in spread] or [None]
        for part, day in zip(parts, days, strict=True):
            place = _dose_on(doses, day)
            given[place] += _as(supplied, str(doses[place]["rate"]["unit"])) * part / sum(parts)
    return given


def _dose_on(doses: Sequence[type_of_json], day: str | None) -> int:
    """The dose in whose days a day falls: the last that has begun by then, else the first."""
    begun = [place for place, dose in enumerate(doses) if day and (begins := _day_of(dose)) and begins <= day]
    return begun[-1] if begun else 0


def _as(rate: type_of_json, unit: str) -> float:
    """A rate in another unit; nothing where the two cannot be compared."""
    found = in_unit(Quantity(float(rate["value"]), str(rate["unit"])), unit)
    return 0.0 if found is None else found.value


def _day_of(dose: type_of_json) -> str | None:
    return str(dose["from"])[:10] if dose.get("from") else None


def _product_entry(place: str, answer: type_of_json, use: type_of_json, dose: type_of_json, words: Words) -> Entry:
    """One product on one date, titled by how much of it; what it is for and the limits it keeps stand in it."""
    first, last = _span(dose)
    lines = [_window(dose, words)]
    if dose.get("household"):
        amount = quantity(dose.get("amount") or dose.get("rate"), words)
        lines.append(words.text("calendar.measured", {"amount": amount, "household": dose["household"]}))
    limits, texts = [], []
    for item in answer.get("recommendations") or ():
        if item.get("subject") in _serves(use) and item.get("kind") in TO_DO:
            limits += [each.get("limit") for each in item.get("applications") or () if _day_of(each) == _day_of(dose)]
            texts.append(str(item.get("text") or ""))
    told = words.text("calendar.why", {"texts": " ".join(filter(None, texts))}) if any(texts) else ""
    lines += [*limits, *(use.get("how") or ()), told]
    return Entry(place, _brought(answer, use, dose, words), _once(lines), first, last)


def _brought(answer: type_of_json, use: type_of_json, dose: type_of_json, words: Words) -> str:
    """``5 lb of balanced dry fertilizer 10-10-10: brings nitrogen, phosphate and potash``."""
    amount = quantity(dose.get("amount") or dose.get("rate"), words)
    values: dict[str, Any] = {"material": product(use, words), "amount": amount}
    fed = {str(item.get("subject")) for item in answer.get("recommendations") or () if item.get("kind") == "nutrient"}
    brings = tuple(Word("subject", name) for name in _serves(use) if name in fed)
    if not brings:
        return words.text("calendar.material", values)
    return words.text("calendar.material_brings", {**values, "subjects": brings})


def _nutrient_entry(place: str, item: type_of_json, dose: type_of_json, words: Words) -> Entry:
    """A dose that no product brings: titled by the rate."""
    first, last = _span(dose)
    lines = [_window(dose, words), dose.get("limit"), *(dose.get("how") or ()), item.get("text")]
    return Entry(place, _titled(item, quantity(dose.get("rate"), words), words), _once(lines), first, last)


def _once(lines: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line for line in lines if line))


def _titled(item: type_of_json, what: str, words: Words) -> str:
    return words.text("calendar.dose", {"subject": Word("subject", str(item.get("subject"))), "what": what})


def _window(dose: type_of_json, words: Words) -> str:
    first, last = _span(dose)
    return words.text("calendar.window", {"first": first, "last": last, "when": dose.get("when") or ""})


def _span(dose: type_of_json) -> tuple[date, date]:
    return _day(dose["from"]), _day(dose.get("to") or dose["from"])


def _retest(month: str, words: Words) -> Entry:
    """The month of the next soil test. The report names no day, so neither does this."""
    first = _day(f"{month}-01")
    following = (first + timedelta(days=31)).replace(day=1)
    return Entry("retest", words.text("calendar.retest"), (words.month(month),), first, following - ONE_DAY)


def _day(text: Any) -> date:
    return date.fromisoformat(str(text)[:10])
