"""Words of tables rather than of a catalogue: names of analytes, methods, units, crops, materials; texts of crops."""

from collections.abc import Iterator, Mapping
from typing import Any

from service.agronomy.tables import Library

NAMED_TABLES = (
    ("analytes", "analyte", "analyte", "name"),
    ("methods", "method", "method", "name"),
    ("units", "unit", "spelling", "name"),
    ("calibrations", "calibration", "calibration", "name"),
    ("materials", "product", "material", "name"),
)


def labels(library: Library) -> Mapping[str, Mapping[str, str]]:
    """Language -> code (``word.crop.apple``) -> name, for every named row of the library.

    Built once per library: ``library.index(labels)[language]``.
    """
    return {language: dict(_pairs(library, language)) for language in ("en", "es")}


def _pairs(library: Library, language: str) -> Iterator[tuple[str, str]]:
    for table, kind, key, name in NAMED_TABLES:
        # The first row of a name wins: reversed, because dict() keeps the last.
        for row in reversed(library.tables.get(table, ())):
            yield from _pair(f"word.{kind}.{getattr(row, key)}", getattr(row, f"{name}_{language}"))
    for word in library.tables.get("words", ()):
        entry: Any = word
        yield from _pair(f"word.{entry.list}.{entry.word}", getattr(entry, f"label_{language}"))
    for crop in library.crops.values():
        yield from _pair(f"word.crop.{crop.id}", next(iter(crop.names.get(language, ())), ""))
        yield from crop.texts.get(language, {}).items()


def _pair(code: str, name: str) -> Iterator[tuple[str, str]]:
    if name:
        yield code, name
