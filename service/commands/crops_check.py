"""``saltbush crops check``: everything that is wrong with tables and crops, and what should be known about them."""

import argparse
import sys
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

from service.catalog.catalog import Catalog
from service.catalog.check import check_catalog, remarks
from service.catalog.errors import Fault
from service.commands.crops_cases import run_cases
from service.commands.crops_folders import read_with
from service.render.catalogue import Catalogue

LANGUAGES = ("en", "es")


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 without a fault, 1 with faults. Raises SettingError when a folder is not there, CatalogError."""
    catalog = read_with(arguments.folders)
    faults = _inside(every_fault(catalog, date.today()), arguments.folders)
    for note in _inside(remarks(catalog), arguments.folders):
        print(f"note: {note}")
    for fault in faults:
        print(fault, file=sys.stderr)
    read = f"{len(catalog.tables)} tables, {len(catalog.crop_editions)} crops, {len(catalog.sources)} sources"
    print(f"{read}: {len(faults) or 'no'} fault{'s' if len(faults) > 1 else ''}")
    return 1 if faults else 0


def _inside(faults: Iterable[Fault], folders: Iterable[Path]) -> list[Fault]:
    """The faults of the folders asked for; of all when none is."""
    places = [folder.resolve() for folder in folders]
    return [fault for fault in faults if not places or any(fault.file.resolve().is_relative_to(p) for p in places)]


def every_fault(catalog: Catalog, today: date) -> list[Fault]:
    """Meaning, texts and worked cases of every edition that was read."""
    faults = [*check_catalog(catalog), *text_faults(catalog, Catalogue())]
    for (name, _), file in catalog.files.items():
        faults += run_cases(file.folder, name, catalog, today)
    return faults


def text_faults(catalog: Catalog, texts: Catalogue) -> Iterator[Fault]:
    """Codes of a crop that no language says, names that stand in one language only."""
    for (name, edition), file in catalog.files.items():
        crop = catalog.crop_editions[name][edition]
        codes = [("notes", f"crop.{note}") for note in crop.notes]
        codes += [("cautions", f"caution.{caution.code}") for caution in crop.cautions]
        for key, code in codes:
            for language in LANGUAGES:
                if code not in texts.entries[language] and code not in crop.texts.get(language, {}):
                    right = f'{language} = "..." beside the code, as crops/README.md shows'
                    yield Fault(file.folder / "crop.toml", None, key, f"{code} is not said in {language}", right)
    for table in catalog.tables.values():
        for ref, rows in table.editions.values():
            for row in rows:
                for column in ("name_en", "name_es", "label_en", "label_es"):
                    if getattr(row, column, None) == "":
                        yield Fault(catalog.file_of(ref), row.line, column, "the name is missing", "a name")
