"""Whole reports of home gardens: what a reader must be told, and what must never be said beside it.

Nitrate: 10 mg/L as N and infants (US EPA). Other lines are common practice and are marked so.
"""

from typing import Any

from making import DAY, submission

from service.agronomy.findings import Interpretation
from service.agronomy.interpret import interpret
from service.agronomy.submission import OrganicInput, Quantity, Result, Well
from service.agronomy.tables import Library

PASTE = "saturated_paste_extract"
NEAR = Well(Quantity(15, "m"), infant=True)


def soil(analyte: str, value: float, unit: str = "mg/kg", qualifier: str | None = None) -> Result:
    methods = {"pH": "saturated_paste", "EC": PASTE, "P": "olsen", "K": "olsen", "NO3-N": "kcl_extract"}
    return Result(analyte, methods.get(analyte, "dtpa"), value, unit, qualifier)


def report(library: Library, *results: Result, **more: Any) -> Interpretation:
    sent = submission(*results, **{"crop": "vegetable-garden", "stage": "planning", **more})
    return interpret(sent, library, DAY)


def codes(answer: Interpretation) -> set[str]:
    return {item.code for item in answer.cautions}


def well_nitrate(value: float) -> tuple[Result, ...]:
    return (Result("NO3-N", "water_sample", value, "mg/L"),)


def test_an_untested_well_beside_rich_soil_is_a_danger_to_the_baby(library: Library) -> None:
    """Common practice, and US EPA on infants: other water until the well is tested, and never boiled."""
    answer = report(library, soil("pH", 7.9), soil("NO3-N", 40), well=NEAR)
    assert answer.cautions[0].code == "well_untested_infant"
    assert answer.cautions[0].severity == "danger"
    page = answer.summary
    assert page is not None
    assert page.actions[0].code == "summary.first.well_untested_infant"
    assert "do_not.well_untested_infant" in [note.code for note in page.do_not]
    assert page.contact.code == "summary.contact_danger"


def test_a_tested_well_poor_soil_or_no_baby_is_no_such_danger(library: Library) -> None:
    rich, poor = soil("NO3-N", 40), soil("NO3-N", 12)
    for results, more in (
        ((rich,), {"well": NEAR, "water": well_nitrate(3)}),
        ((poor,), {"well": NEAR}),
        ((rich,), {"well": Well(Quantity(15, "m"), infant=False)}),
    ):
        assert "well_untested_infant" not in codes(report(library, *results, **more))


def test_manure_stays_away_from_a_well_at_risk(library: Library) -> None:
    """Common practice: no manure beside an infant's well, a well over 10 mg/L, or where the soil is full of nitrate."""
    good = (soil("pH", 7.2), soil("EC", 1, "dS/m"), soil("P", 12))
    far = Well(Quantity(2000, "ft"), infant=True)
    habit = (OrganicInput("steer_manure", Quantity(1, "in"), per="year"),)
    for well, water, nitrate, refused in (
        (NEAR, (), 8, True),
        (Well(Quantity(35, "ft"), infant=False), well_nitrate(18), 8, True),
        (Well(Quantity(35, "ft"), infant=False), (), 55, True),
        (Well(Quantity(35, "ft"), infant=False), well_nitrate(2), 8, False),
        (far, (), 8, False),
    ):
        answer = report(
            library, *good, soil("NO3-N", nitrate), well=well, water=water, requests=("manure",), organic_inputs=habit
        )
        manure = [item.text.code for item in answer.recommendations if item.subject == "manure"]
        assert ("rec.manure_near_well" in manure) is refused
        assert ("raw_manure_food" in codes(answer)) is not refused
        assert ("rec.manure_wait" in manure) is not refused


GOOD = (
    Result("pH", "saturated_paste", 7.2),
    Result("SAR", PASTE, 9),
    soil("EC", 2.6, "dS/m"),
    soil("P", 12),
    soil("K", 200),
)


def salted_roses(library: Library, ratio: float) -> Interpretation:
    sent = (Result("EC", "water_sample", 1.1, "dS/m"), Result("SAR", "water_sample", ratio))
    return report(library, *GOOD, crop="rose", stage="established", water=sent, drainage="free")


def test_nobody_washes_salt_out_with_sodic_water(library: Library) -> None:
    """FAO29 table 1: at SAR 12 to 20 water below 1.3 dS/m severely slows soaking in; at SAR 0 to 3 it does not."""
    hard, good = salted_roses(library, 14), salted_roses(library, 2)
    assert hard.salinity is not None
    assert hard.salinity.leaching is None
    assert "salt.leaching_water_sodic" in [note.code for note in hard.salinity.notes]
    assert hard.summary is not None
    assert hard.summary.verdict.code == "summary.verdict_water_sodic"
    assert hard.summary.actions[0].code == "summary.water_sodic"
    assert good.salinity is not None
    assert good.salinity.leaching is not None
    washing = {note.code for note in good.salinity.leaching.conditions}
    assert "salt.leach_season_standing" in washing  # roses that stand cannot be washed before planting
    assert "salt.leach_season" not in washing


def test_one_answer_on_compost_where_salt_and_phosphorus_both_forbid_it(library: Library) -> None:
    """Common practice: the two reasons in one, no leave for a thin layer beside it, and no meals on nitrate 75."""
    salty = (soil("pH", 7.7), soil("EC", 5, "dS/m"), soil("P", 140), soil("K", 400))
    more = {"requests": ("compost", "manure", "organic_only")}
    full = report(library, *salty, soil("NO3-N", 75), **more)
    said = [item.text.code for item in full.recommendations]
    assert {"rec.compost_saline_and_p", "rec.manure_saline_and_p"} <= set(said)
    assert not [code for code in said if code.startswith("rec.organic_only")]
    poor = [item.text.code for item in report(library, *salty, soil("NO3-N", 5), **more).recommendations]
    assert "rec.organic_only_meals" in poor


def bounds(analyte: str, value: float) -> Result:
    return soil(analyte, value, "mg/kg", "<")


def test_a_report_all_below_detection_is_doubted(library: Library) -> None:
    """Common practice: so many bounds are mostly a lost extract; one real figure ends the doubt."""
    low = (bounds("P", 2), bounds("K", 20), bounds("NO3-N", 1), bounds("Cu", 0.1))
    doubted = report(library, soil("pH", 7.4), *low)
    assert "all_below_detection" in [reason.code for reason in doubted.reasons]
    assert doubted.outcome == "partial"
    trusted = report(library, soil("pH", 7.4), *low, soil("Zn", 2))
    assert "all_below_detection" not in [reason.code for reason in trusted.reasons]


def test_no_copper_or_manganese_from_a_bound(library: Library) -> None:
    """Common practice: copper stays for years and harms if overdone, so a bound buys none, and it is called a bound."""
    answer = report(library, soil("pH", 7.4), bounds("Cu", 0.1), bounds("Mn", 0.5), bounds("P", 2), soil("K", 200))
    found = {item.subject: item for item in answer.recommendations}
    for nutrient in ("Cu", "Mn"):
        assert found[nutrient].kind == "practice"
        assert found[nutrient].rate is None
    for nutrient in ("Cu", "Mn", "P2O5"):
        assert found[nutrient].text.values["value"].code == "rec.value_below"
    exact = report(library, soil("pH", 7.4), soil("Cu", 0.1))
    assert next(item for item in exact.recommendations if item.subject == "Cu").kind == "nutrient"


def test_water_that_brings_the_whole_plan_replaces_it(library: Library) -> None:
    """18 mg/L of nitrate-N bring 0.2265 x 18 = 4.1 lb/acre an inch (unit arithmetic): a foot about 49 lb/acre."""
    base = (soil("pH", 7.6), soil("P", 35), soil("K", 280), Result("OM", "walkley_black", 3, "%"))
    for value, covered in ((18, True), (6, False)):
        answer = report(library, *base, water=well_nitrate(value))
        nitrogen = next(item for item in answer.recommendations if item.subject == "N")
        assert (nitrogen.text.code == "rec.n_water_covers") is covered
        assert nitrogen.kind == ("none_needed" if covered else "nutrient")
