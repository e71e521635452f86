"""All editions of all tables and crops, and the `Library` in force on a day."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

from service.agronomy.findings import EditionRef
from service.agronomy.tables import ROW_KINDS, Crop, Library, Row, Source
from service.catalog.crops import CropFile, read_crop
from service.catalog.errors import CatalogError, Fault
from service.catalog.ledger import Standing, check_ledger
from service.catalog.pointers import Shared, follow
from service.catalog.read import digest, raise_if, read_rows, read_toml
from service.catalog.sources import add_sources

SHARED = "_shared"
CHECKS = ".checks.csv"
"""Ending of the file beside an edition that records who checked its rows against print."""

CropEditions = Mapping[str, Mapping[str, Crop]]
Editions = tuple[tuple[str, str], ...]
"""Table or crop and the edition chosen of it."""


@dataclass(frozen=True, slots=True)
class Table:
    """A shared table: what it is for and its editions, oldest first.

    ``extends``: another table that its rows are added to, so that a folder of one's own can bring a calibration, a
    material or a crop's salt tolerance without touching the shipped table.
    """

    id: str
    title: str
    purpose: str
    rows: str
    editions: Mapping[str, tuple[EditionRef, tuple[Row, ...]]]
    folder: Path = Path()
    extends: str = ""

    @property
    def newest(self) -> str:
        """The last edition."""
        return max(self.editions)


class Catalog:
    """Everything that was read at start. Immutable; libraries are made on demand and kept.

    Attributes:
        tables: every shared table with all its editions.
        crop_editions: every crop with all its editions, pointers followed into the newest tables.
        sources: every cited work.
        files: crop editions with pointers not followed; a library follows them into its own tables.
        standing: every folder that was read, with the editions found in it.
    """

    def __init__(
        self,
        tables: Mapping[str, Table],
        crops: CropEditions,
        sources: Mapping[str, Source],
        files: Mapping[tuple[str, str], CropFile] | None = None,
        standing: Mapping[Path, tuple[Standing, ...]] | None = None,
    ) -> None:
        self.tables = tables
        self.crop_editions = crops
        self.sources = sources
        self.files = files or {}
        self.standing = standing or {}
        self._newest = {table.id: table.newest for table in tables.values()}
        self._parts = _parts(tables)
        self._older: dict[tuple[str, str, Editions], Crop] = {}
        self._library = lru_cache(maxsize=64)(self._make)

    @property
    def crops(self) -> Mapping[str, Crop]:
        """Every crop at its newest edition."""
        return {crop: editions[max(editions)] for crop, editions in self.crop_editions.items()}

    def editions_of(self, name: str) -> tuple[str, ...]:
        """The editions of a table or crop, oldest first; none when there is no such thing."""
        table = self.tables.get(name)
        return tuple(sorted(table.editions if table else self.crop_editions.get(name, ())))

    def file_of(self, ref: EditionRef) -> Path:
        """The file of a table's edition, the folder of a crop's."""
        table = self.tables.get(ref.id)
        return table.folder / f"{ref.edition}.csv" if table else self.files[ref.id, ref.edition].folder

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
        return [name for name, edition in pins.items() if edition not in self.editions_of(name)]

    def _make(self, tables: Editions, crops: Editions) -> Library:
        found = {name: self.tables[name].editions[edition] for name, edition in tables}
        rows = _joined({name: rows for name, (_, rows) in found.items()}, self._parts)
        laid_out, shared = dict(tables), Shared(rows)
        return Library(
            tables=rows,
            editions={name: ref for name, (ref, _) in found.items()},
            sources=self.sources,
            crops={name: self._crop(name, edition, laid_out, shared) for name, edition in crops},
        )

    def _crop(self, name: str, edition: str, tables: Mapping[str, str], shared: Shared) -> Crop:
        """One crop on the tables of one library. What an older table does not hold yet is a gap, not a fault."""
        newest = self.crop_editions[name][edition]
        file = self.files.get((name, edition))
        if file is None:
            return newest
        used = sorted(part for table in file.uses for part in (table, *self._parts.get(table, ())))
        if all(tables.get(table) == self._newest.get(table) for table in used):
            return newest
        key = (name, edition, tuple((table, tables.get(table, "")) for table in used))
        if key not in self._older:
            self._older[key] = follow(file, shared, [])
        return self._older[key]


def _parts(tables: Mapping[str, Table]) -> dict[str, tuple[str, ...]]:
    """Table -> the tables that extend it."""
    parts: dict[str, tuple[str, ...]] = {}
    for table in tables.values():
        if table.extends:
            parts[table.extends] = (*parts.get(table.extends, ()), table.id)
    return parts


def _joined(rows: dict[str, tuple[Row, ...]], parts: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[Row, ...]]:
    """Rows by table, each table with the rows of those that extend it."""
    return rows | {name: sum((rows[part] for part in added), rows.get(name, ())) for name, added in parts.items()}


def _pinned(chosen: Editions, pins: Mapping[str, str] | None) -> Editions:
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
    files: dict[tuple[str, str], CropFile] = {}
    standing: dict[Path, tuple[Standing, ...]] = {}
    for folder in dict.fromkeys(Path(folder) for folder in folders):
        if not folder.is_dir():
            faults.append(Fault(folder, None, None, "there is no such folder", "a folder of tables and crops"))
            continue
        add_sources(sources, folder / "sources.csv", faults)
        shared = [item for place in _subfolders(folder / SHARED) for item in _add_table(tables, place, faults)]
        crops = [item for place in _subfolders(folder) for item in _add_crop(files, place, faults)]
        standing[folder] = (*shared, *crops)
        check_ledger(folder, standing[folder], faults)
    crops_by_edition = _followed(files, tables, faults)
    raise_if(faults)
    return Catalog(tables, crops_by_edition, sources, files, standing)


def _followed(
    files: Mapping[tuple[str, str], CropFile], tables: Mapping[str, Table], faults: list[Fault]
) -> dict[str, dict[str, Crop]]:
    for table in tables.values():
        base = tables.get(table.extends)
        if table.extends and (base is None or base.rows != table.rows or base.extends):
            right = f"the id of a shared table of {table.rows} rows"
            faults.append(Fault(table.folder / "about.toml", None, "extends", repr(table.extends), right))
    newest = {table.id: table.editions[table.newest][1] for table in tables.values() if table.editions}
    shared = Shared(_joined(newest, _parts(tables)))
    crops: dict[str, dict[str, Crop]] = {}
    for (name, edition), file in files.items():
        if name in tables:
            faults.append(Fault(file.folder, None, None, f"{name} is the id of a shared table", "another id"))
        crops.setdefault(name, {})[edition] = follow(file, shared, faults)
    return crops


def _subfolders(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith((".", "_")))


def _add_table(tables: dict[str, Table], folder: Path, faults: list[Fault]) -> list[Standing]:
    before = len(faults)
    about = read_toml(folder / "about.toml", faults)
    if len(faults) > before:
        return []
    kind = str(about.get("rows"))
    if kind not in ROW_KINDS:
        faults.append(Fault(folder / "about.toml", None, "rows", repr(kind), f"one of {', '.join(ROW_KINDS)}"))
        return []
    if folder.name in tables:
        faults.append(Fault(folder, None, None, "a table of this id exists already", "another id"))
        return []
    editions = {}
    standing = []
    for path in sorted(path for path in folder.glob("*.csv") if _is_edition(path.name)):
        ref = EditionRef(folder.name, path.stem, digest(path.read_bytes()))
        editions[path.stem] = (ref, read_rows(path, ROW_KINDS[kind], ref, faults))
        standing.append(Standing(ref, path))
        if not _is_day(path.stem):
            faults.append(Fault(path, None, None, "the name is no date", "2025-01-01.csv, the day in force from"))
    if not editions:
        faults.append(Fault(folder, None, None, "no edition", "a file such as 2025-01-01.csv"))
    tables[folder.name] = Table(
        id=folder.name,
        title=about.get("title", folder.name),
        purpose=about.get("purpose", ""),
        rows=kind,
        editions=editions,
        folder=folder,
        extends=about.get("extends", ""),
    )
    return standing


def _is_edition(name: str) -> bool:
    """Not a record of checks, nor what an open spreadsheet leaves lying about."""
    return not name.endswith(CHECKS) and not name.startswith((".", "~"))


def _is_day(name: str) -> bool:
    try:
        date.fromisoformat(name[:10])
    except ValueError:
        return False
    return True


def _add_crop(files: dict[tuple[str, str], CropFile], folder: Path, faults: list[Fault]) -> list[Standing]:
    standing = []
    if (folder / "crop.toml").exists():
        right = "it in a folder named by the day in force from, such as 2025-01-01"
        faults.append(Fault(folder / "crop.toml", None, None, "the crop stands in no edition", right))
    for edition in _subfolders(folder):
        if not _is_day(edition.name):
            faults.append(Fault(edition, None, None, "the name is no date", "2025-01-01, the day in force from"))
            continue
        file = read_crop(edition, faults)
        if file is not None and file.ref[:2] in files:
            faults.append(Fault(edition, None, None, f"{file.ref.id} exists already", "another id or edition"))
        elif file is not None:
            files[file.ref[:2]] = file
            standing.append(Standing(file.ref, edition))
    return standing


__all__ = ["Catalog", "CatalogError", "Table", "load_catalog"]
