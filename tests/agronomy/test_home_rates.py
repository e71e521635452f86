"""Phosphate, potash and zinc where a home garden or a field is short of them, by the publisher that has an amount."""

from datetime import date
from typing import Any

import pytest
from making import case_of
from plans import LB_1000_FT2, LB_ACRE, code, dosed, plan

from service.agronomy.findings import Recommendation
from service.agronomy.ratings import rate
from service.agronomy.submission import Depth, IrrigationWater, Quantity, Result
from service.agronomy.tables import Library

GARDEN: dict[str, Any] = {"crop": "vegetable-garden", "stage": None, "depth": Depth(0, 8, "in")}
PER_100 = 10 * LB_1000_FT2


def olsen(value: float) -> Result:
    return Result("P", "olsen", value, "mg/kg")


def lb_100(item: Recommendation) -> float:
    return (item.base_rate or 0.0) / PER_100


def lb_acre(item: Recommendation) -> float:
    return (item.base_rate or 0.0) / LB_ACRE


@pytest.mark.parametrize(("value", "rate_100"), [(4, 0.2875), (6.9, 0.2875), (7, 0.115), (14.9, 0.115)])
def test_phosphate_for_a_home_garden(library: Library, value: float, rate_100: float) -> None:
    """csu-gn711: 1/4 to 1 lb of 0-46-0 per 100 ft2 where phosphorus is low: 0.115 to 0.46 lb P2O5. csu-0502: low below
    7 mg/kg Olsen, medium below 15. In the medium class the lower end, which is practice."""
    item = plan(library, olsen(value), **GARDEN)["P2O5"]
    assert (item.kind, item.calibration) == ("nutrient", "colorado")
    assert lb_100(item) == pytest.approx(rate_100)
    assert "csu-gn711" in item.sources


def test_no_phosphate_where_a_garden_has_enough(library: Library) -> None:
    assert plan(library, olsen(15), **GARDEN)["P2O5"].kind == "none_needed"


@pytest.mark.parametrize(("value", "rate_100"), [(40, 0.2125), (61, 0.125), (120, 0.125)])
def test_potash_for_a_home_garden(library: Library, value: float, rate_100: float) -> None:
    """csu-gn711: 1/4 to 1/2 lb of 0-0-50 or 0-0-60 per 100 ft2: 0.125 to 0.3 lb K2O; csu-0502: low below 61."""
    item = plan(library, Result("K", "ammonium_acetate", value, "mg/kg"), **GARDEN)["K2O"]
    assert lb_100(item) == pytest.approx(rate_100)


def test_a_garden_s_phosphate_is_worked_in_before_planting_or_in_fall(library: Library) -> None:
    """csu-gn711: best in spring or fall, when it can be tilled in."""
    for day, when in ((date(2026, 4, 20), "before_planting"), (date(2026, 8, 1), "fall_worked_in")):
        item = plan(library, olsen(4), **GARDEN, day=day)["P2O5"]
        assert [dose.when.code for dose in item.applications] == [f"when.{when}"]


def test_a_short_value_is_judged_by_a_publisher_that_has_an_amount(library: Library) -> None:
    """usu-soiltest-2008 and csu-0502 both call 6 mg/kg Olsen low; only Colorado prints a rate for gardens: class and
    amount are Colorado's, Utah stands beside it. A table asked for by name stays."""
    here = case_of(library, olsen(6), **GARDEN, region="US-UT")
    (finding,) = rate(here).findings
    assert (finding.rating, finding.calibration) == ("low", "colorado")
    assert "utah" in [rival.calibration for rival in finding.rivals]
    (item,) = [item for item in dosed(here).recommendations if item.subject == "P2O5"]
    assert item.calibration == "colorado"
    (named,) = rate(case_of(library, olsen(6), **GARDEN, options={"calibration": "utah"})).findings
    assert named.calibration == "utah"
    (enough,) = rate(case_of(library, olsen(20), **GARDEN, region="US-UT")).findings
    assert (enough.rating, enough.calibration) == ("sufficient", "utah")


@pytest.mark.parametrize("region", ["US-CO", "US-UT", "US-XX"])
@pytest.mark.parametrize("crop", ["corn-grain", "corn-silage"])
def test_corn_zinc_by_dtpa(library: Library, crop: str, region: str) -> None:
    """unl-ec117 (recalled): 10 lb/acre below 0.41 mg/kg on limy soil, 5 below 0.81, none above; broadcast once."""
    lime = Result("lime", "acid_fizz", text="strong")
    for value, pounds in ((0.4, 10), (0.7, 5)):
        item = plan(library, Result("Zn", "dtpa", value, "mg/kg"), lime, crop=crop, stage=None, region=region)["Zn"]
        assert (item.kind, item.calibration) == ("nutrient", "nebraska")
        assert lb_acre(item) == pytest.approx(pounds)
        assert item.applications
    enough = plan(library, Result("Zn", "dtpa", 0.9, "mg/kg"), lime, crop=crop, stage=None, region=region)["Zn"]
    assert enough.kind == "none_needed"


@pytest.mark.parametrize(("value", "seeding", "standing"), [(2.5, 200, 100), (5, 150, 75), (9, 50, 0), (12, 0, 0)])
def test_alfalfa_phosphate_by_bicarbonate_dtpa(library: Library, value: float, seeding: float, standing: float) -> None:
    """csu-0537 prints its rates by class; csu-0502 gives the classes for Olsen and for AB-DTPA side by side."""
    test = Result("P", "ab_dtpa", value, "mg/kg")
    new = plan(library, test, crop="new-alfalfa", stage="seeding", day=date(2026, 7, 28))["P2O5"]
    assert lb_acre(new) == pytest.approx(seeding)
    if seeding:
        assert code(new) == "p_needed_new_stand"
        assert [(dose.from_date, dose.to_date) for dose in new.applications] == [(date(2026, 7, 28), date(2026, 9, 15))]
    stand = plan(library, test, crop="alfalfa", stage="established")["P2O5"]
    assert lb_acre(stand) == pytest.approx(standing)


def test_a_standing_stand_is_topdressed(library: Library) -> None:
    """Practice: fall or early spring, whichever comes first; phosphate cannot be worked in under alfalfa."""
    for day, when in ((date(2026, 3, 20), "early_spring"), (date(2026, 5, 1), "fall")):
        item = plan(library, olsen(6), crop="alfalfa", stage="established", day=day)["P2O5"]
        assert (code(item), [dose.when.code for dose in item.applications]) == ("p_needed_standing", [f"when.{when}"])


@pytest.mark.parametrize("crop", ["onion", "market-onion"])
def test_onions_go_by_their_own_table(library: Library, crop: str) -> None:
    """uc-bull1879 (recalled): no response to phosphate from 12 mg/kg Olsen on, possible from 8."""
    (finding,) = rate(case_of(library, olsen(18), crop=crop, stage=None)).findings
    assert (finding.calibration, finding.rating) == ("california", "sufficient")


def test_a_small_remainder_is_said_with_its_figure(library: Library) -> None:
    """osu-fr43-1965: 20 lb N before seeding alfalfa; 6 mg/kg of nitrate over 8 in are 14.4 lb: 5.6 lb are left."""
    nitrate = Result("NO3-N", "kcl_extract", 6, "mg/kg")
    more: dict[str, Any] = {"depth": Depth(0, 8, "in"), "options": {"units": "us_field"}}
    item = plan(library, nitrate, crop="new-alfalfa", stage="seeding", **more)["N"]
    assert (item.kind, code(item)) == ("none_needed", "n_small_remainder")
    assert item.text.values["rate"] == (5.6, "lb/acre")


def test_chile_by_its_preplant_range_and_the_rule_for_later(library: Library) -> None:
    """ua-veg-guidelines sec. 3.13: 10-40 lb/acre before planting; side-dress (30 - ppm) x 4 by a later test."""
    item = plan(library, Result("pH", "water_1_1", 7.9), crop="market-chile", stage="seeding", day=date(2026, 3, 15))[
        "N"
    ]
    assert lb_acre(item) == pytest.approx(25)
    rule = item.text.values["more"]
    assert rule.code == "rec.n_more_side_dress"
    assert (rule.values["threshold"], rule.values["factor"]) == (Quantity(30, "mg/kg"), Quantity(4, "lb/acre"))


def test_vegetable_zinc_falls_with_the_test(library: Library) -> None:
    """ua-veg-guidelines sec. 2.5: 0-15 lb/acre, more as the test falls, none from 1.5 mg/kg; the line is practice."""
    for value, pounds in ((0.5, 10), (1.0, 5)):
        item = plan(library, Result("Zn", "dtpa", value, "mg/kg"), crop="market-chile", stage=None)["Zn"]
        assert lb_acre(item) == pytest.approx(pounds)
    assert (
        plan(library, Result("Zn", "dtpa", 1.5, "mg/kg"), crop="market-chile", stage=None)["Zn"].kind == "none_needed"
    )


def test_chile_that_needs_none_at_planting_is_still_fed_by_a_later_test(library: Library) -> None:
    """ua-veg-guidelines sec. 3.13: 4 lb/acre per mg/kg and foot: 12 mg/kg hold more than the 25 lb before planting; the
    season's nitrogen is given by later tests, so it is no *none needed*. Water of the season comes after planting."""
    nitrate = Result("NO3-N", "kcl_extract", 12, "mg/kg", depth=Depth(0, 12, "in"))
    item = plan(library, nitrate, crop="market-chile", stage="seeding")["N"]
    assert (item.kind, item.rate, code(item)) == ("practice", None, "n_none_at_planting")
    assert item.text.values["more"].code == "rec.n_more_side_dress"
    water = IrrigationWater((Result("NO3-N", "water_sample", 20, "mg/L"),), Quantity(36, "in"))
    fed = plan(library, Result("pH", "water_1_1", 7.9), crop="market-chile", stage="seeding", irrigation_water=water)[
        "N"
    ]
    assert lb_acre(fed) == pytest.approx(25)
