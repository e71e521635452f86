"""An interpretation as a calendar file: every dated dose, the next test, and one note of what has no date.

iCalendar (RFC 5545), written by the library icalendar. Works on the JSON answer of the contract like the text report,
and so shows neither more nor less than the view it is made from. An answer gives the same bytes whenever it is asked:
the time stamp is that of the issue, identifiers are the interpretation's id and the place in the answer. A replaced
answer keeps its identifiers, its entries cancelled. No person, laboratory or sample number is in it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple

from icalendar import Calendar, Event, Journal

from service.agronomy.findings import Word
from service.render.text_figures import quantity
from service.render.words import Words

PRODUCT = "-//Saltbush//Soil test calendar//EN"
TO_DO = frozenset(("nutrient", "amendment", "water", "practice"))
"""Kinds of recommendations that are something to do. That nothing is needed is no entry of a calendar."""
CANCELLED = "CANCELLED"
KEPT_BACK = frozenset(("held", "refused"))
ONE_DAY = timedelta(days=1)
type_of_json = Mapping[str, Any]
type_of_spread = tuple[str, type_of_json, type_of_json]
"""A dose of a material: its place in the answer, the material, the dose."""


class Entry(NamedTuple):
    """One event: its place in the answer, its title, what stands in it, its first and last day."""

    place: str
    title: str
    lines: tuple[str, ...]
    first: date
    last: date


def calendar(answer: type_of_json, words: Words) -> bytes:
    """The calendar file of an answer, in the language of ``words``: UTF-8, lines of at most 75 octets ended by CRLF."""
    title = _title(answer, words)
    file = Calendar.new(prodid=PRODUCT, method="PUBLISH", calscale="GREGORIAN", uid=_uid(answer), name=title)
    told = _undated(answer, words)
    entries = list(_entries(answer, words))
    close = [title, *([words.text("calendar.more_undated")] if told else [])]
    for entry in entries:
        file.add_component(_event(answer, entry, close))
    if told or not entries:
        file.add_component(_note(answer, told or [words.text("calendar.nothing")], words))
    return bytes(file.to_ical())


def _title(answer: type_of_json, words: Words) -> str:
    number = answer.get("number")
    return words.text("report.title_numbered", {"number": number}) if number else words.text("report.title")


def _entries(answer: type_of_json, words: Words) -> Iterator[Entry]:
    """Dated doses of nutrients, amendments and water with the materials for them, other materials, the next test."""
    doses = list(_material_doses(answer))
    used: set[str] = set()
    for place, item, dose in _doses(answer.get("recommendations") or (), "applications"):
        same = [each for each in doses if _same(each[1], each[2], item, dose)]
        used.update(each[0] for each in same)
        if dose.get("from"):
            yield _dose_entry(place, item, dose, same, words)
    for place, material, dose in doses:
        if place not in used and dose.get("from"):
            yield _dose_entry(f"material-{place}", material, dose, [(place, material, dose)], words)
    retest = str((answer.get("summary") or {}).get("retest") or "")
    if retest:
        yield _retest(retest, words)


def _doses(items: Iterable[type_of_json], name: str) -> Iterator[type_of_spread]:
    """Every dose with its place in the answer and what it is a dose of."""
    for position, item in enumerate(items):
        for number, dose in enumerate(item.get(name) or ()):
            yield f"{position}-{number}", item, dose


def _material_doses(answer: type_of_json) -> Iterator[type_of_spread]:
    return _doses(answer.get("materials") or (), "per_application")


def _same(material: type_of_json, spread: type_of_json, item: type_of_json, dose: type_of_json) -> bool:
    """Whether a material's dose is what gives this dose of a recommendation."""
    days = ("from", "to")
    serves = (material.get("subject"), *(material.get("serves") or ()))
    return item.get("subject") in serves and all(spread.get(day) == dose.get(day) for day in days)


def _dose_entry(
    place: str, item: type_of_json, dose: type_of_json, spread: Sequence[type_of_spread], words: Words
) -> Entry:
    """One dose: titled by the materials to spread where they are known, else by the rate of the nutrient."""
    first, last = _day(dose["from"]), _day(dose.get("to") or dose["from"])
    rate = quantity(dose.get("rate"), words)
    told = [_material(material, each, words) for _, material, each in spread]
    how = [line for _, material, _ in spread for line in material.get("how") or ()] or dose.get("how") or ()
    lines = (
        words.text("calendar.window", {"first": first, "last": last, "when": dose.get("when") or ""}),
        _titled(item, rate, words) if told and item.get("kind") else "",
        dose.get("limit") or "",
        *how,
        item.get("text") or "",
    )
    title = _titled(item, words.listing(tuple(told)) if told else rate, words)
    return Entry(place, title, tuple(dict.fromkeys(filter(None, lines))), first, last)


def _titled(item: type_of_json, what: str, words: Words) -> str:
    return words.text("calendar.dose", {"subject": Word("subject", str(item.get("subject"))), "what": what})


def _material(material: type_of_json, dose: type_of_json, words: Words) -> str:
    """``14.3 lb of ammonium sulfate 21-0-0 (about 18 pints)``."""
    name = str(material.get("name") or words.word("product", str(material.get("material"))))
    grade = str(material.get("grade") or "")
    bare, _, last = name.rpartition(" ")
    if bare and grade.startswith(last):
        name = bare  # a name that ends with the grade in short, 0-0-50 of 0-0-50-17S
    values = {
        "material": f"{name} {grade}".strip(),
        "amount": quantity(dose.get("amount") or dose.get("rate"), words),
        "household": dose.get("household") or "",
    }
    return words.text("calendar.material_measured" if values["household"] else "calendar.material", values)


def _retest(month: str, words: Words) -> Entry:
    """The month of the next soil test. The report names no day, so neither does this."""
    first = _day(f"{month}-01")
    following = (first + timedelta(days=31)).replace(day=1)
    return Entry("retest", words.text("calendar.retest"), (words.month(month),), first, following - ONE_DAY)


def _undated(answer: type_of_json, words: Words) -> list[str]:
    """What is to be done by the plant's stage or by what is seen: a date would be invented."""
    found = []
    if answer.get("outcome") in KEPT_BACK:
        found.append(words.text(f"report.outcome.{answer['outcome']}"))
    for item in answer.get("recommendations") or ():
        doses = item.get("applications") or ()
        if item.get("kind") not in TO_DO or (doses and all(dose.get("from") for dose in doses)):
            continue
        subject = words.word("subject", str(item.get("subject")))
        stages = [f"{quantity(dose.get('rate'), words)}, {dose.get('when')}" for dose in doses if not dose.get("from")]
        text = item.get("text") or ""
        found.append(f"{subject[:1].upper()}{subject[1:]}: {'; '.join((text, *stages))}")
    for _, material, dose in _material_doses(answer):
        if not dose.get("from"):
            what = f"{_material(material, dose, words)}, {dose.get('when') or ''}"
            found.append(" ".join((_titled(material, f"{what}.", words), *(material.get("how") or ()))))
    return found


def _event(answer: type_of_json, entry: Entry, close: Sequence[str]) -> Event:
    """An all-day event that blocks nobody's time; a window of many days is one span."""
    return Event.new(
        uid=f"{_uid(answer)}-{entry.place}",
        stamp=_stamp(answer),
        start=entry.first,
        end=entry.last + ONE_DAY,
        summary=entry.title,
        description="\n".join((*entry.lines, *close)),
        transparency="TRANSPARENT",  # type: ignore[arg-type]
        **_standing(answer),
    )


def _note(answer: type_of_json, lines: Sequence[str], words: Words) -> Journal:
    return Journal.new(
        uid=f"{_uid(answer)}-note",
        stamp=_stamp(answer),
        summary=words.text("calendar.note"),
        description="\n".join((*lines, _title(answer, words))),
        **_standing(answer),
    )


def _standing(answer: type_of_json) -> dict[str, Any]:
    """A replaced or withdrawn answer's entries are cancelled under the same identifiers, one revision on."""
    over = answer.get("replaced_by") or answer.get("standing")
    return {"status": CANCELLED, "sequence": 1} if over else {"sequence": 0}


def _uid(answer: type_of_json) -> str:
    """The interpretation's id; of an answer that is not kept, the submission's fingerprint and its day."""
    provenance = answer.get("provenance") or {}
    return str(answer.get("id") or f"{str(provenance.get('submission_sha256'))[:32]}-{answer.get('as_of')}")


def _stamp(answer: type_of_json) -> datetime:
    return datetime.fromisoformat(str(answer["issued_at"])).astimezone(UTC)


def _day(text: Any) -> date:
    return date.fromisoformat(str(text)[:10])
