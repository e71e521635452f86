"""Finding crops by any name in either language; near misses are suggested, never chosen."""

from collections.abc import Iterator, Mapping
from typing import Any

from service.agronomy.tables import CalibrationRow, Crop, Library
from service.catalog.catalog import Catalog
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.vocabulary import Vocabulary, fold


def find_crops(catalog: Catalog, library: Library, query: Mapping[str, Any]) -> Iterator[Crop]:
    """Crops that fit a name, a kind and a region, by id. Raises ProblemError for a kind that no crop is of."""
    kinds = tuple(sorted({crop.kind for crop in catalog.crops.values()}))
    if query.get("kind", kinds[0]) not in kinds:
        wrong = f"{query['kind'][:40]!r} is no kind of crop"
        raise invalid([FieldError("?kind", "unknown_word", wrong, f"one of {', '.join(kinds)}", kinds)])
    wanted = fold(query.get("q", ""))
    languages = (query["language"],) if "language" in query else None
    regional = _calibrations(library, query["region"]) if "region" in query else None
    for _, crop in sorted(catalog.crops.items()):
        if "kind" in query and crop.kind != query["kind"]:
            continue
        if regional is not None and regional.isdisjoint(_judged_by(crop)):
            continue
        if not wanted or any(wanted in fold(name) for name in _names(crop, languages)):
            yield crop


def _judged_by(crop: Crop) -> set[str]:
    """Whose tables a crop has classes or rates of."""
    return {row.calibration for row in crop.sufficiency} | {row.calibration for row in crop.amounts}


def _calibrations(library: Library, region: str) -> frozenset[str]:
    rows = library.rows("calibrations", CalibrationRow)
    return frozenset(row.calibration for row in rows if region in row.regions)


def _names(crop: Crop, languages: tuple[str, ...] | None) -> list[str]:
    said = crop.names if languages is None else {language: crop.names.get(language, ()) for language in languages}
    return [crop.id, crop.scientific_name, *(name for listed in said.values() for name in listed)]


def no_crop(library: Library, name: str) -> ProblemError:
    """404 with the crops that may have been meant."""
    near = near_misses(library, name)
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    extra = {"suggestions": near} if near else {}
    return ProblemError(Problem("not-found", f"There is no crop {name[:60]!r}.{hint}", extra=extra))


def near_misses(library: Library, name: str) -> list[str]:
    """Ids of crops with a name like this one."""
    return list(library.index(Vocabulary).closest("crop", name)) if name else []
