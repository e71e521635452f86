"""``saltbush crops compare``: two editions of a table or a crop, row by row, and whose answers change."""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import fields
from datetime import date
from pathlib import Path
from typing import Any

from service.agronomy.tables import Row
from service.catalog.catalog import Catalog
from service.catalog.compare import Difference
from service.catalog.comparison import Comparison, compare_editions
from service.catalog.effects import named
from service.catalog.read import BOOKKEEPING
from service.commands.crops_folders import read_with
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 when both editions are there, 2 when one is not. Raises SettingError, CatalogError."""
    catalog = read_with(arguments.folder or ())
    (name, before), (other, after) = _edition(arguments.before), _edition(arguments.after)
    for wanted, edition in ((name, before), (other, after)):
        if edition not in catalog.editions_of(wanted):
            print(_no_such(catalog, wanted, edition), file=sys.stderr)
            return 2
    if name != other:
        print(f"{name} and {other} are not editions of one table or crop", file=sys.stderr)
        return 2
    library = catalog.library(date.max)
    words = Words(arguments.language, Catalogue(), library.index(labels)[arguments.language])
    print("\n".join(_report(compare_editions(catalog, name, before, after), words)))
    return 0


def _edition(text: str) -> tuple[str, str]:
    """``ratings-colorado/2025-01-01``; a path to the file or folder will do."""
    path = Path(text)
    return path.parent.name, path.name.removesuffix(".csv")


def _no_such(catalog: Catalog, name: str, edition: str) -> str:
    editions = catalog.editions_of(name)
    if not editions:
        return f"there is no table or crop {name!r}; write it as ratings-colorado/2025-01-01"
    return f"{name} has no edition {edition!r}; it has {', '.join(editions)}"


def _report(comparison: Comparison, words: Words) -> Iterator[str]:
    yield f"{comparison.id}: {comparison.before} and {comparison.after}"
    for name, difference in comparison.tables.items():
        lines = list(_rows(difference))
        yield from (f"\n{name}", *lines) if lines else ()
    yield "\nWhose answers change"
    yield from (f"  {words.say(effect.sentence)}." for effect in comparison.effects)


def _rows(difference: Difference) -> Iterator[str]:
    for changed in difference.changed:
        before, after = _cells(changed.before, changed.columns), _cells(changed.after, changed.columns)
        yield f"  line {changed.before.line} -> {changed.after.line}  {named(changed.before)}"
        yield from (f"      {name}: {before[name]} -> {after[name]}" for name in changed.columns)
    for sign, rows in (("-", difference.removed), ("+", difference.added)):
        for row in rows:
            cells = _cells(row, tuple(item.name for item in fields(row) if item.name not in BOOKKEEPING))
            said = ", ".join(f"{name} {cell}" for name, cell in cells.items() if cell != BLANK)
            yield f"  {sign} line {row.line}  {said}"


BLANK = "blank"


def _cells(row: Row, names: tuple[str, ...]) -> dict[str, str]:
    return {name: _cell(getattr(row, name)) for name in names}


def _cell(value: Any) -> str:
    if value is None or value in ("", ()):
        return BLANK
    return "|".join(str(each) for each in value) if isinstance(value, tuple) else str(value)
