"""Codes and values into sentences: the one place where the service finds its words.

Templates are cut into parts once, when the words of a language are made; a message then costs one look-up, one
formatting per value and one join. Values are formatted here and never parsed again, so a value cannot bring in a
placeholder of its own.
"""

from collections.abc import Callable, Mapping
from datetime import date
from functools import lru_cache
from string import Formatter
from typing import Any, NamedTuple

from babel import Locale
from babel.dates import format_date, format_skeleton

from service.agronomy.findings import NOTHING, Note, Word
from service.agronomy.submission import Quantity
from service.render.catalogue import SOURCE_LANGUAGE, Catalogue, CatalogueError

# es_US, not es_ES: with a decimal comma "1.250" would be read as a thousandfold dose.
LOCALES = {"en": "en_US", "es": "es_US"}
BLANK = "–"
UNITLESS = frozenset(("", "1", "pH", "[pH]"))
type_of_values = Mapping[str, Any]


class Slot(NamedTuple):
    """A placeholder: its name, whether it opens a sentence, and the text that follows it."""

    name: str
    opens: bool
    tail: str


class Template(NamedTuple):
    """A text cut at its placeholders."""

    head: str
    slots: tuple[Slot, ...]


class Words:
    """The words of one language.

    Args:
        language: ``en``, ``es``; an unknown one speaks English.
        catalogue: all texts.
        labels: names that stand in tables, by code (``word.crop.apple``), as `service.render.labels` collects them;
            the catalogue's own text wins over a label, a label over a text in another language.
    """

    def __init__(self, language: str, catalogue: Catalogue, labels: Mapping[str, str] = NOTHING) -> None:
        self.language = language
        self.locale = LOCALES.get(language, LOCALES["en"])
        texts = {**catalogue.texts(SOURCE_LANGUAGE), **labels, **catalogue.texts(language)}
        self._texts = texts
        self._templates = {code: compile_template(text) for code, text in texts.items()}
        self._units = _unit_names(texts)
        self._symbols = _symbols(self.locale)
        self._and = texts.get("word.join.and", ", ")
        self._formats: dict[type, Callable[[Any], str]] = {
            str: str,
            float: self.number,
            int: self.number,
            Quantity: self.quantity,
            Word: lambda word: self.word(word[0], word[1]),
            Note: self.say,
            date: self.day,
            tuple: self.listing,
            bool: lambda value: self.word("answer", "yes" if value else "no"),
            type(None): lambda _: BLANK,
        }

    def say(self, note: Note) -> str:
        """The sentence of a note."""
        return self.text(note[0], note[1])

    def text(self, code: str, values: type_of_values = NOTHING) -> str:
        """The sentence of a code with its values; the code itself in brackets when nobody wrote one."""
        template = self._templates.get(code)
        if isinstance(template, str):
            return template
        if template is None:
            return f"[{code}]"
        head, slots = template
        parts = [head]
        for name, opens, tail in slots:
            value = self.value(values.get(name))
            parts.append(_capital(value) if opens else value)
            parts.append(tail)
        return "".join(parts)

    def value(self, value: Any) -> str:
        """One value as people read it."""
        form = self._formats.get(value.__class__)
        return form(value) if form else str(value)

    def word(self, kind: str, word: str) -> str:
        """A word of a closed list, or the name of an analyte, a method, a crop, as it stands inside a sentence."""
        found = self._texts.get(f"word.{kind}.{word}")
        return found if found is not None else f"[{word}]"

    def has(self, code: str) -> bool:
        """Whether anybody wrote a text for this code, in this language or in English."""
        return code in self._texts

    def texts(self, *prefixes: str) -> dict[str, str]:
        """Every text whose code begins with one of the prefixes, unfilled: what a page's script needs."""
        return {code: text for code, text in self._texts.items() if code.startswith(prefixes)}

    def number(self, value: float) -> str:
        """A number with the locale's signs: whole from 1,000 up, else four significant figures at most."""
        size = abs(value)
        if size >= 999.95:
            text = f"{value:,.0f}"
        elif size >= 0.001 or value == 0:
            text = f"{value:.4g}"
        else:
            text = f"{value:.6f}".rstrip("0").rstrip(".")
        return text.translate(self._symbols) if self._symbols else text

    def quantity(self, quantity: Quantity) -> str:
        """A number with its unit as people say it: ``3 lb per 1,000 sq ft``."""
        value, unit = as_told(quantity)
        number = self.number(value)
        if unit in UNITLESS:
            return number
        return f"{number} {self.unit(unit, value)}"

    def unit(self, unit: str, value: float = 2) -> str:
        """The name of a unit; the spelling itself when it has none."""
        names = self._units.get(unit)
        if names is None:
            return unit
        return names[0] if value == 1 else names[1]

    def day(self, day: date) -> str:
        """A date in full: ``April 11, 2026``."""
        return _day(day, self.locale)

    def month(self, year_month: str) -> str:
        """A month from ``2029-04``: ``April 2029``; anything else comes back as it is."""
        try:
            first = date.fromisoformat(f"{year_month}-01")
        except ValueError:
            return year_month
        return format_skeleton("yMMMM", first, locale=self.locale)

    def listing(self, items: tuple[Any, ...]) -> str:
        """``a, b and c``; Spanish turns *y* into *e* before an *i* sound."""
        words = [self.value(item) for item in items]
        if not words:
            return BLANK
        if len(words) == 1:
            return words[0]
        joint = self._and
        if joint == " y " and words[-1][:1].lower() == "i":
            joint = " e "
        return ", ".join(words[:-1]) + joint + words[-1]


MANY_PINTS, PINTS_IN_A_GALLON = 10.0, 8
"""From so many pints on people count gallons, of which the usual bucket holds five."""
WHOLE_FROM = 10.0


def as_told(quantity: Quantity) -> Quantity:
    """A quantity in the measure and to the digit in which people tell it: half an inch of water is 13 mm, not 12.7."""
    value, unit = quantity
    if unit == "pint" and value >= MANY_PINTS:
        gallons = value / PINTS_IN_A_GALLON
        return Quantity(float(round(gallons)) if gallons >= MANY_PINTS else round(gallons * 4) / 4, "gal")
    if unit in ("mm", "cm") and value >= WHOLE_FROM:
        return Quantity(float(round(value)), unit)
    if unit == "cm" and value >= 1:
        return Quantity(round(value, 1), unit)
    return quantity


def compile_template(text: str) -> str | Template:
    """Cut a text at its ``{name}`` placeholders; a text without any stays a string.

    Raises:
        CatalogueError: braces that do not pair, or a placeholder that is more than a name.
    """
    if "{" not in text and "}" not in text:
        return text
    try:
        pieces = list(Formatter().parse(text))
    except ValueError as error:
        raise CatalogueError(f"{text!r}: {error}") from error
    head = ""
    slots: list[Slot] = []
    for position, (literal, name, spec, conversion) in enumerate(pieces):
        if position == 0:
            head = literal
        elif slots:
            slots[-1] = slots[-1]._replace(tail=slots[-1].tail + literal)
        if name is None:
            continue
        if not name.isidentifier() or spec or conversion:
            raise CatalogueError(f"{text!r}: a placeholder is a plain name, not {name!r}")
        opens = literal.endswith((". ", "? ", "! ")) or (position == 0 and not literal)
        slots.append(Slot(name, opens, ""))
    return Template(head, tuple(slots)) if slots else head


def placeholders(text: str) -> frozenset[str]:
    """The names of the placeholders of a text."""
    template = compile_template(text)
    return frozenset() if isinstance(template, str) else frozenset(slot.name for slot in template.slots)


def _capital(text: str) -> str:
    """First letter large, unless the word is spelled with a small one on purpose (pH)."""
    return text if text[1:2].isupper() else text[:1].upper() + text[1:]


def _unit_names(texts: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Unit -> (name for one, name for many), from ``word.unit.X`` and, where they differ, ``word.unit_one.X``."""
    names = {}
    for code, text in texts.items():
        if code.startswith("word.unit."):
            unit = code[len("word.unit.") :]
            names[unit] = (texts.get(f"word.unit_one.{unit}", text), text)
    return names


def _symbols(locale: str) -> dict[int, str] | None:
    """What to exchange in Python's own number format; ``None`` where the locale writes 1,234.5 too."""
    signs = Locale.parse(locale).number_symbols["latn"]
    pair = {",": str(signs["group"]), ".": str(signs["decimal"])}
    return None if pair == {",": ",", ".": "."} else str.maketrans(pair)


@lru_cache(maxsize=4096)
def _day(day: date, locale: str) -> str:
    return format_date(day, "long", locale=locale)
