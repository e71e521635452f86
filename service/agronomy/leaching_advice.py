"""Leaching for one case: washing old salt out once, or the share of water that keeps it out."""

from typing import NamedTuple

from service.agronomy.amendments import standing_turf
from service.agronomy.ece import EceReading
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Leaching, Note
from service.agronomy.ground import drainage_obstacles
from service.agronomy.leaching import leaching_requirement, reclamation_water
from service.agronomy.ledger import Ledger
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import esp_of, sar_of
from service.agronomy.submission import Quantity
from service.agronomy.tables import LeachingRow, Library, SaltToleranceRow
from service.agronomy.units import METRES_PER_INCH, Units, scaled

MM_PER_INCH = METRES_PER_INCH * 1000
INTERMITTENT = "intermittent"


class Goal(NamedTuple):
    """The ECe to come down to, dS/m, and the row that sets it."""

    ECe: float
    row: SaltToleranceRow | None


def salt_k(library: Library) -> LeachingRow:
    """The coefficient for sprinkling or ponding in turns, any soil: how gardens and lawns are leached."""
    for row in library.rows("reclamation-leaching", LeachingRow):
        if row.solute == "salt" and row.water == INTERMITTENT:
            return row
    raise LookupError("reclamation-leaching has no row for salt, intermittent")


def leaching_advice(case: Case, reading: EceReading, now: float | None, ledger: Ledger) -> Leaching | None:
    """Washing out when salt costs the target much, else the yearly share when the water's EC is known.

    What stands in the way is told by notes; then there is no depth.
    """
    goal = _goal(case)
    if _too_salty(case, reading, now, goal):
        return _reclaim(case, reading, goal, ledger)
    return _maintain(case, goal, ledger)


def _goal(case: Case) -> Goal:
    salt = case.crop.salt if case.crop else None
    if salt is not None and salt.threshold_dS_m:
        return Goal(salt.threshold_dS_m, salt)
    return Goal(reference_of(case.library).factor("saline_limit_dS_m").value, None)


def _too_salty(case: Case, reading: EceReading, now: float | None, goal: Goal) -> bool:
    value = reading.estimate.value
    if now is None and goal.row is not None:
        return scaled(value) > scaled(goal.ECe)
    if now is None:
        return scaled(value) >= scaled(goal.ECe)
    return scaled(100 - now) >= scaled(reference_of(case.library).factor("yield_loss_caution_pct").value)


def _reclaim(case: Case, reading: EceReading, goal: Goal, ledger: Ledger) -> Leaching | None:
    water = case.find_water("EC")
    obstacles = [*_before_leaching(reading), *drainage_obstacles(case), *_sodium_obstacles(case)]
    in_water = water.value if water is not None and water.value is not None else None
    if in_water is not None and scaled(in_water) >= scaled(goal.ECe):
        obstacles.append(Note("salt.leaching_water_too_salty", {"ECw": Quantity(in_water, "dS/m")}))
    if obstacles:
        ledger.note("salt.leaching_withheld")
        ledger.notes.extend(obstacles)
        return None
    row, depth = case.library.index(salt_k), reference_of(case.library).factor("reclamation_depth_default_in")
    value = reading.estimate.value
    inches = reclamation_water(value, goal.ECe, depth.value, row.k, in_water or 0.0)
    inputs = {"ECe": value, "ECe_wanted": goal.ECe, "ECw": in_water, "depth": depth.value, "k": row.k}
    formula = reference_of(case.library).formula("recl" if in_water is None else "reclamation_net")
    ledger.step("reclamation_water", formula.formula, inputs, round(inches, 2), "in", formula, row, depth)
    ledger.use(goal.row)
    return _leaching(case, "reclamation", inches * MM_PER_INCH, None, _conditions(case, goal, depth.value, in_water))


def _before_leaching(reading: EceReading) -> list[Note]:
    return [Note("salt.leaching_needs_paste")] if reading.estimated else []


def _sodium_obstacles(case: Case) -> list[Note]:
    """Washing a sodic soil without calcium seals it: sodium must be known, and not a problem."""
    scratch = Ledger(False)
    sar_reading = sar_of(case, scratch)
    esp_reading = esp_of(case, sar_reading, scratch)
    reference = reference_of(case.library)
    names = set()
    if sar_reading is not None:
        row = reference.ladder("sodium_sar").over(sar_reading.low, sar_reading.high)
        names.add(row.name if row else "unknown")
    if esp_reading is not None:
        row = reference.ladder("sodium_esp").over(esp_reading.low, esp_reading.high)
        names.add(row.name if row else "unknown")
    if "sodic" in names:
        return [Note("salt.leaching_gypsum_first")]
    return [] if "nonsodic" in names else [Note("salt.leaching_needs_sodium")]


def _conditions(case: Case, goal: Goal, depth_in: float, in_water: float | None) -> tuple[Note, ...]:
    conditions = [
        Note("salt.leach_to", {"ECe": Quantity(goal.ECe, "dS/m"), "depth": case.units.depth(depth_in)}),
        Note("salt.leach_in_turns"),
        Note("salt.leach_season_turf" if standing_turf(case) else "salt.leach_season"),
        Note("salt.leach_retest"),
    ]
    if in_water is None:
        conditions.append(Note("salt.leach_water_unknown"))
    return tuple(conditions)


def _maintain(case: Case, goal: Goal, ledger: Ledger) -> Leaching | None:
    water = case.find_water("EC")
    if water is None or water.value is None:
        return None
    formula = reference_of(case.library).formula("lr")
    limit = reference_of(case.library).factor("leaching_fraction_max")
    inputs = {"ECw": water.value, "ECe": goal.ECe}
    try:
        fraction = leaching_requirement(water.value, goal.ECe, ece_multiple=formula.coefficients["k"])
    except OutOfRange:
        ledger.note("salt.water_beyond_crop", ECw=Quantity(water.value, "dS/m"))
        return None
    ledger.step("leaching_requirement", "lr", inputs, round(fraction, 3), "1", formula)
    ledger.use(goal.row)
    if scaled(fraction) > scaled(limit.value):
        ledger.use(limit)
        ledger.note("salt.leaching_impractical", percent=round(100 * fraction, 1), limit=round(100 * limit.value))
        return None
    ledger.note("salt.leaching_share", percent=round(100 * fraction))
    return _yearly(case, fraction)


def _yearly(case: Case, fraction: float) -> Leaching | None:
    """The share as a depth, when the season's water is known."""
    irrigation = case.submission.site.irrigation_water
    if irrigation is None or irrigation.applied is None:
        return None
    season = case.library.index(Units.of).inches(irrigation.applied)
    extra = season * fraction / (1 - fraction)
    conditions = (Note("salt.leach_beyond_need", {"season": case.units.water(season * MM_PER_INCH)}),)
    return _leaching(case, "maintenance", extra * MM_PER_INCH, round(fraction, 3), conditions)


def _leaching(case: Case, kind: str, mm: float, fraction: float | None, conditions: tuple[Note, ...]) -> Leaching:
    return Leaching(kind, case.units.water(mm), case.units.volume(mm), fraction, conditions)
