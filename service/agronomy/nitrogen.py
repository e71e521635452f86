"""Nitrogen: a season's plan by plant, upkeep and date. A nitrate test refines it and is not needed for it.

Lawns go by grass and upkeep, gardens by organic matter or by how much the crop feeds, fields by a publisher's
equation with its own credits, fruit trees by age or trunk, shade trees only when they grow poorly.
New and young trees get none, nor do trees in a lawn that is fed.
"""

from datetime import timedelta
from typing import NamedTuple

from service.agronomy import nitrogen_credits, timing
from service.agronomy.doses import AREAL, Dose, Setting
from service.agronomy.dosing import Missing, rate_of
from service.agronomy.findings import Note, Reason, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.reference import reference_of
from service.agronomy.sample import Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_ACRE, scaled

N = "N"
LB_ACRE = GRAMS_PER_LB / SQUARE_METRES_PER_ACRE
"""One lb/acre in g/m2."""
NEW_TREE = frozenset(("planning", "planting", "newly_planted"))


class Nitrogen(NamedTuple):
    """The nitrogen recommendation, if there is anything to say, and reasons for the decision."""

    recommendation: Recommendation | None
    reasons: tuple[Reason, ...] = ()


def recommend_nitrogen(setting: Setting) -> Nitrogen:
    """The season's nitrogen for the target, its doses on the days that remain, or why there is none."""
    if "lime_intolerant" in setting.crop.traits and setting.calcareous:
        return Nitrogen(None)  # The plant does not suit this soil: that is said elsewhere, and feeding would not help.
    ledger = Ledger(setting.case.explain)
    refused = _refused(setting, ledger)
    if refused is not None:
        return Nitrogen(refused)
    missing = None
    for dose in setting.fitting(N):
        if not _basis_holds(setting, dose):
            continue
        need = rate_of(setting, dose, _basis(setting, dose), ledger)
        if isinstance(need, Missing):
            missing = missing or (dose, need)
            continue
        return _season(setting, dose, need, ledger)
    return Nitrogen(_unanswered(setting, missing, ledger))


def _refused(setting: Setting, ledger: Ledger) -> Recommendation | None:
    """Nitrogen that is held back whatever the rate table says."""
    condition = setting.case.submission.target.condition
    if "tree" in setting.crop.traits and condition.in_turf:
        return none_needed(Note("rec.n_tree_in_turf"), ledger)
    nitrate = setting.case.find(nitrogen_credits.NITRATE)
    high = reference_of(setting.case.library).factor("soil_nitrate_high_mg_kg")
    if nitrate is None or setting.crop.kind == "forage" or scaled(max(nitrate.low, 0.0)) < scaled(high.value):
        return None
    ledger.use(high)
    values = {"value": Quantity(nitrate.low, nitrate.unit), "limit": Quantity(high.value, high.unit)}
    return none_needed(Note("rec.n_nitrate_high", values), ledger)


def _basis(setting: Setting, dose: Dose) -> Measurement | None:
    row = dose.row
    if row.basis_analyte is None:
        return None
    return setting.case.find(row.basis_analyte, *((row.basis_method,) if row.basis_method else ()))


def _basis_holds(setting: Setting, dose: Dose) -> bool:
    """Whether the test a row rests on was sent and lies within its bounds."""
    if dose.row.basis_analyte is None:
        return True
    measurement = _basis(setting, dose)
    return measurement is not None and dose.covers(measurement)


def none_needed(text: Note, ledger: Ledger, row: AmountRow | None = None) -> Recommendation:
    """An explicit *none*, with what it rests on."""
    ledger.use(row)
    cited = ledger.cited()
    return Recommendation(
        "none_needed",
        N,
        text,
        because=tuple(ledger.steps),
        sources=cited.sources,
        verification=cited.verification,
        calibration=row.calibration if row is not None else None,
        table=cited.table,
        base_rate=0.0,
    )


def _season(setting: Setting, dose: Dose, need: float, ledger: Ledger) -> Nitrogen:
    """From the season's need to doses: clippings and credits off, then the windows that remain."""
    row = dose.row
    if scaled(need) == 0:
        return Nitrogen(none_needed(Note(_none_code(setting, row)), ledger, row))
    if dose.base == AREAL and not row.equation:
        if _depth_unknown(setting):
            return _without_depth(setting)
        need = _less_credits(setting, row, _less_clippings(setting, need, ledger), ledger)
        if scaled(need) == 0:
            return Nitrogen(none_needed(Note("rec.n_credits_cover"), ledger, row))
    return Nitrogen(_planned(setting, dose, need, ledger))


def _none_code(setting: Setting, row: AmountRow) -> str:
    if "legume" in setting.crop.traits:
        return "rec.n_none_legume"
    if "tree" in setting.crop.traits:
        return "rec.n_new_tree" if setting.stage in NEW_TREE else "rec.n_tree_growing"
    return "rec.n_om_covers" if row.basis_analyte == "OM" else "rec.n_none"


def _less_clippings(setting: Setting, need: float, ledger: Ledger) -> float:
    """Clippings left on the lawn feed it: the smaller of the shares printed comes off. Sources in the table."""
    if setting.crop.kind != "lawn" or setting.case.submission.target.condition.clippings != "returned":
        return need
    row = nitrogen_credits.credit_row(setting, "clippings", "", general=True)
    if row is None:
        return need
    left = need * (1.0 - row.value / 100.0)
    shown = setting.case.units.rate(left)
    ledger.step("step.clippings", "clippings", {"share": row.value}, shown.value, shown.unit, row)
    return left


def _depth_unknown(setting: Setting) -> bool:
    """A nitrate figure that cannot be turned into an amount because nobody said how deep the sample was."""
    nitrate = setting.case.find(nitrogen_credits.NITRATE)
    if nitrate is None or _feeds_on_plan(setting):
        return False
    return nitrate.depth_in is None and setting.case.depth_in is None


def _feeds_on_plan(setting: Setting) -> bool:
    """Lawns, flowers and trees are fed by plan: a nitrate test of theirs is a snapshot and takes nothing off."""
    return setting.crop.kind not in ("vegetable", "forage", "field")


def _without_depth(setting: Setting) -> Nitrogen:
    nitrate = setting.case.find(nitrogen_credits.NITRATE)
    pointer = f"/results/{nitrate.index}/depth" if nitrate is not None else "/sample/depth"
    reason = Reason("depth_unknown", "withhold", nitrogen_credits.NITRATE, {}, Note("ask.depth"), pointer)
    return Nitrogen(Recommendation("practice", N, Note("rec.n_depth_unknown")), (reason,))


def _less_credits(setting: Setting, row: AmountRow, need: float, ledger: Ledger) -> float:
    """What is left after nitrate in soil and water and a legume before; little is as good as nothing.

    The floor is the practice that less than about 20 lb/acre is not worth spreading by itself.
    """
    found = nitrogen_credits.water_nitrate(setting, row.calibration, True, ledger)
    if not _feeds_on_plan(setting):
        found += nitrogen_credits.soil_nitrate(setting, row.calibration, ledger)
        found += nitrogen_credits.previous_crop(setting, row.calibration, True, ledger)
    if found <= 0.0:
        return need
    left = max(need - found * LB_ACRE, 0.0)
    floor = nitrogen_credits.credit_row(setting, "floor", "", general=True)
    if floor is not None and floor.upper is not None and left < floor.upper * LB_ACRE:
        ledger.use(floor)
        left = 0.0
    shown = setting.case.units.rate(left)
    ledger.step("step.after_credits", "after_credits", {"credits": round(found, 1)}, shown.value, shown.unit)
    return left


def _planned(setting: Setting, dose: Dose, need: float, ledger: Ledger) -> Recommendation:
    row, units = dose.row, setting.case.units
    show = units.rate if dose.base == AREAL else units.per_tree
    caps = timing.caps_on(setting, N) if dose.base == AREAL else ()
    plan = timing.plan(setting, row.schedule, need, caps, _rested_until(setting)) if row.schedule else None
    total = plan.total if plan is not None and plan.portions else need
    if plan is not None:
        ledger.use(*plan.rows, *(portion.cap.row for portion in plan.portions if portion.cap is not None))
        inputs = {"season": show(need).value, "doses": len(plan.portions)}
        ledger.step("step.windows_left", "windows_left", inputs, show(total).value, show(total).unit, *plan.rows)
    cited = ledger.cited()
    values = {"rate": show(total), "season": show(need), "doses": len(plan.portions) if plan else 1}
    return Recommendation(
        "nutrient",
        N,
        Note(_text_code(setting, plan, total, need), values),
        rate=show(total),
        for_area=units.total(total) if dose.base == AREAL else None,
        applications=timing.applications(setting, plan.portions, dose.base) if plan else (),
        because=tuple(ledger.steps),
        sources=cited.sources,
        verification=cited.verification,
        calibration=row.calibration,
        table=row.table,
        base_rate=total,
    )


def _rested_until(setting: Setting) -> timedelta | None:
    """How long to wait when the ground was fed lately: until the usual time between two doses has passed."""
    fed = setting.case.submission.sample.fertilized_within_days
    if fed is None:
        return None
    wait = timing.split_interval(setting.case.library).value - fed
    return timedelta(days=wait) if wait > 0 else None


def _text_code(setting: Setting, plan: timing.Plan | None, total: float, need: float) -> str:
    kind = setting.crop.kind
    if "tree" in setting.crop.traits:
        return "rec.n_tree"
    if kind == "lawn":
        if timing.in_heat(setting):
            return "rec.n_lawn_heat"
        if setting.stage == "dormant":
            return "rec.n_lawn_dormant"
        rest = plan is not None and scaled(total) < scaled(need)
        return "rec.n_lawn_rest" if rest else "rec.n_lawn"
    return {"vegetable": "rec.n_garden", "ornamental": "rec.n_flowers"}.get(kind, "rec.n_field")


def _unanswered(setting: Setting, missing: tuple[Dose, Missing] | None, ledger: Ledger) -> Recommendation:
    """No rate can be given: say what to send, the rule in words, or that no table has one."""
    if missing is not None:
        dose, what = missing
        ledger.use(dose.row)
        cited = ledger.cited()
        text = Note(f"rec.n_needs_{what.what}", {**dose.row.coefficients, "unit": dose.row.rate_unit})
        return Recommendation(
            "practice",
            N,
            text,
            sources=cited.sources,
            verification=cited.verification,
            calibration=dose.row.calibration,
        )
    if setting.crop.kind == "lawn" and setting.stage not in (None, "established"):
        return Recommendation("practice", N, Note("rec.n_new_lawn"))
    return Recommendation("practice", N, Note("rec.n_no_rate_table"))
