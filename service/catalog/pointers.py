"""Follows a crop's pointers into the shared tables in force on one day."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from service.agronomy.tables import (
    AmountRow,
    Band,
    BoronToleranceRow,
    ChlorideToleranceRow,
    Crop,
    Row,
    SaltToleranceRow,
)
from service.catalog.crops import NAMED, CropFile, SaltPointer
from service.catalog.errors import Fault
from service.catalog.read import key_line

P = TypeVar("P", Band, AmountRow)
R = TypeVar("R", bound=Row)
OWN = ("stages", "maintenance", "uses", "schedule")
"""Columns with which a pointer into a table of rates narrows what it brings."""


class Shared:
    """The shared tables of one set of editions, looked up by what pointers ask for."""

    def __init__(self, tables: Mapping[str, tuple[Row, ...]]) -> None:
        self._tables = tables
        self._found: dict[tuple[str, type[Row]], dict[Any, tuple[Any, ...]]] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """The tables there are."""
        return tuple(self._tables)

    def rows(self, table: str, kind: type[R], key: Callable[[R], Any], wanted: Any) -> tuple[R, ...]:
        """The rows of one kind whose ``key`` is ``wanted``, in the order of the file."""
        groups = self._found.get((table, kind))
        if groups is None:
            listed: dict[Any, list[R]] = {}
            for row in self._tables.get(table, ()):
                if isinstance(row, kind):
                    listed.setdefault(key(row), []).append(row)
            groups = self._found[table, kind] = {name: tuple(rows) for name, rows in listed.items()}
        return groups.get(wanted, ())

    def bands(self, pointer: Band) -> tuple[Band, ...]:
        """The classes that a row of sufficiency.csv points to."""
        wanted = (pointer.use_group, pointer.analyte, pointer.method)
        return self.rows(pointer.use_table, Band, lambda row: (row.group, row.analyte, row.method), wanted)

    def amounts(self, pointer: AmountRow) -> tuple[AmountRow, ...]:
        """The rates that a row of amounts.csv points to, with the pointer's own timing and stages where it has any."""
        wanted = (pointer.use_group, pointer.nutrient)
        found = self.rows(pointer.use_table, AmountRow, lambda row: (row.group, row.nutrient), wanted)
        changes: dict[str, Any] = {name: value for name in OWN if (value := getattr(pointer, name))}
        return tuple(replace(row, **changes) for row in found) if changes else found


def follow(file: CropFile, shared: Shared, faults: list[Fault]) -> Crop:
    """The crop with every pointer followed. A pointer that leads nowhere is a fault and brings no row."""
    about = file.about
    salts = [row for pointer in file.salts for row in _salts(file.folder, pointer, shared, faults)]
    bands = [_brought(file, row, shared.bands, shared, faults) for row in file.bands]
    amounts = [_brought(file, row, shared.amounts, shared, faults) for row in file.amounts]
    return Crop(
        id=file.ref.id,
        edition=file.ref,
        names={language: tuple(names) for language, names in about["names"].items()},
        scientific_name=about.get("scientific_name", ""),
        kind=about["kind"],
        group=about["group"],
        depth_in=file.depth_in,
        pH_range=(file.reaction.pH_low, file.reaction.pH_high) if file.reaction else None,
        pH_source=file.reaction,
        traits=frozenset(about.get("traits", ())),
        calibrations=tuple(about.get("calibrations", ())),
        sufficiency=tuple(row for rows in bands for row in rows),
        amounts=tuple(row for rows in amounts for row in rows),
        salt=salts[0] if salts else None,
        salt_rivals=tuple(salts[1:]),
        boron=_named(file, "boron", BoronToleranceRow, shared, faults),
        chloride=_named(file, "chloride", ChlorideToleranceRow, shared, faults),
        cautions=file.cautions,
        alternatives=tuple(about.get("alternatives", ())),
        notes=file.notes,
        texts=file.texts,
    )


def _brought(
    file: CropFile, row: P, find: Callable[[P], tuple[P, ...]], shared: Shared, faults: list[Fault]
) -> tuple[P, ...]:
    if not row.use_table:
        return (row,)
    found = find(row)
    if not found:
        subject = f"{row.analyte} by {row.method}" if isinstance(row, Band) else row.nutrient
        path = file.folder / ("sufficiency.csv" if isinstance(row, Band) else "amounts.csv")
        faults.append(_pointless(shared, path, row, subject))
    return found


def _pointless(shared: Shared, path: Path, row: Band | AmountRow, subject: str) -> Fault:
    """A pointer that brings nothing: its table is not there, or has nothing under what it asks for."""
    if row.use_table not in shared.names:
        near = get_close_matches(row.use_table, shared.names, n=3)
        right = f"perhaps {', '.join(near)}" if near else "a folder of _shared"
        return Fault(path, row.line, "use_table", f"there is no table {row.use_table!r}", right)
    wrong = f"{row.use_table} has nothing in group {row.use_group!r} for {subject}"
    return Fault(path, row.line, "use_group", wrong, "a group and subject that stand in that table")


def _salts(folder: Path, row: SaltPointer, shared: Shared, faults: list[Fault]) -> list[SaltToleranceRow]:
    if not row.use_table:
        return [row]
    matching = shared.rows(row.use_table, SaltToleranceRow, lambda item: item.crop, row.crop)
    first = [item for item in matching if row.sources[0] in item.sources]
    if not first:
        wrong, right = f"no row for {row.crop!r} by {row.sources[0]!r}", f"a crop and source of {row.use_table}"
        faults.append(Fault(folder / "salt_tolerance.csv", row.line, "crop", wrong, right))
    return first + [item for item in matching if item not in first]


def _named(file: CropFile, key: str, kind: type[Any], shared: Shared, faults: list[Fault]) -> Any:
    name = file.about.get(key)
    if not name:
        return None
    wanted = file.about.get(f"{key}_source")
    for row in shared.rows(NAMED[key], kind, lambda item: item.crop, name):
        if wanted is None or wanted in row.sources:
            return row
    path = file.folder / "crop.toml"
    right = f"a crop (and source) of the table {NAMED[key]}"
    faults.append(Fault(path, key_line(path, key), key, f"no row for {name!r}", right))
    return None
