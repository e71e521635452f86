"""What bears on health: total metals against dated levels, nitrate and infants, forage and livestock.

Nothing here says that a figure is harmless. A figure is at a level, below it, or cannot be told from it.
"""

from collections.abc import Mapping
from datetime import date
from math import isinf
from typing import NamedTuple

from service.agronomy.errors import TableError
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import AlwaysPersonRow, Library, SafetyLevelRow
from service.agronomy.units import Units, scaled

ALWAYS_PERSON = "always-a-person"
SAFETY_LEVELS = "safety-levels"
SEVERAL_SOURCES = "several_sources"
SEVERITIES = ("notice", "caution", "warning", "danger")

RULES = frozenset(
    (
        "total_metal",
        "well_nitrate_infant",
        "garden_nitrate_infant",
        "boron_amount",
        "acid",
        "reclamation_area",
        "reclamation_use",
        "forage_nitrate",
        "forage_copper",
        "forage_zinc",
        "forage_trace",
        "hard_cap",
    )
)
"""Rules that the code applies whatever the table says; the table gives their limits and sources."""

FORAGE_LIMITS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("forage_nitrate", "NO3-N", ()),
    ("forage_copper", "Cu", ("dtpa",)),
    ("forage_zinc", "Zn", ("dtpa",)),
)
FORAGE_TRACE = ("Se", "Mo")


class Level(NamedTuple):
    """One dated level with its limits in millionths, ready to compare."""

    row: SafetyLevelRow
    lower: int
    upper: int | None


class Metal(NamedTuple):
    """One result of a regulated metal read against the levels of the region.

    Attributes:
        total: the method gives the total content; otherwise the figure is only a lower bound of it.
        reached: levels that the figure has certainly reached, the highest first.
        lowest: the lowest level of the region at which a person must look, or ``None`` when no level is listed.
        hold: that level, when the figure is at it or cannot be told to be below it; else ``None``.
        at: that level, when the figure is certainly at it; else ``None``.
    """

    measurement: Measurement
    total: bool
    reached: tuple[SafetyLevelRow, ...]
    lowest: SafetyLevelRow | None
    hold: SafetyLevelRow | None
    at: SafetyLevelRow | None


class Rules:
    """The tables ``always-a-person`` and ``safety-levels``, prepared once: ``library.index(Rules.of)``."""

    __slots__ = ("_rows", "former", "levels", "near_well_ft", "paint_year")

    def __init__(
        self,
        rows: Mapping[str, AlwaysPersonRow],
        levels: Mapping[str, tuple[Level, ...]],
        former: tuple[tuple[SafetyLevelRow, date], ...],
        paint_year: float,
        near_well_ft: float,
    ) -> None:
        self._rows = rows
        self.levels = levels
        self.former = former
        self.paint_year = paint_year
        self.near_well_ft = near_well_ft

    @classmethod
    def of(cls, library: Library) -> "Rules":
        """Prepare both tables. Raises TableError when a rule that must always hold has no row."""
        rows = {row.rule: row for row in library.rows(ALWAYS_PERSON, AlwaysPersonRow)}
        missing = RULES - rows.keys()
        if missing:
            raise TableError(f"{ALWAYS_PERSON}: no row for {', '.join(sorted(missing))}")
        current: dict[str, tuple[Level, ...]] = {}
        former = []
        for row in library.rows(SAFETY_LEVELS, SafetyLevelRow):
            if row.matrix != "soil":
                continue
            if row.replaced_on is not None:
                former.append((row, row.replaced_on))
                continue
            level = Level(row, scaled(row.value), None if row.upper is None else scaled(row.upper))
            current[row.analyte] = (*current.get(row.analyte, ()), level)
        ordered = {name: tuple(sorted(levels, key=_highest_level)) for name, levels in current.items()}
        reference, units = reference_of(library), library.index(Units.of)
        near = reference.factor("infant_well_near_ft")
        near_ft = units.feet(Quantity(near.value, near.unit))
        return cls(rows, ordered, tuple(former), reference.factor("old_house_year").value, near_ft)

    def row(self, rule: str) -> AlwaysPersonRow:
        """The row of a rule."""
        return self._rows[rule]

    def limit(self, rule: str) -> float:
        """The limit of a rule, in its own unit. Raises TableError when the row gives none."""
        value = self._rows[rule].value
        if value is None:
            raise TableError(f"{ALWAYS_PERSON}: {rule} needs a value")
        return value


def _highest_level(level: Level) -> int:
    return -level.lower


def millionths(x: float) -> float:
    """Like `scaled`, but lets infinity through: the open end of a censored figure."""
    return x if isinf(x) else scaled(x)


def metals(case: Case) -> tuple[Metal, ...]:
    """Every result of a metal that has a dated level, in any layer, read against the newest levels of the region.

    Results that a fault of the sample made doubtful are read too: a high figure in a bad sample still needs a person.
    An extract takes only part of the total, so an extract at a level means that the total is at it as well.
    """
    rules = case.library.index(Rules.of)
    watched = [found for found in (*case.soil, *case.layers) if found.analyte in rules.levels]
    watched.sort(key=_highest_first)
    read = (_read(case, rules, found) for found in watched)
    return tuple(metal for metal in read if metal is not None)


def _highest_first(found: Measurement) -> tuple[str, float]:
    return found.analyte, -found.high


def _read(case: Case, rules: Rules, found: Measurement) -> Metal | None:
    """One result against the levels that hold here; ``None`` where none does."""
    levels = [level for level in rules.levels[found.analyte] if applies(case, rules, level.row)]
    if not levels:
        return None
    low, high = millionths(found.low), millionths(found.high)
    reached = tuple(level.row for level in levels if _reached(level, low, high))
    holding = [level for level in levels if level.row.outcome == "hold"]
    lowest = min(holding, key=lambda level: level.lower, default=None)
    total = found.method in levels[0].row.methods
    if lowest is None:
        return Metal(found, total, reached, None, None, None)
    # The contract holds *at* the lowest level, also where a source says *above*. An extract is a lower bound only.
    certain = low >= lowest.lower
    held = certain or (total and high >= lowest.lower)
    return Metal(found, total, reached, lowest.row, lowest.row if held else None, lowest.row if certain else None)


def _reached(level: Level, low: float, high: float) -> bool:
    operator = level.row.operator
    if operator == ">":
        return low > level.lower
    if level.upper is not None:
        return low >= level.lower and high < level.upper
    return low >= level.lower


def applies(case: Case, rules: Rules, row: SafetyLevelRow) -> bool:
    """Whether a level holds for this site: federal or of its region, and its condition met."""
    here = not row.region or row.region == case.submission.site.region
    return here and (row.when != SEVERAL_SOURCES or several_sources(case, rules))


def several_sources(case: Case, rules: Rules) -> bool:
    """Whether several sources of lead may be there: children to reckon with, or a house of the lead-paint years."""
    site = case.submission.site
    return site.children is True or (site.house_built is not None and site.house_built < rules.paint_year)


def former_levels(case: Case, row: SafetyLevelRow) -> tuple[SafetyLevelRow, ...]:
    """The older levels to name beside a newer one: the one it took over from, and the one in force when pinned.

    A pinned edition or an older ``as_of`` never brings an old level back; it only gets it mentioned.
    """
    rules = case.library.index(Rules.of)
    day = pinned_day(case)
    return tuple(
        old
        for old, until in rules.former
        if old.caution == row.caution
        and old.region == row.region
        and (until == row.in_force_from or old.in_force_from <= day < until)
    )


def pinned_day(case: Case) -> date:
    """The day whose levels the client asked for: of the pinned edition, else ``as_of``."""
    pin = case.submission.options.editions.get(SAFETY_LEVELS)
    if pin:
        try:
            return date.fromisoformat(pin[:10])
        except ValueError:
            return case.as_of
    return case.as_of


def infant_nitrate(case: Case) -> tuple[str, Quantity] | None:
    """Rule and figure when an infant may drink nitrate: a well at the limit, or a very rich garden beside a well."""
    well = case.submission.site.well
    if well is None or well.infant is not True:
        return None
    rules = case.library.index(Rules.of)
    water = case.find_water("NO3-N")
    if water is not None and millionths(water.high) >= scaled(rules.limit("well_nitrate_infant")):
        return "well_nitrate_infant", shown(water)
    soil = case.find("NO3-N")
    if soil is None or millionths(soil.high) < scaled(rules.limit("garden_nitrate_infant")):
        return None
    return ("garden_nitrate_infant", shown(soil)) if near_well(case, rules) else None


def untested_well_infant(case: Case) -> Quantity | None:
    """Nitrate of a very rich garden beside an infant's well whose own nitrate nobody sent; else ``None``."""
    found = infant_nitrate(case)
    return found[1] if found is not None and case.find_water("NO3-N") is None else None


def well_at_risk(case: Case) -> bool:
    """Whether nothing that brings nitrate should go near the well: an infant's, over the limit, or beside rich soil."""
    rules, well = case.library.index(Rules.of), case.submission.site.well
    if well is None or not near_well(case, rules):
        return False
    water, soil = case.find_water("NO3-N"), case.find("NO3-N")
    spoiled = water is not None and millionths(water.high) >= scaled(rules.limit("well_nitrate_infant"))
    rich = soil is not None and millionths(soil.high) >= scaled(rules.limit("garden_nitrate_infant"))
    return well.infant is True or spoiled or rich


def near_well(case: Case, rules: Rules) -> bool:
    """Whether a well is within the setback; a well of unknown distance counts as near."""
    well = case.submission.site.well
    if well is None:
        return False
    if well.distance is None:
        return True
    return scaled(case.library.index(Units.of).feet(well.distance)) <= scaled(rules.near_well_ft)


def forage_concern(case: Case) -> tuple[tuple[str, str, Quantity], ...]:
    """(rule, analyte, figure) of what livestock could be harmed by in forage grown here; empty without livestock."""
    crop = case.crop
    if case.submission.target.condition.livestock is not True or (crop is not None and "forage" not in crop.traits):
        return ()
    rules = case.library.index(Rules.of)
    found = []
    for rule, analyte, methods in FORAGE_LIMITS:
        result = case.find(analyte, *methods)
        if result is not None and exceeds(rules.row(rule), result):
            found.append((rule, analyte, shown(result)))
    for analyte in FORAGE_TRACE:
        result = case.find(analyte)
        if result is not None and result.low > 0:
            found.append(("forage_trace", analyte, shown(result)))
    return tuple(found)


def exceeds(row: AlwaysPersonRow, result: Measurement) -> bool:
    """Whether a figure may be beyond the limit of a rule, by the rule's own operator (``>`` or ``>=``)."""
    if row.value is None:
        raise TableError(f"{ALWAYS_PERSON}: {row.rule} needs a value")
    limit, high = scaled(row.value), millionths(result.high)
    return high > limit if row.operator == ">" else high >= limit


def shown(found: Measurement) -> Quantity:
    """A measurement as a figure with its unit: the value, or the finite end of a censored one."""
    return Quantity(found.low if isinf(found.high) else found.high, found.unit)
