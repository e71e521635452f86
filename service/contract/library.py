"""Tables, crops, words and sources as JSON: what a form needs for its lists, and every figure with its source."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any

from service.agronomy.findings import EditionRef
from service.agronomy.tables import Crop, Row, Source

type_of_json = dict[str, Any]


def row(found: Row) -> type_of_json:
    """Every column of a row, with its line in the file."""
    return {name: getattr(found, name) for name in _columns(type(found))}


def table_edition(
    name: str, title: str, ref: EditionRef, rows: Iterable[Row], sources: Mapping[str, Source]
) -> type_of_json:
    """One edition of a shared table."""
    listed = [row(found) for found in rows]
    return {
        "id": name,
        "title": title,
        "edition": ref.edition,
        "in_force_from": ref.edition[:10],
        "sha256": ref.sha256,
        "rows": listed,
        "sources": cited(listed, sources),
    }


def edition(ref: EditionRef, used: Iterable[str]) -> type_of_json:
    """One line of a list of editions."""
    return {
        "edition": ref.edition,
        "in_force_from": ref.edition[:10],
        "sha256": ref.sha256,
        "sources": sorted(set(used)),
    }


def crop_heading(crop: Crop, editions: Iterable[Crop]) -> type_of_json:
    """A crop in a list, with its editions, oldest first."""
    return {
        "id": crop.id,
        "names": crop.names,
        "scientific_name": crop.scientific_name,
        "kind": crop.kind,
        "group": crop.group,
        "editions": [edition(each.edition, _crop_sources(each)) for each in editions],
    }


def crop_edition(crop: Crop, sources: Mapping[str, Source]) -> type_of_json:
    """One edition of a crop: all its tables, pointers followed."""
    used = _crop_sources(crop)
    return {
        "id": crop.id,
        "names": crop.names,
        "scientific_name": crop.scientific_name,
        "kind": crop.kind,
        "group": crop.group,
        **{name: value for name, value in edition(crop.edition, ()).items() if name != "sources"},
        "sampling_depth_in": crop.depth_in,
        "pH_range": crop.pH_range,
        "pH_source": row(crop.pH_source) if crop.pH_source else None,
        "traits": sorted(crop.traits),
        "calibrations": crop.calibrations,
        "sufficiency": [row(found) for found in crop.sufficiency],
        "amounts": [row(found) for found in crop.amounts],
        "salt_tolerance": [row(found) for found in (crop.salt, *crop.salt_rivals) if found],
        "boron_tolerance": row(crop.boron) if crop.boron else None,
        "chloride_tolerance": row(crop.chloride) if crop.chloride else None,
        "cautions": [{name: getattr(found, name) for name in _columns(type(found))} for found in crop.cautions],
        "alternatives": crop.alternatives,
        "notes": crop.notes,
        "sources": {name: _source(sources[name]) for name in sorted(used) if name in sources},
    }


def difference(added: Iterable[Row], removed: Iterable[Row], changed: Iterable[Any]) -> type_of_json:
    """Rows that came, went and changed; ``changed`` holds triples of before, after, columns."""
    return {
        "removed": [row(found) for found in removed],
        "added": [row(found) for found in added],
        "changed": [{"columns": columns, "from": row(before), "to": row(after)} for before, after, columns in changed],
    }


def row_check(found: Any) -> type_of_json:
    """One check against print; a blank cell of its file is null."""
    plain = {name: getattr(found, name) for name in ("line", "by", "on", "copy", "note")}
    corrected = {"column": found.column, "corrected_to": found.corrected_to if found.column else None}
    return {**plain, **{name: value or None for name, value in corrected.items()}}


def cited(rows: Iterable[type_of_json], sources: Mapping[str, Source]) -> type_of_json:
    """The works that rows name."""
    used = sorted({name for found in rows for name in found["sources"]})
    return {name: _source(sources[name]) for name in used if name in sources}


def source(found: Source) -> type_of_json:
    """One cited work."""
    return {"id": found.id, **_source(found), "grade": found.grade}


def _source(found: Source) -> type_of_json:
    return {"citation": found.citation, "url": found.url}


def _crop_sources(crop: Crop) -> set[str]:
    rows: list[Any] = [*crop.sufficiency, *crop.amounts, *crop.salt_rivals, *crop.cautions]
    rows += [found for found in (crop.salt, crop.boron, crop.chloride, crop.pH_source) if found]
    return {name for found in rows for name in found.sources}


def _columns(kind: type[Any]) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind) if field.name != "table")
