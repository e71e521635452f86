"""Finding crops on the page: by any name in either language, by kind, by region."""

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from service.agronomy.tables import CalibrationRow, Crop, Library
from service.contract.vocabulary import Vocabulary, fold


class Hit(NamedTuple):
    """A crop found. ``name`` and ``others`` are in the page's language, ``foreign`` in the rest."""

    crop: Crop
    name: str
    others: tuple[str, ...]
    foreign: tuple[str, ...]


class Wanted(NamedTuple):
    """What the visitor asked for; blank is everything."""

    text: str = ""
    kind: str = ""
    region: str = ""


def find(library: Library, wanted: Wanted, language: str) -> Mapping[str, tuple[Hit, ...]]:
    """Crops that fit, by kind, each kind in the order of the names."""
    found: dict[str, list[Hit]] = {}
    for crop in _fitting(library, wanted):
        found.setdefault(crop.kind, []).append(hit(crop, language))
    return {kind: tuple(sorted(found[kind], key=lambda each: fold(each.name))) for kind in sorted(found)}


def near(library: Library, text: str, language: str) -> tuple[Hit, ...]:
    """Crops with a name like this one: offered, never chosen."""
    names = library.index(Vocabulary).closest("crop", text) if text else ()
    return tuple(hit(library.crops[name], language) for name in names)


def hit(crop: Crop, language: str) -> Hit:
    """A crop with its names in the order that a reader of this language wants them."""
    own = crop.names.get(language) or (crop.id,)
    foreign = (name for other, names in crop.names.items() if other != language for name in names)
    return Hit(crop, own[0], tuple(own[1:]), tuple(name for name in foreign if name not in own))


def kinds(library: Library) -> tuple[str, ...]:
    """Every kind of crop there is."""
    return tuple(sorted({crop.kind for crop in library.crops.values()}))


def regions(library: Library) -> tuple[str, ...]:
    """Every region that a publisher's tables are made for."""
    rows = library.rows("calibrations", CalibrationRow)
    return tuple(sorted({region for row in rows for region in row.regions}))


def _fitting(library: Library, wanted: Wanted) -> Iterator[Crop]:
    text, local = fold(wanted.text), _local(library, wanted.region)
    for crop in library.crops.values():
        judged_by = {band.calibration for band in crop.sufficiency} | {row.calibration for row in crop.amounts}
        of_kind = wanted.kind in ("", crop.kind)
        of_region = not wanted.region or not local.isdisjoint(judged_by)
        if of_kind and of_region and (not text or any(text in name for name in _folded(crop))):
            yield crop


def _local(library: Library, region: str) -> frozenset[str]:
    rows = library.rows("calibrations", CalibrationRow)
    return frozenset(row.calibration for row in rows if region in row.regions)


def _folded(crop: Crop) -> Iterable[str]:
    names = (name for listed in crop.names.values() for name in listed)
    return (fold(name) for name in (crop.id, crop.scientific_name, *names))
