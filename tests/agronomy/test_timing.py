"""When a season's rate is given: windows that remain, doses under their cap, no feeding in the heat.

Sources: Nebraska and Colorado lawn guides for cool-season windows, Kansas State for warm-season lawns (about four
weeks apart, last by 15 August), New York and Minnesota for 1 lb of soluble N at once.
"""

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import case_of
from plans import LB_1000_FT2, code, nitrogen

from service.agronomy import timing
from service.agronomy.findings import Recommendation
from service.agronomy.plot import prepare_settings
from service.agronomy.reference import Cap
from service.agronomy.setting import Setting
from service.agronomy.submission import Result
from service.agronomy.tables import Library
from service.agronomy.units import scaled

COOL, WARM = "tall-fescue-lawn", "bermudagrass-lawn"


def lawn(library: Library, day: date, crop: str = COOL, **more: Any) -> Recommendation:
    return nitrogen(library, crop=crop, day=day, **more)


def names(item: Recommendation) -> list[str]:
    return [dose.when.code.removeprefix("when.") for dose in item.applications]


def setting(library: Library, crop: str = COOL, **more: Any) -> Setting:
    case = case_of(library, crop=crop, **more)
    assert case.crop is not None
    return library.index(prepare_settings).plot(case, case.crop, None, None, None).setting


def test_a_whole_season_in_spring(library: Library) -> None:
    item = lawn(library, date(2026, 4, 20))
    assert names(item) == ["spring", "early_summer", "late_summer", "late_fall"]
    assert code(item) == "n_lawn_cool"


def test_windows_that_passed_are_not_made_up_for(library: Library) -> None:
    """The rate stays the whole season's; the doses are those that remain, and what they hold is said."""
    whole, rest = lawn(library, date(2026, 4, 20)), lawn(library, date(2026, 8, 25))
    assert names(rest) == ["late_summer", "late_fall"]
    assert (rest.rate, rest.base_rate, rest.for_area) == (whole.rate, whole.base_rate, whole.for_area)
    assert code(rest) == "n_lawn_rest"
    assert rest.in_full
    assert not whole.in_full
    assert rest.text.values["season"] == whole.rate
    assert rest.text.values["rate"].value == pytest.approx(sum(dose.rate.value for dose in rest.applications))


def test_in_the_heat_a_cool_season_lawn_waits(library: Library) -> None:
    """Practice: cool-season turf rests in summer heat. A warm-season lawn is fed then (ksu-warmturf)."""
    item = lawn(library, date(2026, 7, 10))
    assert code(item) == "n_lawn_heat"
    assert item.in_full
    assert item.text.values["first"] == item.applications[0].from_date
    assert min(dose.from_date for dose in item.applications if dose.from_date) > date(2026, 8, 20)
    assert "midsummer" in names(lawn(library, date(2026, 7, 10), WARM))


def test_warm_season_lawns_are_last_fed_by_15_august(library: Library) -> None:
    item = lawn(library, date(2026, 4, 20), WARM)
    assert max(dose.to_date for dose in item.applications if dose.to_date) == date(2026, 8, 15)
    assert min(dose.from_date for dose in item.applications if dose.from_date) >= date(2026, 5, 1)


def test_after_the_last_window_comes_the_next_season(library: Library) -> None:
    item = lawn(library, date(2026, 12, 1))
    assert {dose.from_date.year for dose in item.applications if dose.from_date} == {2027}
    assert code(item) == "n_lawn_next"
    assert item.in_full
    late = lawn(library, date(2026, 8, 16), WARM)
    assert {dose.from_date.year for dose in late.applications if dose.from_date} == {2027}


def test_a_window_already_open_begins_today(library: Library) -> None:
    day = date(2026, 5, 1)
    first = lawn(library, day).applications[0]
    assert (first.from_date, first.to_date) == (day, date(2026, 5, 10))


def test_sand_gets_nothing_late_in_fall_and_half_doses(library: Library) -> None:
    """csu-7202: none after late September on very sandy soil; half the dose at once on sand (S-FYN)."""
    item = lawn(library, date(2026, 4, 20), texture="sand")
    assert "late_fall" not in names(item)
    limits = {dose.limit.values.get("limit", dose.limit).code for dose in item.applications if dose.limit}
    assert limits == {"limit.sand"}
    assert all(dose.rate.value <= 0.5 for dose in item.applications)


def test_zones_have_their_own_seasons(library: Library) -> None:
    """Practice: short seasons in zones 3 and 4, none in summer in zones 8 to 10."""
    assert len(names(lawn(library, date(2026, 4, 20), zone="4a"))) == 3
    warm = lawn(library, date(2026, 1, 10), zone="8b")
    assert names(warm)[0] == "early_spring"
    assert not any(dose.from_date.month in (6, 7, 8) for dose in warm.applications if dose.from_date)


def test_ground_fed_lately_waits_for_the_usual_time(library: Library) -> None:
    """Kansas State: about four weeks between feedings. A feeding time with a day left counts as passed."""
    item = lawn(library, date(2026, 4, 20), sample={"fertilized_within_days": 14})
    assert item.applications[0].from_date == date(2026, 5, 4)
    late = lawn(library, date(2026, 4, 20), sample={"fertilized_within_days": 8})
    assert late.applications[0].from_date == date(2026, 5, 25)


def cap_of(library: Library, lb_1000: float) -> Cap:
    (found,) = [cap for cap in setting(library).caps("N") if cap.row.when == "" and cap.row.hard]
    return found._replace(g_m2=lb_1000 * LB_1000_FT2)


def test_a_dose_above_its_cap_is_split_and_what_does_not_fit_is_left_out(library: Library) -> None:
    where, cap = setting(library, WARM), cap_of(library, 1.0)
    many = timing.plan(where, "warm_season_lawn", 6 * LB_1000_FT2, [cap], date(2026, 4, 20))
    assert all(scaled(dose.rate) <= scaled(cap.g_m2) for dose in many.portions)
    # Each window is shorter than four weeks: a second dose does not fit into it.
    assert len(many.portions) == 4
    assert sum(dose.rate for dose in many.portions) == pytest.approx(4 * LB_1000_FT2)


def test_a_long_window_holds_several_doses_four_weeks_apart(library: Library) -> None:
    where, cap = setting(library, "vegetable-garden", stage=None), cap_of(library, 1.0)
    plan = timing.plan(where, "garden", 4 * LB_1000_FT2, [cap], date(2026, 3, 15))
    before = [dose for dose in plan.portions if dose.row.when == "before_planting"]
    assert [dose.rate for dose in before] == [pytest.approx(LB_1000_FT2)] * 2
    assert before[1].start - before[0].start >= timedelta(days=28)
    assert before[1].start - before[0].end == timedelta(days=21)
    assert [dose.apart for dose in before] == [False, True]


@pytest.mark.parametrize("day", [date(2026, 4, 20), date(2026, 5, 4), date(2026, 6, 20)])
def test_two_doses_that_would_pass_the_cap_together_are_never_days_apart(library: Library, day: date) -> None:
    """The cap of half a pound on salty ground is on what lies there at once; practice: three to four weeks between."""
    salty = Result("EC", "saturated_paste_extract", 5.0, "dS/m")
    item = nitrogen(library, salty, crop="tomato", day=day, stage=None)
    assert len(item.applications) > 1
    for before, after in pairwise(item.applications):
        assert after.from_date - before.to_date >= timedelta(days=14)  # type: ignore[operator]
        assert after.limit is not None
        assert after.limit.code == "limit.apart"
        assert (after.limit.values["least"], after.limit.values["usual"]) == (3, 4)
        if before.when == after.when:
            assert after.from_date - before.to_date >= timedelta(days=21)  # type: ignore[operator]


def test_late_summer_and_fall_feeding_of_bluegrass_are_no_single_dose(library: Library) -> None:
    """0.85 and 0.65 lb within five days would be 1.5 lb: New York and Minnesota allow 1 lb of soluble N at once."""
    item = lawn(library, date(2026, 4, 1), "kentucky-bluegrass-lawn", condition={"maintenance": "high"})
    assert {"late_summer", "fall"} <= set(names(item))
    for before, after in pairwise(item.applications):
        if before.rate.value + after.rate.value > 1:
            assert after.from_date - before.to_date >= timedelta(days=14)  # type: ignore[operator]
            assert after.limit is not None
            assert after.limit.code == "limit.apart"


@pytest.mark.parametrize("sown", [date(2026, 8, 20), date(2026, 9, 25), date(2026, 4, 1)])
def test_seedlings_are_fed_weeks_after_the_day_they_could_be_sown(library: Library, sown: date) -> None:
    """csu-turf-seed: fed at seeding; practice: up in one to two weeks, fed again four to six weeks after that."""
    first, second = lawn(library, sown, "new-lawn-seeding", stage=None).applications
    assert first.from_date == sown
    assert timedelta(weeks=5) <= second.from_date - sown <= timedelta(weeks=6)  # type: ignore[operator]
    assert second.to_date > second.from_date  # type: ignore[operator]


def test_a_growing_crop_gets_no_preplant_dose(library: Library) -> None:
    assert names(nitrogen(library, crop="tomato", stage="established")) == ["first_fruit"]
    assert names(nitrogen(library, crop="vegetable-garden", stage="established")) == ["side_dress"]


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    day=st.dates(date(2026, 1, 1), date(2027, 12, 31)),
    crop=st.sampled_from([COOL, WARM, "kentucky-bluegrass-lawn", "buffalograss-lawn", "tomato", "apple"]),
    zone=st.sampled_from([None, "4a", "6b", "9a"]),
    upkeep=st.sampled_from([None, "low", "medium", "high"]),
    texture=st.sampled_from([None, "sand", "clay"]),
)
def test_doses_keep_caps_and_days(
    library: Library, day: date, crop: str, zone: str | None, upkeep: str | None, texture: str | None
) -> None:
    """Property: every dose lies ahead, within its days, in order, under its cap; together they are the season's rate,
    unless the sentence says what they hold of it."""
    condition = {"maintenance": upkeep, "age_years": 6}
    item = nitrogen(library, crop=crop, day=day, zone=zone, texture=texture, condition=condition, stage="established")
    starts = [dose.from_date for dose in item.applications]
    assert starts == sorted(starts)  # type: ignore[type-var]
    for dose in item.applications:
        assert dose.from_date is not None
        assert dose.to_date is not None
        assert day <= dose.from_date <= dose.to_date
        if dose.limit is not None:
            assert dose.rate.value <= dose.limit.values["maximum"].value
    if item.applications and item.rate is not None:
        total = sum(dose.rate.value for dose in item.applications)
        if item.in_full:  # Part of the season is over, or the doses are next year's: said in the sentence.
            assert scaled(total) <= scaled(item.rate.value)
        else:
            assert total == pytest.approx(item.rate.value, rel=0.02)


def test_grass_that_is_yet_to_be_sown_is_no_standing_grass(library: Library) -> None:
    """Practice: potash salts burn standing grass; what is worked in before seeding goes in at once."""
    unsaid, sown = setting(library, "new-lawn-seeding", stage=None), setting(library, COOL, stage=None)
    assert [where.stage for where in (unsaid, sown)] == [None, "established"]
    assert unsaid.caps("K2O") == ()
    assert sown.caps("K2O") != ()
