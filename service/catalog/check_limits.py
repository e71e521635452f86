"""Hard caps stay: a folder of one's own may add a stricter one, never a looser one, and no edition may lose one."""

from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path

from service.agronomy.caps import BASES
from service.agronomy.errors import UnknownUnit
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimitRow, Row
from service.agronomy.units import Units, scaled
from service.catalog.catalog import Catalog, Table
from service.catalog.errors import Fault

LIMITS = "application-limits"


def limit_faults(catalog: Catalog, library: Library) -> Iterator[Fault]:
    """Rows that would raise a shared hard cap, and editions from which one is missing or raised."""
    shared = catalog.tables.get(LIMITS)
    if shared is None:
        return
    units = library.index(Units.of)
    standing = hard_rows(shared.editions[shared.newest][1])
    for table in catalog.tables.values():
        if table.extends == LIMITS:
            yield from _raised(table, catalog, standing, units)
    yield from _lost(shared, catalog, units)


def hard_rows(rows: Iterable[Row]) -> list[LimitRow]:
    """The rows above which a dose is held."""
    return [row for row in rows if isinstance(row, LimitRow) and row.hard]


def _raised(table: Table, catalog: Catalog, standing: list[LimitRow], units: Units) -> Iterator[Fault]:
    """A row of an added table that repeats a shared limit, or is looser than a shared one for the same case."""
    for ref, rows in table.editions.values():
        for row in (each for each in rows if isinstance(each, LimitRow)):
            for cap in standing:
                if row.limit == cap.limit or (row.hard and _same_case(row, cap) and _looser(row, cap, units)):
                    yield _fault(catalog.file_of(ref), row, cap)
                    break


def _same_case(row: LimitRow, cap: LimitRow) -> bool:
    """Whether two rows speak of the same thing: subject, span, condition, and targets that one of them covers."""
    same = (row.subject, row.per, row.when) == (cap.subject, cap.per, cap.when)
    return same and (not cap.uses or not row.uses or not set(row.uses).isdisjoint(cap.uses))


def _looser(row: LimitRow, cap: LimitRow, units: Units) -> bool:
    try:
        dimension = units.dimension(cap.unit)
        if dimension not in BASES or units.dimension(row.unit) != dimension:
            return False
    except UnknownUnit:  # told by the check of units
        return False
    base = BASES[dimension]
    return scaled(base(units, Quantity(row.maximum, row.unit))) > scaled(base(units, Quantity(cap.maximum, cap.unit)))


def _lost(shared: Table, catalog: Catalog, units: Units) -> Iterator[Fault]:
    """A hard cap of one edition that the next one lacks, softens, turns to another case or raises without source."""
    days = sorted(shared.editions)
    for earlier, later in pairwise(days):
        ref, rows = shared.editions[later]
        now = {row.limit: row for row in hard_rows(rows)}
        for cap in hard_rows(shared.editions[earlier][1]):
            place, row = catalog.file_of(ref), now.get(cap.limit)
            if row is None:
                wrong = f"the hard cap {cap.limit} of {earlier} is missing or no longer hard"
                yield Fault(place, None, "hard", wrong, f"a hard row {cap.limit}")
            else:
                yield from _turned(place, row, cap, units)


CASE = ("subject", "uses", "stages", "when", "per")
"""What a cap is about; another case is another cap, under an id of its own beside the one that stands."""


def _turned(place: Path, row: LimitRow, cap: LimitRow, units: Units) -> Iterator[Fault]:
    for column in CASE:
        was = getattr(cap, column)
        if getattr(row, column) != was:
            wrong = f"{cap.limit}: {column} of a hard cap is no longer {_told(was)}"
            yield Fault(place, row.line, column, wrong, f"{_told(was)}, and a row of its own for another case")
    if _dimension(units, row.unit) != _dimension(units, cap.unit):
        wrong = f"{cap.limit}: {row.unit} measures something else than {cap.unit} of the hard cap"
        yield Fault(place, row.line, "unit", wrong, f"{cap.unit} or a unit like it")
    elif _looser(row, cap, units) and not set(row.sources) - set(cap.sources):
        yield _fault(place, row, cap)


def _told(held: str | tuple[str, ...]) -> str:
    return repr(held if isinstance(held, str) else "|".join(held))


def _dimension(units: Units, unit: str) -> str:
    return units.dimension(unit) if units.known(unit) else unit


def _fault(place: Path, row: LimitRow, cap: LimitRow) -> Fault:
    wrong = f"{row.limit}: {row.maximum:g} {row.unit} per {row.per} raises the hard cap {cap.limit}"
    right = f"at most {cap.maximum:g} {cap.unit} per {cap.per}, under an id of its own"
    return Fault(place, row.line, "maximum", wrong, right)
