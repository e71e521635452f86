"""Codes and values into sentences, as a reader of each language writes numbers, units and lists."""

import time
from datetime import date
from pathlib import Path

import pytest

from service.agronomy.findings import Note, Word
from service.agronomy.submission import Quantity
from service.render.catalogue import Catalogue, CatalogueError
from service.render.words import Words, compile_template, placeholders

HEAD = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n'


def catalogue(folder: Path, **languages: str) -> Catalogue:
    """A catalogue of the given PO entries, one file per language."""
    for language, entries in languages.items():
        (folder / language).mkdir()
        (folder / language / "some.po").write_text(HEAD + entries, "utf-8")
    return Catalogue(folder)


def entry(code: str, text: str, flag: str = "") -> str:
    return f'\n{flag}msgid "{code}"\nmsgstr "{text}"\n'


@pytest.fixture(scope="module")
def english() -> Words:
    return Words("en", Catalogue())


@pytest.fixture(scope="module")
def spanish() -> Words:
    return Words("es", Catalogue())


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (3.0, "3"),
        (0.1, "0.1"),
        (7.85, "7.85"),
        (32.614, "32.61"),
        (0.00012, "0.00012"),
        (6406.0, "6,406"),
        (999.97, "1,000"),
        (1234567, "1,234,567"),
        (-1.5, "-1.5"),
        (0, "0"),
    ],
)
def test_numbers(english: Words, spanish: Words, value: float, expected: str) -> None:
    """Unicode CLDR: es-US groups with a comma and has a decimal point, as en-US does."""
    assert english.number(value) == spanish.number(value) == expected


def test_quantities_end_in_the_readers_units(english: Words, spanish: Words) -> None:
    rate = Quantity(3, "lb/1000 ft2")
    assert english.value(rate) == "3 lb per 1,000 sq ft"
    assert spanish.value(rate) == "3 lb por cada 1,000 pies²"
    assert english.value(Quantity(1, "in")) == "1 inch"
    assert english.value(Quantity(6, "in")) == "6 inches"
    assert english.value(Quantity(4, "%")) == "4 %"
    assert english.value(Quantity(7.8, "1")) == "7.8"
    assert english.value(Quantity(2, "furlong")) == "2 furlong"


def test_dates_and_months(english: Words, spanish: Words) -> None:
    """Unicode CLDR, long date formats of en-US and es-US."""
    assert english.value(date(2026, 4, 11)) == "April 11, 2026"
    assert spanish.value(date(2026, 4, 11)) == "11 de abril de 2026"
    assert english.month("2029-04") == "April 2029"
    assert spanish.month("2029-04") == "abril de 2029"
    assert english.month("soon") == "soon"


def test_lists_follow_the_rule_of_the_language(english: Words, spanish: Words) -> None:
    """Real Academia Española: *y* becomes *e* before the sound /i/, but not before *hie-*."""
    assert english.value(("a", "b", "c")) == "a, b and c"
    assert english.value(("a",)) == "a"
    assert spanish.value(("yeso", "cal")) == "yeso y cal"
    assert spanish.value(("zinc", "hierro")) == "zinc y hierro"
    assert spanish.value(("agua", "inodoro")) == "agua e inodoro"


def test_a_sentence_begins_with_a_capital_but_ph_does_not(tmp_path: Path) -> None:
    texts = catalogue(tmp_path, en=entry("x", "{a} is {r}. {b} too.") + entry("word.analyte.P", "phosphorus"))
    words = Words("en", texts, {"word.rating.high": "high"})
    said = words.say(Note("x", {"a": Word("analyte", "P"), "r": Word("rating", "high"), "b": "pH"}))
    assert said == "Phosphorus is high. pH too."


def test_a_value_cannot_bring_in_a_placeholder(tmp_path: Path) -> None:
    words = Words("en", catalogue(tmp_path, en=entry("x", "You sent {what}, not {b}.")))
    assert words.text("x", {"what": "{b} {0.__class__}", "b": "c"}) == "You sent {b} {0.__class__}, not c."


def test_what_nobody_wrote_neither_crashes_nor_hides(tmp_path: Path) -> None:
    texts = catalogue(tmp_path, en=entry("only.english", "Water {n}"), es=entry("otro", "Agua"))
    words = Words("es", texts)
    assert words.text("only.english", {"n": 2.5}) == "Water 2.5"
    assert words.text("only.english") == "Water –"
    assert words.text("rec.nothing") == "[rec.nothing]"
    assert words.word("rating", "splendid") == "[splendid]"
    assert not words.has("rec.nothing")


def test_labels_stand_between_the_languages(tmp_path: Path) -> None:
    """A table's Spanish name wins over the catalogue's English one; the catalogue's own Spanish wins over both."""
    english = entry("word.crop.apple", "apple") + entry("word.crop.onion", "onion")
    texts = catalogue(tmp_path, en=english, es=entry("word.crop.onion", "cebolla"))
    words = Words("es", texts, {"word.crop.apple": "Manzano", "word.crop.onion": "Cebolla"})
    assert words.word("crop", "apple") == "Manzano"
    assert words.word("crop", "onion") == "cebolla"


def test_a_code_may_stand_once(tmp_path: Path) -> None:
    with pytest.raises(CatalogueError, match="twice"):
        catalogue(tmp_path, en=entry("x", "one") + entry("x", "two"))


def test_a_code_may_stand_in_one_file_only(tmp_path: Path) -> None:
    (tmp_path / "en").mkdir()
    for name in ("a.po", "b.po"):
        (tmp_path / "en" / name).write_text(HEAD + entry("x", "one"), "utf-8")
    with pytest.raises(CatalogueError, match=r"en/a.po.*en/b.po"):
        Catalogue(tmp_path)


def test_draft_translations_are_known(tmp_path: Path) -> None:
    found = catalogue(
        tmp_path, en=entry("x", "one") + entry("y", "two"), es=entry("x", "uno", "#, fuzzy\n") + entry("y", "dos")
    )
    assert found.drafts("es") == {"x"}
    assert found.drafts("en") == frozenset()
    assert found.languages == ("en", "es")


@pytest.mark.parametrize("text", ["{", "a } b", "{}", "{a.b}", "{a!r}", "{a:>9}", "{0}"])
def test_a_placeholder_is_a_plain_name(text: str) -> None:
    with pytest.raises(CatalogueError):
        compile_template(text)


def test_placeholders() -> None:
    assert placeholders("{a} and {b}, {a}") == {"a", "b"}
    assert placeholders("none") == frozenset()


def test_every_shipped_text_compiles_and_a_message_is_cheap(english: Words) -> None:
    """A sentence with three values takes a few microseconds; the limit leaves room for a busy machine."""
    values = {"rating": Word("rating", "high"), "percent": 12}
    started = time.perf_counter()
    for _ in range(2000):
        english.text("report.borderline", values)
    assert (time.perf_counter() - started) / 2000 < 50e-6


@pytest.mark.parametrize(
    ("language", "value", "unit", "told"),
    [
        ("en", 2.75, "tsp", "2.75 teaspoons"),
        ("en", 1, "tsp", "1 teaspoon"),
        ("en", 7.4, "ft3", "7.4 cubic feet"),
        ("es", 7.4, "ft3", "7.4 pies cúbicos"),
        ("es", 2.75, "tsp", "2.75 cucharaditas"),
    ],
)
def test_units_have_a_form_for_many(language: str, value: float, unit: str, told: str) -> None:
    assert Words(language, Catalogue()).quantity(Quantity(value, unit)) == told


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (7.5, "pint", "7.5 pints"),
        (14, "pint", "1.75 gallons"),
        (40, "pint", "5 gallons"),
        (104, "pint", "13 gallons"),
        (12.7, "mm", "13 mm"),
        (15.24, "cm", "15 cm"),
        (1.27, "cm", "1.3 cm"),
        (2.54, "mm", "2.54 mm"),
    ],
)
def test_quantities_are_told_in_the_measure_that_people_use(value: float, unit: str, told: str) -> None:
    """NIST Handbook 44, appendix C: 8 pints make a gallon, 25.4 mm an inch. Five-gallon buckets are common practice."""
    assert Words("en", Catalogue()).quantity(Quantity(value, unit)) == told
