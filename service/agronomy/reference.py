"""Prepared access to class ladders, factors, formulas and caps: built once per library, read by every step.

``reference_of(library)`` is the way in. Limits are whole millionths (`units.scaled`), so that a value never falls on
the wrong side of a class by a last binary digit.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple, TypeVar

from service.agronomy.errors import TableError
from service.agronomy.findings import EditionRef
from service.agronomy.submission import Quantity
from service.agronomy.tables import (
    ClassRow,
    EquivalentRow,
    FactorRow,
    FormulaRow,
    Library,
    LimitRow,
    Row,
    weakest,
)
from service.agronomy.units import Units, scaled

T = TypeVar("T")

FAR = 10**18
"""Stands for an open end, in millionths: beyond any figure a laboratory can report."""


def scaled_end(x: float | None, open_end: int) -> int:
    """One end of an interval in millionths; ``None`` and the infinities give ``open_end``."""
    if x is None or x in (float("inf"), float("-inf")):
        return open_end
    return scaled(x)


class Rung(NamedTuple):
    """One class: its row and its limits as the smallest and largest value that still belong to it."""

    row: ClassRow
    first: int
    last: int


class Ladder:
    """The classes of one figure, from low to high."""

    __slots__ = ("name", "rungs")

    def __init__(self, name: str, rows: Iterable[ClassRow]) -> None:
        self.name = name
        self.rungs = tuple(sorted((_rung(row) for row in rows), key=lambda rung: rung.first))

    def at(self, value: float) -> ClassRow | None:
        """The class a figure falls in; ``None`` in a gap of the published ladder."""
        return self.over(value, value)

    def over(self, low: float, high: float) -> ClassRow | None:
        """The class the whole interval lies in; ``None`` when it straddles a limit."""
        first, last = scaled_end(low, -FAR), scaled_end(high, FAR)
        for rung in self.rungs:
            if rung.first <= first and last <= rung.last:
                return rung.row
        return None

    def spanned(self, low: float, high: float) -> tuple[str, ...]:
        """Names of all classes that the interval touches, from low to high."""
        first, last = scaled_end(low, -FAR), scaled_end(high, FAR)
        return tuple(rung.row.name for rung in self.rungs if first <= rung.last and rung.first <= last)

    def named(self, name: str) -> ClassRow:
        """The row of a class. Raises TableError."""
        for rung in self.rungs:
            if rung.row.name == name:
                return rung.row
        raise TableError(f"ladder {self.name} has no class {name}")

    @property
    def lowest(self) -> str:
        """The name of the first class."""
        return self.rungs[0].row.name


def _rung(row: ClassRow) -> Rung:
    first = scaled_end(row.lower, -FAR) + (0 if row.lower_inclusive or row.lower is None else 1)
    last = scaled_end(row.upper, FAR) - (0 if row.upper_inclusive or row.upper is None else 1)
    return Rung(row, first, last)


class Cap(NamedTuple):
    """One cap on a dose, g/m2, with its row."""

    row: LimitRow
    g_m2: float


class Reference:
    """What the steps look up by name. Every look-up that finds nothing raises TableError."""

    __slots__ = ("_caps", "_equivalents", "_factors", "_formulas", "_ladders")

    def __init__(
        self,
        ladders: Mapping[str, Ladder],
        factors: Mapping[str, FactorRow],
        formulas: Mapping[str, FormulaRow],
        equivalents: Mapping[str, EquivalentRow],
        caps: Mapping[str, tuple[Cap, ...]],
    ) -> None:
        self._ladders = ladders
        self._factors = factors
        self._formulas = formulas
        self._equivalents = equivalents
        self._caps = caps

    def ladder(self, name: str) -> Ladder:
        """A class ladder by name."""
        return _found(self._ladders, name, "ladder")

    def factor(self, name: str) -> FactorRow:
        """The row of a named figure."""
        return _found(self._factors, name, "factor")

    def formula(self, name: str) -> FormulaRow:
        """The row of an equation, with its published coefficients."""
        return _found(self._formulas, name, "formula")

    def equivalents(self) -> Mapping[str, EquivalentRow]:
        """Amendments by what replaces one mass of pure gypsum."""
        return self._equivalents

    def caps(self, subject: str) -> tuple[Cap, ...]:
        """Caps per application on a subject, in g/m2, the lowest first; empty when the table has none."""
        return self._caps.get(subject, ())

    def cap(self, subject: str, use: str) -> Cap | None:
        """The cap per application for a kind of use (``lawn``, ``garden`` ...): the soft one before the hard one."""
        for cap in self.caps(subject):
            if not cap.row.uses or use in cap.row.uses:
                return cap
        return None


def _found(table: Mapping[str, T], name: str, kind: str) -> T:
    row = table.get(name)
    if row is None:
        raise TableError(f"no {kind} named {name}")
    return row


def reference_of(library: Library) -> Reference:
    """The prepared reference of a library."""
    return library.index(_build)


def _build(library: Library) -> Reference:
    rows: dict[str, list[ClassRow]] = {}
    for row in library.rows("classes", ClassRow):
        rows.setdefault(row.ladder, []).append(row)
    return Reference(
        {name: Ladder(name, of_one) for name, of_one in rows.items()},
        {row.factor: row for row in library.rows("factors", FactorRow)},
        {row.formula: row for row in library.rows("formulas", FormulaRow)},
        {row.amendment: row for row in library.rows("amendment-equivalents", EquivalentRow)},
        _caps_of(library),
    )


def _caps_of(library: Library) -> dict[str, tuple[Cap, ...]]:
    units = library.index(Units.of)
    caps: dict[str, list[Cap]] = {}
    for row in library.rows("application-limits", LimitRow):
        # Rows with a condition word belong to whoever knows whether the condition holds.
        if row.per != "application" or row.when or not units.known(row.unit):
            continue
        if units.dimension(row.unit) == "areal_rate":
            caps.setdefault(row.subject, []).append(Cap(row, units.areal(Quantity(row.maximum, row.unit))))
    return {subject: tuple(sorted(found, key=lambda cap: cap.g_m2)) for subject, found in caps.items()}


class Cited(NamedTuple):
    """Where a figure comes from: source ids, the weakest verification mark, the table of the first row."""

    sources: tuple[str, ...]
    verification: str | None
    table: EditionRef | None


def cite(*rows: Row | None) -> Cited:
    """Sources, weakest mark and table of the rows behind one figure; rows that do not apply may be ``None``."""
    used = [row for row in rows if row is not None]
    sources: dict[str, None] = {}
    for row in used:
        sources.update(dict.fromkeys(row.sources))
    return Cited(tuple(sources), weakest([row.verification for row in used]), used[0].table if used else None)
