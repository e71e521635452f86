"""Nitrogen: a season's plan by plant, upkeep and date. A nitrate test refines it and is not needed for it.

Lawns go by grass and upkeep, gardens by organic matter or by how much the crop feeds, fields by a publisher's
equation with its own credits, fruit trees by age or trunk, shade trees only when they grow poorly.
New and young trees get none, nor do trees in a lawn that is fed.
"""

from datetime import date, timedelta
from typing import NamedTuple

from service.agronomy import timing
from service.agronomy.doses import AREAL, Dose
from service.agronomy.dosing import Missing, rate_of
from service.agronomy.findings import Note, Reason, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.nitrogen_credits import (
    NITRATE,
    credit_row,
    previous_crop,
    soil_nitrate,
    uncredited_legume,
    water_nitrate,
)
from service.agronomy.organic_supply import supply
from service.agronomy.phosphorus import STOP, over_olsen_line
from service.agronomy.plot import Plot
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.spreading import Spread, in_words, recommend_spread, shown, spread
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_ACRE, scaled

N = "N"
LB_ACRE = GRAMS_PER_LB / SQUARE_METRES_PER_ACRE
"""One lb/acre in g/m2."""
NEW_TREE = frozenset(("planning", "planting", "newly_planted"))
BY_TEST = frozenset(("vegetable", "forage", "field"))
"""Kinds of target whose plan a nitrate test lowers. Of a lawn, a flower bed or a tree it is a snapshot."""


class Nitrogen(NamedTuple):
    """The nitrogen recommendation, if there is anything to say, and reasons for the decision."""

    recommendation: Recommendation | None
    reasons: tuple[Reason, ...] = ()


def recommend_nitrogen(plot: Plot) -> Nitrogen:
    """The season's nitrogen for the target, its doses on the days that remain, or why there is none."""
    setting = plot.setting
    if "lime_intolerant" in setting.crop.traits and setting.calcareous:
        return Nitrogen(None)  # The plant does not suit this soil: that is said elsewhere, and feeding would not help.
    ledger = Ledger(plot.case.explain)
    refused = _refused(plot, ledger)
    if refused is not None:
        return Nitrogen(refused)
    missing = None
    for dose in setting.fitting(N):
        basis = _basis(plot.case, dose.row)
        if dose.row.basis_analyte is not None and (basis is None or not dose.covers(basis)):
            continue
        need = rate_of(plot, dose, basis, ledger)
        if not isinstance(need, Missing):
            return _season(plot, dose, need, ledger)
        missing = missing or (dose, need)
    return Nitrogen(_unanswered(plot, missing, ledger))


def _refused(plot: Plot, ledger: Ledger) -> Recommendation | None:
    """Nitrogen that is held back whatever the rate table says."""
    case, setting = plot
    if "tree" in setting.crop.traits:
        if setting.about.in_turf:
            return in_words("none_needed", N, Note("rec.n_tree_in_turf"))
        if setting.stage in NEW_TREE:
            return in_words("none_needed", N, Note("rec.n_new_tree"))
    nitrate = case.find(NITRATE)
    if nitrate is None or nitrate.index in case.weakened or setting.crop.kind in ("forage", "field"):
        return None
    high = reference_of(case.library).factor("soil_nitrate_high_mg_kg")
    if scaled(max(nitrate.low, 0.0)) < scaled(high.value):
        return None
    ledger.use(high)
    values = {"value": Quantity(nitrate.low, nitrate.unit), "limit": Quantity(high.value, high.unit)}
    return _none(Note("rec.n_nitrate_high", values), ledger)


def _basis(case: Case, row: AmountRow) -> Measurement | None:
    """The test a row rests on."""
    if row.basis_analyte is None:
        return None
    return case.find(row.basis_analyte, *((row.basis_method,) if row.basis_method else ()))


def _none(text: Note, ledger: Ledger, row: AmountRow | None = None) -> Recommendation:
    """An explicit *none*, with what it rests on."""
    ledger.use(row)
    basis = ledger.cited()
    return Recommendation(
        "none_needed",
        N,
        text,
        because=tuple(ledger.steps),
        sources=basis.sources,
        verification=basis.verification,
        calibration=row.calibration if row is not None else None,
        table=basis.table,
    )


def _season(plot: Plot, dose: Dose, need: float, ledger: Ledger) -> Nitrogen:
    """From the season's need to doses: clippings and credits off, then the windows that remain."""
    row = dose.row
    if scaled(need) == 0:
        return Nitrogen(_none(_none_text(plot, row, ledger), ledger, row))
    if dose.base == AREAL and not row.equation:
        if _depth_unknown(plot):
            return _without_depth(plot)
        need = _less_credits(plot, row, _less_clippings(plot, need, ledger), ledger)
        if scaled(need) == 0:
            return Nitrogen(_none(Note("rec.n_credits_cover"), ledger, row))
    doses = spread(plot, dose, need, N, _from(plot.case), ledger)
    recommendation = recommend_spread(plot, N, _text(plot, doses, need, ledger), dose, doses, ledger)
    return Nitrogen(recommendation, _not_credited(plot, row))


def _not_credited(plot: Plot, row: AmountRow) -> tuple[Reason, ...]:
    """Nitrogen that a legume left and that this publisher's rate does not count: said, never borrowed from another."""
    if plot.case.submission.site.previous_crop is None or plot.setting.crop.kind not in BY_TEST:
        return ()
    before = uncredited_legume(plot, row.calibration, not row.equation)
    if before is None:
        return ()
    values = {"before": Word("crop", before), "calibration": Word("calibration", row.calibration)}
    return (Reason("legume_not_credited", "warning", N, values, Note("ask.legume_credit"), "/site/previous_crop"),)


def _none_text(plot: Plot, row: AmountRow, ledger: Ledger) -> Note:
    setting = plot.setting
    if "legume" in setting.crop.traits:
        return Note("rec.n_none_legume")
    if "tree" not in setting.crop.traits:
        return Note("rec.n_om_covers" if row.basis_analyte == "OM" else "rec.n_none")
    return Note("rec.n_tree_growing", _shoots(plot.case, ledger, enough="tree_shoots_enough_in"))


def _shoots(case: Case, ledger: Ledger, **factors: str) -> dict[str, Quantity]:
    """Lengths of last year's shoots that show a tree is well fed, as the client reads them."""
    rows = {name: reference_of(case.library).factor(factor) for name, factor in factors.items()}
    ledger.use(*rows.values())
    return {name: case.units.depth(row.value) for name, row in rows.items()}


def _less_clippings(plot: Plot, need: float, ledger: Ledger) -> float:
    """Clippings left on the lawn feed it: the smaller of the shares printed comes off. Sources in the table."""
    if plot.setting.crop.kind != "lawn" or plot.setting.about.clippings != "returned":
        return need
    row = credit_row(plot.case.library, "clippings", "", general=True)
    if row is None:
        return need
    left = need * (1.0 - row.value / 100.0)
    rate = shown(plot, left, True)
    ledger.step("clippings", "clippings", {"share": row.value}, rate.value, rate.unit, row)
    return left


def _depth_unknown(plot: Plot) -> bool:
    """A nitrate figure that cannot be turned into an amount because nobody said how deep the sample was."""
    nitrate = plot.case.find(NITRATE)
    if nitrate is None or plot.setting.crop.kind not in BY_TEST:
        return False
    return nitrate.depth_in is None and plot.case.depth_in is None


def _without_depth(plot: Plot) -> Nitrogen:
    nitrate = plot.case.find(NITRATE)
    pointer = f"/results/{nitrate.index}/depth" if nitrate is not None else "/sample/depth"
    reason = Reason("depth_unknown", "withhold", NITRATE, {}, Note("ask.depth"), pointer)
    return Nitrogen(in_words("practice", N, Note("rec.n_depth_unknown")), (reason,))


def _less_credits(plot: Plot, row: AmountRow, need: float, ledger: Ledger) -> float:
    """What is left after nitrate in water and soil, manure and a legume before; little is as good as nothing.

    The floor is the practice that less than about 20 lb/acre is not worth spreading by itself.
    """
    found = water_nitrate(plot, row.calibration, True, ledger)
    if "tree" not in plot.setting.crop.traits:
        found += _organic_nitrogen(plot, ledger)
    if plot.setting.crop.kind in BY_TEST:
        found += soil_nitrate(plot, row.calibration, ledger) + previous_crop(plot, row.calibration, True, ledger)
    if found <= 0.0:
        return need
    left = max(need - found * LB_ACRE, 0.0)
    floor = credit_row(plot.case.library, "floor", "", general=True)
    if floor is not None and floor.upper is not None and scaled(left) < scaled(floor.upper * LB_ACRE):
        ledger.use(floor)
        left = 0.0
    rate = shown(plot, left, True)
    ledger.step("after_credits", "after_credits", {"credits": round(found, 1)}, rate.value, rate.unit)
    return left


def _organic_nitrogen(plot: Plot, ledger: Ledger) -> float:
    """Nitrogen that manure and compost put on every year give this season, lb/acre.

    Not where salt or phosphorus forbid them: there the advice is to stop, and nothing of it comes.
    """
    inputs = plot.case.submission.site.organic_inputs
    if not inputs or plot.setting.saline or over_olsen_line(plot.case, STOP):
        return 0.0
    found = 0.0
    for item in inputs:
        brought = supply(plot.case, item)
        if brought is not None and brought.N_first_season is not None:
            credit = brought.N_first_season / LB_ACRE
            given = {"material": item.material}
            ledger.step("organic_credit", "supply", given, round(credit, 1), "lb/acre", *brought.rows)
            found += credit
    return found


def _from(case: Case) -> date:
    """The first day for a dose: later when the ground was fed lately, by the usual time between two doses."""
    fed = case.submission.sample.fertilized_within_days
    if fed is None:
        return case.as_of
    wait = timing.split_interval(case.library).value - fed
    return case.as_of + timedelta(days=max(wait, 0.0))


def _text(plot: Plot, doses: Spread, need: float, ledger: Ledger) -> Note:
    season = doses.rate if doses.total == need else shown(plot, need, doses.areal)
    values = {"rate": doses.rate, "season": season}
    if "tree" not in plot.setting.crop.traits:
        return Note(_text_code(plot, doses), values)
    if doses.areal:
        return Note("rec.n_tree_area", values)
    shoots = _shoots(
        plot.case,
        ledger,
        young_low="fruit_young_shoots_low_in",
        young_high="fruit_young_shoots_high_in",
        bearing_low="fruit_bearing_shoots_low_in",
        bearing_high="fruit_bearing_shoots_high_in",
    )
    return Note("rec.n_tree", values | shoots)


TEXTS = {"vegetable": "rec.n_garden", "ornamental": "rec.n_flowers", "fruit": "rec.n_fruit"}


def _text_code(plot: Plot, doses: Spread) -> str:
    setting = plot.setting
    if setting.crop.kind != "lawn":
        return TEXTS.get(setting.crop.kind, "rec.n_field")
    if timing.in_heat(setting, plot.case.as_of):
        return "rec.n_lawn_heat"
    if setting.stage == "dormant":
        return "rec.n_lawn_dormant"
    if not doses.whole:
        return "rec.n_lawn_rest"
    season = "cool" if "cool_season" in setting.crop.traits else "warm"
    return f"rec.n_lawn_{season}" + ("" if len(doses.portions) > 1 else "_once")


def _unanswered(plot: Plot, missing: tuple[Dose, Missing] | None, ledger: Ledger) -> Recommendation:
    """No rate can be given: say what to send, the rule in words, or that no table has one."""
    if missing is not None:
        row, what = missing[0].row, missing[1].what
        ledger.use(row)
        basis = ledger.cited()
        values = {name: Quantity(value, row.rate_unit) for name, value in row.coefficients.items()}
        return Recommendation(
            "practice",
            N,
            Note(f"rec.n_needs_{what}", values),
            sources=basis.sources,
            verification=basis.verification,
            calibration=row.calibration,
        )
    new_lawn = plot.setting.crop.kind == "lawn" and plot.setting.stage not in (None, "established")
    return in_words("practice", N, Note("rec.n_new_lawn" if new_lawn else "rec.n_no_rate_table"))
