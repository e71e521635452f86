"""The ground asked about: a submission, and the setting that it shares with every submission alike in all that counts.

Rows that fit are so found once per library and not once per request.
"""

from itertools import takewhile
from typing import NamedTuple

from service.agronomy.calibration import SANDS, prepare_calibrations
from service.agronomy.findings import Salinity, Texture
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.setting import MOST_KEPT, Circumstances, Setting
from service.agronomy.tables import Crop, Library, LimitRow
from service.agronomy.units import Units, scaled

SALINE_CLASSES = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
"""Salinity classes from the saline-soil limit upwards (USDA Handbook 60)."""
POOR_GROWTH = frozenset(("poor_growth", "stunting"))


class Plot(NamedTuple):
    """The ground asked about: the submission and the rows that fit it."""

    case: Case
    setting: Setting


class Settings:
    """The settings met so far. Prepared once per library."""

    __slots__ = ("_kept", "_library")

    def __init__(self, library: Library) -> None:
        self._library = library
        self._kept: dict[Circumstances, Setting] = {}

    def plot(self, case: Case, crop: Crop, salts: Salinity | None, texture: Texture | None, lime: bool | None) -> Plot:
        """A submission with its setting. ``lime``: free lime, ``None`` when unknown."""
        about = _circumstances(case, crop, salts, texture, lime)
        found = self._kept.get(about)
        if found is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            found = self._kept[about] = Setting(self._library, crop, about)
        return Plot(case, found)


def prepare_settings(library: Library) -> Settings:
    """The store of settings of one library."""
    return Settings(library)


HOT_ZONES = frozenset(("9", "10"))
LOW_DESERT_REGION = "US-AZ"
"""The region whose calibration is made for its low desert; its high country is told apart by elevation or zone."""


def _low_desert(case: Case) -> bool:
    """Whether warm-season grass grows from spring to fall: hot zones, or Arizona unless known to be high."""
    site = case.submission.site
    zone = _zone(site.zone)
    if zone:
        return zone in HOT_ZONES
    if site.region != LOW_DESERT_REGION:
        return False
    if site.elevation is None:
        return True
    most = reference_of(case.library).factor("low_desert_elevation_max_ft")
    return scaled(case.library.index(Units.of).feet(site.elevation)) <= scaled(most.value)


SILTS = frozenset(("silt_loam", "silty_clay_loam"))


def _limy_silt(case: Case, texture: str | None) -> bool:
    """Whether pH and calcium are surely above the lines of a silt that holds on to phosphorus, ``factors``."""
    if texture not in SILTS:
        return False
    pH, calcium = case.find("pH"), case.find("Ca", "ammonium_acetate")
    lines = reference_of(case.library).factor
    return (
        pH is not None
        and calcium is not None
        and scaled(pH.low) > scaled(lines("limy_silt_pH_above").value)
        and scaled(calcium.low) > scaled(lines("limy_silt_calcium_above").value)
    )


STEEP = "slope"


def _steep(case: Case) -> bool:
    """Whether the ground slopes as much as the line of ``application-limits`` for fertilizer on slopes."""
    slope = case.submission.site.slope_pct
    line = case.library.index(prepare_slope)
    return slope is not None and line is not None and scaled(slope) >= scaled(line)


def prepare_slope(library: Library) -> float | None:
    """The slope, percent, from which fertilizer needs care."""
    rows = (row for row in library.rows("application-limits", LimitRow) if row.limit == STEEP)
    return next((row.maximum for row in rows), None)


def _zone(zone: str | None) -> str:
    """The number of a hardiness zone without its half: ``7`` of ``7b``."""
    return "".join(takewhile(str.isdigit, zone)) if zone else ""


def _circumstances(
    case: Case, crop: Crop, salts: Salinity | None, texture: Texture | None, lime: bool | None
) -> Circumstances:
    submission = case.submission
    site, target = submission.site, submission.target
    condition = target.condition
    return Circumstances(
        crop.edition,
        case.library.index(prepare_calibrations).choice(case),
        target.stage,
        _zone(site.zone),
        (texture.texture_class if texture else site.texture) in SANDS,
        salts is not None and salts.salinity_class in SALINE_CLASSES,
        lime,
        not POOR_GROWTH.isdisjoint(site.symptoms),
        condition.maintenance,
        condition.clippings,
        condition.overseeded,
        condition.in_turf,
        condition.organic_only,
        condition.use,
        _low_desert(case),
        _steep(case),
        _limy_silt(case, texture.texture_class if texture else site.texture),
    )
