"""Which rate rows fit a submission, what a row gives, and the bounds of rows and classes in symbols."""

from datetime import date
from typing import Any

import pytest
from making import case_of
from plans import LB_1000_FT2, LB_ACRE, code, dosed, plan

from service.agronomy import timing
from service.agronomy.calibration import rule
from service.agronomy.doses import prepare_doses
from service.agronomy.dosing import EQUATIONS
from service.agronomy.findings import EditionRef, Recommendation
from service.agronomy.plot import prepare_settings
from service.agronomy.ratings import rate
from service.agronomy.setting import CONDITIONS, Setting
from service.agronomy.submission import Depth, Quantity, Result
from service.agronomy.tables import AmountRow, Band, Library, ScheduleRow


def setting(library: Library, lime: bool | None = None, **more: Any) -> Setting:
    case = case_of(library, Result("P", "olsen", 20, "mg/kg"), **more)
    assert case.crop is not None
    return library.index(prepare_settings).plot(case, case.crop, None, None, lime).setting


@pytest.mark.parametrize(
    ("word", "true", "false"),
    [
        ("overseeded", {"condition": {"overseeded": True}}, {"condition": {"overseeded": False}}),
        ("in_turf", {"condition": {"in_turf": True}}, {"condition": {"in_turf": False}}),
        ("organic_only", {"condition": {"organic_only": True}}, {"condition": {"organic_only": False}}),
        ("clippings_removed", {"condition": {"clippings": "removed"}}, {"condition": {"clippings": "returned"}}),
        ("clippings_returned", {"condition": {"clippings": "returned"}}, {"condition": {"clippings": "removed"}}),
        ("poor_growth", {"symptoms": ("stunting",)}, {"symptoms": ("ponding",)}),
        ("sand", {"texture": "loamy_sand"}, {"texture": "loam"}),
        ("not_sand", {"texture": "loam"}, {"texture": "sand"}),
        ("calcareous", {"lime": True}, {"lime": False}),
        ("not_calcareous", {"lime": False}, {"lime": True}),
    ],
)
def test_condition_words(library: Library, word: str, true: dict[str, Any], false: dict[str, Any]) -> None:
    """A condition holds only when it is known to be true; what nobody said is not true."""
    assert setting(library, **true).holds(word)
    assert not setting(library, **false).holds(word)
    if word != "not_sand":
        assert not setting(library).holds(word)
    assert not setting(library).holds("a word nobody knows")


def test_every_condition_and_equation_of_the_tables_is_known(library: Library) -> None:
    """A condition the core does not know is never true: a row with a misspelled one would silently never apply."""
    rows = [row for table in library.tables.values() for row in table]
    words = {row.when for row in rows if isinstance(row, AmountRow)}
    words |= {row.condition for row in rows if isinstance(row, ScheduleRow)}
    assert words - set(CONDITIONS) - {""} == set()
    assert {row.equation for row in rows if isinstance(row, AmountRow)} - {""} <= set(EQUATIONS)


@pytest.mark.parametrize(
    ("pH", "calcium", "texture", "holds"),
    [
        (8.3, 401, "silt_loam", True),
        (8.3, 401, "silty_clay_loam", True),
        (8.2, 401, "silt_loam", False),
        (8.3, 400, "silt_loam", False),
        (8.3, 401, "loam", False),
    ],
)
def test_limy_silt_is_known_by_three_signs_together(
    library: Library, pH: float, calcium: float, texture: str, holds: bool
) -> None:
    """msu-alfalfa-1998, P guidelines: Olsen P 18 to 24 ppm is fed only where pH is above 8.2, calcium above 400 ppm and
    the texture silt loam or silty clay loam."""
    results = [Result("pH", "water_1_1", pH, None), Result("Ca", "ammonium_acetate", calcium, "mg/kg")]
    case = case_of(library, *results, texture=texture)
    assert case.crop is not None
    plot = library.index(prepare_settings).plot(case, case.crop, None, None, True)
    assert plot.setting.holds("calcareous_silty") is holds


def test_an_overseeded_lawn_goes_by_its_own_row(library: Library) -> None:
    """A row for a known condition comes before rows for everybody."""
    for overseeded, calibration in ((True, "western-practice"), (None, "general-turf")):
        item = plan(library, crop="bermudagrass-lawn", condition={"overseeded": overseeded})["N"]
        assert item.calibration == calibration


def test_settings_alike_are_one(library: Library) -> None:
    assert setting(library) is setting(library)
    assert setting(library) is not setting(library, texture="sand")


BAND: dict[str, Any] = {"calibration": "x", "analyte": "P", "method": "olsen", "sources": ("practice",)}
BAND |= {"verification": "practice", "unit": "mg/kg", "rating": "low"}


@pytest.mark.parametrize(
    ("bounds", "symbols"),
    [
        ({"lower": 1.0, "upper": 2.0}, "lower <= x < upper"),
        ({"lower": 1.0, "upper": 2.0, "lower_inclusive": False, "upper_inclusive": True}, "lower < x <= upper"),
        ({"upper": 2.0}, "x < upper"),
        ({"lower": 1.0}, "lower <= x"),
        ({}, "x"),
    ],
)
def test_bounds_in_symbols(bounds: dict[str, Any], symbols: str) -> None:
    assert rule(Band(**BAND, **bounds)) == symbols


@pytest.mark.parametrize(
    ("value", "why", "shown"),
    [
        (3, "rated_below", {"upper": (8, "mg/kg")}),
        (10, "rated_between", {"lower": (8, "mg/kg"), "upper": (19, "mg/kg")}),
        (30, "rated_above", {"lower": (19, "mg/kg")}),
    ],
)
def test_what_a_finding_says_of_its_class(library: Library, value: float, why: str, shown: dict[str, Any]) -> None:
    """umn-turf-bu1731: below 8, 8 to 19, 19 and more."""
    (finding,) = rate(case_of(library, Result("P", "olsen", value, "mg/kg"))).findings
    assert finding.why.code == f"finding.{why}"
    assert {name: limit for name, limit in finding.why.values.items() if name != "rating"} == shown
    assert finding.band is not None
    assert (finding.band.lower, finding.band.upper) == (
        shown.get("lower", (None,))[0],
        shown.get("upper", (None,))[0],
    )


def test_a_gap_names_the_classes_around_it(library: Library) -> None:
    """osu-ec1478, Olsen P: low below 10, high from 25."""
    case = case_of(library, Result("P", "olsen", 15, "mg/kg"), crop="tomato", options={"calibration": "oregon-east"})
    (finding,) = rate(case).findings
    values = finding.why.values
    assert (values["lower"], values["upper"]) == ((10, "mg/kg"), (25, "mg/kg"))
    assert (values["below"].word, values["above"].word) == ("low", "high")
    assert finding.calibration == "oregon-east"
    assert finding.sources == ("osu-ec1478",)


def test_an_inclusive_bound_of_a_rate(library: Library) -> None:
    """msu-alfalfa-1998 prints its first rate for 8 mg/kg and below."""
    for value, kind in ((8, "nutrient"), (8.000001, "practice")):
        case = case_of(
            library, Result("P", "olsen", value, "mg/kg"), crop="alfalfa", options={"calibration": "montana-alfalfa"}
        )
        object.__setattr__(case.submission.target, "yield_goal", Quantity(5, "ton/acre"))
        (item,) = [item for item in dosed(case).recommendations if item.subject == "P2O5"]
        assert item.kind == kind


def test_exclusive_lower_bounds_of_rates(library: Library) -> None:
    """The first millionth inside an exclusive bound is the next one."""
    shared: dict[str, Any] = {
        "calibration": "x",
        "nutrient": "P2O5",
        "sources": ("practice",),
        "verification": "practice",
    }
    shared |= {"rate_low": 1.0, "rate_high": 1.0, "rate_unit": "lb/acre", "lower": 8.0, "upper": 9.0}
    rows = (AmountRow(**shared), AmountRow(**shared, lower_inclusive=False, upper_inclusive=True))
    crop = library.crops["alfalfa"]
    made = type(crop)(
        **{name: getattr(crop, name) for name in crop.__slots__}
        | {"amounts": rows, "edition": EditionRef("x", "y", "z")}
    )
    first, second = library.index(prepare_doses).of_crop(made)["P2O5"]
    assert (first.first, first.last) == (8_000_000, 8_999_999)
    assert (second.first, second.last) == (8_000_001, 9_000_000)
    assert first.low == pytest.approx(LB_ACRE)


@pytest.mark.parametrize(("qualifier", "value", "rate"), [("<", 8, 1.0), ("<", 5, 1.0), (">", 19, None)])
def test_a_censored_test_is_dosed_when_its_class_is_sure(
    library: Library, qualifier: str, value: float, rate: float | None
) -> None:
    """umn-turf-bu1731: less than 8 is wholly low, more than 19 wholly high."""
    item = plan(library, Result("P", "olsen", value, "mg/kg", qualifier))["P2O5"]
    assert item.base_rate == (None if rate is None else pytest.approx(rate * LB_1000_FT2))


@pytest.mark.parametrize(("qualifier", "value", "rate"), [("<", 4, 110), (">", 16, 20)])
def test_an_equation_takes_the_safe_end_of_an_interval(
    library: Library, qualifier: str, value: float, rate: float
) -> None:
    """msu-eb0161 for less than 4 mg/kg: the rate at 4 (110 lb), never that at 0; for more than 16 the last point."""
    options = {"calibration": "montana"}
    case = case_of(library, Result("P", "olsen", value, "mg/kg", qualifier), crop="alfalfa", options=options)
    (item,) = [item for item in dosed(case).recommendations if item.subject == "P2O5"]
    if item.kind == "nutrient":
        assert item.base_rate == pytest.approx(rate * LB_ACRE)
    else:
        assert qualifier == ">"  # spans the limit of 24 from which none is given


def steps(item: Recommendation) -> list[str]:
    return [step.step for step in item.because]


def test_steps_tell_a_range_from_a_figure_and_from_none(library: Library) -> None:
    items = plan(library, Result("P", "olsen", 5, "mg/kg"), Result("K", "ammonium_acetate", 400, "mg/kg"))
    assert "rate_row" in steps(items["N"])
    assert steps(items["P2O5"]) == ["rate_fixed", "windows_left"]
    assert steps(items["K2O"]) == ["rate_none"]
    assert items["N"].because[0].value == 2.5
    assert items["N"].because[0].unit == "lb/1000 ft2"
    assert items["N"].because[0].sources == ("csu-7202",)


@pytest.mark.parametrize(
    ("crop", "results", "goal", "why"),
    [
        ("winter-wheat", [Result("OM", "loss_on_ignition", 2, "%")], None, "n_needs_yield_goal"),
        ("winter-wheat", [], Quantity(60, "bu/acre"), "n_needs_om"),
        ("winter-wheat", [Result("OM", "loss_on_ignition", 2, "%")], Quantity(60, "ton/acre"), "n_needs_yield_goal"),
    ],
)
def test_what_a_field_lacks_is_named(
    library: Library, crop: str, results: list[Result], goal: Quantity | None, why: str
) -> None:
    """ksu-mf2586 wants a yield goal in bushels and the organic matter; a goal in another kind of unit is none."""
    case = case_of(library, *(results or [Result("pH", "water_1_1", 7)]), crop=crop, stage=None, region="US-KS")
    object.__setattr__(case.submission.target, "yield_goal", goal)
    (item,) = [item for item in dosed(case).recommendations if item.subject == "N"]
    assert (item.kind, code(item), item.calibration) == ("practice", why, "kansas")


def test_kansas_wheat_without_a_nitrate_test_takes_the_publishers_default(library: Library) -> None:
    """ksu-mf2586: 2.4 x 60 - 10 x 2 - 30 = 94 lb/acre."""
    case = case_of(library, Result("OM", "loss_on_ignition", 2, "%"), crop="winter-wheat", stage=None, region="US-KS")
    object.__setattr__(case.submission.target, "yield_goal", Quantity(60, "bu/acre"))
    (item,) = [item for item in dosed(case).recommendations if item.subject == "N"]
    assert item.base_rate == pytest.approx(94 * LB_ACRE)


def test_a_market_chile_is_side_dressed_by_its_nitrate(library: Library) -> None:
    """fx23, ua-veg-guidelines: 18 mg/kg before side-dressing: 48 lb/acre; a home bed goes by the season's plan."""
    nitrate = Result("NO3-N", "kcl_extract", 18, "mg/kg")
    chile: dict[str, Any] = {"crop": "chile-pepper", "stage": "established", "depth": Depth(0, 12, "in")}
    item = plan(library, nitrate, **chile, condition={"use": "market"})["N"]
    assert item.calibration == "arizona"
    assert item.base_rate == pytest.approx(48 * LB_ACRE)
    assert plan(library, nitrate, **chile)["N"].calibration != "arizona"
    untested = plan(library, Result("pH", "water_1_1", 7), **chile, condition={"use": "market"})["N"]
    assert untested.calibration != "arizona"


def heat_trimmed(
    library: Library, schedule: str, today: date, crop: str = "tall-fescue-lawn", stage: str = "established"
) -> list[tuple[date, date]]:
    portions = timing.plan(setting(library, crop=crop, stage=stage), schedule, 1.0, (), today).portions
    return [(portion.start, portion.end) for portion in portions]


def test_windows_are_trimmed_to_the_days_outside_the_heat(library: Library) -> None:
    """Practice: 20 June to 20 August are the hot weeks of cool-season turf."""
    begins, ends = date(2026, 6, 20), date(2026, 8, 20)
    (before,) = heat_trimmed(library, "side_dress", date(2026, 5, 1))
    assert before == (date(2026, 5, 15), date(2026, 6, 19))
    (after,) = heat_trimmed(library, "alfalfa_new", date(2026, 7, 1), stage="planting")
    assert after == (date(2026, 8, 21), date(2026, 9, 15))
    warm = heat_trimmed(library, "side_dress", date(2026, 5, 1), "bermudagrass-lawn")
    assert warm == [(date(2026, 5, 15), date(2026, 8, 15))]
    assert timing.in_heat(setting(library), begins)
    assert timing.in_heat(setting(library), ends)
    assert not timing.in_heat(setting(library), date(2026, 8, 21))
    assert not timing.in_heat(setting(library, crop="bermudagrass-lawn"), begins)


def test_a_dose_that_must_lie_in_the_heat_keeps_the_heat_cap(library: Library) -> None:
    """Practice: at most 0.5 lb soluble N per 1,000 ft2 at once on cool-season turf above 85 F."""
    where = setting(library)
    portions = timing.plan(where, "roses", 3 * LB_1000_FT2, where.caps("N"), date(2026, 7, 1)).portions
    assert portions
    for hot in portions:
        assert hot.cap is not None
        assert hot.cap.row.when == "heat"
        assert hot.rate <= 0.5 * LB_1000_FT2


def test_small_credits_count_too(library: Library) -> None:
    """0.2 mg/kg of nitrate over 8 in is 0.48 lb/acre."""
    garden: dict[str, Any] = {"crop": "vegetable-garden", "stage": None, "depth": Depth(0, 8, "in")}
    om = Result("OM", "loss_on_ignition", 1.0, "%")
    item = plan(library, om, Result("NO3-N", "kcl_extract", 0.2, "mg/kg"), **garden)["N"]
    assert item.base_rate == pytest.approx((2 * 43.56 - 0.48) * LB_ACRE)
