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
    G_M2_PER_LB_ACRE,
    NITRATE,
    credit_row,
    organic_nitrogen,
    previous_crop,
    soil_nitrate,
    uncounted_manure,
    uncredited_legume,
    water_nitrate,
)
from service.agronomy.nitrogen_words import (
    more_to_say,
    nitrogen_text,
    shoots,
    side_dressing,
    water_covers,
    with_more,
)
from service.agronomy.plot import Plot
from service.agronomy.reference import reference_of
from service.agronomy.restraint import UNHARMED, Growth, nitrogen_share
from service.agronomy.sample import Case, Measurement
from service.agronomy.spreading import FIELDS, in_words, recommend_spread, shown, spread
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow
from service.agronomy.units import scaled

N = "N"
NEW_TREE = frozenset(("planning", "planting", "newly_planted"))
BY_TEST = frozenset(("vegetable", "forage", "field"))
"""Kinds of target whose plan a nitrate test lowers. Of a lawn, a flower bed or a tree it is a snapshot."""
TOP_FOOT_IN = 12.0
AT_PLANTING = "planting"


class Nitrogen(NamedTuple):
    """The nitrogen recommendation, if there is anything to say, and reasons for the decision."""

    recommendation: Recommendation | None
    reasons: tuple[Reason, ...] = ()


def recommend_nitrogen(plot: Plot, growth: Growth = UNHARMED) -> Nitrogen:
    """The season's nitrogen for the target, its doses on the days that remain, or why there is none.

    ``growth``: what salt leaves of the plant's growth; nitrogen goes down with it.
    """
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
        if dose.row.equation.startswith(BY_NITRATE) and _depth_unknown(plot):
            return _without_depth(plot)
        ledger = Ledger(plot.case.explain)  # What a row that lacks something was found to rest on is forgotten.
        need = rate_of(plot, dose, basis, ledger)
        if not isinstance(need, Missing):
            share = nitrogen_share(plot.case, growth, ledger)
            found = _season(plot, dose, need * share, ledger)
            if found.recommendation is not None and share < 1:
                found.recommendation.in_full = True
            return found
        missing = missing or (dose, need)
    return Nitrogen(_unanswered(plot, missing, Ledger(plot.case.explain)))


BY_NITRATE = "yield_"
"""The equations that take nitrate by depth begin with the yield that they start from."""


def _refused(plot: Plot, ledger: Ledger) -> Recommendation | None:
    """Nitrogen that is held back whatever the rate table says."""
    case, setting = plot
    if "tree" in setting.crop.traits:
        if setting.about.in_turf:
            return in_words("none_needed", N, Note("rec.n_tree_in_turf"))
        if setting.stage in NEW_TREE:
            return in_words("none_needed", N, Note("rec.n_new_tree"))
    nitrate = case.find(NITRATE)
    if nitrate is None or setting.crop.kind in FIELDS or not _nitrate_high(plot):
        return None
    if setting.crop.kind not in BY_TEST and _thin(case, nitrate):
        return None  # The nitrate of a thin layer feeds a lawn for weeks, not for the season: it is credited instead.
    high = reference_of(case.library).factor("soil_nitrate_high_mg_kg")
    ledger.use(high)
    values = {"value": Quantity(nitrate.low, nitrate.unit), "limit": Quantity(high.value, high.unit)}
    return _none(Note("rec.n_nitrate_high", values), ledger)


def _nitrate_high(plot: Plot) -> bool:
    """Whether a nitrate figure lies at or above the line from which nitrogen is held back.

    A doubted figure is never credited, but a very high one still holds nitrogen back: doubt must not add a dose.
    """
    nitrate = plot.case.find(NITRATE)
    if nitrate is None:
        return False
    high = reference_of(plot.case.library).factor("soil_nitrate_high_mg_kg")
    return scaled(max(nitrate.low, 0.0)) >= scaled(high.value)


def _thin(case: Case, nitrate: Measurement) -> bool:
    """A layer known to be thinner than the top foot that the line for high nitrate speaks of."""
    depth = nitrate.depth_in or case.depth_in
    return depth is not None and depth[1] < TOP_FOOT_IN


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
    manure = uncounted_manure(plot)
    if manure is not None and plot.setting.crop.kind in FIELDS:
        return _without_manure(manure)
    if dose.base == AREAL:
        before = need
        if not row.equation:
            if _depth_unknown(plot):
                return _without_depth(plot)
            need = _less_credits(plot, row, _less_clippings(plot, need, ledger), ledger)
            if scaled(need) == 0:
                return _nothing_now(plot, row, Note("rec.n_credits_cover"), ledger)
        if (row.equation or scaled(need) < scaled(before)) and _too_small(plot, need, ledger):
            return _nothing_now(plot, row, Note("rec.n_small_remainder", {"rate": shown(plot, need, True)}), ledger)
    covered = water_covers(plot, row, need, ledger) if dose.base == AREAL else None
    if covered is not None:
        return Nitrogen(_none(covered, ledger, row))
    doses = spread(plot, dose, need, N, _from(plot.case), ledger)
    text = nitrogen_text(plot, dose, doses, more_to_say(plot, row, need, manure, ledger), ledger)
    recommendation = recommend_spread(plot, N, text, dose, doses, ledger)
    return Nitrogen(recommendation, _not_credited(plot, row))


def _nothing_now(plot: Plot, row: AmountRow, text: Note, ledger: Ledger) -> Nitrogen:
    """None needed; where the publisher feeds again by a later test, none only at planting, and that rule is said."""
    later = side_dressing(plot, row, ledger)
    if not later:
        return Nitrogen(_none(text, ledger, row))
    told = _none(with_more("rec.n_none_at_planting", {}, later), ledger, row)
    told.kind = "practice"
    return Nitrogen(told)


def _without_manure(material: str) -> Nitrogen:
    """A field that gets manure of unknown amount: what it brings can be more than the whole need."""
    values = {"material": Word("organic_inputs", material)}
    reason = Reason("manure_amount_unknown", "withhold", N, values, Note("ask.manure_amount"), "/site/organic_inputs")
    return Nitrogen(in_words("practice", N, Note("rec.n_manure_unknown", values)), (reason,))


def _too_small(plot: Plot, need: float, ledger: Ledger) -> bool:
    """Whether what equation or credits left is too little to be worth spreading by itself.

    The floor is the practice that less than about 20 lb/acre is not worth a pass. A small rate that the publisher
    itself prints stands, and so does whatever a lawn, a flower bed or a tree gets by hand.
    """
    if plot.setting.crop.kind not in BY_TEST:
        return False
    floor = reference_of(plot.case.library).factor("small_dose_floor")
    ledger.use(floor)
    return scaled(need) < scaled(floor.value * G_M2_PER_LB_ACRE)


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
    return Note("rec.n_tree_growing", shoots(plot.case, ledger, enough="tree_shoots_enough_in"))


def _less_clippings(plot: Plot, need: float, ledger: Ledger) -> float:
    """Clippings left on the lawn feed it: the smaller of the shares printed comes off. Sources in the table."""
    if plot.setting.crop.kind != "lawn" or plot.setting.about.clippings != "returned":
        return need
    row = credit_row(plot.case.library, "clippings", "", general=True)
    if row is None:
        return need
    left = need * (1.0 - row.value / 100.0)
    rate = shown(plot, left, True)
    ledger.step("clippings", "less_clippings", {"share": row.value}, rate.value, rate.unit, row)
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
    """What is left after nitrate in water and soil, manure and a legume before, g/m2; never below zero.

    A dose at planting comes before the season's water.
    """
    found = 0.0 if row.per == AT_PLANTING else water_nitrate(plot, row.calibration, True, ledger)
    if "tree" not in plot.setting.crop.traits:
        found += organic_nitrogen(plot, ledger)
    if plot.setting.crop.kind in BY_TEST:
        found += soil_nitrate(plot, row.calibration, ledger) + previous_crop(plot, row.calibration, True, ledger)
    elif _nitrate_high(plot):
        found += soil_nitrate(plot, row.calibration, ledger)
    if found <= 0.0:
        return need
    left = max(need - found * G_M2_PER_LB_ACRE, 0.0)
    rate = shown(plot, left, True)
    ledger.step("after_credits", "less_credits", {"credits": round(found, 1)}, rate.value, rate.unit)
    return left


def _from(case: Case) -> date:
    """The first day for a dose: later when the ground was fed lately, by the usual time between two doses."""
    fed = case.submission.sample.fertilized_within_days
    if fed is None:
        return case.as_of
    wait = timing.split_interval(case.library).value - fed
    return case.as_of + timedelta(days=max(wait, 0.0))


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
