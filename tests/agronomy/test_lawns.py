"""Lawns by place and stage: the low desert, winter seed, new lawns, greens; when phosphate and potash go on.

Sources stand beside the checks; windows that no guide prints are common practice.
"""

from datetime import date
from typing import Any

import pytest
from making import case_of
from plans import LB_1000_FT2, code, dosed, manured, nitrogen, plan

from service.agronomy.findings import Note, Recommendation
from service.agronomy.submission import Quantity, Result
from service.agronomy.tables import Library


def lb(item: Recommendation) -> float:
    return (item.base_rate or 0.0) / LB_1000_FT2


def names(item: Recommendation) -> list[str]:
    return [dose.when.code.removeprefix("when.") for dose in item.applications]


def months(item: Recommendation) -> list[int]:
    return [dose.from_date.month for dose in item.applications if dose.from_date]


def more(item: Recommendation) -> str | None:
    follows = item.text.values.get("more")
    return follows.code if isinstance(follows, Note) else None


@pytest.mark.parametrize(
    "place",
    [{"zone": "9b"}, {"zone": "10"}, {"region": "US-AZ"}, {"region": "US-AZ", "elevation": Quantity(1200, "ft")}],
)
def test_bermudagrass_in_the_low_desert(library: Library, place: dict[str, Any]) -> None:
    """Practice of the Southwest: 0.5-1 lb N per 1,000 ft2 a month from May to September."""
    for upkeep, rate in (("low", 2.5), (None, 3.75), ("high", 5.0)):
        item = nitrogen(library, crop="bermudagrass-lawn", condition={"maintenance": upkeep}, **place)
        assert lb(item) == pytest.approx(rate)
        assert months(item) == [5, 6, 7, 8, 9]
        assert more(item) is None


@pytest.mark.parametrize("place", [{"zone": "6"}, {"region": "US-AZ", "elevation": Quantity(7000, "ft")}, {}])
def test_elsewhere_bermudagrass_keeps_the_calendar_of_a_cold_place(library: Library, place: dict[str, Any]) -> None:
    """ksu-warmturf: last fed by 15 August. Where nobody said where the lawn lies, that is said of the dates."""
    item = nitrogen(library, crop="bermudagrass-lawn", **place)
    assert max(dose.to_date for dose in item.applications if dose.to_date) == date(2026, 8, 15)
    assert more(item) == (None if place else "rec.n_more_zone")
    assert more(nitrogen(library, crop="buffalograss-lawn")) is None


OVERSEEDED: dict[str, Any] = {"crop": "overseeded-bermudagrass-lawn"}


def test_winter_grass_is_fed_from_emergence_over_the_new_year(library: Library) -> None:
    """Practice: 0.5 lb a month while either grass grows, none before the seed is up and none in the month before."""
    item = nitrogen(library, **OVERSEEDED, day=date(2026, 10, 5), stage="overseeding")
    assert names(item)[0] == "after_emergence"
    assert months(item) == [10, 11, 12, 1, 2, 3, 4, 5, 6, 7, 8]
    assert lb(item) == pytest.approx(5.5)
    labels = [(dose.when.code, tuple(dose.when.values.items())) for dose in item.applications]
    assert len(set(labels)) == len(labels)
    rye = [dose.rate.value for dose in item.applications if dose.from_date and dose.from_date < date(2027, 5, 1)]
    assert 2.5 <= sum(rye) <= 4


def test_winter_grass_in_january_has_the_rest_of_its_season(library: Library) -> None:
    item = nitrogen(library, **OVERSEEDED, day=date(2027, 1, 15))
    assert months(item) == [1, 2, 3, 4, 5, 6, 7, 8]
    assert code(item) == "n_lawn_rest"


def test_the_seed_of_winter_grass_gets_its_phosphate(library: Library) -> None:
    item = plan(library, Result("P", "olsen", 11, "mg/kg"), **OVERSEEDED, day=date(2026, 10, 5))["P2O5"]
    assert names(item) == ["at_seeding"]


NEW: dict[str, Any] = {"crop": "new-lawn-seeding", "stage": "seeding"}


def test_a_new_lawn_from_seed(library: Library) -> None:
    """csu-turf-seed: 1 lb N per 1,000 ft2 at seeding, fertilizer by the soil test worked in; half a pound when it is
    up is practice. umn-turf-bu1731 (recalled): phosphate for a new lawn 5, 2 and none by Olsen P."""
    results = (Result("P", "olsen", 4, "mg/kg"), Result("K", "ammonium_acetate", 140, "mg/kg"))
    found = plan(library, *results, **NEW, day=date(2026, 8, 20))
    assert [dose.rate.value for dose in found["N"].applications] == [1.0, 0.5]
    assert names(found["N"]) == ["at_seeding", "weeks_after_emergence"]
    assert (code(found["N"]), found["N"].in_full) == ("n_lawn_new", False)
    assert lb(found["P2O5"]) == pytest.approx(5)
    assert names(found["P2O5"]) == ["before_seeding"]
    assert code(found["P2O5"]) == "p_needed_new_lawn"
    assert lb(found["K2O"]) == pytest.approx(1)
    assert lb(plan(library, Result("P", "olsen", 8, "mg/kg"), **NEW)["P2O5"]) == pytest.approx(2)
    assert plan(library, Result("P", "olsen", 19, "mg/kg"), **NEW)["P2O5"].kind == "none_needed"


def test_a_new_lawn_is_sown_at_the_next_time_for_it(library: Library) -> None:
    for day, month in ((date(2026, 4, 20), 4), (date(2026, 7, 1), 8), (date(2026, 10, 20), 3)):
        assert months(nitrogen(library, **NEW, day=day))[0] == month


def test_a_new_lawn_from_sod(library: Library) -> None:
    """usga-lawn-2024: 0.5-1 lb a feeding; when the sod has rooted is practice."""
    item = nitrogen(library, crop="new-lawn-sod", stage="sodding", day=date(2026, 4, 20))
    assert lb(item) == pytest.approx(0.75)
    assert names(item) == ["rooted"]
    phosphate = plan(library, Result("P", "olsen", 4, "mg/kg"), crop="new-lawn-sod", stage="sodding")["P2O5"]
    assert lb(phosphate) == pytest.approx(5)


def test_a_putting_green_is_fed_little_and_often(library: Library) -> None:
    """usga-bentgreens: 1-2 lb a year; agronj-2012-greens: less than 15 days apart. It is fed through the summer."""
    green: dict[str, Any] = {"crop": "creeping-bentgrass-green", "day": date(2026, 4, 1)}
    for upkeep, rate in (("low", 1.0), (None, 1.5), ("high", 2.0)):
        item = nitrogen(library, **green, condition={"maintenance": upkeep})
        assert lb(item) == pytest.approx(rate)
        assert months(item) == [4, 5, 6, 7, 8, 9, 10]
        assert max(dose.rate.value for dose in item.applications) <= 0.3
    assert code(nitrogen(library, **green)) == "n_green"
    assert code(nitrogen(library, **{**green, "day": date(2026, 7, 10)})) == "n_lawn_rest"


def test_steep_grass_gets_half_doses(library: Library) -> None:
    """Practice: from a slope of 15 % no more than 0.5 lb of nitrogen at once."""
    for slope, limit in ((14.9, "limit.single_dose"), (15, "limit.slope")):
        item = nitrogen(library, slope_pct=slope)
        assert {dose.limit.values.get("limit", dose.limit).code for dose in item.applications if dose.limit} == {limit}


@pytest.mark.parametrize(
    ("crop", "day", "when"),
    [
        ("tall-fescue-lawn", date(2026, 4, 20), "spring"),
        ("tall-fescue-lawn", date(2026, 7, 15), "early_fall"),
        ("buffalograss-lawn", date(2026, 5, 20), "late_spring"),
        ("buffalograss-lawn", date(2026, 7, 1), "midsummer"),
    ],
)
def test_phosphate_on_a_lawn_has_a_date(library: Library, crop: str, day: date, when: str) -> None:
    item = plan(library, Result("P", "olsen", 5, "mg/kg"), crop=crop, day=day)["P2O5"]
    assert names(item) == [when]
    assert lb(item) == pytest.approx(1)


def test_late_potash_is_made_up_for_a_pound_at_a_time(library: Library) -> None:
    """umn-turf-bu1731: 2 lb K2O below 101 mg/kg, 3 below 51; practice: about a pound at once on standing grass."""
    summer = plan(library, Result("K", "ammonium_acetate", 95, "mg/kg"), day=date(2026, 7, 15))["K2O"]
    assert [dose.rate.value for dose in summer.applications] == [1.0, 1.0]
    assert not summer.in_full
    late = plan(library, Result("K", "ammonium_acetate", 40, "mg/kg"), day=date(2026, 10, 1))["K2O"]
    assert lb(late) == pytest.approx(3)
    assert all(dose.rate.value <= 1 for dose in late.applications)
    assert more(late) == "rec.more_next_year"
    assert late.in_full


def test_never_manure_on_turf_or_over_its_seed(library: Library) -> None:
    """Practice: manure brings salt and weed seed and burns young grass; a quarter inch of screened compost at most."""
    soil = (Result("P", "olsen", 12, "mg/kg"), Result("EC", "saturated_paste_extract", 1, "dS/m"))
    for crop, stage in (("tall-fescue-lawn", "established"), ("new-lawn-seeding", "seeding")):
        (item,) = manured(library, *soil, requests=("manure",), crop=crop, stage=stage)
        assert (item.kind, item.subject, code(item)) == ("do_not", "manure", "manure_turf")
        assert item.text.values["limit"] == (0.25, "in")


def test_what_is_short_without_an_amount_is_not_called_nothing_to_buy(library: Library) -> None:
    """A low test whose publisher prints no amount: ask, instead of an all-clear."""
    results = (Result("P", "olsen", 9, "mg/kg"), Result("Fe", "dtpa", 9, "mg/kg"))
    case = case_of(library, *results, crop="pecan", stage="newly_planted", requests=("fertilizer",))
    found = {item.subject: item for item in dosed(case).recommendations}
    assert found["P2O5"].kind == "practice"
    assert code(found["fertilizer"]) == "fertilizer_ask"
    assert [word.word for word in found["fertilizer"].text.values["open"]] == ["P2O5"]
