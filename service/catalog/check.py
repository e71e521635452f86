"""What the tables must keep beyond their shape: sources known, classes without overlap, pointers that hold."""

from collections.abc import Iterable, Iterator
from dataclasses import fields
from itertools import pairwise
from pathlib import Path

from service.agronomy.tables import AmountRow, Band, CalibrationRow, Crop, Row
from service.catalog.catalog import Catalog
from service.catalog.errors import Fault
from service.catalog.read import BOOKKEEPING


def check_catalog(catalog: Catalog) -> list[Fault]:
    """Every fault of meaning in every edition; an empty list when all is well."""
    calibrations = {
        row.calibration
        for table in catalog.tables.values()
        for _, rows in table.editions.values()
        for row in rows
        if isinstance(row, CalibrationRow)
    }
    faults: list[Fault] = []
    for table in catalog.tables.values():
        for ref, rows in table.editions.values():
            place = Path("_shared") / table.id / f"{ref.edition}.csv"
            faults += _rows_faults(place, rows, catalog, calibrations)
            faults += _twins(place, rows)
    for editions in catalog.crop_editions.values():
        for crop in editions.values():
            faults += _crop_faults(crop, catalog, calibrations)
    return faults


def _crop_faults(crop: Crop, catalog: Catalog, calibrations: set[str]) -> Iterator[Fault]:
    place = Path(crop.id) / crop.edition.edition
    own = [row for row in (*crop.sufficiency, *crop.amounts) if row.table.id == crop.id]
    yield from _rows_faults(place, own, catalog, calibrations)
    yield from _overlaps(place / "sufficiency.csv", crop.sufficiency)
    for name in crop.calibrations:
        if name not in calibrations:
            yield Fault(place / "crop.toml", None, "calibrations", repr(name), "an id of the table calibrations")
    for name in crop.alternatives:
        if name not in catalog.crop_editions:
            yield Fault(place / "crop.toml", None, "alternatives", repr(name), "the id of a crop of the library")


def _rows_faults(place: Path, rows: Iterable[Row], catalog: Catalog, calibrations: set[str]) -> Iterator[Fault]:
    for row in rows:
        for source in row.sources:
            if source not in catalog.sources:
                yield Fault(place, row.line, "sources", repr(source), "an id of sources.csv")
            elif catalog.sources[source].grade != "A" and source not in ("practice", "computed"):
                yield Fault(place, row.line, "sources", f"{source} is not of grade A", "grade A, or practice")
        if isinstance(row, Band | AmountRow) and row.calibration not in calibrations:
            yield Fault(place, row.line, "calibration", repr(row.calibration), "an id of the table calibrations")
        if isinstance(row, Band | AmountRow) and _upside_down(row):
            yield Fault(place, row.line, "upper", f"{row.upper} is not above lower {row.lower}", "upper above lower")
        if isinstance(row, AmountRow) and not row.use_table and row.rate_low is None and not row.equation:
            yield Fault(place, row.line, "rate_low", "neither a rate nor an equation", "one of the two")


def _upside_down(row: Band | AmountRow) -> bool:
    return row.lower is not None and row.upper is not None and row.lower >= row.upper


def _overlaps(place: Path, bands: Iterable[Band]) -> Iterator[Fault]:
    ladders: dict[tuple[str, str, str], list[Band]] = {}
    for band in bands:
        ladders.setdefault((band.calibration, band.analyte, band.method), []).append(band)
    for (calibration, analyte, method), ladder in ladders.items():
        ladder.sort(key=lambda band: float("-inf") if band.lower is None else band.lower)
        for below, above in pairwise(ladder):
            if below.upper is None or above.lower is None or below.upper > above.lower:
                wrong = f"{analyte} by {method} ({calibration}): {below.rating} and {above.rating} overlap"
                yield Fault(place, above.line, "lower", wrong, "one class for each value")
            if below.unit != above.unit:
                yield Fault(place, above.line, "unit", f"{below.unit} and {above.unit} in one ladder", "one unit")


def _twins(place: Path, rows: Iterable[Row]) -> Iterator[Fault]:
    seen: dict[tuple[object, ...], int] = {}
    for row in rows:
        key = tuple(str(getattr(row, item.name)) for item in fields(row) if item.name not in BOOKKEEPING)
        if key in seen:
            yield Fault(place, row.line, None, f"the row repeats line {seen[key]}", "each row once")
        seen.setdefault(key, row.line)
