"""Hard caps: a dose above one never leaves as a recommendation, it becomes a hold.

The figures are rows of ``application-limits``; that they are checked is not a setting.
"""

from collections.abc import Callable, Iterable, Mapping
from math import inf
from typing import Any, NamedTuple

from service.agronomy.dose_slips import in_a_row, likely_slips
from service.agronomy.errors import TableError
from service.agronomy.findings import Note, Reason, Recommendation, Word
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Library, LimitRow
from service.agronomy.units import Units, scaled, significant

DOSED = frozenset(("nutrient", "amendment", "water"))
SAME = {"sulfur": "S"}
"""Subject of a recommendation -> the subject under which its caps stand in the table."""
FIELD_KINDS = frozenset(("field", "forage"))
SEASON = frozenset(("year", "once"))
AREAL, PER_TREE, LENGTH = "areal_rate", "per_tree", "length"
NEVER = frozenset(("seed_row", "with_seed"))
"""Conditions that no recommendation of the core meets: nothing is ever placed with the seed."""


class Cap(NamedTuple):
    """One hard cap in the working unit of its dimension (g/m2, g/tree), and as printed."""

    row: LimitRow
    base: float
    dimension: str
    printed: Quantity


class Caps:
    """The hard rows of ``application-limits`` by subject, prepared once: ``library.index(Caps.of)``."""

    __slots__ = ("by_subject",)

    def __init__(self, by_subject: Mapping[str, tuple[Cap, ...]]) -> None:
        self.by_subject = by_subject

    def of_subject(self, subject: str) -> tuple[Cap, ...]:
        """The caps on the subject of a recommendation."""
        return self.by_subject.get(SAME.get(subject, subject), ())

    @classmethod
    def of(cls, library: Library) -> "Caps":
        """Prepare the table. Raises UnknownUnit, and TableError for a hard cap in a unit no dose is given in."""
        units = library.index(Units.of)
        found: dict[str, tuple[Cap, ...]] = {}
        for row in library.rows("application-limits", LimitRow):
            if not row.hard or row.when in NEVER:
                continue
            printed = Quantity(row.maximum, row.unit)
            dimension = units.dimension(row.unit)
            if dimension not in BASES:
                raise TableError(f"application-limits, line {row.line}: no dose is given in {row.unit}")
            cap = Cap(row, BASES[dimension](units, printed), dimension, printed)
            found[row.subject] = (*found.get(row.subject, ()), cap)
        return cls(found)


def _areal(units: Units, q: Quantity) -> float:
    return units.areal(q)


def _per_tree(units: Units, q: Quantity) -> float:
    return units.convert(q.value, q.unit, "g/tree")


def _length(units: Units, q: Quantity) -> float:
    return units.inches(q)


BASES: Mapping[str, Callable[[Units, Quantity], float]] = {
    AREAL: _areal,
    PER_TREE: _per_tree,
    LENGTH: _length,
}


def enforce(case: Case, recommendations: Iterable[Recommendation]) -> tuple[list[Recommendation], tuple[Reason, ...]]:
    """The recommendations that keep every hard cap, and a reason to hold for each one that does not.

    A single dose is compared with caps per application, the whole rate with caps per year and once; a rate that is
    not split counts as a single dose. Doses are compared as printed for the client, so that rounding for people
    never makes a dose that keeps its cap look as if it did not.
    """
    caps = case.library.index(Caps.of)
    kept: list[Recommendation] = []
    reasons: list[Reason] = []
    for item in recommendations:
        broken = _broken(case, caps, item) if item.kind in DOSED else None
        if broken is None:
            kept.append(item)
        else:
            reasons.append(_reason(case, item, *broken))
    return kept, tuple(reasons)


def _broken(case: Case, caps: Caps, item: Recommendation) -> tuple[Cap, float] | None:
    """The first cap that a recommendation breaks, and the dose that breaks it, in the cap's working unit."""
    for cap in caps.of_subject(item.subject):
        if applies(case, cap.row):
            dose = _excess(case, cap, item)
            if dose is not None:
                return cap, dose
    return None


def _excess(case: Case, cap: Cap, item: Recommendation) -> float | None:
    units = case.library.index(Units.of)
    if cap.row.per in SEASON or not item.applications:
        return _whole(units, cap, item)
    if cap.dimension not in _dimensions(units, item):
        return None
    limit = _shown(case, cap)
    worst = -inf
    for application in item.applications:
        rate = application.rate
        over = units.convert(rate.value, rate.unit, limit.unit)
        if scaled(over) > scaled(limit.value):
            worst = max(worst, BASES[cap.dimension](units, rate))
    return None if worst == -inf else worst


def _whole(units: Units, cap: Cap, item: Recommendation) -> float | None:
    dose = _base(units, cap, item)
    return dose if dose is not None and scaled(dose) > scaled(cap.base) else None


def _base(units: Units, cap: Cap, item: Recommendation) -> float | None:
    """The whole rate in the cap's working unit; ``None`` when it is of another dimension."""
    if item.rate is None or units.dimension(item.rate.unit) != cap.dimension:
        return None
    if item.base_rate is not None and cap.dimension != LENGTH:
        return item.base_rate
    return BASES[cap.dimension](units, item.rate)


def _dimensions(units: Units, item: Recommendation) -> frozenset[str]:
    return frozenset(units.dimension(application.rate.unit) for application in item.applications)


def _shown(case: Case, cap: Cap) -> Quantity:
    """The cap in the client's units, rounded the way doses are."""
    if cap.dimension == AREAL:
        return case.units.rate(cap.base)
    return case.units.per_tree(cap.base) if cap.dimension == PER_TREE else cap.printed


def applies(case: Case, row: LimitRow) -> bool:
    """Whether a cap holds for this target. A condition the core cannot rule out counts as met."""
    crop, target = case.crop, case.submission.target
    in_stage = not row.stages or target.stage is None or target.stage in row.stages
    if not row.uses or crop is None:
        return in_stage
    use = target.condition.use or ("field" if crop.kind in FIELD_KINDS else "home")
    return in_stage and not {use, crop.kind, crop.group, crop.id}.isdisjoint(row.uses)


def _reason(case: Case, item: Recommendation, cap: Cap, dose: float) -> Reason:
    if cap.dimension == AREAL:
        return over_cap(case.library, item.subject, cap, dose, case.crop.amounts if case.crop else ())
    values = _named(item.subject, cap) | {"dose": _other(case, cap, dose)}
    return Reason("dose_over_cap_each", "hold", item.subject, values, _ask(item.subject))


def over_cap(library: Library, subject: str, cap: Cap, g_m2: float, amounts: Iterable[AmountRow] = ()) -> Reason:
    """The reason to hold a dose per area above its cap: the dose written out three ways, and the slip it looks like.

    ``amounts``: rates printed for the plant, by which an ordinary dose is known.
    """
    slips: tuple[Note, ...] = ()
    if cap.base > 0:
        slips = likely_slips(library, SAME.get(subject, subject), g_m2, cap.base, cap.printed.unit, amounts)
    values = _named(subject, cap) | arithmetic(library, g_m2) | {"slip": in_a_row(slips)}
    return Reason("dose_over_cap", "hold", subject, values, _ask(subject))


def _named(subject: str, cap: Cap) -> dict[str, Any]:
    return {"subject": Word("subject", subject), "cap": cap.printed, "per": Word("per", cap.row.per)}


def _ask(subject: str) -> Note:
    return Note("ask.dose_over_cap", {"subject": Word("subject", subject)})


def _other(case: Case, cap: Cap, dose: float) -> Quantity:
    return case.units.per_tree(dose) if cap.dimension == PER_TREE else case.units.depth(dose)


def arithmetic(library: Library, g_m2: float) -> dict[str, Quantity]:
    """One dose per 100 ft2, per 1,000 ft2 and per acre, in lb, so that a slip by area or unit shows."""
    units = library.index(Units.of)
    return {
        name: Quantity(significant(units.convert(g_m2, "g/m2", unit)), unit)
        for name, unit in (("per_100", "lb/100 ft2"), ("per_1000", "lb/1000 ft2"), ("per_acre", "lb/acre"))
    }
