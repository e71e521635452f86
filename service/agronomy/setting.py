"""What decides between rate rows: stage, upkeep, use and soil, and the rows of rates, schedules and caps that fit."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, NamedTuple

from service.agronomy.calibration import Choice, prepare_calibrations
from service.agronomy.doses import Dose, prepare_doses
from service.agronomy.findings import EditionRef, Word
from service.agronomy.reference import Cap
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Crop, Library, LimitRow, ScheduleRow
from service.agronomy.units import Units

SOWN = "planting"
LASTING_TRAITS = frozenset(("perennial", "woody", "turf"))
NEW_STAND = "new_stand"
HEAT = "heat"
MOST_KEPT = 4096
"""Settings and citations kept per library before all are forgotten: a bound on memory, not on what is answered."""


class Circumstances(NamedTuple):
    """Everything of a submission that rate, schedule and limit rows may ask about. Words of closed lists only."""

    crop: EditionRef
    choice: Choice
    stage: str | None
    zone: str
    sand: bool
    saline: bool
    calcareous: bool | None
    poor_growth: bool
    maintenance: str | None
    clippings: str | None
    overseeded: bool | None
    in_turf: bool | None
    organic_only: bool | None
    use: str | None
    low_desert: bool = False
    steep: bool = False
    limy_silt: bool = False


CONDITIONS: Mapping[str, Callable[[Circumstances], bool]] = {
    "calcareous": lambda about: about.calcareous is True,
    "not_calcareous": lambda about: about.calcareous is False,
    "sand": lambda about: about.sand,
    "not_sand": lambda about: not about.sand,
    "saline": lambda about: about.saline,
    "poor_growth": lambda about: about.poor_growth,
    "overseeded": lambda about: about.overseeded is True,
    "in_turf": lambda about: about.in_turf is True,
    "organic_only": lambda about: about.organic_only is True,
    "clippings_removed": lambda about: about.clippings == "removed",
    "clippings_returned": lambda about: about.clippings == "returned",
    "low_desert": lambda about: about.low_desert,
    "slope": lambda about: about.steep,
    "calcareous_silty": lambda about: about.limy_silt,
}
"""The condition words of tables. A word not listed is never known to be true."""


class Setting:
    """The rows that fit one set of circumstances.

    Attributes:
        stage: as sent; ``established`` when a lasting plant that stands was sent without one.
        sand: the soil is sand or loamy sand. saline: ECe is in a saline class.
        calcareous: free lime, ``None`` when unknown.
        order: calibrations by preference.
        windows: open windows by schedule and day, kept for `service.agronomy.timing`.
    """

    __slots__ = (
        "_caps",
        "_fitting",
        "_schedules",
        "_tested",
        "about",
        "calcareous",
        "crop",
        "crop_word",
        "library",
        "order",
        "saline",
        "sand",
        "stage",
        "windows",
    )

    def __init__(self, library: Library, crop: Crop, about: Circumstances) -> None:
        self.library, self.crop, self.about = library, crop, about
        lasting = not LASTING_TRAITS.isdisjoint(crop.traits) and NEW_STAND not in crop.traits
        self.stage = about.stage or ("established" if lasting else None)
        self.sand, self.saline, self.calcareous = about.sand, about.saline, about.calcareous
        self.crop_word = Word("crop", crop.id)
        self.order = library.index(prepare_calibrations).order(crop, about.choice)
        self._fitting: dict[str, tuple[Dose, ...]] = {}
        self._tested: dict[tuple[str, str | None, str, str | None], tuple[Dose, ...]] = {}
        self._schedules: dict[str, tuple[ScheduleRow, ...]] = {}
        self._caps: dict[str, tuple[Cap, ...]] = {}
        self.windows: dict[tuple[str, date], Any] = {}

    def keep_windows(self, schedule: str, today: date, ahead: object) -> None:
        """Remember what `service.agronomy.timing` found out about a schedule on a day."""
        if len(self.windows) >= MOST_KEPT:
            self.windows.clear()
        self.windows[schedule, today] = ahead

    def holds(self, word: str) -> bool:
        """Whether a condition word of a table is known to be true here."""
        test = CONDITIONS.get(word)
        return test is not None and test(self.about)

    def fitting(self, nutrient: str) -> tuple[Dose, ...]:
        """Rate rows of a nutrient that fit, the preferred first, narrowed to the upkeep stated."""
        found = self._fitting.get(nutrient)
        if found is None:
            rows = self.of_nutrient(nutrient)
            fit = sorted((dose for dose in rows if self._fits(dose.row)), key=lambda dose: self._rank(dose.row))
            found = self._fitting[nutrient] = tuple(dose for dose in fit if self._keeps(dose.row, fit))
        return found

    def of_nutrient(self, nutrient: str) -> tuple[Dose, ...]:
        """Every rate row of a nutrient for this crop, whether it fits or not."""
        return self.library.index(prepare_doses).of_crop(self.crop).get(nutrient, ())

    def tested(self, nutrient: str, calibration: str | None, analyte: str, method: str | None) -> tuple[Dose, ...]:
        """Rate rows of one calibration that rest on one test."""
        key = (nutrient, calibration, analyte, method)
        found = self._tested.get(key)
        if found is None:
            found = self._tested[key] = tuple(
                dose
                for dose in self.fitting(nutrient)
                if dose.row.calibration == calibration
                and dose.row.basis_analyte == analyte
                and dose.row.basis_method in (None, "", method)
            )
        return found

    def _fits(self, row: AmountRow) -> bool:
        """Whether stage, use and condition of a row are met; a condition counts only when it is known true.

        The season of a plant that is sown every year lies ahead when nobody said otherwise.
        """
        if row.stages and (self.stage or SOWN) not in row.stages:
            return False
        if row.uses and self.about.use not in row.uses:
            return False
        return row.when == "" or self.holds(row.when)

    def _rank(self, row: AmountRow) -> tuple[bool, bool, bool, int]:
        """Order of rows that fit: the client's calibration, then the more specific row, then preference."""
        place = self.order.index(row.calibration) if row.calibration in self.order else len(self.order)
        return (row.calibration != self.about.choice.wanted, row.when == "", not row.uses, place)

    def _keeps(self, row: AmountRow, among: list[Dose]) -> bool:
        """Whether a row is the one of its calibration for this upkeep; without its own the lower one serves."""
        if not row.maintenance:
            return True
        stated = self.about.maintenance or "medium"
        if stated in row.maintenance:
            return True
        siblings = [dose.row.maintenance for dose in among if dose.row.calibration == row.calibration]
        return "low" in row.maintenance and not any(stated in words for words in siblings)

    def within(self, dose: Dose) -> float:
        """One rate, in base units, out of a printed range.

        A lawn's range is read by its upkeep: the lower end for low, the upper for high, the middle otherwise; a range
        printed for low upkeep that stands in for the next one above gives its upper end. Any other range gives its
        middle. Raises TypeError for a row without a rate.
        """
        low, high = dose.low, dose.high
        if low is None:
            raise TypeError("a row without a rate")
        if high is None or high == low:
            return low
        upkeep = self.about.maintenance if "turf" in self.crop.traits else None
        if upkeep == "low":
            return low
        stands_in = bool(dose.row.maintenance) and upkeep is not None and upkeep not in dose.row.maintenance
        return high if upkeep == "high" or stands_in else (low + high) / 2.0

    def schedule(self, name: str) -> tuple[ScheduleRow, ...]:
        """The rows of a schedule for this hardiness zone, stage and soil.

        Rows for the zone come before rows for any zone, and among them those for the stage before those for any.
        """
        found = self._schedules.get(name)
        if found is None:
            rows = self.library.index(prepare_schedules).get(name, ())
            here = [row for row in rows if self.about.zone in row.zones] or [row for row in rows if not row.zones]
            staged = [row for row in here if self.stage in row.stages] or [row for row in here if not row.stages]
            found = self._schedules[name] = tuple(row for row in staged if self._in_season(row))
        return found

    def _in_season(self, row: ScheduleRow) -> bool:
        if row.when == BEFORE_PLANTING and self.stage in GROWING:
            return False
        return row.condition == "" or self.holds(row.condition)

    def caps(self, subject: str) -> tuple[Cap, ...]:
        """Caps per application that hold here, the lowest first; those for the heat are judged window by window."""
        found = self._caps.get(subject)
        if found is None:
            caps = self.library.index(prepare_caps).get(subject, ())
            found = self._caps[subject] = tuple(cap for cap in caps if self._capped(cap))
        return found

    def _capped(self, cap: Cap) -> bool:
        row, crop = cap.row, self.crop
        if row.uses and not {crop.kind, crop.group, crop.id, self.about.use, *crop.traits} & set(row.uses):
            return False
        if row.stages and self.stage not in row.stages:
            return False
        return row.when in ("", HEAT) or self.holds(row.when)


def prepare_caps(library: Library) -> Mapping[str, tuple[Cap, ...]]:
    """Every cap per application in ``application-limits`` on a rate per area, by subject, the lowest first."""
    units = library.index(Units.of)
    found: dict[str, tuple[Cap, ...]] = {}
    for row in library.rows("application-limits", LimitRow):
        if row.per == "application" and units.known(row.unit) and units.dimension(row.unit) == "areal_rate":
            cap = Cap(row, units.areal(Quantity(row.maximum, row.unit)))
            found[row.subject] = (*found.get(row.subject, ()), cap)
    return {subject: tuple(sorted(caps, key=lambda cap: cap.g_m2)) for subject, caps in found.items()}


BEFORE_PLANTING = "before_planting"
GROWING = frozenset(("young", "established", "bearing"))

type_of_schedules = Mapping[str, tuple[ScheduleRow, ...]]


def prepare_schedules(library: Library) -> type_of_schedules:
    """Read ``nitrogen-schedules`` by schedule, in order."""
    found: dict[str, tuple[ScheduleRow, ...]] = {}
    for row in sorted(library.rows("nitrogen-schedules", ScheduleRow), key=lambda row: row.order):
        found[row.schedule] = (*found.get(row.schedule, ()), row)
    return found
