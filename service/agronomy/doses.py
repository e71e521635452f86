"""The rate rows of a crop, made ready: limits as whole millionths, rates in g/m2 or g per tree.

And the setting they are read in: stage, upkeep, use and soil of one submission, which decide the rows that apply.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from service.agronomy.calibration import OPEN_HIGH, OPEN_LOW, SANDS, Calibrations, interval, prepare_calibrations
from service.agronomy.findings import Salinity, Texture
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import AmountRow, Crop, Library
from service.agronomy.units import Units, scaled

AREAL, PER_TREE = "g/m2", "g/tree"
SALINE_CLASSES = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
"""Salinity classes from the saline-soil limit upwards (USDA Handbook 60)."""
LASTING_TRAITS = frozenset(("perennial", "woody", "turf"))
UPKEEP = ("low", "medium", "high")


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
        self._by_crop: dict[object, Mapping[str, tuple[Dose, ...]]] = {}

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


class Setting:
    """What decides between the rate rows of one submission.

    Attributes:
        stage: as sent; ``established`` when a lasting plant was sent without one.
        sand: the soil is sand or loamy sand. saline: ECe is in a saline class.
        calcareous: free lime, ``None`` when unknown.
        order: calibrations by preference.
    """

    __slots__ = ("calcareous", "case", "crop", "order", "saline", "sand", "stage", "wanted")

    def __init__(
        self, case: Case, crop: Crop, salts: Salinity | None, texture: Texture | None, calcareous: bool | None
    ) -> None:
        self.case = case
        self.crop = crop
        sent = case.submission.target.stage
        self.stage = sent or ("established" if not LASTING_TRAITS.isdisjoint(crop.traits) else None)
        self.sand = (texture.texture_class if texture else case.submission.site.texture) in SANDS
        self.saline = salts is not None and salts.salinity_class in SALINE_CLASSES
        self.calcareous = calcareous
        calibrations: Calibrations = case.library.index(prepare_calibrations)
        choice = calibrations.choice(case)
        self.wanted = choice.wanted
        self.order = calibrations.order(crop, choice)

    def fits(self, row: AmountRow) -> bool:
        """Whether stage, use and condition of a row are met; a condition counts only when it is known true."""
        if row.stages and self.stage not in row.stages:
            return False
        if row.uses and self.case.submission.target.condition.use not in row.uses:
            return False
        return row.when == "" or self.holds(row.when)

    def holds(self, word: str) -> bool:
        """Whether a condition word of a table is known to be true here."""
        test = CONDITIONS.get(word)
        return test is not None and test(self)

    def rank(self, row: AmountRow) -> tuple[bool, bool, bool, int]:
        """Order of rows that fit: the client's calibration, then the more specific row, then preference."""
        place = self.order.index(row.calibration) if row.calibration in self.order else len(self.order)
        return (row.calibration != self.wanted, row.when == "", not row.uses, place)

    def fitting(self, nutrient: str) -> list[Dose]:
        """Rate rows of a nutrient that fit, the preferred first, narrowed to the upkeep stated."""
        rows = self.case.library.index(prepare_doses).of_crop(self.crop).get(nutrient, ())
        fit = sorted((dose for dose in rows if self.fits(dose.row)), key=lambda dose: self.rank(dose.row))
        return [dose for dose in fit if self.keeps(dose.row, fit)]

    def keeps(self, row: AmountRow, among: list[Dose]) -> bool:
        """Whether a row is the one of its calibration for this upkeep; without its own the lower one serves."""
        if not row.maintenance:
            return True
        stated = self.case.submission.target.condition.maintenance or "medium"
        if stated in row.maintenance:
            return True
        siblings = [dose.row.maintenance for dose in among if dose.row.calibration == row.calibration]
        return "low" in row.maintenance and not any(stated in words for words in siblings)

    def within(self, dose: Dose) -> float:
        """One rate, in base units, out of a printed range.

        A range that holds for every upkeep is read by the upkeep: its lower end for low, its upper for high, its
        middle otherwise. A range printed for one upkeep gives its middle, its upper end when it stands in for the
        next upkeep above. Raises TypeError for a row without a rate.
        """
        low, high = dose.low, dose.high
        if low is None:
            raise TypeError("a row without a rate")
        if high is None or high == low:
            return low
        upkeep = self.case.submission.target.condition.maintenance
        if dose.row.maintenance:
            return high if upkeep is not None and upkeep not in dose.row.maintenance else (low + high) / 2.0
        if "turf" in self.crop.traits and upkeep == "low":
            return low
        return high if "turf" in self.crop.traits and upkeep == "high" else (low + high) / 2.0


def _said(word: str, value: object) -> Callable[[Setting], bool]:
    return lambda setting: getattr(setting.case.submission.target.condition, word) == value


def _shows(*symptoms: str) -> Callable[[Setting], bool]:
    return lambda setting: not set(symptoms).isdisjoint(setting.case.submission.site.symptoms)


CONDITIONS: Mapping[str, Callable[[Setting], bool]] = {
    "calcareous": lambda setting: setting.calcareous is True,
    "not_calcareous": lambda setting: setting.calcareous is False,
    "sand": lambda setting: setting.sand,
    "not_sand": lambda setting: not setting.sand,
    "saline": lambda setting: setting.saline,
    "poor_growth": _shows("poor_growth", "stunting"),
    "overseeded": _said("overseeded", True),
    "in_turf": _said("in_turf", True),
    "organic_only": _said("organic_only", True),
    "clippings_removed": _said("clippings", "removed"),
    "clippings_returned": _said("clippings", "returned"),
}
"""The condition words of rate, schedule and limit rows. A word not listed is never known to be true."""
