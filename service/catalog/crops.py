"""Reads one crop folder and follows its pointers into the shared tables."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from service.agronomy.findings import EditionRef
from service.agronomy.tables import (
    AmountRow,
    Band,
    BoronToleranceRow,
    ChlorideToleranceRow,
    Crop,
    CropCaution,
    Row,
    SaltToleranceRow,
)
from service.catalog.errors import Fault
from service.catalog.read import digest, read_rows, read_toml

KEYS = {
    "id": str,
    "kind": str,
    "group": str,
    "scientific_name": str,
    "names": dict,
    "sampling": dict,
    "reaction": dict,
    "traits": list,
    "calibrations": list,
    "alternatives": list,
    "boron": str,
    "boron_source": str,
    "chloride": str,
    "chloride_source": str,
    "cautions": list,
    "notes": list,
}
REQUIRED = ("id", "kind", "group", "names", "sampling")
Tables = Mapping[str, tuple[Row, ...]]
P = TypeVar("P", Band, AmountRow)


@dataclass(frozen=True, kw_only=True, slots=True)
class SaltPointer(SaltToleranceRow):
    """A row of a crop's salt_tolerance.csv: figures of its own, or a pointer into the shared table."""

    use_table: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class ReactionRow(Row):
    """The pH range of a crop, with its source."""

    pH_low: float
    pH_high: float


def crop_digest(folder: Path) -> str:
    """One hash over the files of a crop edition, in name order; worked cases are not part of it."""
    names = sorted(path.name for path in folder.iterdir() if path.suffix in (".toml", ".csv"))
    parts = (folder / name for name in names if name != "cases.toml")
    return digest(b"".join(path.name.encode() + b"\0" + path.read_bytes() + b"\0" for path in parts))


def read_crop(folder: Path, tables: Tables, faults: list[Fault]) -> Crop | None:
    """The crop of one edition folder, or ``None`` when its faults forbid it."""
    before = len(faults)
    path = folder / "crop.toml"
    about = read_toml(path, faults)
    _check_keys(path, folder.parent.name, about, faults)
    if len(faults) > before:
        return None
    ref = EditionRef(about["id"], folder.name, crop_digest(folder))
    salts = _salts(folder, ref, tables, faults)
    reaction = _reaction(path, about.get("reaction"), ref, faults)
    crop = Crop(
        id=about["id"],
        edition=ref,
        names={language: tuple(names) for language, names in about["names"].items()},
        scientific_name=about.get("scientific_name", ""),
        kind=about["kind"],
        group=about["group"],
        depth_in=(float(about["sampling"]["depth_in"][0]), float(about["sampling"]["depth_in"][1])),
        pH_range=(reaction.pH_low, reaction.pH_high) if reaction else None,
        pH_source=reaction,
        traits=frozenset(about.get("traits", ())),
        calibrations=tuple(about.get("calibrations", ())),
        sufficiency=_followed(folder / "sufficiency.csv", Band, ref, tables, faults),
        amounts=_followed(folder / "amounts.csv", AmountRow, ref, tables, faults),
        salt=salts[0] if salts else None,
        salt_rivals=tuple(salts[1:]),
        boron=_named(path, "boron", about, tables, "boron-tolerance", BoronToleranceRow, faults),
        chloride=_named(path, "chloride", about, tables, "chloride-tolerance", ChlorideToleranceRow, faults),
        cautions=tuple(_caution(item) for item in about.get("cautions", ())),
        alternatives=tuple(about.get("alternatives", ())),
        notes=tuple(about.get("notes", ())),
    )
    return crop if len(faults) == before else None


def _check_keys(path: Path, folder_name: str, about: Mapping[str, Any], faults: list[Fault]) -> None:
    for key, value in about.items():
        if key not in KEYS:
            faults.append(Fault(path, None, key, "unknown key", f"one of {', '.join(KEYS)}"))
        elif not isinstance(value, KEYS[key]):
            faults.append(Fault(path, None, key, f"{value!r}", f"a {KEYS[key].__name__}"))
    missing = (key for key in REQUIRED if key not in about)
    faults.extend(Fault(path, None, key, "the key is missing", f"a line starting with {key}") for key in missing)
    if about.get("id") not in (None, folder_name):
        faults.append(Fault(path, None, "id", repr(about["id"]), f"the folder's name {folder_name!r}"))
    names = about.get("names")
    if isinstance(names, dict) and not (names.get("en") and names.get("es")):
        faults.append(Fault(path, None, "names", "a language is missing", "en = [...] and es = [...]"))
    sampling = about.get("sampling")
    if isinstance(sampling, dict) and len(sampling.get("depth_in", ())) != 2:
        faults.append(Fault(path, None, "sampling.depth_in", "no depth", "depth_in = [top, bottom] in inches"))


def _reaction(path: Path, about: Mapping[str, Any] | None, ref: EditionRef, faults: list[Fault]) -> ReactionRow | None:
    if about is None:
        return None
    try:
        return ReactionRow(
            pH_low=float(about["pH_low"]),
            pH_high=float(about["pH_high"]),
            sources=tuple(about["sources"]),
            place=about.get("place", ""),
            verification=about["verification"],
            note=about.get("note", ""),
            table=ref,
        )
    except (KeyError, TypeError, ValueError) as problem:
        faults.append(Fault(path, None, "reaction", f"{problem}", "pH_low, pH_high, sources, verification"))
        return None


def _caution(item: Mapping[str, Any]) -> CropCaution:
    return CropCaution(item["code"], item["severity"], tuple(item["sources"]), item["verification"])


def _salts(folder: Path, ref: EditionRef, tables: Tables, faults: list[Fault]) -> list[SaltToleranceRow]:
    path = folder / "salt_tolerance.csv"
    if not path.exists():
        return []
    found: list[SaltToleranceRow] = []
    for row in read_rows(path, SaltPointer, ref, faults):
        assert isinstance(row, SaltPointer)
        if row.use_table:
            found.extend(_pointed_salts(path, row, tables, faults))
        else:
            found.append(row)
    return found


def _pointed_salts(path: Path, row: SaltPointer, tables: Tables, faults: list[Fault]) -> list[SaltToleranceRow]:
    shared = [item for item in tables.get(row.use_table, ()) if isinstance(item, SaltToleranceRow)]
    matching = [item for item in shared if item.crop == row.crop]
    first = [item for item in matching if row.sources[0] in item.sources]
    if not first:
        faults.append(
            Fault(path, row.line, "crop", f"no row for {row.crop!r} by {row.sources[0]!r}", f"a row of {row.use_table}")
        )
    return first + [item for item in matching if item not in first]


def _named(
    path: Path, key: str, about: Mapping[str, Any], tables: Tables, table: str, kind: type[Any], faults: list[Fault]
) -> Any:
    name = about.get(key)
    if not name:
        return None
    wanted = about.get(f"{key}_source")
    for row in tables.get(table, ()):
        if isinstance(row, kind) and row.crop == name and (wanted is None or wanted in row.sources):
            return row
    faults.append(Fault(path, None, key, f"no row for {name!r}", f"a crop of the table {table}"))
    return None


def _followed(path: Path, kind: type[P], ref: EditionRef, tables: Tables, faults: list[Fault]) -> tuple[P, ...]:
    if not path.exists():
        return ()
    found: list[P] = []
    for row in read_rows(path, kind, ref, faults):
        assert isinstance(row, kind)
        if row.use_table:
            found.extend(_pointed(path, row, kind, tables, faults))
        else:
            found.append(row)
    return tuple(found)


def _pointed(path: Path, row: P, kind: type[P], tables: Tables, faults: list[Fault]) -> list[P]:
    shared = [item for item in tables.get(row.use_table, ()) if isinstance(item, kind)]
    matching = [item for item in shared if item.group == row.use_group and _same_subject(item, row)]
    if not matching:
        faults.append(
            Fault(path, row.line, "use_group", f"nothing in {row.use_table} fits", "a group and analyte it holds")
        )
    return [_narrowed(item, row) for item in matching]


def _same_subject(item: Band | AmountRow, row: Band | AmountRow) -> bool:
    if isinstance(item, Band) and isinstance(row, Band):
        return item.analyte == row.analyte and item.method == row.method
    assert isinstance(item, AmountRow)
    assert isinstance(row, AmountRow)
    return item.nutrient == row.nutrient


def _narrowed(item: P, row: P) -> P:
    """The shared row, with the crop's own timing and stages where the pointer gives them."""
    if isinstance(item, AmountRow) and isinstance(row, AmountRow):
        own = ("stages", "maintenance", "uses", "schedule")
        changes = {name: value for name in own if (value := getattr(row, name))}
        return replace(item, **changes) if changes else item
    return item
