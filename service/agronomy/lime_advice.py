"""Raising pH: lime from a named buffer test, never on limy soil or where the pH is high enough already."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.acidity import (
    LimeNeed,
    lime_by_adams_evans,
    lime_by_mehlich,
    lime_by_table,
    lime_material,
)
from service.agronomy.amendments import amendment, answer, layer_of, withheld
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Note, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimeRateRow, Row
from service.agronomy.units import Units, scaled

BUFFERS = ("sikora", "smp", "mehlich_buffer", "adams_evans")


class BufferTable(NamedTuple):
    """Lime in US ton/acre by buffer pH for one target pH."""

    points: tuple[tuple[float, float], ...]
    depth_in: float
    row: LimeRateRow


class Need(NamedTuple):
    """Lime requirement in g/m2 for ``depth_in`` inches, and the rows behind it."""

    low: float
    high: float
    depth_in: float
    target: float
    rows: tuple[Row, ...]
    formula: str


def buffer_tables(library: Library) -> Mapping[str, Mapping[float, BufferTable]]:
    """Buffer method -> target pH -> table, prepared once."""
    rows: dict[tuple[str, float], list[LimeRateRow]] = {}
    for row in library.rows("lime-rates", LimeRateRow):
        rows.setdefault((row.buffer_method, row.target_pH), []).append(row)
    tables: dict[str, dict[float, BufferTable]] = {}
    for (method, target), of_one in rows.items():
        points = tuple(sorted((row.buffer_pH, row.rate_ton_acre) for row in of_one))
        tables.setdefault(method, {})[target] = BufferTable(points, of_one[0].depth_in, of_one[0])
    return tables


def lime_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Lime: an amount, none needed, do not, or what must be known first."""
    limit = reference_of(case.library).factor("lime_needed_pH_max")
    if reaction.calcareous or (reaction.pH is not None and scaled(reaction.pH) >= scaled(limit.value)):
        return no_lime(case, reaction, "do_not")
    if reaction.pH is None:
        return withheld("lime", "lime_needs_pH")
    if case.crop is not None and case.crop.pH_range is not None:
        low = case.crop.pH_range[0]
        if scaled(reaction.pH) >= scaled(low):
            values = {"pH": reaction.pH, "crop": Word("crop", case.crop.id), "low": low}
            ledger = Ledger(case.explain)
            ledger.use(case.crop.pH_source)
            return answer("none_needed", "lime", Note("rec.lime_none_for_crop", values), ledger)
    return _by_buffer(case, reaction)


def no_lime(case: Case, reaction: Reaction, kind: str) -> Recommendation:
    """Lime is not wanted here: the soil holds lime already, or its pH is high enough."""
    ledger = Ledger(case.explain)
    limit = reference_of(case.library).factor("lime_needed_pH_max")
    ledger.step("lime_not_needed", "lime_table", {"pH": reaction.pH, "limit": limit.value}, True, "", limit)
    code = "rec.lime_has_lime" if reaction.calcareous else "rec.lime_pH_high"
    return answer(kind, "lime", Note(code, {"pH": reaction.pH}), ledger)


def _by_buffer(case: Case, reaction: Reaction) -> Recommendation:
    buffer = case.find("buffer_pH", *BUFFERS)
    if buffer is None or buffer.value is None:
        named = case.find("buffer_pH") is None
        return withheld("lime", "lime_needs_buffer" if named else "lime_buffer_not_named")
    layer = layer_of(case)
    if layer is None:
        return withheld("lime", "lime_needs_depth")
    try:
        need = lime_need(case.library, buffer.method, buffer.value, reaction.pH or 0.0, _target(case))
    except OutOfRange:
        return withheld("lime", "lime_outside_table", {"buffer": buffer.value})
    ledger, reference = Ledger(case.explain), reference_of(case.library)
    rate = lime_material(need.low or need.high, layer.thickness_in, need.depth_in, 100.0)
    inputs = {"buffer_pH": buffer.value, "pH": reaction.pH, "pH_wanted": need.target, "depth": layer.thickness_in}
    shown = case.units.rate(rate)
    ledger.step("lime_requirement", need.formula, inputs, shown.value, shown.unit, *need.rows)
    values = {"wanted": need.target, "method": Word("method", buffer.method), "high": case.units.rate(need.high)}
    if scaled(need.high) == 0:
        return answer("none_needed", "lime", Note("rec.lime_none_by_buffer", values), ledger)
    if need.low == 0:
        return answer("none_needed", "lime", Note("rec.lime_little", values), ledger)
    code = "rec.lime" if need.low == need.high else "rec.lime_step_in_table"
    before, apart = reference.factor("lime_before_planting_weeks"), reference.factor("lime_apart_weeks")
    ledger.use(before, apart)
    values |= {"before": before.value, "apart": apart.value}
    return amendment(case, "lime", Note(code, values), rate, ledger)


def _target(case: Case) -> float:
    """The pH to lime to: the default, kept inside what the target likes."""
    wanted = reference_of(case.library).factor("lime_target_pH_default").value
    if case.crop is None or case.crop.pH_range is None:
        return wanted
    low, high = case.crop.pH_range
    return max(low, min(high, wanted))


def lime_need(library: Library, method: str, buffer_pH: float, pH: float, wanted: float) -> Need:
    """The requirement by the buffer's own table or formula, for lime of 100 % effective calcium carbonate.

    A table is read at the first of its target pH that is not below the one wanted; ``Need.target`` says which.
    Raises OutOfRange.
    """
    if method in ("sikora", "smp"):
        return _need_by_table(library, method, buffer_pH, wanted)
    reference = reference_of(library)
    areal = library.index(Units.of).areal
    if method == "mehlich_buffer":
        row = reference.formula("lime_ncda")
        figures = row.coefficients
        tons = lime_by_mehlich(buffer_pH, pH, wanted, pole_pH=figures["reference_pH"], acidity_factor=figures["k"])
        rate = areal(Quantity(tons, "ton/acre"))
        return Need(rate, rate, figures["depth_in"], wanted, (row,), row.formula)
    row = reference.formula("lime_adams_evans")
    figures = row.coefficients
    pounds = lime_by_adams_evans(
        buffer_pH,
        pH,
        wanted,
        a=figures["a"],
        b=figures["b"],
        c=figures["c"],
        scale=figures["k"],
        buffer_start=figures["buffer"],
        field_factor=figures["field"],
    )
    rate = areal(Quantity(pounds, "lb/acre"))
    return Need(rate, rate, figures["depth_in"], wanted, (row,), row.formula)


def _need_by_table(library: Library, method: str, buffer_pH: float, wanted: float) -> Need:
    tables = library.index(buffer_tables).get(method, {})
    targets = sorted(tables)
    if not targets:
        raise OutOfRange("buffer_pH", "a buffer with a table")
    target = next((each for each in targets if scaled(each) >= scaled(wanted)), targets[-1])
    table = tables[target]
    reference = reference_of(library)
    jump = None
    if method == "sikora":
        jump = (reference.factor("sikora_jump_low_pH").value, reference.factor("sikora_jump_high_pH").value)
    need: LimeNeed = lime_by_table(buffer_pH, table.points, jump)
    areal = library.index(Units.of).areal
    low, high = areal(Quantity(need.low, "ton/acre")), areal(Quantity(need.high, "ton/acre"))
    return Need(low, high, table.depth_in, target, (table.row,), "lime_table")


def ash_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Wood ash: a do not on limy or neutral soil, a small thing at best elsewhere."""
    limit = reference_of(case.library).factor("wood_ash_pH_max")
    ledger = Ledger(case.explain)
    ledger.step("wood_ash", "lime_table", {"pH": reaction.pH, "limit": limit.value}, None, "", limit)
    if reaction.calcareous or (reaction.pH is not None and scaled(reaction.pH) >= scaled(limit.value)):
        return answer("do_not", "wood_ash", Note("rec.wood_ash", {"pH": reaction.pH, "limit": limit.value}), ledger)
    if reaction.pH is None:
        return withheld("wood_ash", "wood_ash_needs_pH")
    return answer("not_suited", "wood_ash", Note("rec.wood_ash_not_by_guess", {"pH": reaction.pH}), ledger)
