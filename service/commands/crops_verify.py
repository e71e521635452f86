"""``saltbush crops verify``: rows not yet checked against print, the record of checks, the edition that they make."""

import argparse
import csv
import sys
from datetime import date
from pathlib import Path

from service.catalog.catalog import CHECKS, Catalog, Table
from service.catalog.comparison import Comparison, compare_editions
from service.catalog.effects import figures, named
from service.catalog.signoff import Check, CheckError, read_checks, record, sign
from service.catalog.worklist import Item, worklist
from service.commands.crops_folders import read_with
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words

CHANGES = "CHANGES.md"
WEIGHT, WHERE = ("weight", "crops", "rides on it"), ("table", "edition", "line")
COLUMNS = (*WEIGHT, *WHERE, "mark", "row", "figures", "sources", "place", "note")


def show(arguments: argparse.Namespace) -> int:
    """Print the work-list. Raises SettingError, CatalogError."""
    items = worklist(read_with(arguments.folder or ()))
    if arguments.table:
        items = [item for item in items if item.row.table.id == arguments.table]
    shown = items[: arguments.limit] if arguments.limit else items
    if arguments.csv:
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(_cells(item) for item in shown)
        return 0
    print(f"{len(items)} rows are not yet checked against print; the weightiest first")
    for item in shown:
        row = item.row
        print(f"{row.table.id}/{row.table.edition} line {row.line}: {named(row)}")
        cited = f"{', '.join(row.sources)}{f', {row.place}' if row.place else ''}"
        print(f"    {figures(row)}")
        print(f"    {row.verification}; {item.rides}; used for {item.crops} crops; {cited}")
    return 0


def _cells(item: Item) -> tuple[object, ...]:
    row = item.row
    ends = (row.table.id, row.table.edition, row.line, row.verification, named(row), figures(row))
    return (item.weight, item.crops, item.rides, *ends, "|".join(row.sources), row.place, row.note)


def note(arguments: argparse.Namespace) -> int:
    """Record one check: 0 recorded, 1 not possible. Raises SettingError, CatalogError."""
    catalog = read_with(arguments.folder or ())
    try:
        corrections = dict(_correction(text) for text in arguments.correct or ())
        check = Check(
            arguments.line,
            "",
            arguments.by,
            arguments.on.isoformat(),
            arguments.copy,
            note=arguments.note,
        )
        found = record(_table(catalog, arguments.table), catalog, check, corrections)
    except CheckError as problem:
        return _refuse(problem)
    said = ", ".join(f"{line.column} corrected to {line.corrected_to}" for line in found if line.column)
    table = catalog.tables[arguments.table]
    print(f"{arguments.table} line {arguments.line}: {said or 'as printed'}; checked by {arguments.by}")
    print(f"    written to {table.folder / f'{table.newest}{CHECKS}'}")
    return 0


def release(arguments: argparse.Namespace) -> int:
    """Make the new edition: 0 made, 1 not possible. Raises SettingError, CatalogError."""
    folders = arguments.folder or ()
    catalog = read_with(folders)
    try:
        table = _table(catalog, arguments.table)
        checks = read_checks(table.folder, table.newest)
        path = sign(table, arguments.edition, arguments.by, date.today())
    except CheckError as problem:
        return _refuse(problem)
    catalog = read_with(folders)
    comparison = compare_editions(catalog, table.id, table.newest, arguments.edition.isoformat())
    text = _entry(catalog, table, comparison, checks, arguments.by)
    _add_entry(table.folder.parents[1] / CHANGES, text)
    print(f"{path} is made; nothing is released before saltbush crops freeze\n\n{text}")
    return 0


def _refuse(problem: CheckError) -> int:
    print(f"saltbush: {problem}", file=sys.stderr)
    return 1


def _table(catalog: Catalog, name: str) -> Table:
    if name not in catalog.tables:
        raise CheckError(f"there is no shared table {name!r}; saltbush crops verify lists them")
    return catalog.tables[name]


def _correction(text: str) -> tuple[str, str]:
    column, equals, value = text.partition("=")
    if not equals:
        raise CheckError(f"{text!r} corrects nothing; write it as upper=18")
    return column.strip(), value.strip()


def _entry(catalog: Catalog, table: Table, comparison: Comparison, checks: list[Check], signer: str) -> str:
    """What the new edition is, for CHANGES.md: who read what, what was corrected, whose answers change."""
    words = Words("en", Catalogue(), catalog.library(date.max).index(labels)["en"])
    signed = dict.fromkeys((check.by, check.copy, check.on) for check in checks)
    lines = [f"## {comparison.after}: {table.title} ({table.id})", ""]
    for by, copy, on in signed:
        rows = len({check.line for check in checks if (check.by, check.copy, check.on) == (by, copy, on)})
        lines.append(f"- {rows} row{'s' if rows > 1 else ''} checked by {by} on {on} in {copy}.")
    lines += [
        f"- Line {check.line}: {check.column} corrected to {check.corrected_to or 'blank'}. {check.note}".rstrip()
        for check in checks
        if check.column
    ]
    alone = ", alone a day after the own check" if signer in {check.by for check in checks} else ""
    lines.append(f"- Signed by {signer}{alone}.")
    lines += [f"- {words.say(effect.sentence)}." for effect in comparison.effects]
    return "\n".join(lines) + "\n"


def _add_entry(path: Path, text: str) -> None:
    """Newest entry first, below the introduction."""
    before = path.read_text("utf-8") if path.exists() else "# Changes of the tables\n"
    head, mark, rest = before.partition("\n## ")
    path.write_text(f"{head.rstrip()}\n\n{text}{mark}{rest}", "utf-8")
