"""Whether a table of rates by itself goes above a hard cap: such a rate would never leave the house."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from service.agronomy.caps import BASES, FIELD_KINDS, SEASON, Cap, Caps
from service.agronomy.findings import EditionRef
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Crop, Library
from service.agronomy.units import Units, scaled
from service.catalog.errors import Fault

PER_YEAR = frozenset(("year", "season", "once", "planting"))


def over_caps(crop: Crop, library: Library) -> Iterator[tuple[AmountRow, Cap]]:
    """Rows of a crop whose largest rate is above a hard cap that holds for it."""
    units, caps = library.index(Units.of), library.index(Caps.of)
    for row in crop.amounts:
        if _most(row) is None or row.equation or row.use_table:
            continue
        for cap in caps.by_subject.get(row.nutrient, ()):
            if _holds(crop, row, cap) and _above(units, row, cap):
                yield row, cap


def cap_faults(crop: Crop, library: Library, file_of: Callable[[EditionRef], Path]) -> Iterator[Fault]:
    """The same as faults, in the file that the rate stands in."""
    for row, cap in over_caps(crop, library):
        place = file_of(row.table)
        rate = f"{_most(row):g} {row.rate_unit} per {row.per}"
        wrong = f"{crop.id}: {row.nutrient} {rate} is above the hard cap {cap.row.limit}"
        right = f"at most {cap.row.maximum:g} {cap.row.unit} per {cap.row.per}"
        column = "rate_low" if row.rate_high is None else "rate_high"
        yield Fault(place / "amounts.csv" if place.is_dir() else place, row.line, column, wrong, right)


def _holds(crop: Crop, row: AmountRow, cap: Cap) -> bool:
    """Whether a cap can meet this row: its stages and its uses, or the crop's own use where the row names none."""
    if cap.row.stages and row.stages and not set(cap.row.stages) & set(row.stages):
        return False
    if (row.per in PER_YEAR) is not (cap.row.per in SEASON):
        return False
    uses: Sequence[str] = row.uses or ("field" if crop.kind in FIELD_KINDS else "home",)
    return not cap.row.uses or not {*uses, crop.kind, crop.group, crop.id}.isdisjoint(cap.row.uses)


def _most(row: AmountRow) -> float | None:
    """The largest rate of a row; a single figure stands in ``rate_low``."""
    return row.rate_low if row.rate_high is None else row.rate_high


def _above(units: Units, row: AmountRow, cap: Cap) -> bool:
    most = _most(row)
    if not units.known(row.rate_unit) or units.dimension(row.rate_unit) != cap.dimension or most is None:
        return False
    return scaled(BASES[cap.dimension](units, Quantity(most, row.rate_unit))) > scaled(cap.base)
