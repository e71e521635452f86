"""The message catalogues: every text of the service, read once at start from gettext PO files.

One folder per language under ``languages/``, one file per area. ``msgid`` is the message's code, ``msgstr`` its
text with ``{name}`` placeholders. A text marked ``fuzzy`` is a draft translation that nobody has reviewed yet.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from babel.messages.pofile import read_po

FOLDER = Path(__file__).parent / "languages"
SOURCE_LANGUAGE = "en"


class CatalogueError(Exception):
    """A catalogue file that cannot be trusted: a code given twice, or a text that does not parse."""


class Entry(NamedTuple):
    """One text: what it says, whether it is a draft, and the file it stands in."""

    text: str
    draft: bool
    file: str


class Catalogue:
    """All texts of all languages. Adding a language is adding a folder.

    Attributes:
        languages: the codes of the languages found, English first.
        entries: for each language, code -> `Entry`.

    Raises:
        CatalogueError: a code stands twice in one language.
    """

    def __init__(self, folder: Path = FOLDER) -> None:
        found = sorted(path.name for path in folder.iterdir() if path.is_dir())
        found.sort(key=lambda language: language != SOURCE_LANGUAGE)
        self.languages = tuple(found)
        self.entries: Mapping[str, Mapping[str, Entry]] = {name: _read_language(folder / name) for name in found}

    def texts(self, language: str) -> dict[str, str]:
        """Code -> text of one language, as far as it is translated."""
        return {code: entry.text for code, entry in self.entries.get(language, {}).items()}

    def drafts(self, language: str) -> frozenset[str]:
        """Codes whose text in this language still waits for a reviewer."""
        return frozenset(code for code, entry in self.entries.get(language, {}).items() if entry.draft)

    def missing(self, language: str) -> frozenset[str]:
        """Codes that have an English text but none in this language."""
        return frozenset(self.entries[SOURCE_LANGUAGE]) - frozenset(self.entries.get(language, {}))


def _read_language(folder: Path) -> dict[str, Entry]:
    entries: dict[str, Entry] = {}
    for path in sorted(folder.glob("*.po")):
        for code, entry in _read_file(path).items():
            if code in entries:
                raise CatalogueError(f"{code} stands in {entries[code].file} and in {entry.file}")
            entries[code] = entry
    return entries


def _read_file(path: Path) -> dict[str, Entry]:
    name = f"{path.parent.name}/{path.name}"
    with path.open("rb") as file:
        catalog = read_po(file, locale=path.parent.name, abort_invalid=True)
    entries = {
        str(message.id): Entry(str(message.string), message.fuzzy, name)
        for message in catalog
        if message.id and message.string
    }
    # Babel merges a code that stands twice in one file without a word: count the lines instead.
    lines = path.read_text("utf-8").splitlines()
    written = sum(line.startswith('msgid "') and line != 'msgid ""' for line in lines)
    if written != len(entries):
        raise CatalogueError(f"{name}: {written} codes written, {len(entries)} read: one stands twice or has no text")
    return entries
