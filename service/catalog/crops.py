"""Reads one crop folder: what the crop is, its own rows, and its pointers into the shared tables, not yet followed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.agronomy.findings import EditionRef
from service.agronomy.health import SEVERITIES
from service.agronomy.tables import VERIFICATION_ORDER, AmountRow, Band, CropCaution, Row, SaltToleranceRow
from service.catalog.errors import Fault
from service.catalog.read import digest, key_line, read_rows, read_toml

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
NAMED = {"boron": "boron-tolerance", "chloride": "chloride-tolerance"}
"""Keys of crop.toml that name a crop of a shared table."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SaltPointer(SaltToleranceRow):
    """A row of a crop's salt_tolerance.csv: figures of its own, or a pointer into the shared table."""

    use_table: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class ReactionRow(Row):
    """The pH range of a crop, with its source."""

    pH_low: float
    pH_high: float


@dataclass(frozen=True, slots=True)
class CropFile:
    """One crop edition as its folder states it.

    ``uses``: the shared tables that it points to; which editions of them it meets is for the day to say.
    """

    folder: Path
    ref: EditionRef
    about: Mapping[str, Any]
    depth_in: tuple[float, float]
    reaction: ReactionRow | None
    cautions: tuple[CropCaution, ...]
    bands: tuple[Band, ...]
    amounts: tuple[AmountRow, ...]
    salts: tuple[SaltPointer, ...]
    notes: tuple[str, ...]
    texts: Mapping[str, Mapping[str, str]]
    uses: frozenset[str]


def crop_digest(folder: Path) -> str:
    """One hash over the files of a crop edition, in name order; worked cases are not part of it."""
    names = sorted(path.name for path in folder.iterdir() if path.suffix in (".toml", ".csv"))
    parts = (folder / name for name in names if name != "cases.toml")
    return digest(b"".join(path.name.encode() + b"\0" + path.read_bytes() + b"\0" for path in parts))


def read_crop(folder: Path, faults: list[Fault]) -> CropFile | None:
    """The crop of one edition folder, or ``None`` when its faults forbid it."""
    before = len(faults)
    path = folder / "crop.toml"
    about = read_toml(path, faults)
    if len(faults) == before:
        _check_keys(path, folder.parent.name, about, faults)
    if len(faults) > before:
        return None
    ref = EditionRef(about["id"], folder.name, crop_digest(folder))
    rows: dict[str, list[Any]] = {
        name: list(read_rows(folder / f"{name}.csv", kind, ref, faults)) if (folder / f"{name}.csv").exists() else []
        for name, kind in (("sufficiency", Band), ("amounts", AmountRow), ("salt_tolerance", SaltPointer))
    }
    depth = about["sampling"]["depth_in"]
    texts: dict[str, dict[str, str]] = {}
    crop = CropFile(
        folder=folder,
        ref=ref,
        about=about,
        depth_in=(float(depth[0]), float(depth[1])),
        reaction=_reaction(path, about.get("reaction"), ref, faults),
        cautions=tuple(_cautions(path, about.get("cautions", ()), texts, faults)),
        bands=tuple(rows["sufficiency"]),
        amounts=tuple(rows["amounts"]),
        salts=tuple(rows["salt_tolerance"]),
        notes=tuple(_notes(path, about.get("notes", ()), texts, faults)),
        texts=texts,
        uses=frozenset(row.use_table for listed in rows.values() for row in listed if row.use_table)
        | {table for key, table in NAMED.items() if about.get(key)},
    )
    return crop if len(faults) == before else None


def _check_keys(path: Path, folder_name: str, about: Mapping[str, Any], faults: list[Fault]) -> None:
    for key, value in about.items():
        if key not in KEYS:
            faults.append(Fault(path, key_line(path, key), key, "unknown key", f"one of {', '.join(KEYS)}"))
        elif not isinstance(value, KEYS[key]):
            faults.append(Fault(path, key_line(path, key), key, f"{value!r}", f"a {KEYS[key].__name__}"))
    missing = (key for key in REQUIRED if key not in about)
    faults.extend(Fault(path, None, key, "the key is missing", f"a line starting with {key}") for key in missing)
    if about.get("id") not in (None, folder_name):
        right = f"the folder's name {folder_name!r}"
        faults.append(Fault(path, key_line(path, "id"), "id", repr(about["id"]), right))
    names = about.get("names")
    if isinstance(names, dict) and not (_texts(names.get("en")) and _texts(names.get("es"))):
        right = 'en = ["..."] and es = ["..."]'
        faults.append(Fault(path, key_line(path, "names"), "names", "a language is missing", right))
    sampling = about.get("sampling")
    if isinstance(sampling, dict) and not _depth(sampling.get("depth_in")):
        line = key_line(path, "depth_in")
        faults.append(Fault(path, line, "sampling.depth_in", "no depth", "depth_in = [top, bottom] in inches"))


def _texts(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(text, str) and text for text in value)


def _depth(value: Any) -> bool:
    numbers = isinstance(value, list) and len(value) == 2 and all(type(end) in (int, float) for end in value)
    return numbers and 0 <= value[0] < value[1]


def _reaction(path: Path, about: Mapping[str, Any] | None, ref: EditionRef, faults: list[Fault]) -> ReactionRow | None:
    if about is None:
        return None
    try:
        row = ReactionRow(
            pH_low=float(about["pH_low"]),
            pH_high=float(about["pH_high"]),
            sources=tuple(about["sources"]),
            place=about.get("place", ""),
            verification=about["verification"],
            note=about.get("note", ""),
            table=ref,
        )
    except (KeyError, TypeError, ValueError) as problem:
        right = "pH_low, pH_high, sources, verification"
        faults.append(Fault(path, key_line(path, "reaction"), "reaction", f"{problem}", right))
        return None
    _check_mark(path, "reaction", row.verification, faults)
    return row


Texts = dict[str, dict[str, str]]
"""Language -> code -> text."""
LANGUAGES = ("en", "es")


def _cautions(path: Path, items: Any, texts: Texts, faults: list[Fault]) -> Iterator[CropCaution]:
    for item in items:
        try:
            caution = CropCaution(item["code"], item["severity"], tuple(item["sources"]), item["verification"])
        except (KeyError, TypeError) as problem:
            right = "code, severity, sources, verification"
            faults.append(Fault(path, key_line(path, "cautions"), "cautions", f"{problem}", right))
            continue
        _check_mark(path, "cautions", caution.verification, faults)
        if caution.severity not in SEVERITIES:
            right = f"one of {', '.join(SEVERITIES)}"
            faults.append(Fault(path, key_line(path, "severity"), "severity", repr(caution.severity), right))
        _own_texts(path, "cautions", f"caution.{caution.code}", item, texts, faults)
        yield caution


def _notes(path: Path, items: Any, texts: Texts, faults: list[Fault]) -> Iterator[str]:
    """Codes of notes; what no catalogue says brings its own words: ``{code = "...", en = "...", es = "..."}``."""
    for item in items:
        told = {"code": item} if isinstance(item, str) else item
        if not isinstance(told, dict) or not isinstance(told.get("code"), str):
            right = 'a code, or {code = "...", en = "...", es = "..."}'
            faults.append(Fault(path, key_line(path, "notes"), "notes", repr(item), right))
            continue
        _own_texts(path, "notes", f"crop.{told['code']}", told, texts, faults)
        yield told["code"]


def _own_texts(path: Path, key: str, code: str, item: Mapping[str, Any], texts: Texts, faults: list[Fault]) -> None:
    """The words that a note or caution brings along: in both languages or in none, without braces."""
    said = {language: item[language] for language in LANGUAGES if language in item}
    if said and (len(said) < len(LANGUAGES) or not all(_sentence(text) for text in said.values())):
        right = 'en = "..." and es = "...", plain sentences without braces'
        faults.append(Fault(path, key_line(path, key), key, f"{code} is not said in both languages", right))
        return
    for language, text in said.items():
        texts.setdefault(language, {})[code] = text


def _sentence(text: Any) -> bool:
    return isinstance(text, str) and bool(text.strip()) and not set("{}") & set(text)


def _check_mark(path: Path, key: str, mark: str, faults: list[Fault]) -> None:
    if mark not in VERIFICATION_ORDER:
        right = "read, computed, practice or memory"
        faults.append(Fault(path, key_line(path, key), f"{key}.verification", repr(mark), right))
