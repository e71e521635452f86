"""Classes of one figure side by side: overlaps are faults, gaps are honest where a source prints no class."""

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from pathlib import Path

from service.agronomy.tables import Band, ClassRow, Row
from service.agronomy.units import scaled
from service.catalog.errors import Fault

Class = Band | ClassRow
Ladder = tuple[str, list[Class]]


def shared_ladders(rows: Iterable[Row]) -> list[Ladder]:
    """The ladders of one edition of a shared table, each with its name, classes in rising order."""
    return _ladders(rows, _in_table)


def crop_ladders(rows: Iterable[Row]) -> list[Ladder]:
    """The ladders of one crop: what one calibration says of one analyte by one method."""
    return _ladders(rows, lambda row: (row.calibration, row.analyte, row.method) if isinstance(row, Band) else ())


def _in_table(row: Class) -> tuple[str, ...]:
    if isinstance(row, Band):
        return (row.calibration, row.group, row.analyte, row.method)
    return (row.ladder, row.unit)


def _ladders(rows: Iterable[Row], key: Callable[[Class], tuple[str, ...]]) -> list[Ladder]:
    found: dict[tuple[str, ...], list[Class]] = {}
    for row in rows:
        if isinstance(row, Band | ClassRow) and not _words_only(row):
            found.setdefault(key(row), []).append(row)
    for classes in found.values():
        classes.sort(key=lambda row: float("-inf") if row.lower is None else row.lower)
    return [(" ".join(part for part in name if part), classes) for name, classes in found.items()]


def _words_only(row: Class) -> bool:
    """A class that only words fall in, or a pointer: it has no limits."""
    return row.lower is None and row.upper is None


def overlaps(place: Path, ladders: Iterable[Ladder]) -> Iterator[Fault]:
    """A value that falls in two classes, and a ladder in two units."""
    for name, classes in ladders:
        for below, above in pairwise(classes):
            if _distance(below, above) < 0:
                wrong = f"{name}: {_word(below)} ends at {below.upper} but {_word(above)} begins at {above.lower}"
                yield Fault(place, above.line, "lower", f"{wrong}: they overlap", "one class for each value")
            if below.unit != above.unit:
                wrong = f"{name}: {below.unit} and {above.unit} in one ladder"
                yield Fault(place, above.line, "unit", wrong, f"{below.unit} throughout")


def clashes(place: Path, ladders: Iterable[Ladder]) -> Iterator[Fault]:
    """Overlaps that a crop makes itself, by bringing two groups or tables together under one calibration."""
    for name, classes in ladders:
        for below, above in pairwise(classes):
            homes = [f"{row.table.id} {row.group}".strip() for row in (below, above) if isinstance(row, Band)]
            if homes[0] != homes[-1] and _distance(below, above) < 0:
                wrong = f"{name}: classes of {homes[0]} and {homes[-1]} overlap ({_word(below)} and {_word(above)})"
                yield Fault(place, None, "use_group", wrong, "one group for each analyte and method of a calibration")


def gaps(place: Path, ladders: Iterable[Ladder]) -> Iterator[Fault]:
    """Values between two classes that fall in none."""
    for name, classes in ladders:
        for below, above in pairwise(classes):
            if _distance(below, above) > 0:
                between = f"at {above.lower}" if below.upper == above.lower else f"from {below.upper} to {above.lower}"
                wrong = f"{name}: no class {between}, between {_word(below)} and {_word(above)}"
                yield Fault(place, above.line, "lower", wrong, "a gap only where the source prints none")


def _distance(below: Class, above: Class) -> int:
    """Negative where two neighbouring classes share a value, positive where values lie between them."""
    if below.upper is None or above.lower is None:
        return -1
    apart = scaled(above.lower) - scaled(below.upper)
    return apart or 1 - below.upper_inclusive - above.lower_inclusive


def _word(row: Class) -> str:
    return row.rating if isinstance(row, Band) else row.name
