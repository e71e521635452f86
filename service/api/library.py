"""Crops, tables and the vocabularies that a form needs: every figure with its source."""

from collections.abc import Mapping
from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.agronomy.materials.grade import SUPPLIED, written
from service.agronomy.tables import AnalyteRow, Crop, Library, MaterialRow, MethodRow, Row, UnitRow
from service.api.endpoint import endpoint
from service.api.queries import CompareQuery, CropsQuery
from service.api.replies import cursor_of, json_body, json_reply, office, page_reply, position_of
from service.catalog.catalog import Catalog, Table
from service.catalog.comparison import Comparison, compare_editions
from service.catalog.signoff import read_checks
from service.contract import library as shape
from service.contract.answer_parts import list_of
from service.contract.library_schema import (
    AnalyteSchema,
    ComparisonSchema,
    CropComparisonSchema,
    CropEditionSchema,
    CropsSchema,
    MaterialSchema,
    MethodSchema,
    RowChecksSchema,
    SourceLineSchema,
    TableEditionSchema,
    TableEditionsSchema,
    TableSchema,
    UnitSchema,
    WordListSchema,
)
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.row_check import RowCheckRequestSchema
from service.contract.vocabulary import Vocabulary
from service.desk.crop_search import CropIndex, Wanted, find_crops, near_misses
from service.desk.sign_off import record_check

library = Blueprint("library", __name__, url_prefix="/v1", description="Crops, tables, words and sources.")


@endpoint(library, "GET /crops", "listCrops", CropsSchema, query=CropsQuery, scope="read_library")
def crops(query: dict[str, Any]) -> Response:
    """Find crops by common or scientific name, kind and region."""
    catalog = _catalog()
    after = position_of(query["cursor"]) if "cursor" in query else ""
    found = [crop for crop in find_crops(_library(), _wanted(query)) if crop.id > after]
    if not found and not after and (near := near_misses(_library(), query.get("q", ""))):
        return json_reply({"items": [], "next": None, "suggestions": list(near)})
    limit = query["limit"]
    items = [shape.crop_heading(crop, _oldest_first(catalog.crop_editions[crop.id])) for crop in found[:limit]]
    return page_reply(items, cursor_of(found[limit - 1].id) if len(found) > limit else None)


@endpoint(library, "GET /crops/<crop>", "readCrop", CropEditionSchema, errors=(404,), scope="read_library")
def crop_today(_: dict[str, Any], crop: str) -> Response:
    """A crop with the tables in force today."""
    in_force = _library().crops.get(crop)
    if in_force is None:
        raise _no_crop(_library(), crop)
    editions = _oldest_first(_catalog().crop_editions[crop])
    tree = shape.crop_edition(in_force, _catalog().sources)
    return json_reply({**tree, "editions": shape.crop_heading(in_force, editions)["editions"]})


@endpoint(
    library,
    "GET /crops/<crop>/editions/<edition>",
    "readCropEdition",
    CropEditionSchema,
    errors=(404,),
    scope="read_library",
)
def crop_edition(_: dict[str, Any], crop: str, edition: str) -> Response:
    """One edition of a crop."""
    editions = _editions_of(crop)
    if edition not in editions:
        raise _missing("There is no such edition of this crop.")
    tree = shape.crop_edition(editions[edition], _catalog().sources)
    headings = shape.crop_heading(editions[edition], _oldest_first(editions))["editions"]
    return json_reply({**tree, "editions": headings})


@endpoint(
    library,
    "GET /crops/<crop>/compare",
    "compareCrop",
    CropComparisonSchema,
    query=CompareQuery,
    errors=(404,),
    scope="read_library",
)
def crop_comparison(query: dict[str, Any], crop: str) -> Response:
    """What changed from one edition of a crop to another, and whose answers change."""
    _editions_of(crop)
    found, effects = _compared(crop, query)
    tables = [{"table": name, **shape.difference(*rows)} for name, rows in found.tables.items()]
    return json_reply({**_ends(found), "tables": tables, "effects": effects})


@endpoint(library, "GET /tables", "listTables", list_of(TableSchema, "Tables"), scope="read_library")
def tables(_: dict[str, Any]) -> Response:
    """Every shared table and its editions."""
    return page_reply([_table(table) for table in _catalog().tables.values()], None)


@endpoint(
    library, "GET /tables/<id>/editions", "listTableEditions", TableEditionsSchema, errors=(404,), scope="read_library"
)
def table_editions(_: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The editions of a shared table, oldest first."""
    table = _table(_found(id))
    return json_reply({"items": table.pop("editions"), "next": None, **table})


@endpoint(
    library,
    "GET /tables/<id>/editions/<edition>",
    "readTableEdition",
    TableEditionSchema,
    errors=(404,),
    scope="read_library",
)
def table_edition(_: dict[str, Any], id: str, edition: str) -> Response:  # noqa: A002
    """One edition of a shared table, row by row."""
    table = _found(id)
    if edition not in table.editions:
        raise _missing("There is no such edition of this table.")
    ref, rows = table.editions[edition]
    return json_reply(shape.table_edition(table.id, table.title, ref, rows, _catalog().sources))


@endpoint(
    library,
    "GET /tables/<id>/editions/<edition>/checks",
    "listRowChecks",
    RowChecksSchema,
    errors=(404,),
    scope="read_library",
)
def row_checks(_: dict[str, Any], id: str, edition: str) -> Response:  # noqa: A002
    """Who read which row of an edition in print, and what stood there."""
    table = _found(id)
    if edition not in table.editions:
        raise _missing("There is no such edition of this table.")
    return page_reply([shape.row_check(check) for check in read_checks(table.folder, edition)], None)


@endpoint(
    library,
    "POST /tables/<id>/editions/<edition>/checks",
    "recordRowCheck",
    RowChecksSchema,
    status=201,
    said="What was recorded.",
    errors=(400, 403, 404, 409, 413, 415),
    scope="sign_tables",
    requestBody={"required": True, "content": {"application/json": {"schema": RowCheckRequestSchema}}},
)
def record_row_check(_: dict[str, Any], id: str, edition: str) -> Response:  # noqa: A002
    """Record that somebody read one row in print, and what stood there; answers change only with a signed edition."""
    table = _found(id)
    if edition not in table.editions:
        raise _missing("There is no such edition of this table.")
    found = record_check(office(), table, edition, json_body())
    return json_reply({"items": [shape.row_check(check) for check in found], "next": None}, 201)


@endpoint(
    library,
    "GET /tables/<id>/editions/compare",
    "compareTableEditions",
    ComparisonSchema,
    query=CompareQuery,
    errors=(404,),
    scope="read_library",
)
def table_comparison(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """What changed from one edition of a table to another, and whose answers change."""
    found, effects = _compared(_found(id).id, query)
    return json_reply({**_ends(found), **shape.difference(*found.tables[id]), "effects": effects})


@endpoint(
    library,
    "GET /tables/<id>/compare",
    "compareTable",
    ComparisonSchema,
    query=CompareQuery,
    errors=(404,),
    scope="read_library",
)
def table_comparison_short(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """The same under a shorter address."""
    return table_comparison(query, id)


@endpoint(library, "GET /analytes", "listAnalytes", list_of(AnalyteSchema, "Analytes"), scope="read_library")
def analytes(_: dict[str, Any]) -> Response:
    """What can be reported, with the methods and units that fit."""
    known = _library().index(Vocabulary)
    return page_reply([_analyte(known, row) for row in known.analytes.values()], None)


@endpoint(library, "GET /methods", "listMethods", list_of(MethodSchema, "Methods"), scope="read_library")
def methods(_: dict[str, Any]) -> Response:
    """Each analyte by each method: unit, range, uncertainty."""
    return _rows("methods", MethodRow)


@endpoint(library, "GET /units", "listUnits", list_of(UnitSchema, "Units"), scope="read_library")
def units(_: dict[str, Any]) -> Response:
    """Accepted spellings of units."""
    return _rows("units", UnitRow)


@endpoint(library, "GET /words", "listWords", list_of(WordListSchema, "Words"), scope="read_library")
def words(_: dict[str, Any]) -> Response:
    """The closed lists of words, with labels in each language."""
    lists: dict[str, list[dict[str, Any]]] = {}
    for row in _library().tables.get("words", ()):
        tree = shape.row(row)
        label = {"word": tree["word"], "labels": {"en": tree["label_en"], "es": tree["label_es"]}}
        lists.setdefault(tree["list"], []).append(label)
    return page_reply([{"list": name, "words": listed} for name, listed in lists.items()], None)


@endpoint(library, "GET /materials", "listMaterials", list_of(MaterialSchema, "Materials"), scope="read_library")
def materials(_: dict[str, Any]) -> Response:
    """Generic fertilizers and amendments: analysis, salt, form, use, place on the federal organic list, cautions."""
    return page_reply([_material(row) for row in _library().rows("materials", MaterialRow)], None)


@endpoint(library, "GET /sources", "listSources", list_of(SourceLineSchema, "Sources"), scope="read_library")
def sources(_: dict[str, Any]) -> Response:
    """Every cited work."""
    return page_reply([shape.source(found) for found in _catalog().sources.values()], None)


def _catalog() -> Catalog:
    return office().catalog


def _library() -> Library:
    """The tables in force today."""
    return office().library(office().now().date())


def _rows(table: str, kind: type[Row]) -> Response:
    rows = _library().tables.get(table, ())
    return page_reply([shape.row(row) for row in rows if isinstance(row, kind)], None)


def _found(id: str) -> Table:  # noqa: A002
    table = _catalog().tables.get(id)
    if table is None:
        raise _missing(f"There is no table {id[:60]!r}.")
    return table


def _table(table: Table) -> dict[str, Any]:
    editions = [
        shape.edition(ref, (source for row in rows for source in row.sources))
        for _, (ref, rows) in sorted(table.editions.items())
    ]
    return {"id": table.id, "title": table.title, "purpose": table.purpose, "rows": table.rows, "editions": editions}


def _analyte(known: Vocabulary, row: AnalyteRow) -> dict[str, Any]:
    soil, water = known.methods_of(row.analyte, water=False), known.methods_of(row.analyte, water=True)
    return {
        **shape.row(row),
        "methods": list(soil),
        "water_methods": list(water),
        "units": known.units_for(row.analyte, None, water=False) if soil else (),
        "water_units": known.units_for(row.analyte, None, water=True) if water else (),
    }


def _material(row: MaterialRow) -> dict[str, Any]:
    spoken = {language: office().words(_library(), language) for language in office().texts.languages}
    labels = [
        {"word": word, "labels": {name: words.text(f"material.caution.{word}") for name, words in spoken.items()}}
        for word in row.cautions
    ]
    stated = {name: getattr(row, f"{name}_pct") or 0.0 for name in SUPPLIED}
    return {**shape.row(row), "grade": written(stated) or None, "caution_labels": labels}


def _editions_of(crop: str) -> Mapping[str, Crop]:
    editions = _catalog().crop_editions.get(crop)
    if editions is None:
        raise _no_crop(_library(), crop)
    return editions


def _compared(name: str, query: Mapping[str, Any]) -> tuple[Comparison, list[dict[str, Any]]]:
    held = _catalog().editions_of(name)
    if not {query["from"], query["to"]} <= set(held):
        raise _missing(f"There is no such edition of {name}; it has {', '.join(held)}.")
    words = office().words(_library(), query.get("language", "en"))
    found = compare_editions(_catalog(), name, query["from"], query["to"])
    return found, [{"crops": effect.crops, "text": words.say(effect.sentence)} for effect in found.effects]


def _ends(found: Comparison) -> dict[str, str]:
    return {"id": found.id, "from": found.before, "to": found.after}


def _oldest_first(editions: Mapping[str, Crop]) -> list[Crop]:
    return [editions[name] for name in sorted(editions)]


def _wanted(query: Mapping[str, Any]) -> Wanted:
    """What the parameters ask for. Raises ProblemError for a kind that no crop is of."""
    kinds = _library().index(CropIndex).kinds
    if query.get("kind", kinds[0]) not in kinds:
        wrong = f"{query['kind'][:40]!r} is no kind of crop"
        raise invalid([FieldError("?kind", "unknown_word", wrong, f"one of {', '.join(kinds)}", kinds)])
    return Wanted(*(query.get(name, "") for name in ("q", "kind", "region", "language")))


def _no_crop(library: Library, name: str) -> ProblemError:
    """404 with the crops that may have been meant."""
    near = list(near_misses(library, name))
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    extra = {"suggestions": near} if near else {}
    return ProblemError(Problem("not-found", f"There is no crop {name[:60]!r}.{hint}", extra=extra))


def _missing(detail: str) -> ProblemError:
    return ProblemError(Problem("not-found", detail))
