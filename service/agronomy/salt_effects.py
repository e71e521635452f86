"""What salt, chloride and boron of the saturation extract do to the target, and what would do better there."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.ece import PASTE
from service.agronomy.findings import Alternative, Word
from service.agronomy.ledger import Ledger
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import BoronToleranceRow, Library, SaltToleranceRow
from service.agronomy.tolerance import relative_yield
from service.agronomy.units import scaled


def yield_at(salt: SaltToleranceRow | None, ECe_dS_m: float) -> float | None:
    """Relative yield of a crop at an ECe, %, one decimal; ``None`` without a published threshold and slope."""
    if salt is None or salt.threshold_dS_m is None or salt.slope_pct_per_dS_m is None:
        return None
    return round(relative_yield(ECe_dS_m, salt.threshold_dS_m, salt.slope_pct_per_dS_m), 1)


class Candidate(NamedTuple):
    """A crop of the library, or of the shared tolerance table, that could stand in for another."""

    crop: str
    salt: SaltToleranceRow
    scientific_name: str


def candidates_of(library: Library) -> Mapping[str, tuple[Candidate, ...]]:
    """Kind of crop -> candidates with a threshold and a slope; '' holds the shared rows marked as alternatives."""
    found: dict[str, list[Candidate]] = {}
    for crop in library.crops.values():
        if crop.salt is not None and yield_at(crop.salt, 0.0) is not None:
            found.setdefault(crop.kind, []).append(Candidate(crop.id, crop.salt, crop.scientific_name))
    for row in library.rows("salt-tolerance", SaltToleranceRow):
        if row.alternative and yield_at(row, 0.0) is not None:
            found.setdefault("", []).append(Candidate(row.crop, row, row.scientific_name))
    return {kind: tuple(listed) for kind, listed in found.items()}


def alternatives_for(case: Case, ECe_dS_m: float, now: float) -> tuple[Alternative, ...]:
    """Crops of the same kind that should yield more than the target does at this ECe, best first.

    First the crops of the library (its own alternatives included), then rows of the shared table of the same basis
    (marketable yield, forage ...), each plant once.
    """
    crop = case.crop
    if crop is None or crop.salt is None:
        return ()
    listed = case.library.index(candidates_of)
    named = frozenset(crop.alternatives)
    own = [each for kind in listed for each in listed[kind] if kind == crop.kind or each.crop in named]
    basis = crop.salt.basis
    shared = [each for each in listed.get("", ()) if basis and each.salt.basis == basis]
    best: dict[str, Alternative] = {}
    for candidate in (*own, *shared):
        expected = yield_at(candidate.salt, ECe_dS_m)
        if expected is None or scaled(expected) <= scaled(now) or candidate.salt is crop.salt:
            continue
        best.setdefault(candidate.salt.crop, Alternative(candidate.crop, expected))
    best.pop(crop.salt.crop, None)
    return tuple(sorted(best.values(), key=lambda found: (-found.relative_yield_pct, found.crop)))


def chloride_effect(case: Case, ledger: Ledger) -> None:
    """Chloride of the extract against the crop's own threshold, meq/L."""
    measured = case.find("Cl", PASTE)
    row = case.crop.chloride if case.crop else None
    if measured is None or measured.value is None or row is None or row.threshold_meq_L is None:
        return
    if scaled(measured.value) <= scaled(row.threshold_meq_L):
        return
    expected = None
    if row.slope_pct_per_meq_L is not None:
        expected = round(relative_yield(measured.value, row.threshold_meq_L, row.slope_pct_per_meq_L), 1)
    inputs = {"Cl": measured.value, "threshold": row.threshold_meq_L, "slope": row.slope_pct_per_meq_L}
    ledger.step("chloride_yield", "mh", inputs, expected, "%", row)
    figures = {"Cl": Quantity(measured.value, "meq/L"), "threshold": Quantity(row.threshold_meq_L, "meq/L")}
    ledger.note("salt.chloride_high", **figures)


def boron_threshold(row: BoronToleranceRow) -> float | None:
    """The boron in soil water at which a crop begins to suffer, mg/L: the lower end of its published range."""
    return row.threshold_low_mg_L if row.threshold_low_mg_L is not None else row.threshold_high_mg_L


def boron_effect(case: Case, ledger: Ledger) -> None:
    """Boron of the extract against the crop's own threshold: too much, or no harm. Shortage is not read from it."""
    measured = case.find("B", PASTE)
    row = case.crop.boron if case.crop else None
    if measured is None or measured.value is None or row is None:
        return
    threshold = boron_threshold(row)
    if threshold is None:
        return
    _tell_boron(measured.value, row, threshold, ledger)


def _tell_boron(value: float, row: BoronToleranceRow, threshold: float, ledger: Ledger) -> None:
    figures = {"B": Quantity(value, "mg/L"), "threshold": Quantity(threshold, "mg/L")}
    if scaled(value) <= scaled(threshold):
        ledger.use(row)
        ledger.note("salt.boron_tolerated", **figures)
        return
    expected = None
    if row.slope_pct_per_mg_L is not None:
        expected = round(relative_yield(value, threshold, row.slope_pct_per_mg_L), 1)
    inputs = {"B": value, "threshold": threshold, "slope": row.slope_pct_per_mg_L}
    ledger.step("boron_yield", "mh", inputs, expected, "%", row)
    ledger.note("salt.boron_high", **figures, tolerance=Word("boron_class", row.tolerance_class.replace(" ", "_")))
