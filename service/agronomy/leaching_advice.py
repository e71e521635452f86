"""Leaching for one case: washing old salt out once, or the share of water that keeps it out."""

from typing import NamedTuple

from service.agronomy.amendments import standing_turf
from service.agronomy.ece import PASTE, EceReading
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Leaching, Note
from service.agronomy.ground import drainage_obstacles
from service.agronomy.gypsum_need import GypsumNeed, dissolving_water, gypsum_question
from service.agronomy.leaching import leaching_requirement, reclamation_water
from service.agronomy.ledger import Ledger
from service.agronomy.reclaiming import works_for_living
from service.agronomy.reference import Reference, reference_of
from service.agronomy.salt_effects import boron_threshold
from service.agronomy.salt_rating import rating_rung, rating_start
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import NONSODIC, SODIC, SodiumState, sodium_state
from service.agronomy.submission import Quantity
from service.agronomy.tables import ClassRow, LeachingRow, Library, SaltToleranceRow
from service.agronomy.units import METRES_PER_INCH, Units, scaled, significant
from service.agronomy.water import sodic_water

MM_PER_INCH = METRES_PER_INCH * 1000
INTERMITTENT = "intermittent"
NITRATE = "NO3-N"
RECLAMATION, MAINTENANCE = "reclamation", "maintenance"


class Goal(NamedTuple):
    """The ECe to come down to, dS/m, the ECe from which washing is worth it, and the row that sets them."""

    ECe: float
    row: SaltToleranceRow | ClassRow | None


class Coefficients(NamedTuple):
    """Rows of the reclamation coefficients in use: salt by sprinkling or ponding in turns on any soil, and boron."""

    salt: LeachingRow
    boron: LeachingRow


def coefficients_of(library: Library) -> Coefficients:
    """How gardens and lawns are leached. Prepared once per library; every library has both rows."""
    rows = library.rows("reclamation-leaching", LeachingRow)
    salt = next(row for row in rows if row.solute == "salt" and row.water == INTERMITTENT)
    return Coefficients(salt, next(row for row in rows if row.solute == "boron"))


def leaching_advice(case: Case, reading: EceReading, now: float | None, ledger: Ledger) -> Leaching | None:
    """Washing out when salt costs the target much, after calcium on a sodic soil, else the yearly share.

    What stands in the way is told by notes; then there is no depth. A measured ECe that the target bears asks for no
    extra water, whatever the water's own salt.
    """
    goal, sodium = _goal(case), sodium_state(case)
    if sodium.name == SODIC:
        return _after_calcium(case, reading, goal, sodium, ledger)
    if not _too_salty(case, reading, now, goal):
        return _maintain(case, reading, goal, ledger)
    if reading.estimated:
        ledger.note("salt.leaching_needs_paste")
        return None
    if _left_to_watering(case, now):
        ledger.note("salt.loss_left_to_watering")
        return _maintain(case, reading, goal, ledger)
    return _reclaim(case, reading, goal, sodium, ledger)


def _goal(case: Case) -> Goal:
    salt = case.crop.salt if case.crop else None
    if salt is not None and salt.threshold_dS_m:
        return Goal(salt.threshold_dS_m, salt)
    if salt is not None and salt.rating:
        rung = rating_rung(case, salt)
        return Goal(rating_start(rung), rung)
    return Goal(reference_of(case.library).factor("saline_limit_dS_m").value, None)


def _too_salty(case: Case, reading: EceReading, now: float | None, goal: Goal) -> bool:
    """Whether washing out is worth it: by the loss, past a limit of looks, or past rating and saline limit alike."""
    value, reference = reading.estimate.value, reference_of(case.library)
    if now is not None:
        return scaled(100 - now) >= scaled(reference.factor("yield_loss_caution_pct").value)
    if isinstance(goal.row, SaltToleranceRow):
        return scaled(value) > scaled(goal.ECe)
    return scaled(value) >= max(scaled(goal.ECe), scaled(reference.factor("saline_limit_dS_m").value))


def _left_to_watering(case: Case, now: float | None) -> bool:
    """A small loss on ground worked for a living, where nobody asked to wash: the grower's own water deals with it."""
    if now is None or "leaching" in case.submission.site.requests or not works_for_living(case):
        return False
    row = reference_of(case.library).ladder("yield_loss").at(100 - now)
    return row is not None and row.name == "slight"


def _reclaim(case: Case, reading: EceReading, goal: Goal, sodium: SodiumState, ledger: Ledger) -> Leaching | None:
    in_water = _salt_of_water(case)
    obstacles = drainage_obstacles(case)
    if sodium.name != NONSODIC:
        obstacles.append(Note("salt.leaching_needs_sodium"))
    if in_water is not None and scaled(in_water) >= scaled(goal.ECe):
        obstacles.append(Note("salt.leaching_water_too_salty", {"ECw": Quantity(in_water, "dS/m")}))
    if case.water and (ratio := sodic_water(case)) is not None:
        obstacles.append(Note("salt.leaching_water_sodic", {"SAR": significant(ratio)}))
    if obstacles:
        ledger.note("salt.leaching_withheld")
        ledger.notes.extend(obstacles)
        return None
    inches = _washing(case, reading, goal, in_water, ledger)
    depth = reference_of(case.library).factor("reclamation_depth_default_in").value
    to = Note("salt.leach_to", {"ECe": Quantity(goal.ECe, "dS/m"), "depth": case.units.depth(depth)})
    conditions = (to, *_conditions(case, in_water), *_boron(case, ledger), Note("salt.leach_retest"))
    return _leaching(case, RECLAMATION, inches * MM_PER_INCH, None, conditions)


def _salt_of_water(case: Case) -> float | None:
    water = case.find_water("EC")
    return water.value if water is not None else None


def _washing(case: Case, reading: EceReading, goal: Goal, in_water: float | None, ledger: Ledger) -> float:
    """Water that brings the ECe of the root zone down to the goal, inches."""
    reference = reference_of(case.library)
    row, depth = case.library.index(coefficients_of).salt, reference.factor("reclamation_depth_default_in")
    value = reading.estimate.value
    inches = reclamation_water(value, goal.ECe, depth.value, row.k, in_water or 0.0)
    inputs = {"ECe": value, "ECe_wanted": goal.ECe, "ECw": in_water, "depth": depth.value, "k": row.k}
    formula = reference.formula("recl" if in_water is None else "reclamation_net")
    ledger.step("reclamation_water", formula.formula, inputs, round(inches, 2), "in", formula, row, depth)
    ledger.use(goal.row)
    return inches


def _after_calcium(case: Case, reading: EceReading, goal: Goal, sodium: SodiumState, ledger: Ledger) -> Leaching | None:
    """Washing a sodic soil: only after the first dose of calcium, with water to dissolve it and to carry salt."""
    need = gypsum_question(case, sodium.esp).need
    if need is None:
        ledger.note("salt.leaching_waits")
        return None
    in_water = _salt_of_water(case)
    mm = dissolving_water(case, need.dose)
    salty = not reading.estimated and scaled(reading.estimate.value) > scaled(goal.ECe)
    if salty and (in_water is None or scaled(in_water) < scaled(goal.ECe)):
        mm = max(mm, _washing(case, reading, goal, in_water, ledger) * MM_PER_INCH)
    _explain_dissolving(case, need, ledger)
    first = Note("salt.leach_after_gypsum" if need.rate > 0 else "salt.leach_own_gypsum")
    conditions = (first, *_conditions(case, in_water), *_boron(case, ledger), Note("salt.leach_retest_sodium"))
    return _leaching(case, RECLAMATION, mm, None, conditions)


def _explain_dissolving(case: Case, need: GypsumNeed, ledger: Ledger) -> None:
    solubility = reference_of(case.library).factor("gypsum_solubility_meq_L")
    inputs = {"dose": round(need.dose, 1), "solubility": solubility.value}
    ledger.step(
        "gypsum_water", "water_to_dissolve", inputs, round(dissolving_water(case, need.dose), 1), "mm", solubility
    )


def _conditions(case: Case, in_water: float | None) -> tuple[Note, ...]:
    conditions = [
        *nitrate_at_risk(case),
        Note("salt.leach_in_turns"),
        Note("salt.leach_season_turf" if standing_turf(case) else _season(case)),
    ]
    if in_water is None:
        conditions.append(Note("salt.leach_water_unknown"))
    return tuple(conditions)


STANDING = frozenset(("established", "bearing", "growing", "dormant"))


def _season(case: Case) -> str:
    """Ground that is planted already cannot be washed before planting."""
    return "salt.leach_season_standing" if case.submission.target.stage in STANDING else "salt.leach_season"


def _boron(case: Case, ledger: Ledger) -> tuple[Note, ...]:
    """Boron over what the target stands goes with the salt, but takes more water: how much. Source HOFFMAN1980."""
    measured, crop_row = case.find("B", PASTE), case.crop.boron if case.crop else None
    threshold = boron_threshold(crop_row) if crop_row else None
    if measured is None or measured.value is None or not threshold or scaled(measured.value) <= scaled(threshold):
        return ()
    water = case.find_water("B")
    in_water = water.value if water is not None and water.value is not None else 0.0
    if scaled(in_water) >= scaled(threshold):
        return (Note("salt.leach_boron_never", {"B": Quantity(in_water, "mg/L")}),)
    reference = reference_of(case.library)
    row, depth = case.library.index(coefficients_of).boron, reference.factor("reclamation_depth_default_in")
    inches = reclamation_water(measured.value, threshold, depth.value, row.k, in_water)
    inputs = {"B": measured.value, "B_wanted": threshold, "B_water": in_water, "depth": depth.value, "k": row.k}
    ledger.step("boron_water", "recl_b", inputs, round(inches, 2), "in", reference.formula("recl_b"), row)
    figures = {"water": case.units.water(inches * MM_PER_INCH), "threshold": Quantity(threshold, "mg/L")}
    return (Note("salt.leach_boron", figures),)


def nitrate_at_risk(case: Case) -> tuple[Note, ...]:
    """A warning where any sampled layer holds so much nitrate that washing would lose it and endanger wells."""
    line = scaled(reference_of(case.library).factor("nitrate_washing_mg_kg").value)
    layers = [each for each in case.layers if each.analyte == NITRATE]
    tested = [each for each in (*case.by_analyte.get(NITRATE, ()), *layers) if each.text is None]
    high = [each for each in tested if scaled(each.low) >= line]
    if not high:
        return ()
    most = max(high, key=lambda each: each.low)
    return (Note("salt.leach_nitrate", {"value": Quantity(most.low, most.unit)}),)


def _maintain(case: Case, reading: EceReading, goal: Goal, ledger: Ledger) -> Leaching | None:
    in_water = _salt_of_water(case)
    if in_water is None:
        return None
    reference = reference_of(case.library)
    formula, limit = reference.formula("lr"), reference.factor("leaching_fraction_max")
    try:
        fraction = leaching_requirement(in_water, goal.ECe, ece_multiple=formula.coefficients["k"])
    except OutOfRange:
        ledger.note("salt.water_beyond_crop", ECw=Quantity(in_water, "dS/m"))
        return None
    inputs = {"ECw": in_water, "ECe": goal.ECe}
    ledger.step("leaching_requirement", "lr", inputs, round(fraction, 3), "1", formula)
    ledger.use(goal.row)
    if scaled(fraction) > scaled(limit.value):
        ledger.use(limit)
        ledger.note("salt.leaching_impractical", percent=round(100 * fraction, 1), limit=round(100 * limit.value))
        return None
    if scaled(reading.low) <= scaled(goal.ECe):
        _tell_share_for_later(reference, fraction, ledger)
        return None
    ledger.note("salt.leaching_share", percent=round(100 * fraction))
    ledger.notes.extend(nitrate_at_risk(case))
    return _yearly(case, fraction)


def _tell_share_for_later(reference: Reference, fraction: float, ledger: Ledger) -> None:
    """Salt is still what the plant bears: no extra water now, however salty the water."""
    usual = reference.factor("leaching_fraction_usual")
    ledger.use(usual)
    figures = {"percent": round(100 * fraction), "usual": round(100 * usual.value)}
    ordinary = scaled(fraction) <= scaled(usual.value)
    ledger.note("salt.leaching_share_usual" if ordinary else "salt.leaching_share_later", **figures)


def _yearly(case: Case, fraction: float) -> Leaching | None:
    """The share as a depth, when the season's water is known."""
    irrigation = case.submission.site.irrigation_water
    if irrigation is None or irrigation.applied is None:
        return None
    season = case.library.index(Units.of).inches(irrigation.applied)
    extra = season * fraction / (1 - fraction)
    beyond = Note("salt.leach_beyond_need", {"season": case.units.water(season * MM_PER_INCH)})
    conditions = (beyond, *nitrate_at_risk(case))
    return _leaching(case, MAINTENANCE, extra * MM_PER_INCH, round(fraction, 3), conditions)


def _leaching(case: Case, kind: str, mm: float, fraction: float | None, conditions: tuple[Note, ...]) -> Leaching:
    return Leaching(kind, case.units.water(mm), case.units.volume(mm), fraction, conditions)
