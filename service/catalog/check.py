"""What the tables must keep beyond their shape, and what a reader of them should know although it is no fault."""

import csv
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import fields
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from service.agronomy.tables import AmountRow, Band, CalibrationRow, Crop, Library, Row
from service.catalog.catalog import Catalog
from service.catalog.check_caps import cap_faults
from service.catalog.check_ladders import clashes, crop_ladders, gaps, overlaps, shared_ladders
from service.catalog.check_limits import limit_faults
from service.catalog.check_units import Known, row_faults
from service.catalog.check_words import Spoken, word_faults
from service.catalog.errors import Fault
from service.catalog.ledger import unreleased
from service.catalog.read import BOOKKEEPING, TEXT, key_line

KINDS = ("field", "forage", "fruit", "lawn", "ornamental", "vegetable")
"""Kinds of crops that the rules tell apart."""
UNPRINTED = ("practice", "computed")
"""Sources that are no printed work."""


def check_catalog(catalog: Catalog) -> list[Fault]:
    """Every fault of meaning in every edition; an empty list when all is well."""
    library = catalog.library(date.max)
    known, spoken = library.index(Known), library.index(Spoken)
    calibrations = {row.calibration for row in library.rows("calibrations", CalibrationRow)}
    faults: list[Fault] = []
    for place, rows in _editions(catalog):
        faults += _rows_faults(place, rows, catalog, calibrations)
        faults += row_faults(place, rows, known)
        faults += word_faults(place, rows, spoken)
        faults += overlaps(place, shared_ladders(rows))
        faults += _twins(place, rows)
    for crop, place in _crops(catalog):
        faults += _crop_faults(crop, place, catalog, calibrations, library)
    faults += limit_faults(catalog, library)
    return list(dict.fromkeys(faults))


def remarks(catalog: Catalog) -> list[Fault]:
    """What is no fault but should be known: gaps between classes, sources nobody cites, editions not yet released."""
    noted = [fault for place, rows in _editions(catalog) for fault in gaps(place, shared_ladders(rows))]
    for crop, place in _crops(catalog):
        noted += gaps(place / "sufficiency.csv", crop_ladders(row for row in crop.sufficiency if _own(row, crop)))
    noted += _lone_traits(catalog)
    cited = {source for _, rows in _editions(catalog) for row in rows for source in row.sources}
    cited |= {source for crop, _ in _crops(catalog) for source in _cited_by(crop)}
    for folder, standing in catalog.standing.items():
        noted += _idle_sources(folder / "sources.csv", cited)
        drafts = unreleased(folder, standing)
        if drafts:
            said = "1 edition is" if len(drafts) == 1 else f"{len(drafts)} editions are"
            wrong = f"{said} not released yet and may still change"
            noted.append(Fault(folder, None, None, wrong, "saltbush crops freeze, once they are final"))
    return noted


def _lone_traits(catalog: Catalog) -> Iterator[Fault]:
    """Traits that one crop alone has and that look like another: most likely slips of the pen."""
    count = Counter(trait for crop in catalog.crops.values() for trait in crop.traits)
    for crop, place in _crops(catalog):
        for trait in crop.traits:
            others = [name for name in count if name != trait]
            if count[trait] == 1 and (near := get_close_matches(trait, others, n=1, cutoff=0.8)):
                about = place / "crop.toml"
                yield Fault(
                    about, key_line(about, "traits"), "traits", f"no other crop is {trait!r}", f"perhaps {near[0]!r}"
                )


def _idle_sources(path: Path, cited: set[str]) -> Iterator[Fault]:
    """One remark for all works of a list that nothing names."""
    if not path.exists():
        return
    with path.open(encoding=TEXT, newline="") as stream:
        listed = [raw["id"] for raw in csv.DictReader(stream)]
    idle = [source for source in listed if source not in cited and source not in UNPRINTED]
    if idle:
        said = "1 source is" if len(idle) == 1 else f"{len(idle)} sources are"
        wrong = f"{said} never used: {', '.join(idle)}"
        yield Fault(path, None, "id", wrong, "a row that names each, or no such line")


def _editions(catalog: Catalog) -> Iterator[tuple[Path, tuple[Row, ...]]]:
    for table in catalog.tables.values():
        for ref, rows in table.editions.values():
            yield catalog.file_of(ref), rows


def _crops(catalog: Catalog) -> Iterator[tuple[Crop, Path]]:
    for name, editions in catalog.crop_editions.items():
        for edition, crop in editions.items():
            yield crop, catalog.files[name, edition].folder


def _own(row: Row, crop: Crop) -> bool:
    return row.table.id == crop.id


def _cited_by(crop: Crop) -> Iterator[str]:
    single = (crop.salt, crop.boron, crop.chloride, crop.pH_source)
    rows = [*crop.sufficiency, *crop.amounts, *crop.salt_rivals, *(row for row in single if row is not None)]
    yield from (source for row in rows for source in row.sources)
    yield from _of_cautions(crop)


def _crop_faults(
    crop: Crop, place: Path, catalog: Catalog, calibrations: set[str], library: Library
) -> Iterator[Fault]:
    about = place / "crop.toml"
    for file, rows in (("sufficiency.csv", crop.sufficiency), ("amounts.csv", crop.amounts)):
        own = [row for row in rows if _own(row, crop)]
        yield from _rows_faults(place / file, own, catalog, calibrations)
        yield from row_faults(place / file, own, library.index(Known))
        yield from word_faults(place / file, own, library.index(Spoken))
        yield from overlaps(place / file, crop_ladders(own))
    yield from clashes(place / "sufficiency.csv", crop_ladders(crop.sufficiency))
    yield from cap_faults(crop, library, catalog.file_of)
    if crop.kind not in KINDS:
        yield Fault(about, key_line(about, "kind"), "kind", repr(crop.kind), f"one of {', '.join(KINDS)}")
    for name in crop.calibrations:
        if name not in calibrations:
            yield Fault(about, None, "calibrations", repr(name), "an id of the table calibrations")
    for name in crop.alternatives:
        if name not in catalog.crop_editions:
            yield Fault(about, None, "alternatives", repr(name), "the id of a crop of the library")
    if crop.pH_range and crop.pH_range[0] >= crop.pH_range[1]:
        yield Fault(about, None, "reaction", "pH_high is not above pH_low", "pH_low below pH_high")
    for source in (*(crop.pH_source.sources if crop.pH_source else ()), *_of_cautions(crop)):
        yield from _source_faults(about, None, source, catalog)


def _of_cautions(crop: Crop) -> Iterator[str]:
    return (source for caution in crop.cautions for source in caution.sources)


def _rows_faults(place: Path, rows: Iterable[Row], catalog: Catalog, calibrations: set[str]) -> Iterator[Fault]:
    for row in rows:
        for source in row.sources:
            yield from _source_faults(place, row.line, source, catalog)
        if isinstance(row, Band | AmountRow) and row.calibration not in calibrations:
            yield Fault(place, row.line, "calibration", repr(row.calibration), "an id of the table calibrations")
        if isinstance(row, AmountRow) and not row.use_table and row.rate_low is None and not row.equation:
            yield Fault(place, row.line, "rate_low", "neither a rate nor an equation", "one of the two")
        if row.verification == "read" and all(source in UNPRINTED for source in row.sources):
            right = "practice, or the source it was read in"
            yield Fault(place, row.line, "verification", "read in no printed source", right)


def _source_faults(place: Path, line: int | None, source: str, catalog: Catalog) -> Iterator[Fault]:
    if source not in catalog.sources:
        yield Fault(place, line, "sources", f"{source!r} is not in sources.csv", "an id that is, or a line added there")
    elif catalog.sources[source].grade != "A" and source not in UNPRINTED:
        yield Fault(place, line, "sources", f"{source} is not of grade A", "grade A, or practice")


def _twins(place: Path, rows: Iterable[Row]) -> Iterator[Fault]:
    seen: dict[tuple[object, ...], int] = {}
    for row in rows:
        key = tuple(str(getattr(row, item.name)) for item in fields(row) if item.name not in BOOKKEEPING)
        if key in seen:
            yield Fault(place, row.line, None, f"the row repeats line {seen[key]}", "each row once")
        seen.setdefault(key, row.line)
