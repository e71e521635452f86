"""The calendar file: read back by icalendar, and its bytes held against RFC 5545 by rules written out here."""

import re
from datetime import UTC, date, datetime
from typing import Any

import pytest
from icalendar import Calendar

from service.render.calendar import calendar
from service.render.catalogue import Catalogue
from service.render.words import Words

DOSES = [
    {
        "when": "spring; light, with water",
        "rate": {"value": 0.5, "unit": "lb/1000 ft2"},
        "limit": "1 lb at once",
        "from": "2026-04-20",
        "to": "2026-05-10",
    },
    {
        "when": "late summer",
        "rate": {"value": 1, "unit": "lb/1000 ft2"},
        "limit": None,
        "from": "2026-08-25",
        "to": "2026-08-25",
    },
]
STAGED = [
    {"when": "at tillering", "rate": {"value": 1, "unit": "lb/1000 ft2"}, "limit": None, "from": None, "to": None}
]
ANSWER: dict[str, Any] = {
    "id": "0b9f6f0e-7a4e-4a6c-8f50-6d5f0c1d2e3f",
    "number": "2026-000123",
    "issued_at": "2026-04-20T09:30:00-06:00",
    "replaced_by": None,
    "as_of": "2026-04-20",
    "outcome": "released",
    "language": "en",
    "summary": {"retest": "2029-12"},
    "recommendations": [
        {"kind": "nutrient", "subject": "N", "text": "Dé 1 libra; añada agua, después.", "applications": DOSES},
        {"kind": "nutrient", "subject": "K2O", "text": "Give potash.", "applications": STAGED},
        {"kind": "water", "subject": "leaching", "text": "Wash salt down.", "applications": []},
        {"kind": "none_needed", "subject": "lime", "text": "No lime.", "applications": []},
    ],
    "materials": [],
    "provenance": {"submission_sha256": "ab" * 32},
}
MATERIAL = {
    "subject": "N",
    "material": "urea",
    "name": "Urea",
    "grade": "46-0-0",
    "how": ["Water it in."],
    "per_application": [
        {"amount": {"value": 3.5, "unit": "lb"}, "household": "about 4 pints", "from": "2026-04-20", "to": "2026-05-10"}
    ],
}
# RFC 5545, 3.1: contentline = name *(";" param) ":" value CRLF; 3.3.11: in TEXT ";" and "," are escaped.
CONTENT_LINE = re.compile(r"[A-Z-]+(;[A-Z-]+=[^;:,\"]+)*:[^\x00-\x08\x0a-\x1f\x7f]*")
TEXT_VALUE = re.compile(r"([^\\;,]|\\[\\;,nN])*")
TEXTS = ("SUMMARY", "DESCRIPTION", "NAME", "X-WR-CALNAME", "UID")


@pytest.fixture(scope="module")
def english() -> Words:
    return Words("en", Catalogue())


def read(file: bytes) -> tuple[list[Any], list[Any]]:
    found = Calendar.from_ical(file)
    return list(found.walk("VEVENT")), list(found.walk("VJOURNAL"))


@pytest.mark.parametrize("language", ["en", "es"])
def test_bytes_keep_rfc_5545(language: str) -> None:
    """3.1: lines end with CRLF and hold at most 75 octets, folded by CRLF and a space, never inside a character here.
    3.4 and 3.6: one object of the required properties and at least one component."""
    file = calendar({**ANSWER, "materials": [MATERIAL]}, Words(language, Catalogue()))
    assert file.endswith(b"\r\n")
    assert not re.search(rb"(?<!\r)\n|\r(?!\n)", file)
    for line in file.split(b"\r\n"):
        assert len(line) <= 75
        line.decode("utf-8")
    lines = file.decode().replace("\r\n ", "").removesuffix("\r\n").split("\r\n")
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    for line in lines:
        assert CONTENT_LINE.fullmatch(line), line
        name, _, value = line.partition(":")
        assert name not in TEXTS or TEXT_VALUE.fullmatch(value), line
    assert {"VERSION:2.0", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"} <= set(lines)
    for component in ("VEVENT", "VJOURNAL"):
        for body in re.findall(f"BEGIN:{component}\n(.*?)\nEND:{component}", "\n".join(lines), re.S):
            assert len(re.findall(r"^(?:UID|DTSTAMP):", body, re.M)) == 2


def test_every_dated_dose_is_an_all_day_span_and_the_end_is_the_day_after(english: Words) -> None:
    """RFC 5545, 3.6.1: DTEND is not part of the event; dates without a time make it last all day."""
    events, _ = read(calendar(ANSWER, english))
    spans = [(event["SUMMARY"], event["DTSTART"].dt, event["DTEND"].dt) for event in events]
    assert spans == [
        ("Nitrogen: 0.5 lb per 1,000 sq ft", date(2026, 4, 20), date(2026, 5, 11)),
        ("Nitrogen: 1 lb per 1,000 sq ft", date(2026, 8, 25), date(2026, 8, 26)),
        ("Test the soil again", date(2029, 12, 1), date(2030, 1, 1)),
    ]
    assert all(event["TRANSP"] == "TRANSPARENT" for event in events)


def test_text_with_commas_semicolons_and_accents_reads_back(english: Words) -> None:
    first = read(calendar(ANSWER, english))[0][0]["DESCRIPTION"]
    assert first.split("\n")[:3] == [
        "Between April 20, 2026 and May 10, 2026: spring; light, with water.",
        "1 lb at once",
        "Dé 1 libra; añada agua, después.",
    ]


def test_long_spanish_text_is_folded_without_breaking_a_character() -> None:
    """A fold counted in characters would pass 75 octets: every letter here takes two."""
    item = {**ANSWER["recommendations"][0], "text": "ñáéíóúü" * 40}
    file = calendar({**ANSWER, "recommendations": [item]}, Words("es", Catalogue()))
    assert max(map(len, file.split(b"\r\n"))) <= 75
    assert "ñáéíóúü" * 40 in read(file)[0][0]["DESCRIPTION"]


def test_a_stage_without_a_date_is_told_in_the_note_and_gets_no_day(english: Words) -> None:
    events, (note,) = read(calendar(ANSWER, english))
    assert "DTSTART" not in note
    assert "Potash (K2O): Give potash.; 1 lb per 1,000 sq ft, at tillering" in note["DESCRIPTION"]
    assert "Wash salt down." in note["DESCRIPTION"]
    assert "lime" not in note["DESCRIPTION"]
    assert all("no date" in event["DESCRIPTION"] for event in events)


def test_identifiers_and_stamp_come_from_the_record(english: Words) -> None:
    """RFC 5545, 3.8.4.7 and 3.8.7.2: globally unique identifiers, DTSTAMP in UTC."""
    events, notes = read(calendar(ANSWER, english))
    ids = [str(each["UID"]) for each in (*events, *notes)]
    assert ids == [f"{ANSWER['id']}-{place}" for place in ("0-0", "0-1", "retest", "note")]
    assert {each["DTSTAMP"].dt for each in (*events, *notes)} == {datetime(2026, 4, 20, 15, 30, tzinfo=UTC)}
    assert calendar(ANSWER, english) == calendar(ANSWER, Words("en", Catalogue()))


def test_an_answer_that_is_not_kept_has_identifiers_too(english: Words) -> None:
    events, _ = read(calendar({**ANSWER, "id": None, "number": None}, english))
    assert events[0]["UID"] == f"{'ab' * 16}-2026-04-20-0-0"


def test_a_replaced_answer_cancels_its_entries_under_the_same_identifiers(english: Words) -> None:
    """RFC 5545, 3.8.1.11 and 3.8.7.4: STATUS:CANCELLED, and the sequence goes up."""
    before = read(calendar(ANSWER, english))
    after = read(calendar({**ANSWER, "replaced_by": "another"}, english))
    for then, now in zip((*before[0], *before[1]), (*after[0], *after[1]), strict=True):
        assert then["UID"] == now["UID"]
        assert ("STATUS" in then, now["STATUS"]) == (False, "CANCELLED")
        assert now["SEQUENCE"] > then["SEQUENCE"]


def product(*serves: str, doses: tuple[tuple[float, str, str], ...], **more: Any) -> dict[str, Any]:
    """A product by its label, spread at each ``(lb, first day, last day)``."""
    spread = [
        {"amount": {"value": pounds, "unit": "lb"}, "when": "in time", "from": first, "to": last}
        for pounds, first, last in doses
    ]
    return {
        "material": "balanced_10_10_10",
        "name": "Balanced dry fertilizer 10-10-10",
        "grade": "10-10-10",
        "subject": serves[-1],
        "serves": list(serves),
        "per_application": spread,
        **more,
    }


def fed(subject: str, *doses: tuple[float, str, str]) -> dict[str, Any]:
    """A nutrient to give at each ``(lb/1000 ft2, first day, last day)``."""
    given = [
        {"when": "in time", "rate": {"value": rate, "unit": "lb/1000 ft2"}, "limit": None, "from": first, "to": last}
        for rate, first, last in doses
    ]
    rate = {"value": sum(each[0] for each in doses), "unit": "lb/1000 ft2"}
    return {"kind": "nutrient", "subject": subject, "text": f"Give {subject}.", "rate": rate, "applications": given}


SPRING, SUMMER = ("2026-03-20", "2026-05-31"), ("2026-06-01", "2026-07-31")
BED = {**ANSWER, "summary": None}


def titles(answer: dict[str, Any], words: Words) -> list[str]:
    return [str(event["SUMMARY"]) for event in read(calendar(answer, words))[0]]


def test_a_product_for_three_nutrients_is_one_event(english: Words) -> None:
    """5 lb of 10-10-10 told once for each nutrient is 15 lb in the bed. By its label it holds 10 % of each."""
    wanted = [fed("N", (1.25, *SPRING)), fed("P2O5", (1.15, *SPRING)), fed("K2O", (1.25, *SPRING))]
    balanced = product("N", "P2O5", "K2O", doses=((5.0, *SPRING),), supplies={"value": 1.25, "unit": "lb/1000 ft2"})
    answer = {**BED, "recommendations": wanted, "materials": [balanced]}
    assert titles(answer, english) == [
        "5 lb of Balanced dry fertilizer 10-10-10: brings nitrogen, phosphate (P2O5) and potash (K2O)"
    ]
    assert read(calendar(answer, english))[1] == []


def test_a_season_of_nitrogen_brought_before_planting_is_not_asked_for_again(english: Words) -> None:
    wanted = [fed("N", (1.0, *SPRING), (1.0, *SUMMER)), fed("K2O", (2.0, *SPRING))]
    balanced = product("N", "K2O", doses=((5.0, *SPRING),), supplies={"value": 2, "unit": "lb/1000 ft2"})
    assert len(titles({**BED, "recommendations": wanted, "materials": [balanced]}, english)) == 1


def test_what_no_product_brings_is_asked_for_with_what_is_missing(english: Words) -> None:
    """3.2 oz per 100 sq ft are 2 lb per 1,000: of 1.5 + 1.5 lb the second dose lacks 1 lb, or 16 oz per 1,000."""
    wanted = [fed("N", (1.5, *SPRING), (1.5, *SUMMER)), fed("K2O", (2.0, *SPRING))]
    balanced = product(
        "K2O",
        doses=((5.0, *SPRING),),
        supplies={"value": 3.2, "unit": "oz/100 ft2"},
        also_supplies={"N": {"value": 3.2, "unit": "oz/100 ft2"}},
    )
    answer = {**BED, "recommendations": wanted, "materials": [{**balanced, "serves": ["N", "K2O"]}]}
    short = [{"kind": "short", "text": "1 lb of nitrogen is missing."}]
    assert titles({**answer, "supply": short}, english)[1:] == ["Nitrogen: 1 lb per 1,000 sq ft"]
    (note,) = read(calendar({**answer, "supply": short}, english))[1]
    assert "1 lb of nitrogen is missing." in note["DESCRIPTION"]
    assert len(titles(answer, english)) == 1


def test_a_nutrient_without_any_product_keeps_its_own_events(english: Words) -> None:
    wanted = [fed("N", (1.0, *SPRING), (1.0, *SUMMER)), fed("K2O", (2.0, *SPRING))]
    potash = product("K2O", doses=((5.0, *SPRING),), supplies={"value": 2, "unit": "lb/1000 ft2"})
    told = titles({**BED, "recommendations": wanted, "materials": [potash]}, english)
    assert told[1:] == ["Nitrogen: 1 lb per 1,000 sq ft"] * 2


def test_a_product_with_its_measure_and_the_limit_of_that_dose(english: Words) -> None:
    answer = {**ANSWER, "materials": [MATERIAL]}
    first = read(calendar(answer, english))[0][0]
    assert first["SUMMARY"] == "3.5 lb of Urea 46-0-0: brings nitrogen"
    assert first["UID"] == f"{ANSWER['id']}-material-0-0"
    told = first["DESCRIPTION"].split("\n")
    assert {"3.5 lb: about 4 pints.", "1 lb at once", "Water it in."} <= set(told)


@pytest.mark.parametrize(
    ("name", "grade", "told"),
    [
        ("Potassium sulfate 0-0-50", "0-0-50-17S", "Potassium sulfate 0-0-50-17S"),
        ("10-10-10", "10-10-10", "10-10-10"),
        ("Urea", "46-0-0", "Urea 46-0-0"),
        ("Gypsum", "", "Gypsum"),
    ],
)
def test_a_grade_is_told_once(english: Words, name: str, grade: str, told: str) -> None:
    named = {**MATERIAL, "name": name, "grade": grade}
    assert titles({**ANSWER, "materials": [named]}, english)[0] == f"3.5 lb of {told}: brings nitrogen"


def test_an_amendment_without_a_day_is_told_in_the_note(english: Words) -> None:
    gypsum = {**MATERIAL, "subject": "gypsum", "name": "Gypsum", "grade": "", "household": None}
    dose = {"amount": {"value": 40, "unit": "lb"}, "when": "all at once", "from": None, "to": None}
    wanted = {
        **fed("gypsum"),
        "kind": "amendment",
        "applications": [{**dose, "rate": {"value": 9, "unit": "lb/100 ft2"}}],
    }
    answer = {**BED, "recommendations": [wanted], "materials": [{**gypsum, "per_application": [dose]}]}
    events, (note,) = read(calendar(answer, english))
    assert events == []
    assert note["DESCRIPTION"].split("\n")[0] == "40 lb of Gypsum, all at once. Water it in."


def test_a_material_without_a_day_is_told_in_the_note(english: Words) -> None:
    dose = {**MATERIAL["per_application"][0], "when": "as growth begins", "from": None, "to": None}
    events, (note,) = read(calendar({**ANSWER, "materials": [{**MATERIAL, "per_application": [dose]}]}, english))
    assert len(events) == 1
    told = "3.5 lb of Urea 46-0-0: brings nitrogen, as growth begins. Water it in."
    assert told in note["DESCRIPTION"].split("\n")


def test_water_of_a_dose_is_told_where_no_material_says_it(english: Words) -> None:
    wet = {**DOSES[0], "how": ["Water in half an inch."]}
    answer = {**ANSWER, "recommendations": [{**ANSWER["recommendations"][0], "applications": [wet]}]}
    assert "Water in half an inch." in read(calendar(answer, english))[0][0]["DESCRIPTION"]
    assert "half an inch" not in read(calendar({**answer, "materials": [MATERIAL]}, english))[0][0]["DESCRIPTION"]


@pytest.mark.parametrize("outcome", ["held", "refused"])
def test_what_was_kept_back_leaves_one_note_that_says_so(english: Words, outcome: str) -> None:
    """A calendar without any component would break RFC 5545, 3.6."""
    events, (note,) = read(calendar({**ANSWER, "outcome": outcome, "summary": None, "recommendations": []}, english))
    assert events == []
    assert english.text(f"report.outcome.{outcome}") in note["DESCRIPTION"]


def test_nothing_to_do_is_said(english: Words) -> None:
    events, (note,) = read(calendar({**ANSWER, "summary": None, "recommendations": []}, english))
    assert events == []
    assert "nothing to do on a date" in note["DESCRIPTION"]
