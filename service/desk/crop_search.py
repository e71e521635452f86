"""Finding crops by any name in either language, by kind, by region; near misses are suggested, never chosen."""

from collections.abc import Iterator
from typing import NamedTuple

from service.agronomy.tables import CalibrationRow, Crop, Library
from service.contract.vocabulary import Vocabulary, fold

ANY = ""


class Wanted(NamedTuple):
    """What is asked for; blank is everything. ``language``: search only the names of one."""

    text: str = ANY
    kind: str = ANY
    region: str = ANY
    language: str = ANY


class _Listed(NamedTuple):
    crop: Crop
    names: dict[str, str]
    judged_by: frozenset[str]


class CropIndex:
    """What a search goes through, made once per library: ``library.index(CropIndex)``.

    Attributes:
        kinds: every kind of crop there is.
        regions: every region that a publisher's tables are made for.
    """

    def __init__(self, library: Library) -> None:
        self.crops = tuple(_listed(crop) for _, crop in sorted(library.crops.items()))
        self.kinds = tuple(sorted({crop.kind for crop in library.crops.values()}))
        self.local: dict[str, set[str]] = {}
        for row in library.rows("calibrations", CalibrationRow):
            for region in row.regions:
                self.local.setdefault(region, set()).add(row.calibration)
        self.regions = tuple(sorted(self.local))


def find_crops(library: Library, wanted: Wanted) -> Iterator[Crop]:
    """Crops that fit, by id."""
    index, text = library.index(CropIndex), fold(wanted.text)
    local = index.local.get(wanted.region, set())
    for crop, names, judged_by in index.crops:
        of_kind = wanted.kind in (ANY, crop.kind)
        of_region = not wanted.region or not judged_by.isdisjoint(local)
        if of_kind and of_region and text in names[wanted.language if wanted.language in names else ANY]:
            yield crop


def near_misses(library: Library, name: str) -> tuple[str, ...]:
    """Ids of crops with a name like this one."""
    return library.index(Vocabulary).closest("crop", name) if name else ()


def _listed(crop: Crop) -> _Listed:
    """A crop with its names folded for comparison, by language and all together; whose classes or rates it has."""
    always = (crop.id, crop.scientific_name)
    names = {language: _folded((*always, *listed)) for language, listed in crop.names.items()}
    everything = _folded((*always, *(name for listed in crop.names.values() for name in listed)))
    judged_by = {row.calibration for row in crop.sufficiency} | {row.calibration for row in crop.amounts}
    return _Listed(crop, {**names, ANY: everything}, frozenset(judged_by))


def _folded(names: tuple[str, ...]) -> str:
    return "\n".join(fold(name) for name in names)
