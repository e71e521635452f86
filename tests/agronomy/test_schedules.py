"""The table of feeding times, row by row and crop by crop: whole shares, no dose in the heat, none late on trees.

Sources: Kansas State on warm-season lawns (`ksu-warmturf`), Nebraska and Colorado on cool-season lawns (`unl-byf`,
`unl-grobigred-2021`, `csu-7202`), Montana on water after urea (`S-MSU-VOLAT`), a trial on putting greens
(`agronj-2012-greens`). Windows of zones without a source are common practice and marked so in the table.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from calculating import in_unit, result
from making import case_of
from plans import dosed, nitrogen, plan

from service.agronomy import timing
from service.agronomy.doses import prepare_doses
from service.agronomy.findings import Recommendation
from service.agronomy.plot import prepare_settings
from service.agronomy.setting import Setting, prepare_schedules
from service.agronomy.submission import Depth, Quantity, Result
from service.agronomy.tables import Crop, Library, ScheduleRow
from service.agronomy.units import scaled

COOL, WARM = "tall-fescue-lawn", "bermudagrass-lawn"
STAGES = (None, "seeding", "bearing")
ZONES = (None, "3b", "4a", "6b", "8a", "9b")
DAYS = [date(2026, 1, 5) + timedelta(days=12 * place) for place in range(30)]
MIDSUMMER = (7, 31)
WOODY = ("fruit_trees", "shade_trees", "pecan", "pistachio")
FOLLOWS_SEEDING = "new_lawn"
TOP_FOOT = Depth(0, 12, "in")
GOALS = {"bu/acre": 100, "bale/acre": 3, "ton/acre": 5, "lb/acre": 2000}
WITHOUT_RATE = {
    *("artichoke", "blackberry", "blueberry", "bulb-bed", "citrus", "container", "currant", "date-palm", "dry-bean"),
    *("dryland-pasture", "fig", "jujube", "oat", "olive", "peanut", "persimmon", "pomegranate", "rhubarb"),
    *("safflower", "sugar-beet", "sunflower", "walnut"),
}
"""Crops for which no table has a rate of nitrogen, so that there is nothing to date: the answer says so."""


def groups(library: Library) -> Iterator[tuple[tuple[str, str, str], list[ScheduleRow]]]:
    """The rows of one schedule for the same zones and stages."""
    for name, rows in library.index(prepare_schedules).items():
        found: dict[tuple[str, str, str], list[ScheduleRow]] = {}
        for row in rows:
            found.setdefault((name, "|".join(row.zones), "|".join(row.stages)), []).append(row)
        yield from found.items()


def doses(library: Library, crop: str, day: date, **more: Any) -> Recommendation | None:
    return plan(library, crop=crop, day=day, **more).get("N")


def month_day(day: date) -> tuple[int, int]:
    return day.month, day.day


# The table.


def test_the_shares_of_a_season_make_a_whole_or_several_wholes_to_choose_from(library: Library) -> None:
    for name, rows in groups(library):
        if name[0] == timing.HEAT_SCHEDULE:
            continue
        share = sum(row.share for row in rows)
        assert share == pytest.approx(round(share), abs=0.001), name
        assert share > 0.99, name


def test_windows_follow_each_other(library: Library) -> None:
    """A second dose on the day of the first would pass the single-dose cap. What follows the seeding goes by it."""
    for name, rows in groups(library):
        days = [(date(2026, row.from_month, row.from_day), date(2026, row.to_month, row.to_day)) for row in rows]
        for (first, last), (following, _) in pairwise(days):
            assert not first <= following <= last or name[0] == FOLLOWS_SEEDING, name


def test_trees_get_none_after_midsummer(library: Library) -> None:
    """Practice: late nitrogen keeps wood soft into the frost; csu-7612, usu-roper-2017: in spring."""
    for name, rows in groups(library):
        if name[0] in WOODY:
            assert all((row.to_month, row.to_day) <= MIDSUMMER for row in rows), name


def test_a_zone_that_has_rows_for_a_stage_has_the_whole_season_for_any_stage(library: Library) -> None:
    """Otherwise an established lawn of that zone would be left without dates."""
    found = {name for name, _ in groups(library)}
    for schedule, zones, stages in found:
        assert not stages or (schedule, zones, "") in found, (schedule, zones)


# Crop by crop.


def recommended(library: Library, crop: Crop, stage: str | None, use: str | None) -> Recommendation | None:
    """The nitrogen of a crop of which everything a rate may ask for was sent: yield goal, age, trunk, nitrate, OM."""
    results = (
        Result("NO3-N", "kcl_extract", 4, "mg/kg"),
        Result("NO3-N", "kcl_extract", 3, "mg/kg", depth=Depth(12, 24, "in")),
        Result("OM", "loss_on_ignition", 1.5, "%"),
        Result("pH", "saturated_paste", 7.8),
    )
    condition = {"age_years": 4, "trunk_diameter": Quantity(3, "in"), "use": use}
    case = case_of(library, *results, crop=crop.id, stage=stage, condition=condition, depth=TOP_FOOT, region=None)
    rows = library.index(prepare_doses).of_crop(crop).get("N", ())
    unit = next((dose.row.yield_unit for dose in rows if dose.row.yield_unit), None)
    if unit:
        weight = unit.rpartition(" ")[2]  # per 1,000 lb/acre: a goal is sent in lb/acre
        object.__setattr__(case.submission.target, "yield_goal", Quantity(GOALS[weight], weight))
    return next((item for item in dosed(case).recommendations if item.subject == "N"), None)


def test_every_rate_has_dated_doses(library: Library) -> None:
    """All crops at every usual stage: a rate comes with doses, each with its days; who gets no rate is listed here."""
    without: dict[str, str] = {}
    for crop in library.crops.values():
        items = [recommended(library, crop, stage, use) for stage in STAGES for use in (None, "market")]
        for item in items:
            if item is not None and item.kind == "nutrient" and item.rate is not None:
                assert item.applications, crop.id
                assert all(dose.from_date and dose.to_date for dose in item.applications), crop.id
        kinds = {item.kind for item in items if item is not None}
        if not kinds & {"nutrient", "none_needed"}:
            without[crop.id] = next((item.text.code for item in items if item is not None), "left out")
    assert without == dict.fromkeys(WITHOUT_RATE, "rec.n_no_rate_table")


@pytest.mark.parametrize("stage", ["young", "bearing", "established"])
def test_fruit_trees_are_fed_in_spring_by_their_age(library: Library, stage: str) -> None:
    """usu-roper-2017: 1 oz per year of age, at most 8, in spring; none in the year of planting."""
    for years in (2, 6, 12):
        item = nitrogen(library, crop="apple", stage=stage, condition={"age_years": years}, day=date(2026, 3, 1))
        assert item.rate is not None
        assert item.base_rate == pytest.approx(min(years, 8) * 28.349523125)
        assert [dose.when.code for dose in item.applications] == ["when.bud_break"]
    assert nitrogen(library, crop="apple", stage="newly_planted").kind == "none_needed"


SIDE_DRESSED = {
    "sweet-corn": "knee_high",
    "tomato": "first_fruit",
    "melon": "vines_run",
    "broccoli": "three_weeks_set",
    "onion": "before_bulbs",
    "potato": "hilling",
    "lettuce": "thinned",
    "garlic": "spring_regrowth",
}


@pytest.mark.parametrize(("crop", "stage"), SIDE_DRESSED.items())
def test_vegetables_are_side_dressed_by_their_own_growth(library: Library, crop: str, stage: str) -> None:
    """Common practice: half before planting, the rest at the stage of fast growth."""
    whole = nitrogen(library, crop=crop, stage=None, day=date(2026, 1, 10))
    assert [dose.when.code for dose in whole.applications][-1] == f"when.{stage}"
    growing = nitrogen(library, crop=crop, stage="established", day=date(2026, 1, 10))
    assert {dose.when.code for dose in growing.applications} == {f"when.{stage}"}


def test_a_short_crop_is_fed_once_before_planting_or_while_small(library: Library) -> None:
    whole = nitrogen(library, crop="radish", stage=None, day=date(2026, 3, 1))
    small = nitrogen(library, crop="radish", stage="young", day=date(2026, 5, 20))
    assert [dose.when.code for dose in whole.applications] == ["when.before_planting"]
    assert [dose.when.code for dose in small.applications] == ["when.small_plants"]
    assert whole.rate == small.rate


# Heat, caps, windows: every lawn, zone and time of year.


def lawns(library: Library) -> list[Crop]:
    return [crop for crop in library.crops.values() if crop.kind == "lawn"]


def setting(library: Library, crop: str, **more: Any) -> Setting:
    case = case_of(library, crop=crop, **more)
    assert case.crop is not None
    return library.index(prepare_settings).plot(case, case.crop, None, None, None).setting


@pytest.mark.parametrize("zone", ZONES)
def test_no_dose_of_a_cool_season_lawn_lies_in_the_heat(library: Library, zone: str | None) -> None:
    """Practice: summer heat, in every zone its own weeks. A putting green is fed lightly all along (agronj-2012)."""
    for crop in lawns(library):
        if "cool_season" not in crop.traits or timing.PUTTING_GREEN in crop.traits:
            continue
        (heat,) = setting(library, crop.id, zone=zone).schedule(timing.HEAT_SCHEDULE)
        hot = ((heat.from_month, heat.from_day), (heat.to_month, heat.to_day))
        for stage in ("established", "overseeding", "dormant"):
            for day in DAYS[::3]:
                item = doses(library, crop.id, day, zone=zone, stage=stage)
                for dose in item.applications if item else ():
                    assert dose.from_date is not None
                    assert dose.to_date is not None
                    assert month_day(dose.to_date) < hot[0] or month_day(dose.from_date) > hot[1], (crop.id, day, dose)


@pytest.mark.parametrize("ground", [{}, {"texture": "sand"}, {"slope_pct": 20}, {"texture": "sand", "zone": "9b"}])
def test_no_dose_is_above_its_single_dose_cap_or_outside_its_window(library: Library, ground: dict[str, Any]) -> None:
    """Lawns: 1 lb/1000 ft2 of soluble N at once (ny-lawn, umn-askext); half of it on sand (S-FYN) or a slope."""
    limit = 0.5 if ground.get("texture") == "sand" or "slope_pct" in ground else 1.0
    for crop in lawns(library):
        where = setting(library, crop.id, **ground)
        windows = {row.when: row for name in where.library.index(prepare_schedules) for row in where.schedule(name)}
        for day in DAYS[::3]:
            item = doses(library, crop.id, day, condition={"maintenance": "high"}, **ground)
            for dose in item.applications if item else ():
                assert dose.rate.value <= limit + 1e-9, (crop.id, dose)
                assert dose.when.code.removeprefix("when.") in windows, (crop.id, dose)
                assert dose.from_date is not None
                assert dose.to_date is not None
                assert day <= dose.from_date <= dose.to_date


def test_a_warmer_zone_begins_earlier(library: Library) -> None:
    """Practice: growth begins weeks earlier in zone 9 than in zone 4."""
    for crop, stage, more in (
        (WARM, "established", {}),
        ("tomato", None, {}),
        ("apple", "bearing", {"condition": {"age_years": 5}}),
        ("rose", "established", {}),
    ):
        first = []
        for zone in ("9b", "6b", "4a"):
            item = nitrogen(library, crop=crop, stage=stage, zone=zone, day=date(2026, 1, 10), **more)
            first.append(item.applications[0].from_date)
        assert first == sorted(first), crop  # type: ignore[type-var]
        assert first[0] != first[1], crop


def test_turf_seeded_into_is_fed_with_the_seed_and_when_it_is_up(library: Library) -> None:
    """csu-turf-seed for the dose at seeding; the follow-up is practice. Whichever seeding time comes first."""
    for day, month in ((date(2026, 3, 1), 3), (date(2026, 6, 20), 8)):
        item = nitrogen(library, crop=COOL, stage="overseeding", day=day)
        assert [dose.when.code for dose in item.applications][:2] == ["when.at_seeding", "when.weeks_after_emergence"]
        assert item.applications[0].from_date is not None
        assert item.applications[0].from_date.month == month
        assert sum(scaled(dose.rate.value) for dose in item.applications) == pytest.approx(
            scaled(item.rate.value if item.rate else 0), rel=0.02
        )


# Water.


def test_surface_nitrogen_says_how_much_water_brings_it_in(library: Library) -> None:
    """S-MSU-VOLAT: half an inch in one go; common practice for whatever lies on a lawn."""
    (how,) = nitrogen(library).applications[0].how
    assert how.code == "how.water_in_limy"
    assert how.values["depth"] == (0.5, "in")
    metric = nitrogen(library, options={"units": "metric"}).applications[0].how[0]
    assert metric.values["depth"].unit == "mm"
    assert metric.values["depth"].value == pytest.approx(12.7, abs=0.5)
    assert "S-MSU-VOLAT" in nitrogen(library).sources


def test_what_is_worked_in_needs_no_such_line(library: Library) -> None:
    before, beside = nitrogen(library, crop="tomato", stage=None, day=date(2026, 4, 1)).applications
    assert (before.how, len(beside.how)) == ((), 1)


def test_other_nutrients_say_nothing_of_it(library: Library) -> None:
    low = plan(library, Result("P", "olsen", 3, "mg/kg"))["P2O5"]
    assert low.applications
    assert all(dose.how == () for dose in low.applications)


# The calculation, against published schedules.


def schedule(library: Library, crop: str, rate: float, day: date, zone: str | None = "6b") -> list[dict[str, Any]]:
    answer = result(
        library,
        "turf_nitrogen_schedule",
        crop=crop,
        N_rate=(rate, "lb/1000 ft2"),
        area=(1000, "ft2"),
        as_of=day,
        zone=zone,
    )
    return list(answer["applications"])


def rates(library: Library, found: list[dict[str, Any]]) -> list[float]:
    return [in_unit(library, dose["rate"], "lb/1000 ft2") for dose in found]


def test_bermudagrass_as_in_kansas(library: Library) -> None:
    """ksu-warmturf: athletic field 4 lb, 1 lb at a time about four weeks apart from early May, last by 15 August."""
    found = schedule(library, WARM, 4, date(2026, 3, 1))
    assert rates(library, found) == pytest.approx([1, 1, 1, 1])
    assert date(2026, 5, 1) <= found[0]["from"] <= date(2026, 5, 10)
    assert found[-1]["to"] == date(2026, 8, 15)
    assert {note.code for dose in found for note in dose["how"]} == {"how.water_in"}  # nobody spoke of lime
    middles = [dose["from"] + (dose["to"] - dose["from"]) / 2 for dose in found]
    gaps = [(later - earlier).days for earlier, later in pairwise(middles)]
    assert all(24 <= gap <= 32 for gap in gaps)


def test_zoysiagrass_as_in_kansas(library: Library) -> None:
    """ksu-warmturf: half in early June, half in mid-July."""
    found = schedule(library, "zoysiagrass-lawn", 2, date(2026, 3, 1))
    assert rates(library, found) == pytest.approx([1, 1])
    assert [(dose["from"], dose["to"]) for dose in found] == [
        (date(2026, 6, 1), date(2026, 6, 15)),
        (date(2026, 7, 10), date(2026, 7, 25)),
    ]


def test_buffalograss_as_in_kansas(library: Library) -> None:
    """ksu-warmturf: 1 lb in early June."""
    (dose,) = schedule(library, "buffalograss-lawn", 1, date(2026, 3, 1))
    assert (dose["from"].month, dose["to"]) == (6, date(2026, 6, 15))
    assert rates(library, [dose]) == pytest.approx([1])


def test_bluegrass_as_in_nebraska_and_colorado(library: Library) -> None:
    """unl-byf: spring dose 20 April to 10 May, at most 1 lb; unl-grobigred-2021: early summer and about 1 September,
    lighter in late April; csu-7202: late fall."""
    found = schedule(library, "kentucky-bluegrass-lawn", 3, date(2026, 3, 1))
    assert (found[0]["from"], found[0]["to"]) == (date(2026, 4, 20), date(2026, 5, 10))
    assert any(dose["from"] <= date(2026, 9, 1) <= dose["to"] for dose in found)
    assert found[-1]["from"].month == 10
    amounts = rates(library, found)
    assert max(amounts) <= 1
    assert amounts[0] < min(amounts[1:])
    assert sum(amounts) == pytest.approx(3, abs=0.05)


def test_a_putting_green_is_fed_lightly_and_often(library: Library) -> None:
    """agronj-2012-greens: feedings less than 15 days apart; each month's dose is said to be two or three of them."""
    found = schedule(library, "creeping-bentgrass-green", 2, date(2026, 3, 1))
    assert {dose["when"].code for dose in found} == {"when.month_light"}
    assert max(rates(library, found)) < 0.5
    assert len(schedule(library, "creeping-bentgrass-green", 2, date(2026, 3, 1), "4a")) == 5


def test_cold_and_warm_zones_of_the_calculation(library: Library) -> None:
    """Common practice: three doses in a short season; none from June to August where summers are long and hot."""
    assert len(schedule(library, COOL, 3, date(2026, 3, 1), "4a")) == 3
    warm = schedule(library, COOL, 3, date(2026, 1, 10), "9a")
    assert not {dose["from"].month for dose in warm} & {6, 7, 8}
