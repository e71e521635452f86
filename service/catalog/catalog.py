"""All editions of all tables and crops, and the `Library` in force on a day."""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

from service.agronomy.findings import EditionRef
from service.agronomy.tables import ROW_KINDS, Crop, Library, Row, Source
from service.catalog.crops import read_crop
from service.catalog.errors import CatalogError, Fault
from service.catalog.read import digest, raise_if, read_rows, read_toml

SHARED = "_shared"
SOURCE_COLUMNS = ("id", "authors", "year", "title", "publisher", "identifier", "url", "grade")


@dataclass(frozen=True, slots=True)
class Table:
    """A shared table: what it is for and its editions, oldest first."""

    id: str
    title: str
    purpose: str
    rows: str
    editions: Mapping[str, tuple[EditionRef, tuple[Row, ...]]]


class Catalog:
    """Everything that was read at start. Immutable; libraries are made on demand and kept."""

    def __init__(
        self, tables: Mapping[str, Table], crops: Mapping[str, Mapping[str, Crop]], sources: Mapping[str, Source]
    ) -> None:
        self.tables = tables
        self.crop_editions = crops
        self.sources = sources
        self._library = lru_cache(maxsize=64)(self._make)

    @property
    def crops(self) -> Mapping[str, Crop]:
        """Every crop at its newest edition."""
        return {crop: editions[max(editions)] for crop, editions in self.crop_editions.items()}

    def library(self, as_of: date, pins: Mapping[str, str] | None = None) -> Library:
        """The tables in force on ``as_of``, some pinned by hand.

        Raises:
            KeyError: a pin names a table, crop or edition that does not exist.
        """
        chosen = tuple((table.id, _in_force(table.editions, as_of)) for table in self.tables.values())
        crops = tuple((crop, _in_force(editions, as_of)) for crop, editions in self.crop_editions.items())
        return self._library(_pinned(chosen, pins), _pinned(crops, pins))

    def unknown_pins(self, pins: Mapping[str, str]) -> list[str]:
        """Pins that name no table, crop or edition of this catalogue."""
        return [
            name
            for name, edition in pins.items()
            if edition not in (self.tables[name].editions if name in self.tables else self.crop_editions.get(name, {}))
        ]

    def _make(self, tables: tuple[tuple[str, str], ...], crops: tuple[tuple[str, str], ...]) -> Library:
        found = {name: self.tables[name].editions[edition] for name, edition in tables}
        return Library(
            tables={name: rows for name, (_, rows) in found.items()},
            editions={name: ref for name, (ref, _) in found.items()},
            sources=self.sources,
            crops={name: self.crop_editions[name][edition] for name, edition in crops},
        )


def _pinned(chosen: tuple[tuple[str, str], ...], pins: Mapping[str, str] | None) -> tuple[tuple[str, str], ...]:
    if not pins:
        return chosen
    return tuple((name, pins.get(name, edition)) for name, edition in chosen)


def _in_force(editions: Iterable[str], as_of: date) -> str:
    """The newest edition not after the day; before the first one, the first."""
    days = sorted(editions)
    past = [edition for edition in days if edition[:10] <= as_of.isoformat()]
    return past[-1] if past else days[0]


def load_catalog(folders: Iterable[Path]) -> Catalog:
    """Reads every folder of tables and crops.

    Raises:
        CatalogError: anything is wrong with any file; all faults are listed.
    """
    faults: list[Fault] = []
    tables: dict[str, Table] = {}
    sources: dict[str, Source] = {}
    folders = [Path(folder) for folder in folders]
    for folder in folders:
        sources.update(_sources(folder / "sources.csv", faults))
        for place in _subfolders(folder / SHARED):
            _add_table(tables, place, faults)
    newest = {table.id: table.editions[max(table.editions)][1] for table in tables.values() if table.editions}
    crops: dict[str, dict[str, Crop]] = {}
    for folder in folders:
        for place in _subfolders(folder):
            _add_crop(crops, place, newest, faults)
    catalog = Catalog(tables, crops, sources)
    raise_if(faults)
    return catalog


def _subfolders(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith((".", "_")))


def _add_table(tables: dict[str, Table], folder: Path, faults: list[Fault]) -> None:
    about = read_toml(folder / "about.toml", faults)
    kind = str(about.get("rows"))
    if kind not in ROW_KINDS:
        faults.append(Fault(folder / "about.toml", None, "rows", repr(kind), f"one of {', '.join(ROW_KINDS)}"))
        return
    if folder.name in tables:
        faults.append(Fault(folder, None, None, "a table of this id exists already", "another id"))
        return
    editions = {}
    for path in sorted(folder.glob("*.csv")):
        ref = EditionRef(folder.name, path.stem, digest(path.read_bytes()))
        editions[path.stem] = (ref, read_rows(path, ROW_KINDS[kind], ref, faults))
        if not _is_day(path.stem):
            faults.append(Fault(path, None, None, "the name is no date", "2025-01-01.csv, the day in force from"))
    if not editions:
        faults.append(Fault(folder, None, None, "no edition", "a file such as 2025-01-01.csv"))
    tables[folder.name] = Table(folder.name, about.get("title", folder.name), about.get("purpose", ""), kind, editions)


def _is_day(name: str) -> bool:
    try:
        date.fromisoformat(name[:10])
    except ValueError:
        return False
    return True


def _add_crop(
    crops: dict[str, dict[str, Crop]], folder: Path, tables: Mapping[str, tuple[Row, ...]], faults: list[Fault]
) -> None:
    for edition in _subfolders(folder):
        if not _is_day(edition.name):
            faults.append(Fault(edition, None, None, "the name is no date", "2025-01-01, the day in force from"))
            continue
        crop = read_crop(edition, tables, faults)
        if crop is not None and edition.name in crops.setdefault(crop.id, {}):
            faults.append(Fault(edition, None, None, f"{crop.id} exists already", "another id or edition"))
        elif crop is not None:
            crops[crop.id][edition.name] = crop


def _sources(path: Path, faults: list[Fault]) -> dict[str, Source]:
    if not path.exists():
        return {}
    with path.open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream)
        if tuple(reader.fieldnames or ()) != SOURCE_COLUMNS:
            faults.append(Fault(path, 1, None, f"columns {reader.fieldnames}", ",".join(SOURCE_COLUMNS)))
            return {}
        return {raw["id"]: Source(raw["id"], _citation(raw), raw["url"] or None, raw["grade"]) for raw in reader}


def _citation(raw: Mapping[str, str]) -> str:
    year = f" ({raw['year']})" if raw["year"] else ""
    authors = "" if raw["authors"] in ("", "-") else f"{raw['authors']}{year}. "
    ending = ", ".join(part for part in (raw["publisher"], raw["identifier"]) if part and part != "-")
    return f"{authors}{raw['title']}{'' if authors else year}." + (f" {ending}." if ending else "")


__all__ = ["Catalog", "CatalogError", "Table", "load_catalog"]
