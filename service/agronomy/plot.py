"""The ground asked about: a submission, and the setting that it shares with every submission alike in all that counts.

Rows that fit are so found once per library and not once per request.
"""

from itertools import takewhile
from typing import NamedTuple

from service.agronomy.calibration import SANDS, prepare_calibrations
from service.agronomy.findings import Salinity, Texture
from service.agronomy.sample import Case
from service.agronomy.setting import MOST_KEPT, Circumstances, Setting
from service.agronomy.tables import Crop, Library

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
        "".join(takewhile(str.isdigit, site.zone)) if site.zone else "",
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
    )
