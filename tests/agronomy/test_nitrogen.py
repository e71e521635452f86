"""Nitrogen: lawns by upkeep, gardens by organic matter, fields by equations, trees by age; credits and refusals.

Sources stand beside the checks; samples are invented.
"""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import case_of
from plans import LB_1000_FT2, LB_ACRE, code, dosed, nitrogen

from service.agronomy.findings import Recommendation
from service.agronomy.nitrogen_credits import Layer, Profile, nitrate_profile
from service.agronomy.submission import Depth, IrrigationWater, OrganicInput, Quantity, Result
from service.agronomy.tables import Library

GARDEN: dict[str, Any] = {"crop": "vegetable-garden", "stage": None, "depth": Depth(0, 8, "in")}
NITRATE = "NO3-N"


def lb_1000(item: Recommendation) -> float:
    """The rate in lb per 1,000 ft2, unrounded."""
    assert item.base_rate is not None
    return item.base_rate / LB_1000_FT2


def lb_acre(item: Recommendation) -> float:
    assert item.base_rate is not None
    return item.base_rate / LB_ACRE


@pytest.mark.parametrize(
    ("crop", "upkeep", "rate"),
    [
        ("tall-fescue-lawn", "low", 2.0),
        ("tall-fescue-lawn", "medium", 2.5),
        ("tall-fescue-lawn", "high", 3.0),
        ("tall-fescue-lawn", None, 2.5),
        ("kentucky-bluegrass-lawn", "low", 2.0),
        ("kentucky-bluegrass-lawn", "medium", 3.0),
        ("kentucky-bluegrass-lawn", "high", 4.5),
        ("bermudagrass-lawn", "low", 2.0),
        ("bermudagrass-lawn", None, 3.0),
        ("bermudagrass-lawn", "high", 4.0),
        ("buffalograss-lawn", None, 1.0),
    ],
)
def test_lawns_by_grass_and_upkeep(library: Library, crop: str, upkeep: str | None, rate: float) -> None:
    """csu-7202: tall fescue 2-3, bluegrass 2-3 at low and 3.5-4.5 at high upkeep; usga-lawn-2024: most lawns 2-4;
    ksu-warmturf: buffalograss 1 lb N per 1,000 ft2 a year."""
    item = nitrogen(library, crop=crop, condition={"maintenance": upkeep})
    assert lb_1000(item) == pytest.approx(rate)


def test_clippings_left_on_the_lawn_take_a_quarter_off(library: Library) -> None:
    """ui-turf-2012 about one fourth, csu-7202 25 to 33 percent: the smaller share is taken."""
    kept = nitrogen(library, condition={"clippings": "returned"})
    removed = nitrogen(library, condition={"clippings": "removed"})
    assert lb_1000(kept) == pytest.approx(0.75 * lb_1000(removed))
    assert lb_1000(nitrogen(library)) == lb_1000(removed)


def test_an_athletic_bermudagrass_field(library: Library) -> None:
    """ksu-warmturf: bermudagrass 4 lb on athletic fields, 3 on high-quality and 2 on low-maintenance home lawns."""
    for condition, rate in (({"use": "sports"}, 4.0), ({"maintenance": "high"}, 3.0), ({"maintenance": "low"}, 2.0)):
        item = nitrogen(library, crop="bermudagrass-lawn", condition=condition, region="US-KS")
        assert item.calibration == "kansas"
        assert lb_1000(item) == pytest.approx(rate)


@pytest.mark.parametrize(("om", "rate"), [(1.99, 2.0), (2.0, 1.0), (3.99, 1.0)])
def test_gardens_by_organic_matter(library: Library, om: float, rate: float) -> None:
    """csu-cmg: 0.2 lb N per 100 ft2 below 2 % organic matter, 0.1 from 2 to 4 %, none above."""
    item = nitrogen(library, Result("OM", "loss_on_ignition", om, "%"), **GARDEN)
    assert lb_1000(item) == pytest.approx(rate)


def test_rich_soil_feeds_the_garden(library: Library) -> None:
    item = nitrogen(library, Result("OM", "loss_on_ignition", 4.0, "%"), **GARDEN)
    assert (item.kind, code(item), item.rate) == ("none_needed", "n_om_covers", None)


def test_untested_organic_matter_is_not_zero(library: Library) -> None:
    """Without the test the plan goes by how much a mixed garden feeds (practice), not by the poorest class."""
    untested = nitrogen(library, Result("pH", "water_1_1", 7.5), **GARDEN)
    zero = nitrogen(library, Result("OM", "loss_on_ignition", 0.0, "%"), **GARDEN)
    assert lb_1000(untested) < lb_1000(zero)
    assert untested.calibration != zero.calibration


def test_soil_nitrate_comes_off_a_garden_by_depth(library: Library) -> None:
    """Practice: 3.6 lb/acre per mg/kg and foot. 10 mg/kg over 8 in is 24 lb/acre."""
    om = Result("OM", "loss_on_ignition", 1.5, "%")
    item = nitrogen(library, om, Result(NITRATE, "kcl_extract", 10, "mg/kg"), **GARDEN)
    assert lb_acre(item) == pytest.approx(2 * 43.56 - 24, rel=1e-3)
    assert "soil_nitrate_credit" in [step.step for step in item.because]


def test_little_left_after_credits_is_nothing(library: Library) -> None:
    """Practice: under about 20 lb/acre is not worth spreading alone. 0.1 lb per 100 ft2 is 43.6 lb/acre."""
    om = Result("OM", "loss_on_ignition", 3, "%")
    keep = nitrogen(library, om, Result(NITRATE, "kcl_extract", 9.8, "mg/kg"), **GARDEN)
    assert lb_acre(keep) >= 20
    none = nitrogen(library, om, Result(NITRATE, "kcl_extract", 9.9, "mg/kg"), **GARDEN)
    assert (none.kind, code(none)) == ("none_needed", "n_small_remainder")
    assert none.text.values["rate"].value == pytest.approx(19.8 / 43.56, abs=0.002)
    covered = nitrogen(library, om, Result(NITRATE, "kcl_extract", 25, "mg/kg"), **GARDEN)
    assert (covered.kind, code(covered)) == ("none_needed", "n_credits_cover")


def test_high_nitrate_holds_nitrogen_back(library: Library) -> None:
    """Practice: from 30 mg/kg in the top foot nitrogen is held back."""
    foot = Depth(0, 12, "in")
    at = [nitrogen(library, Result(NITRATE, "kcl_extract", ppm, "mg/kg"), depth=foot) for ppm in (29.9, 30)]
    assert [item.kind for item in at] == ["nutrient", "none_needed"]
    assert code(at[1]) == "n_nitrate_high"


def test_high_nitrate_under_a_lawn_is_credited_by_its_depth(library: Library) -> None:
    """Practice: 3.6 lb/acre per mg/kg and foot. 45 mg/kg in 4 in are 54 lb/acre: weeks of feeding, not a season's."""
    plain = nitrogen(library, Result(NITRATE, "kcl_extract", 5, "mg/kg"))
    rich = nitrogen(library, Result(NITRATE, "kcl_extract", 45, "mg/kg"))
    assert lb_acre(plain) - lb_acre(rich) == pytest.approx(54)


def test_nitrate_without_a_depth_withholds_the_amount(library: Library) -> None:
    case = case_of(library, Result(NITRATE, "kcl_extract", 10, "mg/kg"), crop="tomato", stage=None, depth=None)
    found = dosed(case)
    (item,) = [item for item in found.recommendations if item.subject == "N"]
    assert (item.kind, item.rate) == ("practice", None)
    assert [(reason.code, reason.severity) for reason in found.reasons] == [("depth_unknown", "withhold")]


def test_a_lawn_needs_no_nitrate_test_and_no_depth(library: Library) -> None:
    case = case_of(library, Result(NITRATE, "kcl_extract", 7, "mg/kg"), depth=None)
    found = dosed(case)
    assert [item.kind for item in found.recommendations if item.subject == "N"] == ["nutrient"]
    assert found.reasons == ()


def water(ppm: float, inches: float | None) -> dict[str, Any]:
    applied = None if inches is None else Quantity(inches, "in")
    return {"irrigation_water": IrrigationWater((Result(NITRATE, "water_sample", ppm, "mg/L"),), applied)}


def test_nitrate_in_the_water_counts_when_its_depth_is_known(library: Library) -> None:
    """uc-inm-water: 0.227 x 10 mg/L x 20 in = 45.4 lb/acre; csu-bmp-water rounds to 0.23, used with Colorado's rate."""
    for crop, credit in (("bermudagrass-lawn", 45.4), ("tall-fescue-lawn", 46.0)):
        plain = lb_acre(nitrogen(library, crop=crop))
        assert plain - lb_acre(nitrogen(library, crop=crop, **water(10, 20))) == pytest.approx(credit, rel=1e-3)
        assert lb_acre(nitrogen(library, crop=crop, **water(10, None))) == plain


def test_a_legume_before_counts(library: Library) -> None:
    """practice: 25 lb/acre after dry bean; the alfalfa credit belongs to Nebraska corn and is not borrowed."""
    om = Result("OM", "loss_on_ignition", 1.5, "%")
    plain = lb_acre(nitrogen(library, om, **GARDEN))
    assert plain - lb_acre(nitrogen(library, om, previous_crop="dry-bean", **GARDEN)) == pytest.approx(25)
    assert lb_acre(nitrogen(library, om, previous_crop="alfalfa", **GARDEN)) == plain


def test_manure_of_known_amount_counts_its_first_season(library: Library) -> None:
    """S-MIDATL9: broiler litter 59 lb N a ton; S-PNW533: 45 % of it in the season: 26.55 lb/acre from one ton."""
    om = Result("OM", "loss_on_ignition", 1.5, "%")
    litter = (OrganicInput("poultry_manure", amount=Quantity(1, "ton/acre"), per="year"),)
    plain = lb_acre(nitrogen(library, om, **GARDEN))
    assert plain - lb_acre(nitrogen(library, om, organic_inputs=litter, **GARDEN)) == pytest.approx(26.55)
    salty = Result("EC", "saturated_paste_extract", 6, "dS/m")
    assert lb_acre(nitrogen(library, om, salty, organic_inputs=litter, **GARDEN)) == pytest.approx(plain / 2)


CORN: dict[str, Any] = {"crop": "corn-grain", "depth": Depth(0, 8, "in"), "stage": None}
PROFILE = (
    Result("OM", "loss_on_ignition", 2.0, "%"),
    Result(NITRATE, "kcl_extract", 3, "mg/kg"),
    Result(NITRATE, "kcl_extract", 3, "mg/kg", depth=Depth(8, 24, "in")),
)


def field(library: Library, *results: Result, goal: float | None = 200, **more: Any) -> Recommendation:
    case = case_of(library, *results, **{**CORN, **more})
    target = case.submission.target
    object.__setattr__(target, "yield_goal", None if goal is None else Quantity(goal, "bu/acre"))
    (item,) = [item for item in dosed(case).recommendations if item.subject == "N"]
    return item


def test_nebraska_corn_end_to_end(library: Library) -> None:
    """fx18, unl-ec117: 200 bu, 3 mg/kg over 2 ft, 2 % organic matter: 195 lb/acre, and no per-foot credit on top."""
    item = field(library, *PROFILE, region="US-NE")
    assert item.calibration == "nebraska"
    assert lb_acre(item) == pytest.approx(195)


def test_a_shallow_sample_is_not_taken_for_the_root_zone(library: Library) -> None:
    """unl-ec117: without a 2-ft sample 3.0 mg/kg is assumed on silt loam or finer, 1.5 on sand."""
    om = Result("OM", "loss_on_ignition", 2.0, "%")
    shallow = field(library, om, Result(NITRATE, "kcl_extract", 20, "mg/kg"), region="US-NE")
    assert lb_acre(shallow) == pytest.approx(195)
    sandy = field(library, om, Result(NITRATE, "kcl_extract", 20, "mg/kg"), region="US-NE", texture="sand")
    assert lb_acre(sandy) == pytest.approx(195 + 8 * 1.5)


def test_own_credits_only(library: Library) -> None:
    """k09, k10: an equation is used with its own publisher's credits. Nebraska credits alfalfa (90 lb after a poor
    stand, the least it prints), Colorado's equation has no credit of its own in the tables."""
    plain, after = (field(library, *PROFILE, region="US-NE", previous_crop=crop) for crop in (None, "alfalfa"))
    assert lb_acre(plain) - lb_acre(after) == pytest.approx(90)
    colorado = [field(library, *PROFILE, region="US-CO", previous_crop=crop) for crop in (None, "alfalfa")]
    assert lb_acre(colorado[0]) == lb_acre(colorado[1])


def test_a_legume_that_is_not_credited_is_said(library: Library) -> None:
    """k10: never borrow a credit from another state's equation; but a grower must know that none was taken off."""
    case = case_of(library, *PROFILE, **CORN, region="US-CO", previous_crop="alfalfa")
    object.__setattr__(case.submission.target, "yield_goal", Quantity(180, "bu/acre"))
    assert [(reason.code, reason.severity) for reason in dosed(case).reasons] == [("legume_not_credited", "warning")]
    after_corn = case_of(library, *PROFILE, **CORN, region="US-CO", previous_crop="corn-grain")
    object.__setattr__(after_corn.submission.target, "yield_goal", Quantity(180, "bu/acre"))
    assert dosed(after_corn).reasons == ()


def test_colorado_corn_end_to_end(library: Library) -> None:
    """fx27, csu-0538 and csu-0502: 149 lb N, 80 P2O5, no K2O, 10 Zn, all by one publisher."""
    results = (
        Result("OM", "loss_on_ignition", 1.5, "%"),
        Result(NITRATE, "kcl_extract", 8, "mg/kg"),
        Result(NITRATE, "kcl_extract", 8, "mg/kg", depth=Depth(8, 24, "in")),
        Result("P", "olsen", 5, "mg/kg"),
        Result("Zn", "ab_dtpa", 0.7, "mg/kg"),
        Result("K", "ammonium_acetate", 250, "mg/kg"),
    )
    case = case_of(library, *results, **CORN, region="US-CO")
    object.__setattr__(case.submission.target, "yield_goal", Quantity(180, "bu/acre"))
    found = {item.subject: item for item in dosed(case).recommendations}
    assert {name: round(lb_acre(found[name])) for name in ("N", "P2O5", "Zn")} == {"N": 149, "P2O5": 80, "Zn": 10}
    assert found["K2O"].kind == "none_needed"
    assert {item.calibration for item in found.values()} == {"colorado"}


def test_a_field_without_its_yield_goal_gets_no_amount(library: Library) -> None:
    item = field(library, *PROFILE, goal=None)
    assert (item.kind, item.rate, code(item)) == ("practice", None, "n_needs_yield_goal")


def test_fruit_trees_by_age(library: Library) -> None:
    """usu-roper-2017: 1 oz N a year of age, at most 8 oz; 28.3495 g to the ounce."""
    for age, ounces in ((1, 1), (5, 5), (8, 8), (20, 8)):
        item = nitrogen(library, crop="apple", condition={"age_years": age})
        assert item.base_rate == pytest.approx(ounces * 28.349523125)
        assert item.rate is not None
        assert item.rate.unit == "lb/tree"
        assert item.for_area is None
    told = nitrogen(library, crop="apple")
    assert (told.kind, code(told)) == ("practice", "n_needs_age")


@pytest.mark.parametrize(
    ("crop", "stage", "condition", "why"),
    [
        ("apple", "newly_planted", {"age_years": 1}, "n_new_tree"),
        ("shade-tree", "planting", {}, "n_new_tree"),
        ("shade-tree", "established", {}, "n_tree_growing"),
        ("shade-tree", "established", {"in_turf": True}, "n_tree_in_turf"),
        ("apple", "bearing", {"in_turf": True, "age_years": 6}, "n_tree_in_turf"),
        ("alfalfa", "established", {}, "n_none_legume"),
    ],
)
def test_none_is_an_answer(library: Library, crop: str, stage: str, condition: dict[str, Any], why: str) -> None:
    """No fertilizer in the planting year (practice), none while shoots are long (ua-mg-ornamentals), none beyond the
    lawn's for trees in turf (practice), none for a nodulated legume (practice)."""
    item = nitrogen(library, crop=crop, stage=stage, condition=condition)
    assert (item.kind, item.rate, code(item)) == ("none_needed", None, why)


def test_a_tree_that_grows_poorly_may_be_fed(library: Library) -> None:
    """uky-trees: 2-3 lb N per 1,000 ft2 of root area if growth is poor."""
    item = nitrogen(library, crop="shade-tree", symptoms=("poor_growth",))
    assert lb_1000(item) == pytest.approx(2.5)


def test_a_plant_that_does_not_suit_lime_is_not_fed(library: Library) -> None:
    lime = Result("lime", "acid_fizz", text="strong")
    case = case_of(library, Result("pH", "water_1_1", 8), lime, crop="blueberry")
    assert "N" not in [item.subject for item in dosed(case).recommendations]


def test_a_sample_of_which_nothing_stands_gets_no_plan(library: Library) -> None:
    case = case_of(library, Result("P", "home_kit", text="low"))
    assert dosed(case).recommendations == ()


def test_profile_by_depth(library: Library) -> None:
    """Depth-weighted mean, and no credit across a gap."""
    two = Profile((Layer(0, 8, 12), Layer(8, 24, 6)))
    assert two.mean == pytest.approx((12 * 8 + 6 * 16) / 24)
    assert two.to(12).amount(4) == pytest.approx(4 * (12 * 8 + 6 * 4) / 12)
    gap = case_of(
        library,
        Result(NITRATE, "kcl_extract", 12, "mg/kg"),
        Result(NITRATE, "kcl_extract", 6, "mg/kg", depth=Depth(12, 24, "in")),
        depth=Depth(0, 8, "in"),
    )
    found = nitrate_profile(gap)
    assert found is not None
    assert found.bottom == 8


def test_nitrate_below_detection_is_not_credited(library: Library) -> None:
    om = Result("OM", "loss_on_ignition", 1.5, "%")
    censored = nitrogen(library, om, Result(NITRATE, "kcl_extract", 5, "mg/kg", "<"), **GARDEN)
    assert lb_1000(censored) == pytest.approx(2.0)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0, 29.9), st.floats(0, 29.9))
def test_more_nitrate_never_raises_a_garden_plan(library: Library, a: float, b: float) -> None:
    """Property: a missing rate counts as none."""
    om = Result("OM", "loss_on_ignition", 1.0, "%")
    low, high = sorted((a, b))
    first, second = (
        nitrogen(library, om, Result(NITRATE, "kcl_extract", ppm, "mg/kg"), **GARDEN).base_rate or 0.0
        for ppm in (low, high)
    )
    assert first >= second - 1e-9
