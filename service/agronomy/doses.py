"""The rate rows of a crop, made ready: limits as whole millionths, rates in g/m2 or g per tree."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.calibration import OPEN_HIGH, OPEN_LOW, interval
from service.agronomy.findings import EditionRef
from service.agronomy.sample import Measurement
from service.agronomy.tables import AmountRow, Crop, Library
from service.agronomy.units import Units, scaled

AREAL, PER_TREE = "g/m2", "g/tree"


class Dose(NamedTuple):
    """One rate row, ready for use.

    ``first`` and ``last`` bound the basis in whole millionths; ``low`` and ``high`` are the rate in ``base`` units;
    ``factor`` turns a result in the row's own rate unit into ``base`` units.
    """

    row: AmountRow
    first: int
    last: int
    low: float | None
    high: float | None
    factor: float
    base: str

    def covers(self, measurement: Measurement) -> bool:
        """Whether a measurement, or the whole interval it lies in, is inside the row's bounds."""
        if measurement.value is not None:
            return self.first <= scaled(measurement.value) <= self.last
        low, high = interval(measurement)
        return self.first <= low and high <= self.last


class Doses:
    """The rate rows of every crop asked for. Prepared once per library and crop edition."""

    __slots__ = ("_by_crop", "_units")

    def __init__(self, units: Units) -> None:
        self._units = units
        # Bounded: one entry per crop edition of the library.
        self._by_crop: dict[EditionRef, Mapping[str, tuple[Dose, ...]]] = {}

    def of_crop(self, crop: Crop) -> Mapping[str, tuple[Dose, ...]]:
        """Rate rows by nutrient, in file order."""
        found = self._by_crop.get(crop.edition)
        if found is None:
            rows: dict[str, tuple[Dose, ...]] = {}
            for row in crop.amounts:
                if not row.use_table:
                    rows[row.nutrient] = (*rows.get(row.nutrient, ()), self._dose(row))
            found = self._by_crop[crop.edition] = rows
        return found

    def _dose(self, row: AmountRow) -> Dose:
        base = PER_TREE if self._units.dimension(row.rate_unit) == "per_tree" else AREAL
        factor = self._units.convert(1.0, row.rate_unit, base)
        return Dose(
            row,
            OPEN_LOW if row.lower is None else scaled(row.lower) + (not row.lower_inclusive),
            OPEN_HIGH if row.upper is None else scaled(row.upper) - (not row.upper_inclusive),
            None if row.rate_low is None else row.rate_low * factor,
            None if row.rate_high is None else row.rate_high * factor,
            factor,
            base,
        )


def prepare_doses(library: Library) -> Doses:
    """The store of prepared rate rows of one library."""
    return Doses(library.index(Units.of))
