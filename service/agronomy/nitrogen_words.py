"""What is said of a season's nitrogen: the sentence that fits plant and day, and what a grower must know beside it."""

from collections.abc import Mapping, Sequence

from service.agronomy import timing
from service.agronomy.doses import Dose
from service.agronomy.findings import Note, Values, Word
from service.agronomy.ledger import Ledger
from service.agronomy.nitrogen_credits import G_M2_PER_LB_ACRE, INCHES_PER_FOOT, NITRATE, credit_row
from service.agronomy.plot import Plot
from service.agronomy.reference import reference_of
from service.agronomy.rounding import prepare_rounding
from service.agronomy.sample import Case
from service.agronomy.spreading import FIELDS, Spread
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow
from service.agronomy.units import METRES_PER_INCH, Units, scaled, significant

TEXTS: Mapping[str, str] = {"vegetable": "rec.n_garden", "ornamental": "rec.n_flowers", "fruit": "rec.n_fruit"}
SHORTFALL = "nitrate_shortfall"
MM_PER_M = 1000.0
LOW_DESERT = "low_desert"


def with_more(code: str, values: Values, more: Sequence[Note]) -> Note:
    """A sentence with others after it. Every text that is used here ends with the placeholder ``more``."""
    last: object = ""
    for note in reversed(more):
        last = Note(note.code, {**note.values, "more": last})
    return Note(code, {**values, "more": last})


def shoots(case: Case, ledger: Ledger, **factors: str) -> dict[str, Quantity]:
    """Lengths of last year's shoots that show a tree is well fed, as the client reads them."""
    rows = {name: reference_of(case.library).factor(factor) for name, factor in factors.items()}
    ledger.use(*rows.values())
    return {name: case.units.depth(row.value) for name, row in rows.items()}


def nitrogen_text(plot: Plot, dose: Dose, doses: Spread, more: Sequence[Note], ledger: Ledger) -> Note:
    """The sentence of a nitrogen plan. ``rate`` is what is still to be given, ``season`` the whole need."""
    values: dict[str, object] = {"rate": doses.rate, "season": doses.rate, "first": _first(doses)}
    if "tree" in plot.setting.crop.traits:
        return _tree(plot, dose, doses, values, more, ledger)
    if plot.setting.crop.kind == "lawn":
        code = _lawn(plot, doses)
        if code in REST:
            values["rate"] = doses.left
        told = () if code in REST or doses.later else _what_is_left(plot, doses)
        return with_more(code, values, [*told, *more])
    return with_more(TEXTS.get(plot.setting.crop.kind, "rec.n_field"), values, [*_what_is_left(plot, doses), *more])


REST = frozenset(("rec.n_lawn_rest", "rec.n_lawn_heat", "rec.n_lawn_dormant"))
"""Sentences about the doses that remain, not about the whole season."""


def _first(doses: Spread) -> object:
    return doses.portions[0].start if doses.portions else None


def _tree(
    plot: Plot, dose: Dose, doses: Spread, values: Mapping[str, object], more: Sequence[Note], ledger: Ledger
) -> Note:
    if doses.areal:
        code = "rec.n_tree_area" if dose.row.when == "poor_growth" else "rec.n_orchard"
        return with_more(code, values, [*_what_is_left(plot, doses), *more])
    lengths = shoots(
        plot.case,
        ledger,
        young_low="fruit_young_shoots_low_in",
        young_high="fruit_young_shoots_high_in",
        bearing_low="fruit_bearing_shoots_low_in",
        bearing_high="fruit_bearing_shoots_high_in",
    )
    return with_more("rec.n_tree", {**values, **lengths}, more)


def _lawn(plot: Plot, doses: Spread) -> str:
    setting = plot.setting
    if "new_stand" in setting.crop.traits:
        return "rec.n_lawn_new"
    if timing.in_heat(setting, plot.case.as_of):
        return "rec.n_lawn_heat"
    if setting.stage == "dormant":
        return "rec.n_lawn_dormant"
    if doses.later:
        return "rec.n_lawn_next"
    if not doses.whole:
        return "rec.n_lawn_rest"
    if timing.PUTTING_GREEN in setting.crop.traits:
        return "rec.n_green"
    season = "cool" if "cool_season" in setting.crop.traits else "warm"
    return f"rec.n_lawn_{season}" + ("" if len(doses.portions) > 1 else "_once")


def _what_is_left(plot: Plot, doses: Spread) -> list[Note]:
    """Aloud, where the doses that can still be given hold less than the season's need."""
    if doses.later:
        return [Note("rec.n_more_next", {"first": _first(doses), "more": ""})]
    missing = max(doses.season - doses.total, 0.0)
    if not doses.portions or doses.complete:
        return []
    values = {"left": doses.left, "missing": Quantity(round(doses.rate.value - doses.left.value, 3), doses.rate.unit)}
    if doses.whole:
        return [Note("rec.n_more_unfit", values)] if scaled(missing) > 0 else []
    return [Note("rec.n_more_passed_field" if plot.setting.crop.kind in FIELDS else "rec.n_more_passed", values)]


def more_to_say(plot: Plot, row: AmountRow, need: float, manure: str | None, ledger: Ledger) -> list[Note]:
    """What a grower must know beside the amount: a default, what was not taken off, when to test again."""
    found = list(ledger.notes)
    if manure is not None:
        found.append(Note("rec.n_more_manure", {"material": Word("organic_inputs", manure), "more": ""}))
    found.extend(_water(plot, row, need, ledger))
    found.extend(side_dressing(plot, row, ledger))
    if _cold_calendar(plot):
        found.append(Note("rec.n_more_zone", {"more": ""}))
    return found


def _cold_calendar(plot: Plot) -> bool:
    """Whether grass that the low desert feeds longer gets the dates of a cold place: nobody said where it lies."""
    about = plot.setting.about
    if about.zone or about.choice.region is not None or about.low_desert:
        return False
    return any(dose.row.when == LOW_DESERT for dose in plot.setting.of_nutrient("N"))


def water_covers(plot: Plot, row: AmountRow, need: float, ledger: Ledger) -> Note | None:
    """Water of a garden that brings the whole plan with less than any season's watering; else ``None``."""
    told = _water(plot, row, need, ledger) if plot.setting.crop.kind == "vegetable" else []
    most = reference_of(plot.case.library).factor("water_nitrate_covers_in")
    if not told or scaled(plot.case.library.index(Units.of).inches(told[0].values["whole"])) > scaled(most.value):
        return None
    ledger.use(most)
    return Note("rec.n_water_covers", told[0].values)


def _water(plot: Plot, row: AmountRow, need: float, ledger: Ledger) -> list[Note]:
    """Nitrate in irrigation water of which nobody said how much is put on: what each foot of it brings."""
    case = plot.case
    irrigation, nitrate = case.submission.site.irrigation_water, case.find_water(NITRATE)
    if irrigation is None or irrigation.applied is not None or nitrate is None:
        return []
    credit = credit_row(case.library, "water_nitrate", row.calibration, True)
    least = reference_of(case.library).factor("water_nitrate_counts_mg_L")
    if credit is None or scaled(nitrate.low) < scaled(least.value):
        return []
    ledger.use(credit, least)
    per_foot = credit.value * nitrate.low * INCHES_PER_FOOT * G_M2_PER_LB_ACRE
    whole_mm = need / per_foot * INCHES_PER_FOOT * METRES_PER_INCH * MM_PER_M
    whole = case.units.water(whole_mm)
    values = {
        "nitrate": Quantity(nitrate.low, nitrate.unit),
        "depth": case.units.water(INCHES_PER_FOOT * METRES_PER_INCH * MM_PER_M),
        "credit": case.library.index(prepare_rounding).rate(case.units, "N", per_foot, True),
        "whole": Quantity(significant(whole.value, 2), whole.unit),
    }
    return [Note("rec.n_more_water", values)]


def side_dressing(plot: Plot, row: AmountRow, ledger: Ledger) -> list[Note]:
    """The rule for feeding later by a nitrate test, where the publisher has one beside the rate at planting."""
    rule = next(
        (
            each.row
            for each in plot.setting.of_nutrient("N")
            if each.row.equation == SHORTFALL and each.row.calibration == row.calibration and each.row is not row
        ),
        None,
    )
    if rule is None or row.equation == SHORTFALL:
        return []
    ledger.use(rule)
    values = {
        "threshold": Quantity(rule.coefficients["threshold"], rule.basis_unit),
        "factor": Quantity(rule.coefficients["factor"], rule.rate_unit),
    }
    return [Note("rec.n_more_side_dress", values)]
