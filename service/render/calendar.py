"""An interpretation as a calendar file: every dated dose, the next test, and one note of what has no date.

iCalendar (RFC 5545), written by the library icalendar. Works on the JSON answer of the contract like the text report,
and so shows neither more nor less than the view it is made from. An answer gives the same bytes whenever it is asked:
the time stamp is that of the issue, identifiers are the interpretation's id and the place in the answer. A replaced
answer keeps its identifiers, its entries cancelled. No person, laboratory or sample number is in it.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from icalendar import Calendar, Event, Journal

from service.render.calendar_entries import ONE_DAY, Entry, entries, undated
from service.render.words import Words

PRODUCT = "-//Saltbush//Soil test calendar//EN"
CANCELLED = "CANCELLED"
type_of_json = Mapping[str, Any]


def calendar(answer: type_of_json, words: Words) -> bytes:
    """The calendar file of an answer, in the language of ``words``: UTF-8, lines of at most 75 octets ended by CRLF."""
    title = _title(answer, words)
    file = Calendar.new(prodid=PRODUCT, method="PUBLISH", calscale="GREGORIAN", uid=_uid(answer), name=title)
    told = undated(answer, words)
    found = sorted(entries(answer, words), key=lambda entry: entry.first)
    close = [title, *([words.text("calendar.more_undated")] if told else [])]
    for entry in found:
        file.add_component(_event(answer, entry, close))
    if told or not found:
        file.add_component(_note(answer, told or [words.text("calendar.nothing")], words))
    return bytes(file.to_ical())


def _title(answer: type_of_json, words: Words) -> str:
    number = answer.get("number")
    return words.text("report.title_numbered", {"number": number}) if number else words.text("report.title")


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
