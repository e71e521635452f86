"""Amounts by soil test: the calibration that rated also doses, none is said aloud, nothing is invented.

Sources stand beside the checks; samples are invented.
"""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import LAWN_RESULTS, case_of
from plans import LB_1000_FT2, LB_ACRE, code, dosed, plan

from service.agronomy import caps
from service.agronomy.findings import Recommendation
from service.agronomy.micronutrients import recommend_boron
from service.agronomy.plot import prepare_settings
from service.agronomy.ratings import rate
from service.agronomy.submission import Depth, IrrigationWater, Quantity, Result
from service.agronomy.tables import Library
from service.agronomy.tested import rated

SLOW = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def olsen(value: float) -> Result:
    return Result("P", "olsen", value, "mg/kg")


def potash(value: float) -> Result:
    return Result("K", "ammonium_acetate", value, "mg/kg")


@pytest.mark.parametrize(("value", "rate"), [(7.9, 1.0), (8, 0.5), (18.9, 0.5)])
def test_lawn_phosphate_by_class(library: Library, value: float, rate: float) -> None:
    """umn-turf-bu1731: 1 lb P2O5 per 1,000 ft2 below 8 mg/kg Olsen, 0.5 from 8 to 18, none above."""
    item = plan(library, olsen(value))["P2O5"]
    assert (item.kind, item.calibration) == ("nutrient", "minnesota-turf")
    assert item.base_rate == pytest.approx(rate * LB_1000_FT2)
    assert item.rate == (rate, "lb/1000 ft2")
    assert item.for_area is not None
    assert item.for_area.value == pytest.approx(rate * 3.2)
    assert item.for_area.unit == "lb"


@pytest.mark.parametrize(
    ("value", "why"), [(19, "p_none_high"), (60, "p_none_high"), (60.1, "p_excess"), (200, "p_excess")]
)
def test_no_phosphate_is_an_answer(library: Library, value: float, why: str) -> None:
    """Above 60 mg/kg Olsen (working line, practice) nothing that carries phosphorus for years."""
    item = plan(library, olsen(value))["P2O5"]
    assert (item.kind, item.rate, item.for_area, item.applications) == ("none_needed", None, None, ())
    assert code(item) == why
    assert item.sources


@pytest.mark.parametrize(("value", "rate"), [(50.9, 3), (51, 2), (100.9, 2), (101, 1), (150.9, 1)])
def test_lawn_potash_by_class(library: Library, value: float, rate: float) -> None:
    """umn-turf-bu1731: 3, 2, 1 lb K2O per 1,000 ft2 below 51, 101 and 151 mg/kg, none from 151 on."""
    item = plan(library, potash(value))["K2O"]
    assert item.base_rate == pytest.approx(rate * LB_1000_FT2)
    assert len(item.applications) == 3


def test_potash_on_salty_ground_is_not_the_chloride(library: Library) -> None:
    """Practice: no potassium chloride where ECe is 4 dS/m or more."""
    salty = Result("EC", "saturated_paste_extract", 4, "dS/m")
    assert code(plan(library, potash(80), salty)["K2O"]) == "k_needed_saline"
    assert code(plan(library, potash(80))["K2O"]) == "k_needed"
    assert plan(library, potash(151))["K2O"].kind == "none_needed"


def test_a_low_class_without_a_printed_rate_stays_without_one(library: Library) -> None:
    """csu-0502 rates Olsen P for cotton and prints no rate: the word, and no figure borrowed from another table."""
    item = plan(library, olsen(4), crop="cotton", stage=None)["P2O5"]
    assert (item.kind, item.rate, item.base_rate, code(item)) == ("practice", None, None, "no_rate_table")
    assert item.calibration == "colorado"


def test_rating_and_rate_never_mix_calibrations(library: Library) -> None:
    """For every crop the rate of a tested nutrient comes from the calibration of its finding."""
    results = (olsen(5), potash(60), Result("Zn", "dtpa", 0.3, "mg/kg"), Result("Mn", "dtpa", 0.4, "mg/kg"))
    for crop in library.crops:
        case = case_of(library, *results, crop=crop)
        for item in dosed(case).recommendations:
            if item.kind == "nutrient" and item.subject != "N":
                assert item.calibration in {
                    band.calibration for band in library.crops[crop].sufficiency if band.analyte == item.subject[:1]
                } | {band.calibration for band in library.crops[crop].sufficiency if band.analyte == item.subject}
                assert item.table is not None


@pytest.mark.parametrize(
    ("stage", "value", "rate", "why"),
    [
        ("planting", 6, 200, "p_needed_new_stand"),
        ("planting", 10, 150, "p_needed_new_stand"),
        ("established", 6, 100, "p_needed_standing"),
        ("established", 10, 75, "p_needed_standing"),
    ],
)
def test_alfalfa_phosphate_by_stage(library: Library, stage: str, value: float, rate: float, why: str) -> None:
    """csu-0537 Tables 3 and 4: new seedings take a three-year supply, established stands a yearly one, lb/acre."""
    item = plan(library, olsen(value), crop="alfalfa", stage=stage)["P2O5"]
    assert item.base_rate == pytest.approx(rate * LB_ACRE)
    assert code(item) == why


def test_alfalfa_by_the_ton_in_montana(library: Library) -> None:
    """fx16, msu-alfalfa-1998: 6-10 lb a ton at 6 mg/kg; the middle for 5 tons is 40 lb. Without a goal, no amount."""
    chosen: dict[str, Any] = {"crop": "alfalfa", "options": {"calibration": "montana-alfalfa"}}
    case = case_of(library, olsen(6), **chosen)
    object.__setattr__(case.submission.target, "yield_goal", Quantity(5, "ton/acre"))
    (item,) = [item for item in dosed(case).recommendations if item.subject == "P2O5"]
    assert item.base_rate == pytest.approx(40 * LB_ACRE)
    told = plan(library, olsen(6), **chosen)["P2O5"]
    assert (told.kind, told.rate, code(told)) == ("practice", None, "needs_yield_goal")


def test_alfalfa_is_interpolated_in_montana(library: Library) -> None:
    """msu-eb0161: 110 at 4 and 75 at 8 mg/kg, so 92.5 at 6."""
    item = plan(library, olsen(6), crop="alfalfa", options={"calibration": "montana"})["P2O5"]
    assert item.base_rate == pytest.approx(92.5 * LB_ACRE)


def test_micronutrients(library: Library) -> None:
    """usu-soiltest-2008: zinc from 0.8, iron from 5, manganese from 1, copper from 0.2 mg/kg DTPA are adequate."""
    enough = plan(
        library,
        Result("Zn", "dtpa", 0.8, "mg/kg"),
        Result("Fe", "dtpa", 5, "mg/kg"),
        Result("Mn", "dtpa", 1, "mg/kg"),
        Result("Cu", "dtpa", 0.2, "mg/kg"),
    )
    assert [enough[nutrient].kind for nutrient in ("Zn", "Fe", "Mn", "Cu")] == ["none_needed"] * 4
    zinc = plan(library, Result("Zn", "dtpa", 0.79, "mg/kg"))["Zn"]
    assert (zinc.kind, code(zinc)) == ("practice", "zn_lawn")
    bed = plan(library, Result("Zn", "dtpa", 0.79, "mg/kg"), crop="perennial-flower-bed", stage=None)["Zn"]
    assert (bed.kind, code(bed)) == ("practice", "zn_no_rate")


def test_iron_on_lime_is_no_matter_for_a_soil_dressing(library: Library) -> None:
    """Practice: iron sulfate is fixed within days where free lime is present; a test above the limit does not rule out
    lime-induced yellowing (k08)."""
    low, lime = Result("Fe", "dtpa", 2, "mg/kg"), Result("lime", "acid_fizz", text="strong")
    item = plan(library, low, lime)["Fe"]
    assert (item.kind, item.rate, code(item)) == ("practice", None, "fe_low_limy")
    assert code(plan(library, low, Result("pH", "water_1_1", 7.5))["Fe"]) == "fe_low_limy"
    assert code(plan(library, low, Result("pH", "water_1_1", 7.4))["Fe"]) == "fe_low"
    enough = plan(library, Result("Fe", "dtpa", 9, "mg/kg"), lime, symptoms=("yellowing_new_leaves",))["Fe"]
    assert (enough.kind, code(enough)) == ("none_needed", "fe_adequate_but_locked")


ALFALFA = {"crop": "alfalfa", "options": {"calibration": "western-practice"}}


def boron(value: float) -> Result:
    return Result("B", "hot_water", value, "mg/kg")


def test_boron_only_after_a_low_test(library: Library) -> None:
    """osu-ec1478: enough from 1.0 mg/kg hot-water boron; more is harmful. Nothing without a test."""
    assert "B" not in plan(library, olsen(20))
    asked = plan(library, olsen(20), requests=("boron",))["B"]
    assert (asked.kind, code(asked)) == ("do_not", "b_do_not_untested")
    high = plan(library, boron(1.0))["B"]
    assert (high.kind, code(high)) == ("do_not", "b_do_not")
    low = plan(library, boron(0.3))["B"]
    assert (low.kind, low.rate, code(low)) == ("practice", None, "b_no_rate")


def test_boron_with_boron_in_the_water_is_refused(library: Library) -> None:
    """Practice: from 0.5 mg/L in the irrigation water none is added."""
    for mg_L, kind in ((0.49, "nutrient"), (0.5, "do_not")):
        water = IrrigationWater((Result("B", "water_sample", mg_L, "mg/L"),))
        item = with_boron_rate(library, water)
        assert item.kind == kind


def with_boron_rate(library: Library, water: IrrigationWater) -> Recommendation:
    """Boron on a target whose own calibration prints a rate."""
    case = case_of(library, boron(0.3), crop="alfalfa", irrigation_water=water)
    assert case.crop is not None
    plot = library.index(prepare_settings).plot(case, case.crop, None, None, None)
    (finding,) = rate(case).findings
    finding.calibration = "western-practice"
    answer = recommend_boron(plot, rated(plot, "B", {"B": finding}))
    assert answer is not None
    return answer.recommendation


def test_depth_unknown_withholds_amounts_and_keeps_none(library: Library) -> None:
    """A class needs no depth, an amount per area does; 'none' stands."""
    found = dosed(case_of(library, olsen(5), potash(400), depth=None))
    kinds = {item.subject: (item.kind, item.rate) for item in found.recommendations}
    assert kinds["P2O5"] == ("practice", None)
    assert kinds["K2O"] == ("none_needed", None)
    assert [(reason.code, reason.severity, reason.analyte) for reason in found.reasons] == [
        ("depth_unknown", "withhold", "P")
    ]


def test_what_was_not_tested_is_not_there(library: Library) -> None:
    """Missing is never zero: no phosphorus result, no word on phosphate; a result of zero is the lowest class."""
    untested, zero = plan(library, potash(200)), plan(library, olsen(0))
    assert "P2O5" not in untested
    assert zero["P2O5"].kind == "nutrient"


def test_a_withheld_result_gets_no_amount(library: Library) -> None:
    items = plan(library, *LAWN_RESULTS, Result("Zn", "dtpa", 0.1, "mg/kg"), sample={"container": "galvanized"})
    assert "Zn" not in items
    assert items["P2O5"].kind == "none_needed"


def test_no_crop_no_amounts(library: Library) -> None:
    assert dosed(case_of(library, olsen(5), crop=None)).recommendations == ()


def test_what_to_buy(library: Library) -> None:
    items = plan(library, olsen(5), potash(400), requests=("fertilizer",))
    assert code(items["fertilizer"]) == "fertilizer_buy_only"
    assert [word.word for word in items["fertilizer"].text.values["spared"]] == ["K2O"]
    assert [word.word for word in items["fertilizer"].text.values["needed"]] == ["N", "P2O5"]


def test_the_quiet_lawn(library: Library) -> None:
    """An ordinary lawn: nitrogen alone, everything else none needed, no reason to look."""
    found = dosed(case_of(library))
    assert [(item.subject, item.kind) for item in found.recommendations] == [
        ("N", "nutrient"),
        ("P2O5", "none_needed"),
        ("K2O", "none_needed"),
        ("Zn", "none_needed"),
        ("Fe", "none_needed"),
        ("Mn", "none_needed"),
        ("Cu", "none_needed"),
    ]
    assert found.reasons == ()


def test_explaining_changes_no_figure(library: Library) -> None:
    for results in ((olsen(5), potash(60)), LAWN_RESULTS):
        told, quiet = (dosed(case_of(library, *results, explain=explain)) for explain in (True, False))
        assert [(item.base_rate, item.text.code) for item in told.recommendations] == [
            (item.base_rate, item.text.code) for item in quiet.recommendations
        ]
        assert all(item.sources and item.verification for item in told.recommendations)
        assert not any(item.because for item in quiet.recommendations)
        assert all(item.because for item in told.recommendations if item.kind == "nutrient")


CALIBRATIONS = [None, "colorado", "utah", "california", "montana", "montana-alfalfa"]


@SLOW
@given(
    st.floats(0, 120), st.floats(0, 120), st.sampled_from(CALIBRATIONS), st.sampled_from(["established", "planting"])
)
def test_more_phosphorus_never_raises_the_dose(
    library: Library, a: float, b: float, calibration: str | None, stage: str
) -> None:
    """Property, for alfalfa by every publisher. A class without a printed rate has no dose to compare."""
    low, high = sorted((a, b))
    first, second = (by_goal(library, olsen(value), calibration, stage)["P2O5"] for value in (low, high))
    if first.kind != "practice":
        assert (first.base_rate or 0.0) >= (second.base_rate or 0.0) - 1e-9


def by_goal(library: Library, result: Result, calibration: str | None, stage: str) -> dict[str, Recommendation]:
    case = case_of(library, result, crop="alfalfa", stage=stage, options={"calibration": calibration})
    object.__setattr__(case.submission.target, "yield_goal", Quantity(6, "ton/acre"))
    return {item.subject: item for item in dosed(case).recommendations}


@SLOW
@given(st.floats(0, 120), st.floats(0, 120))
def test_more_phosphorus_never_raises_a_lawn_s_dose(library: Library, a: float, b: float) -> None:
    low, high = sorted((a, b))
    first, second = (plan(library, olsen(value))["P2O5"].base_rate or 0.0 for value in (low, high))
    assert first >= second


@SLOW
@given(st.floats(0, 60), st.floats(0, 300))
def test_a_change_of_unit_never_changes_an_amount(library: Library, p: float, k: float) -> None:
    """mg/kg, ppm and percent; P as P2O5 and K as K2O (exact atomic masses)."""
    plain = plan(library, olsen(p), potash(k))
    for others in (
        (Result("P", "olsen", p, "ppm"), Result("K", "ammonium_acetate", k / 10_000, "%")),
        (
            Result("P2O5", "olsen", p * 141.942523996 / 61.947523996, "mg/kg"),
            Result("K2O", "ammonium_acetate", k * 94.1956 / 78.1966, "mg/kg"),
        ),
    ):
        same = plan(library, *others)
        for nutrient in ("N", "P2O5", "K2O"):
            assert same[nutrient].base_rate == plain[nutrient].base_rate
            assert same[nutrient].kind == plain[nutrient].kind


def half_a_step(pounds: float) -> float:
    """How far a total may be from the exact one: half a pound's half from ten up, then by the pound and by ten."""
    if pounds < 10:
        return 0.5e-2 * max(pounds, 1e-9) + 1e-9
    return (0.25 if pounds < 100 else 0.5 if pounds < 1000 else 5.0) * (1 + 1e-6)


@SLOW
@given(st.floats(0.1, 1e6), st.floats(0.1, 100))
def test_the_total_scales_with_the_area(library: Library, area: float, times: float) -> None:
    one, many = (plan(library, olsen(5), area=Quantity(value, "ft2")) for value in (area, area * times))
    for nutrient in ("N", "P2O5"):
        first, second = one[nutrient].for_area, many[nutrient].for_area
        assert first is not None
        assert second is not None
        # Rounded once: by half a step of the scale people weigh in, below ten pounds to three figures.
        assert abs(second.value - first.value * times) <= half_a_step(first.value) * times + half_a_step(second.value)
        assert one[nutrient].rate == many[nutrient].rate


@SLOW
@given(st.data())
def test_no_dose_breaks_a_hard_cap(library: Library, data: st.DataObject) -> None:
    """Property: whatever the crop and the figures, nothing here has to be stopped by a hard cap."""
    crop = data.draw(st.sampled_from(sorted(library.crops)))
    more: dict[str, Any] = {
        "stage": data.draw(st.sampled_from([None, "established", "planting", "bearing", "young"])),
        "condition": {
            "maintenance": data.draw(st.sampled_from([None, "low", "high"])),
            "use": data.draw(st.sampled_from([None, "home", "market", "sports"])),
            "age_years": data.draw(st.floats(0, 60)),
        },
        "texture": data.draw(st.sampled_from([None, "sand", "clay_loam"])),
        "depth": Depth(0, 8, "in"),
    }
    figures = st.floats(0, 100)
    results = (
        olsen(data.draw(figures)),
        potash(data.draw(figures)),
        Result("Zn", "dtpa", data.draw(st.floats(0, 3)), "mg/kg"),
        Result("Mn", "dtpa", data.draw(st.floats(0, 3)), "mg/kg"),
        Result("Cu", "dtpa", data.draw(st.floats(0, 1)), "mg/kg"),
        Result("EC", "saturated_paste_extract", data.draw(st.floats(0, 9)), "dS/m"),
    )
    case = case_of(library, *results, crop=crop, **more)
    _, over = caps.enforce(case, dosed(case).recommendations)
    assert [reason for reason in over if reason.analyte != "B"] == []
