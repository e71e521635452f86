"""What salt, chloride and boron of the saturation extract do to the target, and what would do better there."""

from collections.abc import Iterable, Mapping
from operator import itemgetter
from typing import NamedTuple

from service.agronomy.amendments import TURF_KINDS
from service.agronomy.ece import PASTE
from service.agronomy.findings import Alternative, Word
from service.agronomy.ledger import Ledger
from service.agronomy.reference import reference_of
from service.agronomy.salt_rating import rating_ladder
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


SPORTS = "sports"


class Candidate(NamedTuple):
    """A crop of the library, or a row of the shared tolerance table, that could stand in for another."""

    crop: str
    salt: SaltToleranceRow
    threshold: float
    slope: float


class Candidates(NamedTuple):
    """Candidates with a threshold and a slope, thinned so that a large library costs no more per request.

    ``by_kind``: crops of the library by kind. ``by_basis``: shared rows marked as alternatives, by what their
    tolerance is based on. ``by_crop``: every crop of the library that has a line.
    """

    by_kind: Mapping[str, tuple[Candidate, ...]]
    by_basis: Mapping[str, tuple[Candidate, ...]]
    by_crop: Mapping[str, Candidate]


def candidates_of(library: Library) -> Candidates:
    """The candidates of one library, prepared once."""
    shown = int(reference_of(library).factor("alternatives_shown").value)
    by_kind: dict[str, list[Candidate]] = {}
    by_basis: dict[str, list[Candidate]] = {}
    by_crop: dict[str, Candidate] = {}
    for crop in library.crops.values():
        candidate = _candidate(crop.id, crop.salt)
        if candidate is not None:
            by_crop[crop.id] = candidate
            by_kind.setdefault(crop.kind, []).append(candidate)
    for row in library.rows("salt-tolerance", SaltToleranceRow):
        candidate = _candidate(row.crop, row)
        if candidate is not None and row.alternative:
            by_basis.setdefault(row.basis, []).append(candidate)
    return Candidates(
        {kind: hardiest(found, shown + 1) for kind, found in by_kind.items()},
        {basis: hardiest(found, shown + 1) for basis, found in by_basis.items()},
        by_crop,
    )


def _candidate(name: str, salt: SaltToleranceRow | None) -> Candidate | None:
    if salt is None or salt.threshold_dS_m is None or salt.slope_pct_per_dS_m is None:
        return None
    return Candidate(name, salt, salt.threshold_dS_m, salt.slope_pct_per_dS_m)


def hardiest(candidates: Iterable[Candidate], keep: int) -> tuple[Candidate, ...]:
    """Each plant once, without those that at least ``keep`` others beat or equal at every ECe.

    A plant with a threshold no lower and a slope no steeper than another's yields at least as much everywhere, so the
    best ``keep`` at any ECe are always among those that are left.
    """
    once: dict[str, Candidate] = {}
    for candidate in candidates:
        once.setdefault(candidate.salt.crop, candidate)
    left: list[Candidate] = []
    for candidate in sorted(once.values(), key=lambda each: (-each.threshold, each.slope, each.crop)):
        if sum(1 for better in left if better.slope <= candidate.slope) < keep:
            left.append(candidate)
    return tuple(left)


def alternatives_for(case: Case, ECe_dS_m: float, now: float) -> tuple[Alternative, ...]:
    """Plants that should yield more than the target does at this ECe, best first.

    Those that the crop itself names, crops of the library of its kind, and shared rows of its basis (marketable
    yield, forage ...), each plant once.
    """
    crop = case.crop
    if crop is None or crop.salt is None:
        return ()
    listed = case.library.index(candidates_of)
    named = (listed.by_crop[name] for name in crop.alternatives if name in listed.by_crop)
    shared = listed.by_basis.get(crop.salt.basis, ()) if crop.salt.basis else ()
    best: dict[str, Alternative] = {}
    for candidate in (*named, *listed.by_kind.get(crop.kind, ()), *shared):
        plant = candidate.salt.crop
        if plant in best or plant == crop.salt.crop or _suffers_boron(case, candidate.crop):
            continue
        expected = round(relative_yield(ECe_dS_m, candidate.threshold, candidate.slope), 1)
        if expected > now:
            best[plant] = Alternative(candidate.crop, expected)
    return tuple(sorted(best.values(), key=_best_first))


def _suffers_boron(case: Case, name: str) -> bool:
    """Whether a crop of the library has a published threshold below the boron of this soil's extract."""
    measured, crop = case.find("B", PASTE), case.library.crops.get(name)
    if measured is None or measured.value is None or crop is None or crop.boron is None:
        return False
    threshold = boron_threshold(crop.boron)
    return threshold is not None and scaled(threshold) < scaled(measured.value)


def _best_first(found: Alternative) -> tuple[float, str]:
    return -(found.relative_yield_pct or 0.0), found.crop


def alternatives_by_rating(case: Case, ECe_dS_m: float) -> tuple[Alternative, ...]:
    """Lawn grasses of the library whose salt rating stands this ECe where the target's does not, best suited first.

    For turf mostly a rating is published and no slope: each class says up to what ECe its grasses stand. Grasses that
    the crop itself names come first, then those of its own group (cool or warm season).
    """
    crop = case.crop
    if crop is None or crop.kind not in TURF_KINDS or crop.salt is None or not crop.salt.rating:
        return ()
    ladder = rating_ladder(case.library, crop)
    ranks = {rung.row.name: at for at, rung in enumerate(ladder.rungs)}
    own = ladder.rungs[ranks[crop.salt.rating]]
    if scaled(ECe_dS_m) <= own.last:
        return ()
    best: dict[str, tuple[tuple[bool, bool, int, str], Alternative]] = {}
    for other in case.library.crops.values():
        salt = other.salt
        if other.kind != crop.kind or SPORTS in set(other.traits) - set(crop.traits) or salt is None or not salt.rating:
            continue
        if ladder.rungs[ranks[salt.rating]].last < scaled(ECe_dS_m):
            continue
        order = (other.id not in crop.alternatives, other.group != crop.group, -ranks[salt.rating], other.id)
        if salt.crop not in best or order < best[salt.crop][0]:
            best[salt.crop] = (order, Alternative(other.id, None, salt.rating))
    return tuple(found for _, found in sorted(best.values(), key=itemgetter(0)))


def chloride_effect(case: Case, ledger: Ledger) -> None:
    """Chloride of the extract against the crop's own threshold, meq/L."""
    measured = case.find("Cl", PASTE)
    row = case.crop.chloride if case.crop else None
    if measured is None or measured.value is None or case.crop is None:
        return
    if row is None or row.threshold_meq_L is None:
        _tell_no_threshold(case, measured.value, ledger)
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


def _tell_no_threshold(case: Case, value: float, ledger: Ledger) -> None:
    """Chloride of a plant for which nobody published a threshold: beside the line of the most sensitive plants."""
    line = reference_of(case.library).factor("chloride_sensitive_meq_L")
    ledger.use(line)
    over = "_over" if scaled(value) > scaled(line.value) else ""
    figures = {"Cl": Quantity(value, "meq/L"), "line": Quantity(line.value, line.unit)}
    ledger.note(f"salt.chloride_no_threshold{over}", **figures)


def boron_threshold(row: BoronToleranceRow) -> float | None:
    """The boron in soil water at which a crop begins to suffer, mg/L: the lower end of its published range."""
    return row.threshold_low_mg_L if row.threshold_low_mg_L is not None else row.threshold_high_mg_L


def boron_rows(library: Library) -> Mapping[str, tuple[BoronToleranceRow, ...]]:
    """Crop name -> its rows, one for each publisher. Prepared once."""
    found: dict[str, tuple[BoronToleranceRow, ...]] = {}
    for row in library.rows("boron-tolerance", BoronToleranceRow):
        found[row.crop] = (*found.get(row.crop, ()), row)
    return found


def tell_boron_rival(case: Case, row: BoronToleranceRow, value: float, ledger: Ledger) -> None:
    """Where another publisher finds that the crop bears this much, say so."""
    for rival in case.library.index(boron_rows).get(row.crop, ()):
        other = boron_threshold(rival)
        if rival is not row and other is not None and scaled(value) <= scaled(other):
            ledger.use(rival)
            ledger.note("salt.boron_sources_differ", other=Quantity(other, "mg/L"))
            return


def boron_effect(case: Case, ledger: Ledger) -> None:
    """Boron of the extract against the crop's own threshold: too much, or no harm. Shortage is not read from it."""
    measured = case.find("B", PASTE)
    row = case.crop.boron if case.crop else None
    if measured is None or measured.value is None or row is None:
        return
    threshold = boron_threshold(row)
    if threshold is None:
        return
    _tell_boron(case, measured.value, row, threshold, ledger)


def _tell_boron(case: Case, value: float, row: BoronToleranceRow, threshold: float, ledger: Ledger) -> None:
    figures = {"B": Quantity(value, "mg/L"), "threshold": Quantity(threshold, "mg/L")}
    if scaled(value) <= scaled(threshold):
        ledger.use(row)
        at_limit = scaled(value) == scaled(threshold)
        ledger.note("salt.boron_at_limit" if at_limit else "salt.boron_tolerated", **figures)
        return
    expected = None
    if row.slope_pct_per_mg_L is not None:
        expected = round(relative_yield(value, threshold, row.slope_pct_per_mg_L), 1)
    inputs = {"B": value, "threshold": threshold, "slope": row.slope_pct_per_mg_L}
    ledger.step("boron_yield", "mh", inputs, expected, "%", row)
    ledger.note("salt.boron_high", **figures, tolerance=Word("boron_class", row.tolerance_class.replace(" ", "_")))
    tell_boron_rival(case, row, value, ledger)
    plants = _standing_boron(case, value) if case.explain else ()
    if plants:
        ledger.note("salt.boron_alternatives", B=figures["B"], plants=plants)


def _standing_boron(case: Case, value: float) -> tuple[Word, ...]:
    """Crops of the library of the target's kind that bear so much boron, the hardiest first, each plant once."""
    crop = case.crop
    if crop is None:
        return ()
    best: dict[str, tuple[float, str]] = {}
    for other in case.library.index(boron_hardy).get(crop.kind, ()):
        if scaled(other[0]) >= scaled(value):
            best.setdefault(other[2], (other[0], other[1]))
    shown = int(reference_of(case.library).factor("alternatives_shown").value)
    return tuple([Word("crop", name) for _, name in list(best.values())[:shown]])


def boron_hardy(library: Library) -> Mapping[str, tuple[tuple[float, str, str], ...]]:
    """Kind -> threshold, id and plant of the crops with a published one, the hardiest first. Prepared once."""
    found: dict[str, list[tuple[float, str, str]]] = {}
    for crop in library.crops.values():
        threshold = boron_threshold(crop.boron) if crop.boron is not None else None
        if threshold is not None and crop.boron is not None:
            found.setdefault(crop.kind, []).append((threshold, crop.id, crop.boron.crop))
    return {kind: tuple(sorted(rows, key=lambda each: (-each[0], each[1]))) for kind, rows in found.items()}
