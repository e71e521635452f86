"""Which publisher's table judges a nutrient, and the classes of that table made ready for comparing.

A calibration is one publisher's set of tables for a region. One calibration is chosen for each nutrient of a crop:
the one the client names, else one made for the site's region, else the crop's own order of preference.
Class limits become whole millionths once per library, so that a unit change can never move a value across a limit.
"""

from bisect import bisect_right
from collections.abc import Iterable
from typing import NamedTuple

from service.agronomy.findings import BandRef, EditionRef, Note, Reason, Rival, Word
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import Band, CalibrationRow, ClassRow, Crop, Library
from service.agronomy.units import scaled

OPEN_LOW, OPEN_HIGH = -(2**62), 2**62
GAP, SPANS = -1, -2
"""No class: the value lies where the table has none; a censored interval reaches over several classes."""

RATINGS_PREFIX = "ratings-"
GENERAL_GROUPS = frozenset(("all", "general"))
SANDS = frozenset(("sand", "loamy_sand"))
ON_SAND = "-sand"


class Rung(NamedTuple):
    """One class: first and last whole millionth inside it, and everything a finding says of it."""

    first: int
    last: int
    lower: float | None
    upper: float | None
    rating: str
    rating_in_source: str
    band: BandRef
    why: Note
    table: EditionRef
    sources: tuple[str, ...]
    verification: str


class Ladder(NamedTuple):
    """All classes of one calibration for one analyte by one method, from the lowest upwards. Gaps stay gaps."""

    calibration: str
    unit: str
    firsts: tuple[int, ...]
    rungs: tuple[Rung, ...]

    def place(self, value: float) -> int:
        """Place of the class that holds a value, or `GAP` where the table has none."""
        exact = scaled(value)
        at = bisect_right(self.firsts, exact) - 1
        return at if at >= 0 and exact <= self.rungs[at].last else GAP

    def rung_of(self, measurement: Measurement) -> int:
        """Place of the class of a measurement; `GAP` in a gap, `SPANS` when a censored interval needs several."""
        if measurement.value is not None:
            return self.place(measurement.value)
        first, last = interval(measurement)
        at = bisect_right(self.firsts, first) - 1
        return at if at >= 0 and first <= self.rungs[at].last and last <= self.rungs[at].last else SPANS

    def gap(self, measurement: Measurement) -> Note:
        """Why an exact value has no class: it lies between two printed classes, or beyond the last."""
        at = bisect_right(self.firsts, scaled(measurement.value or 0.0))
        if 0 < at < len(self.rungs):
            below, above = self.rungs[at - 1], self.rungs[at]
            values = {
                "lower": Quantity(below.upper or 0.0, self.unit),
                "upper": Quantity(above.lower or 0.0, self.unit),
                "below": Word("rating", below.rating),
                "above": Word("rating", above.rating),
            }
            return Note("finding.between_classes", values)
        return Note("finding.outside_table")


class Entry(NamedTuple):
    """The ladder in charge of one analyte and method, and those of other publishers."""

    ladder: Ladder
    rivals: tuple[Ladder, ...]

    def rivals_on(self, measurement: Measurement) -> tuple[Rival, ...]:
        """What the other publishers' tables say of the same value."""
        said = []
        for ladder in self.rivals:
            at = ladder.rung_of(measurement)
            if at >= 0:
                rung = ladder.rungs[at]
                said.append(Rival(ladder.calibration, rung.rating, rung.table, rung.sources))
        return tuple(said)


class Aside(NamedTuple):
    """What becomes of a result without a class table: the note, a reason for the decision, whether it is the pH."""

    why: Note
    reason: Reason | None = None
    acidity: bool = False


class AcidityTold(NamedTuple):
    """What is said of a pH class and the crop's range, and what it rests on."""

    why: Note
    sources: tuple[str, ...]
    verification: str | None


class CropTables(NamedTuple):
    """The ladders of one crop in the order that one client and region ask for.

    ``asides`` and ``acidity`` keep what was found out about results without a ladder and about the pH: at most one
    entry per analyte and method of the vocabulary, and per pH class and side of the crop's range.
    """

    entries: dict[tuple[str, str], Entry]
    methods: dict[str, tuple[str, ...]]
    asides: dict[tuple[str, str], Aside]
    acidity: dict[tuple[str, str], AcidityTold]


def interval(measurement: Measurement) -> tuple[int, int]:
    """First and last whole millionth in which a censored figure may lie; ``<`` excludes its limit, ``>`` too."""
    qualifier = measurement.reported.qualifier or ""
    low = OPEN_LOW if measurement.low == -float("inf") else scaled(measurement.low)
    high = OPEN_HIGH if measurement.high == float("inf") else scaled(measurement.high)
    return (low + (qualifier == ">"), high - (qualifier == "<"))


class Choice(NamedTuple):
    """What decides between calibrations: the client's wish, the site's region, and whether the soil is sand."""

    wanted: str | None
    region: str | None
    sand: bool


class Calibrations:
    """The calibrations table and, for each crop asked for, its ladders. Prepared once per library."""

    __slots__ = ("_general", "_tables", "by_name", "by_region")

    def __init__(self, rows: Iterable[CalibrationRow], general: tuple[Band, ...]) -> None:
        self.by_name = {row.calibration: row for row in rows}
        regions: dict[str, tuple[str, ...]] = {}
        for row in self.by_name.values():
            for region in row.regions:
                regions[region] = (*regions.get(region, ()), row.calibration)
        self.by_region = regions
        self._general = general
        # Bounded: keys are crop editions, known calibrations and known regions only.
        self._tables: dict[tuple[EditionRef | None, Choice], CropTables] = {}

    def choice(self, case: Case) -> Choice:
        """What this submission chooses by; an unknown calibration or region chooses nothing."""
        submission = case.submission
        wanted, region = submission.options.calibration, submission.site.region
        return Choice(
            wanted if wanted in self.by_name else None,
            region if region in self.by_region else None,
            submission.site.texture in SANDS,
        )

    def order(self, crop: Crop | None, choice: Choice) -> tuple[str, ...]:
        """Calibrations by preference: the client's, the region's, the crop's own order. Others may follow."""
        named = (choice.wanted,) if choice.wanted else ()
        own = crop.calibrations if crop is not None else ()
        local = sorted(
            self.by_region.get(choice.region or "", ()), key=lambda name: own.index(name) if name in own else len(own)
        )
        ranked = tuple(dict.fromkeys((*named, *local, *own)))
        return _sand_first(ranked) if choice.sand else ranked

    def tables(self, case: Case) -> CropTables:
        """The ladders of the crop (or the general ones) for this submission's choice."""
        crop, choice = case.crop, self.choice(case)
        key = (crop.edition if crop is not None else None, choice)
        found = self._tables.get(key)
        if found is None:
            bands = crop.sufficiency if crop is not None else self._general
            found = self._tables[key] = _crop_tables(bands, self.order(crop, choice))
        return found


def _sand_first(order: tuple[str, ...]) -> tuple[str, ...]:
    """A publisher's own tables for sand come before its tables for other soils."""
    return tuple(dict.fromkeys(name for each in order for name in (f"{each}{ON_SAND}", each) if name in order))


def _crop_tables(bands: Iterable[Band], order: tuple[str, ...]) -> CropTables:
    grouped: dict[tuple[str, str], dict[str, list[Band]]] = {}
    for band in bands:
        if not band.use_table:
            ladders = grouped.setdefault((band.analyte, band.method), {})
            ladders.setdefault(band.calibration, []).append(band)
    rank = {name: place for place, name in enumerate(order)}
    entries = {}
    methods: dict[str, tuple[str, ...]] = {}
    for (analyte, method), by_calibration in grouped.items():
        names = sorted(by_calibration, key=lambda name: rank.get(name, len(rank)))  # stable: file order among others
        ladders_in_order = [ladder(by_calibration[name]) for name in names]
        entries[analyte, method] = Entry(ladders_in_order[0], tuple(ladders_in_order[1:]))
        methods[analyte] = (*methods.get(analyte, ()), method)
    return CropTables(entries, methods, {}, {})


def ladder(bands: Iterable[Band]) -> Ladder:
    """The classes of one calibration, analyte and method, sorted and with their limits scaled."""
    rows = tuple(bands)
    rungs = sorted((_rung(band) for band in rows), key=lambda rung: rung.first)
    return Ladder(rows[0].calibration, rows[0].unit, tuple(rung.first for rung in rungs), tuple(rungs))


def _rung(band: Band) -> Rung:
    return Rung(
        first=OPEN_LOW if band.lower is None else scaled(band.lower) + (not band.lower_inclusive),
        last=OPEN_HIGH if band.upper is None else scaled(band.upper) - (not band.upper_inclusive),
        lower=band.lower,
        upper=band.upper,
        rating=band.rating,
        rating_in_source=band.rating_in_source,
        band=BandRef(band.lower, band.upper, band.unit, rule(band)),
        why=_why(band),
        table=band.table,
        sources=band.sources,
        verification=band.verification,
    )


def rule(band: Band) -> str:
    """The bounds of a class in symbols: ``lower <= x < upper`` unless the publisher printed otherwise."""
    low = f"lower {'<=' if band.lower_inclusive else '<'} " if band.lower is not None else ""
    high = f" {'<=' if band.upper_inclusive else '<'} upper" if band.upper is not None else ""
    return f"{low}x{high}"


def _why(band: Band) -> Note:
    rating = Word("rating", band.rating)
    lower = None if band.lower is None else Quantity(band.lower, band.unit)
    upper = None if band.upper is None else Quantity(band.upper, band.unit)
    if lower is not None and upper is not None:
        return Note("finding.rated_between", {"rating": rating, "lower": lower, "upper": upper})
    if lower is not None:
        return Note("finding.rated_above", {"rating": rating, "lower": lower})
    if upper is not None:
        return Note("finding.rated_below", {"rating": rating, "upper": upper})
    return Note("finding.rated", {"rating": rating})


def word_ladder(rows: Iterable[ClassRow]) -> Ladder:
    """The ladder of a one-figure scale such as the words for pH; the class's name is its rating."""
    return ladder(
        Band(
            calibration=row.ladder,
            analyte=row.ladder,
            method="",
            unit=row.unit,
            rating=row.name,
            rating_in_source=row.name,
            lower=row.lower,
            upper=row.upper,
            lower_inclusive=row.lower_inclusive,
            upper_inclusive=row.upper_inclusive,
            sources=row.sources,
            verification=row.verification,
            table=row.table,
        )
        for row in rows
    )


def prepare_calibrations(library: Library) -> Calibrations:
    """The calibrations of one library; general tables serve a submission without a crop."""
    general = tuple(
        row
        for name in sorted(library.tables)
        if name.startswith(RATINGS_PREFIX)
        for row in library.rows(name, Band)
        if row.group in GENERAL_GROUPS
    )
    return Calibrations(library.rows("calibrations", CalibrationRow), general)
