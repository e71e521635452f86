"""The shapes of crops, tables and vocabularies, for the published contract and the tests.

A row's shape is made from its row class, so that a new column needs no second declaration.
"""

import types
import typing
from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from typing import Any

import marshmallow as ma

from service.agronomy.tables import AnalyteRow, MaterialRow, MethodRow, Row, UnitRow
from service.contract.answer_parts import Answered, parts, string, table_of, texts
from service.contract.answer_schema import SourceSchema

KINDS: Mapping[Any, type[ma.fields.Field[Any]]] = {
    str: ma.fields.String,
    float: ma.fields.Float,
    int: ma.fields.Integer,
    bool: ma.fields.Boolean,
    date: ma.fields.Date,
}


def schema_of(kind: type[Row], name: str, **more: Any) -> type[ma.Schema]:
    """The shape of one row class as it is served."""
    hints = typing.get_type_hints(kind)
    columns = {field.name: _column(hints[field.name]) for field in fields(kind) if field.name != "table"}
    made = Answered.from_dict({**columns, **more})
    made.__name__ = f"{name}Schema"
    made.__doc__ = (kind.__doc__ or "").strip().partition("\n")[0]
    return made


def _column(hint: Any) -> Any:
    null = type(None) in typing.get_args(hint)
    if isinstance(hint, types.UnionType):
        hint = next(kind for kind in typing.get_args(hint) if kind is not type(None))
    if typing.get_origin(hint) is tuple:
        return texts()
    if typing.get_origin(hint) is not None:
        return table_of(ma.fields.Float(), "Figures by symbol.")
    return KINDS[hint](required=True, allow_none=null)


AnalyteSchema = schema_of(
    AnalyteRow, "Analyte", methods=texts(), water_methods=texts(), units=texts(), water_units=texts()
)
MethodSchema = schema_of(MethodRow, "Method")
UnitSchema = schema_of(UnitRow, "Unit")


class EditionLineSchema(Answered):
    """One edition in a list."""

    edition = string()
    in_force_from = ma.fields.Date(required=True)
    sha256 = string()
    sources = texts("Ids of the works its rows name.")


class CropSchema(Answered):
    """A crop in a list."""

    id = string()
    names = table_of(ma.fields.List(ma.fields.String()), "Common names by language.")
    scientific_name = string()
    kind = string()
    group = string()
    editions = parts(EditionLineSchema)


class CropEditionSchema(CropSchema):
    """One edition of a crop: every table it is judged by."""

    edition = string()
    in_force_from = ma.fields.Date(required=True)
    sha256 = string()
    sampling_depth_in = ma.fields.List(ma.fields.Float(), required=True)
    pH_range = ma.fields.List(ma.fields.Float(), required=True, allow_none=True)
    pH_source = ma.fields.Dict(required=True, allow_none=True)
    traits = texts()
    calibrations = texts()
    sufficiency = ma.fields.List(ma.fields.Dict(), required=True)
    amounts = ma.fields.List(ma.fields.Dict(), required=True)
    salt_tolerance = ma.fields.List(ma.fields.Dict(), required=True)
    boron_tolerance = ma.fields.Dict(required=True, allow_none=True)
    chloride_tolerance = ma.fields.Dict(required=True, allow_none=True)
    cautions = ma.fields.List(ma.fields.Dict(), required=True)
    alternatives = texts()
    notes = texts()
    sources = table_of(ma.fields.Nested(SourceSchema), "The works its rows name.")


class TableSchema(Answered):
    """A shared table and its editions."""

    id = string()
    title = string()
    purpose = string()
    rows = string(description="Kind of row.")
    editions = parts(EditionLineSchema)


class TableEditionsSchema(Answered):
    """The editions of one table."""

    id = string()
    title = string()
    purpose = string()
    rows = string(description="Kind of row.")
    items = parts(EditionLineSchema)
    next = string(null=True)


class TableEditionSchema(Answered):
    """One edition of a shared table."""

    id = string()
    title = string()
    edition = string()
    in_force_from = ma.fields.Date(required=True)
    sha256 = string()
    rows = ma.fields.List(ma.fields.Dict(), required=True)
    sources = table_of(ma.fields.Nested(SourceSchema), "The works its rows name.")


class RowCheckSchema(Answered):
    """What somebody found in print about one row."""

    line = ma.fields.Integer(required=True)
    by = string()
    on = ma.fields.Date(required=True)
    copy = string(description="Which copy was read.")
    column = string(null=True, description="The cell that was corrected; null: the row stands as printed.")
    corrected_to = string(null=True)
    note = string()


class RowChecksSchema(Answered):
    """Checks against print of one edition."""

    items = parts(RowCheckSchema)
    next = string(null=True)


class CropsSchema(Answered):
    """A page of crops; when nothing is found, crops whose names look like what was asked."""

    items = parts(CropSchema)
    next = string(null=True, description="Cursor of the next page.")
    suggestions = ma.fields.List(ma.fields.String(), metadata={"description": "Ids, only when nothing is found."})


class ChangedRowSchema(Answered):
    """A row that stands in both editions with other cells."""

    columns = texts("Columns that differ.")
    from_ = ma.fields.Dict(required=True, data_key="from")
    to = ma.fields.Dict(required=True)


class EffectSchema(Answered):
    """One change of answers, in words."""

    crops = texts("Ids of the crops it touches; none: everybody.")
    text = string()


class ComparisonSchema(Answered):
    """Two editions of a table: rows that came, went and changed, and whose answers change."""

    id = string()
    from_ = ma.fields.String(required=True, data_key="from")
    to = string()
    removed = ma.fields.List(ma.fields.Dict(), required=True)
    added = ma.fields.List(ma.fields.Dict(), required=True)
    changed = parts(ChangedRowSchema)
    effects = parts(EffectSchema)


class TableDifferenceSchema(Answered):
    """What differs in one table of a crop."""

    table = string()
    removed = ma.fields.List(ma.fields.Dict(), required=True)
    added = ma.fields.List(ma.fields.Dict(), required=True)
    changed = parts(ChangedRowSchema)


class CropComparisonSchema(Answered):
    """Two editions of a crop, table by table, and whose answers change."""

    id = string()
    from_ = ma.fields.String(required=True, data_key="from")
    to = string()
    tables = parts(TableDifferenceSchema)
    effects = parts(EffectSchema)


class WordSchema(Answered):
    """One word and its labels."""

    word = string()
    labels = table_of(ma.fields.String(), "Label by language.")


MaterialSchema = schema_of(
    MaterialRow,
    "Material",
    grade=string(null=True, description="As on a bag, such as 46-0-0; null where it holds no N, P or K."),
    caution_labels=parts(WordSchema),
)


class WordListSchema(Answered):
    """One closed list."""

    list = string()
    words = parts(WordSchema)


class SourceLineSchema(SourceSchema):
    """One cited work with its grade."""

    id = string()
    grade = string()
