"""What a grower reads of a season's nitrogen: the whole need, what is left of it, what stands in for a missing test.

Every case goes by the guide named beside it; the samples are invented.
"""

from datetime import date
from typing import Any

import pytest
from making import case_of
from plans import LB_1000_FT2, LB_ACRE, code, dosed, nitrogen, plan

from service.agronomy.amounts import Recommended
from service.agronomy.findings import Note, Recommendation
from service.agronomy.submission import Depth, IrrigationWater, OrganicInput, Quantity, Result
from service.agronomy.tables import Library

NITRATE = "NO3-N"
TWO_FEET = (
    Result(NITRATE, "kcl_extract", 9, "mg/kg"),
    Result(NITRATE, "kcl_extract", 6, "mg/kg", depth=Depth(12, 24, "in")),
)
FIELD: dict[str, Any] = {"depth": Depth(0, 12, "in"), "stage": None, "options": {"units": "us_field"}}


def field(library: Library, crop: str, goal: Quantity, *results: Result, day: date, **more: Any) -> Recommended:
    case = case_of(library, *results, **{**FIELD, "crop": crop, **more})
    case.as_of = day
    object.__setattr__(case.submission.target, "yield_goal", goal)
    return dosed(case)


def of(found: Recommended, subject: str) -> Recommendation:
    (item,) = [item for item in found.recommendations if item.subject == subject]
    return item


def said(note: Note) -> list[str]:
    """The codes of a sentence and of those that follow it."""
    codes, follows = [note.code], note.values.get("more")
    return codes + (said(follows) if isinstance(follows, Note) else [])


def names(item: Recommendation) -> list[str]:
    return [dose.when.code.removeprefix("when.") for dose in item.applications]


GOAL = Quantity(110, "bu/acre")


def wheat(library: Library, day: date) -> Recommendation:
    return of(field(library, "winter-wheat", GOAL, *TWO_FEET, day=day, region="US-MT"), "N")


def test_winter_wheat_is_fed_in_fall_and_in_the_spring_after(library: Library) -> None:
    """msu-eb0161: 2.6 lb a bushel less nitrate of 2 ft: 286 - 54 = 232 lb/acre; osu-fg40: at most 40 % before
    planting, the rest at tillering."""
    item = wheat(library, date(2026, 9, 8))
    assert item.rate == (230, "lb/acre")
    assert item.base_rate == pytest.approx(232 * LB_ACRE)
    assert names(item) == ["before_planting", "tillering"]
    assert item.applications[1].from_date == date(2027, 3, 1)
    assert item.applications[0].rate.value <= 0.4 * 230
    assert sum(dose.rate.value for dose in item.applications) == 230
    assert said(item.text) == ["rec.n_field"]


def test_winter_wheat_in_spring_gets_no_date_of_the_next_crop(library: Library) -> None:
    item = wheat(library, date(2027, 3, 15))
    assert names(item) == ["tillering"]
    assert item.applications[0].to_date == date(2027, 5, 10)
    assert item.rate == (230, "lb/acre")
    assert item.for_area is not None
    assert said(item.text) == ["rec.n_field", "rec.n_more_passed_field"]
    assert item.text.values["more"].values["missing"] == (70, "lb/acre")
    assert item.in_full


def test_caps_of_lawns_and_beds_leave_a_salty_field_alone(library: Library) -> None:
    """ua-az1200: 60 lb a bale less the soil's nitrate: 180 - 56 = 124 lb/acre, given in two; the half pound per 1,000
    ft2 on salty ground is a line for lawns and beds (practice)."""
    salty = Result("EC", "saturated_paste_extract", 9.4, "dS/m")
    nitrate = Result(NITRATE, "kcl_extract", 14, "mg/kg")
    found = field(library, "cotton", Quantity(3, "bale/acre"), salty, nitrate, day=date(2026, 4, 20), region="US-AZ")
    item = of(found, "N")
    assert item.rate == (125, "lb/acre")
    assert [dose.rate.value for dose in item.applications] == [60, 65]
    assert [dose.limit for dose in item.applications] == [None, None]
    lawn = nitrogen(library, salty)
    limits = {dose.limit.values.get("limit", dose.limit).code for dose in lawn.applications if dose.limit}
    assert limits == {"limit.saline"}


def test_a_small_dose_on_a_field_goes_with_the_next(library: Library) -> None:
    """Practice: less than about 20 lb/acre is not worth a pass by itself. 0.3 of 60 lb/acre is 18."""
    om = Result("OM", "loss_on_ignition", 2.0, "%")
    results = (om, Result(NITRATE, "kcl_extract", 14.9, "mg/kg", depth=Depth(0, 24, "in")))
    found = field(library, "corn-grain", Quantity(200, "bu/acre"), *results, day=date(2026, 4, 15), region="US-CO")
    item = of(found, "N")
    assert 95 < (item.base_rate or 0) / LB_ACRE < 105
    assert len(item.applications) == 2
    less = (om, Result(NITRATE, "kcl_extract", 20, "mg/kg", depth=Depth(0, 24, "in")))
    small = of(
        field(library, "corn-grain", Quantity(200, "bu/acre"), *less, day=date(2026, 4, 15), region="US-CO"), "N"
    )
    assert 20 < (small.base_rate or 0) / LB_ACRE < 66
    assert names(small) == ["side_dress"]


CORN = (
    Result("OM", "loss_on_ignition", 2.1, "%"),
    Result(NITRATE, "kcl_extract", 16, "mg/kg", depth=Depth(0, 24, "in")),
)
SILAGE = Quantity(28, "ton/acre")


def silage(library: Library, *inputs: OrganicInput, **more: Any) -> Recommended:
    return field(
        library, "corn-silage", SILAGE, *CORN, day=date(2026, 4, 15), region="US-CO", organic_inputs=inputs, **more
    )


def test_manure_comes_off_the_equation_too(library: Library) -> None:
    """csu-0538: credits for manure come off. S-TAMU-ORG: dairy manure 0.5 % N; S-PNW533: 10 % of it in the season:
    20 ton/acre bring 200 lb, 20 of it this season."""
    plain = of(silage(library), "N")
    rich = of(silage(library, OrganicInput("dairy_manure", amount=Quantity(20, "ton/acre"), per="year")), "N")
    assert (plain.base_rate or 0) - (rich.base_rate or 0) == pytest.approx(20 * LB_ACRE)
    assert "organic_credit" in [step.step for step in rich.because]
    flood = of(silage(library, OrganicInput("dairy_manure", amount=Quantity(200, "ton/acre"), per="year")), "N")
    assert flood.kind == "none_needed"


def test_a_field_with_manure_of_unknown_amount_gets_no_figure(library: Library) -> None:
    found = silage(library, OrganicInput("dairy_manure", per="year"))
    item = of(found, "N")
    assert (item.kind, item.rate, code(item)) == ("practice", None, "n_manure_unknown")
    assert ("manure_amount_unknown", "withhold") in [(reason.code, reason.severity) for reason in found.reasons]
    bed = nitrogen(library, crop="tomato", stage=None, organic_inputs=(OrganicInput("steer_manure", per="year"),))
    assert bed.kind == "nutrient"
    assert "rec.n_more_manure" in said(bed.text)


def test_a_default_for_nitrate_is_said(library: Library) -> None:
    """unl-ec117: 3.0 mg/kg is assumed without a deep sample."""
    om = Result("OM", "loss_on_ignition", 2.0, "%")
    found = field(library, "corn-grain", Quantity(200, "bu/acre"), om, day=date(2026, 4, 15), region="US-NE")
    item = of(found, "N")
    assert item.base_rate == pytest.approx(195 * LB_ACRE)
    assert "rec.n_more_assumed" in said(item.text)
    assert item.text.values["more"].values["nitrate"] == (3.0, "mg/kg")
    assert "nitrate_assumed" in [step.step for step in item.because]
    tested = Result(NITRATE, "kcl_extract", 3, "mg/kg", depth=Depth(0, 24, "in"))
    sure = field(library, "corn-grain", Quantity(200, "bu/acre"), om, tested, day=date(2026, 4, 15), region="US-NE")
    assert said(of(sure, "N").text) == ["rec.n_field"]


@pytest.mark.parametrize(
    ("crop", "region"), [("corn-grain", "US-NE"), ("corn-grain", "US-CO"), ("winter-wheat", "US-KS")]
)
def test_no_default_stands_in_for_a_nitrate_that_was_withheld(library: Library, crop: str, region: str) -> None:
    """Two figures for one layer that contradict each other: neither is used, and nothing takes their place."""
    results = (
        Result("OM", "loss_on_ignition", 2.0, "%"),
        Result(NITRATE, "kcl_extract", 5, "mg/kg"),
        Result(NITRATE, "kcl_extract", 45, "mg/kg"),
    )
    item = of(field(library, crop, Quantity(100, "bu/acre"), *results, day=date(2026, 4, 15), region=region), "N")
    assert (item.kind, item.rate, code(item)) == ("practice", None, "n_needs_usable_nitrate")


def test_nitrate_of_unknown_depth_withholds_a_field_s_nitrogen(library: Library) -> None:
    results = (Result("OM", "loss_on_ignition", 2.0, "%"), Result(NITRATE, "kcl_extract", 20, "mg/kg"))
    found = field(
        library, "corn-grain", Quantity(200, "bu/acre"), *results, day=date(2026, 4, 15), region="US-NE", depth=None
    )
    assert code(of(found, "N")) == "n_depth_unknown"
    assert [reason.code for reason in found.reasons] == ["depth_unknown"]


def test_nitrate_by_bicarbonate_dtpa_counts(library: Library) -> None:
    """The extract is made for nitrate too (soltanpour-1977)."""
    garden: dict[str, Any] = {"crop": "vegetable-garden", "stage": None, "depth": Depth(0, 8, "in")}
    om = Result("OM", "loss_on_ignition", 1.5, "%")
    by = [
        nitrogen(library, om, Result(NITRATE, method, 10, "mg/kg"), **garden) for method in ("ab_dtpa", "kcl_extract")
    ]
    assert by[0].base_rate == by[1].base_rate


def test_reclaimed_water_is_credited_by_the_foot_when_its_depth_is_unknown(library: Library) -> None:
    """csu-bmp-water: 0.23 lb/acre per mg/L and inch; 11 mg/L bring 30 lb/acre, 0.7 lb per 1,000 ft2, with each foot."""
    water = IrrigationWater((Result(NITRATE, "water_sample", 11, "mg/L"),))
    item = nitrogen(library, irrigation_water=water)
    (more,) = [note for note in (item.text.values["more"],) if isinstance(note, Note)]
    assert more.code == "rec.n_more_water"
    assert more.values["credit"] == (0.7, "lb/1000 ft2")
    assert more.values["whole"].value == pytest.approx(2.5 * 43.56 / (0.23 * 11), rel=0.02)
    clean = IrrigationWater((Result(NITRATE, "water_sample", 4, "mg/L"),))
    assert said(nitrogen(library, irrigation_water=clean).text) == ["rec.n_lawn_cool"]


def test_an_orchard_is_not_called_a_tree_that_grows_poorly(library: Library) -> None:
    """Practice: 10 lb N for 100 lb of pecans."""
    pecans: dict[str, Any] = {"crop": "pecan", "stage": "bearing", "day": date(2026, 3, 10)}
    goal = Quantity(2000, "lb/acre")
    found = field(library, pecans.pop("crop"), goal, Result("pH", "water_1_1", 8.3), **pecans)
    assert code(of(found, "N")) == "n_orchard"
    assert of(found, "N").base_rate == pytest.approx(200 * LB_ACRE)


def test_zinc_for_pecans_on_limy_soil_goes_on_the_leaves(library: Library) -> None:
    """tamu-pecan-home: 2 lb zinc sulfate in 100 gal, 2 teaspoons in 1 gal, at least three sprays; csu-7612: most fruit
    trees on alkaline soil are sprayed with zinc every year."""
    limy = (Result("pH", "water_1_1", 8.3), Result("Zn", "dtpa", 0.4, "mg/kg"))
    home = plan(library, *limy, crop="pecan", stage="bearing")["Zn"]
    assert (home.kind, code(home), home.sources) == ("nutrient", "zn_foliar_pecan", ("tamu-pecan-home",))
    assert (home.text.values["spoons"], home.text.values["times"]) == (2, 3)
    orchard = plan(library, *limy, crop="pecan", stage="bearing", condition={"use": "market"})["Zn"]
    assert code(orchard) == "zn_foliar_pecan_orchard"
    assert orchard.text.values["amount"] == (2, "lb")
    untested = plan(library, Result("pH", "water_1_1", 8.3), crop="pecan", stage="bearing")
    assert code(untested["Zn"]) == "zn_foliar_pecan"
    apple = plan(library, *limy, crop="apple", stage="bearing")["Zn"]
    assert (apple.kind, code(apple), apple.sources) == ("practice", "zn_foliar_tree", ("csu-7612",))
    sour = plan(
        library, Result("pH", "water_1_1", 6.5), Result("Zn", "dtpa", 0.4, "mg/kg"), crop="apple", stage="bearing"
    )
    assert code(sour["Zn"]) == "zn_no_rate"
    assert "Zn" not in plan(library, Result("pH", "water_1_1", 8.3), crop="apple", stage="bearing")


def test_rates_are_as_fine_as_a_spreader(library: Library) -> None:
    """Practice: 0.05 lb per 1,000 ft2, 5 lb an acre, half a gram a square metre; steps keep the exact figure."""
    for units, step in (("us_garden", 0.05), ("us_field", 5), ("metric", 0.5)):
        item = nitrogen(library, options={"units": units}, condition={"clippings": "returned"})
        assert item.rate is not None
        for quantity in (item.rate, *(dose.rate for dose in item.applications)):
            assert quantity.value / step == pytest.approx(round(quantity.value / step), abs=1e-6)
        assert item.base_rate == pytest.approx(1.875 * LB_1000_FT2)
        assert sum(dose.rate.value for dose in item.applications) == pytest.approx(item.rate.value)
    whole = nitrogen(library, area=Quantity(2, "acre"))
    assert whole.for_area is not None
    assert whole.for_area.value == round(whole.for_area.value)


def test_spring_grain_is_not_fed_in_the_fall_before(library: Library) -> None:
    """osu-fg40: irrigated wheat 0-40 % before planting, the rest at tillering; a spring crop has both in spring."""
    for crop, windows in (("irrigated-wheat", ["before_planting", "tillering"]), ("malt-barley", ["before_planting"])):
        goal = Quantity(80, "bu/acre")
        item = of(field(library, crop, goal, *TWO_FEET, day=date(2026, 9, 8), region="US-MT"), "N")
        assert names(item) == windows
        assert {dose.from_date.year for dose in item.applications if dose.from_date} == {2027}
        assert item.in_full


def test_alfalfa_that_is_planned_gets_the_advice_for_seeding(library: Library) -> None:
    """osu-fr43-1965: 20 lb N before seeding."""
    item = nitrogen(library, Result("pH", "water_1_1", 7.8), crop="alfalfa", stage="planning")
    assert item.base_rate == pytest.approx(20 * LB_ACRE)
