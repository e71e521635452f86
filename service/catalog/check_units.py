"""Whether every figure of a row can be used: units, analytes and methods known, bounds the right way round."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from pathlib import Path

from service.agronomy.dosing import EQUATIONS
from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.tables import (
    AmountRow,
    AnalyteRow,
    Band,
    CreditRow,
    FactorRow,
    Library,
    MethodRow,
    OrganicRow,
    Row,
)
from service.agronomy.units import Units
from service.catalog.errors import Fault

NUTRIENTS = ("N", "P2O5", "K2O", "S", "Zn", "Fe", "Mn", "Cu", "B")
RATE_DIMENSIONS = ("areal_rate", "per_tree")
DESCRIBED = (FactorRow, CreditRow, OrganicRow)
"""Rows whose unit only describes the figure (``lb/acre per % OM``); nothing is converted into it."""
UNITLESS = "1"
NOT_STATED = "not_stated"
Wrong = tuple[str, str, str]
"""Column, what is wrong, what is right."""


class Known:
    """What a row may name; made once per library: ``library.index(Known)``."""

    def __init__(self, library: Library) -> None:
        self.units = library.index(Units.of)
        self.analytes = {row.analyte: row for row in library.rows("analytes", AnalyteRow)}
        self.methods: dict[str, dict[str, MethodRow]] = {}
        for row in library.rows("methods", MethodRow):
            self.methods.setdefault(row.analyte, {})[row.method] = row
        self.schedules = {getattr(row, "schedule", "") for row in library.tables.get("nitrogen-schedules", ())}

    def methods_of(self, analyte: str) -> Mapping[str, MethodRow]:
        """The methods of an analyte or of the form it is reckoned in."""
        canonical = self.analytes[analyte].canonical or analyte
        return {**self.methods.get(canonical, {}), **self.methods.get(analyte, {})}

    def unit(self, column: str, unit: str) -> Iterator[Wrong]:
        """A unit nobody knows. ``1000 lb/acre`` counts thousands."""
        head, _, rest = unit.partition(" ")
        if unit != UNITLESS and not self.units.known(rest if head.isdigit() else unit):
            yield column, f"{unit!r} is no unit", "a spelling of the table units"

    def figure(self, columns: tuple[str, str, str], analyte: str, method: str | None, unit: str) -> Iterator[Wrong]:
        """An analyte by a method in a unit: each known, and the unit one that this method can be reported in."""
        if analyte not in self.analytes:
            yield columns[0], f"{analyte!r} is no analyte", "a word of the table analytes"
            return
        specs = self.methods_of(analyte)
        if method and method != NOT_STATED and method not in specs:
            yield columns[1], f"{analyte} is not measured by {method!r}", f"one of {', '.join(specs)}"
            return
        if not unit:
            return
        yield from (unknown := list(self.unit(columns[2], unit)))
        spec = specs.get(method or "")
        if not unknown and spec is not None and not self._expresses(analyte, unit, spec):
            wrong = f"{analyte} by {spec.method} is never given in {unit}"
            yield columns[2], wrong, f"{spec.unit} or a unit that converts into it"

    def _expresses(self, analyte: str, unit: str, spec: MethodRow) -> bool:
        try:
            self.units.express(1.0, unit, spec.unit, spec.matrix, analyte, spec.analyte)
        except (UnitMismatch, UnknownUnit):
            return False
        return True


def row_faults(place: Path, rows: Iterable[Row], known: Known) -> Iterator[Fault]:
    """Every figure of these rows that could not be used."""
    for row in rows:
        for column, wrong, right in _wrongs(row, known):
            yield Fault(place, row.line, column, wrong, right)


def _wrongs(row: Row, known: Known) -> Iterator[Wrong]:
    if isinstance(row, Band):
        yield from known.figure(("analyte", "method", "unit"), row.analyte, row.method, row.unit)
    elif isinstance(row, AmountRow):
        yield from _amount(row, known)
    elif not isinstance(row, DESCRIBED):
        for column in _unit_columns(type(row)):
            if unit := getattr(row, column):
                yield from known.unit(column, unit)
    yield from _bounds(row)


def _unit_columns(kind: type[Row]) -> tuple[str, ...]:
    """Columns that hold a unit a result, a limit or a rate is compared in."""
    return tuple(field.name for field in fields(kind) if field.name == "unit" or field.name.endswith("_unit"))


def _amount(row: AmountRow, known: Known) -> Iterator[Wrong]:
    if row.nutrient not in NUTRIENTS:
        yield "nutrient", f"{row.nutrient!r} is no nutrient", f"one of {', '.join(NUTRIENTS)}"
    if row.use_table:
        return
    if row.basis_analyte:
        columns = ("basis_analyte", "basis_method", "basis_unit")
        yield from known.figure(columns, row.basis_analyte, row.basis_method, row.basis_unit)
    if not known.units.known(row.rate_unit) or known.units.dimension(row.rate_unit) not in RATE_DIMENSIONS:
        yield "rate_unit", f"{row.rate_unit!r} is no unit of a rate", "a rate per area or per tree, such as lb/acre"
    if row.rate_low is not None and row.rate_high is None:
        yield "rate_high", "the cell is blank", "the same figure as rate_low where there is but one rate"
    if row.yield_unit:
        yield from known.unit("yield_unit", row.yield_unit)
    if row.equation and row.equation not in EQUATIONS:
        yield "equation", f"{row.equation!r} is no equation", f"one of {', '.join(EQUATIONS)}"
    if row.schedule and row.schedule not in known.schedules:
        yield "schedule", f"{row.schedule!r} is no schedule", "a name of the table nitrogen-schedules"


def _bounds(row: Row) -> Iterator[Wrong]:
    for low, high in (("lower", "upper"), ("rate_low", "rate_high"), ("value", "upper")):
        below, above = getattr(row, low, None), getattr(row, high, None)
        if below is None or above is None:
            continue
        if below > above or (low == "lower" and below == above and not getattr(row, "upper_inclusive", False)):
            wrong = f"{above:g} is below {low} {below:g}" if below > above else f"{above:g} equals {low}"
            yield high, wrong, f"{high} {'above' if low == 'lower' else 'at or above'} {low}"
    rate = getattr(row, "rate_low", None)
    if rate is not None and rate < 0:
        yield "rate_low", f"{rate:g} is below zero", "0 (none needed) or more"
