"""A single calculation and the interpretation give the same figure, because the same functions give it."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from calculating import ask, codes, in_unit, result
from making import submission

from service.agronomy.findings import Interpretation, Recommendation
from service.agronomy.interpret import interpret
from service.agronomy.submission import Depth, IrrigationWater, Options, Quantity, Result, Site, Submission
from service.agronomy.tables import Library

DAY = date(2026, 4, 20)
PASTE = "saturated_paste_extract"
IONS = {"Na": (920.0, "mg/L"), "Ca": (160.0, "mg/L"), "Mg": (48.0, "mg/L")}
SODIC = tuple(Result(ion, PASTE, *figure) for ion, figure in IONS.items())
SIX_INCHES = Depth(0, 6, "in")


def interpreted(library: Library, *results: Result, **more: Any) -> Interpretation:
    return interpret(submission(*results, **{"depth": SIX_INCHES, "crop": "tomato", **more}), library, DAY)


def advice(found: Interpretation, subject: str) -> Recommendation:
    return next(item for item in found.recommendations if item.subject == subject)


def test_sar_and_esp(library: Library) -> None:
    found = interpreted(library, *SODIC)
    ratio = result(library, "sar", **IONS)["SAR"]
    assert found.sodium is not None
    assert found.sodium.sar == pytest.approx(ratio, abs=0.005)
    assert found.sodium.esp is not None
    assert found.sodium.esp.value == pytest.approx(result(library, "esp", SAR=ratio)["ESP_pct"], abs=0.05)


def test_gypsum(library: Library) -> None:
    """A sodic bed that drains: the interpretation's rate, before it is rounded for people."""
    found = interpreted(library, *SODIC, Result("CEC", "displacement", 18, "meq/100 g"), drainage="free")
    assert found.sodium is not None
    assert found.sodium.gypsum is not None
    ratio = result(library, "sar", **IONS)["SAR"]
    single = ask(
        library,
        "gypsum",
        CEC_meq_100g=18.0,
        ESP_now_pct=result(library, "esp", SAR=ratio)["ESP_pct"],
        depth=(6, "in"),
    )
    assert in_unit(library, single.result["rate"], "g/m2") == pytest.approx(found.sodium.gypsum.base_rate, rel=1e-5)
    assert {
        "calc.bulk_density_assumed",
        "calc.efficiency_assumed",
        "calc.purity_pct_assumed",
        "calc.ESP_wanted_pct_assumed",
    } <= codes(single)
    doses = single.result["applications"][0]["doses"]
    assert doses == found.sodium.gypsum.applications[0].when.values["count"]


def test_sulfur(library: Library) -> None:
    results = (
        Result("pH", "saturated_paste", 8.0),
        Result("lime", "calcimeter", 0, "%"),
        Result("texture", "feel", text="loam"),
    )
    found = advice(interpreted(library, *results, crop="blueberry", stage="planting", requests=("sulfur",)), "sulfur")
    single = result(library, "sulfur", pH_now=8.0, pH_wanted=6.5, texture="loam", lime_pct=0.0, depth=(6, "in"))
    assert single["advised"] is True
    assert in_unit(library, single["rate"], "g/m2") == pytest.approx(found.base_rate, rel=1e-5)


def test_sulfur_on_lime(library: Library) -> None:
    results = (Result("pH", "saturated_paste", 8.1), Result("lime", "calcimeter", 6, "%"))
    found = advice(interpreted(library, *results, crop=None, requests=("sulfur",)), "sulfur")
    single = result(library, "sulfur", pH_now=8.1, pH_wanted=6.5, texture="loam", lime_pct=6.0, depth=(6, "in"))
    assert found.kind == "do_not"
    told = found.text.values["sulfur"]
    assert in_unit(library, single["lime_neutralization"], told.unit) == pytest.approx(told.value, rel=0.005)


@pytest.mark.parametrize("method", ["sikora", "smp", "mehlich_buffer"])
def test_lime(library: Library, method: str) -> None:
    """The default aim of the interpretation is pH 6.5."""
    results = (Result("pH", "water_1_1", 5.4), Result("buffer_pH", method, 6.2))
    found = advice(interpreted(library, *results, crop=None, requests=("lime",)), "lime")
    single = result(
        library, "lime", buffer_method=method, buffer_pH=6.2, pH_now=5.4, pH_wanted=6.5, depth=(6, "in"), ECCE_pct=100.0
    )
    assert in_unit(library, single["rate"], "g/m2") == pytest.approx(found.base_rate, rel=1e-5)


@pytest.mark.parametrize("method", ["water_1_1", "water_1_2", "water_1_5"])
@pytest.mark.parametrize("texture", ["sandy_loam", "loam", "clay"])
def test_ece_estimate(library: Library, method: str, texture: str) -> None:
    found = interpreted(library, Result("EC", method, 1.1, "dS/m"), texture=texture).salinity
    assert found is not None
    assert found.ece is not None
    single = result(library, "ece_estimate", EC_dS_m=1.1, method=method, texture=texture)
    assert (single["value"], single["low"], single["high"]) == (found.ece.value, found.ece.low, found.ece.high)


@pytest.mark.parametrize("crop", ["snap-bean", "tomato", "alfalfa", "onion"])
def test_relative_yield(library: Library, crop: str) -> None:
    found = interpreted(library, Result("EC", PASTE, 3.8, "dS/m"), crop=crop).salinity
    assert found is not None
    single = result(library, "relative_yield", crop=crop, ECe_dS_m=3.8)
    assert found.relative_yield_pct == pytest.approx(single["relative_yield_pct"], abs=0.05)


def test_leaching_share(library: Library) -> None:
    """The share that the interpretation names for a crop's threshold and the water's EC."""
    water = (Result("EC", "water_sample", 1.2, "dS/m"),)
    found = interpreted(library, Result("EC", PASTE, 1.0, "dS/m"), water=water).salinity
    assert found is not None
    salt = library.crops["tomato"].salt
    assert salt is not None
    single = result(
        library,
        "leaching_requirement",
        ECw_dS_m=1.2,
        ECe_dS_m=salt.threshold_dS_m,
        method="conventional",
    )
    step = next(step for step in found.steps if step.step == "leaching_requirement")
    assert step.value == pytest.approx(single["fraction"], abs=0.0005)


def test_texture(library: Library) -> None:
    results = (Result("sand", "hydrometer", 41, "%"), Result("clay", "hydrometer", 27, "%"))
    found = interpreted(library, *results).texture
    assert found is not None
    single = result(library, "texture", sand_pct=41.0, clay_pct=27.0)
    assert (single["class"], single["near"]) == (found.texture_class, found.near)


def test_water_nitrogen(library: Library) -> None:
    """The credit told for a season's water is the credit of the calculation."""
    made = submission(Result("pH", "saturated_paste", 7.5), depth=SIX_INCHES, crop="tomato")
    water = IrrigationWater((Result("NO3-N", "water_sample", 10, "mg/L"),), Quantity(24, "in"))
    found = interpret(Submission(made.sample, made.results, made.target, Site(irrigation_water=water)), library, DAY)
    assert found.water is not None
    step = next(step for step in found.water.steps if step.step == "water_nitrogen")
    single = result(library, "water_nitrate_credit", NO3_N_mg_L=10.0, applied=(24, "in"))["credit"]
    assert in_unit(library, single, "g/m2") == pytest.approx(step.value, abs=0.005)


@pytest.mark.parametrize("crop", ["tall-fescue-lawn", "bermudagrass-lawn", "buffalograss-lawn"])
@pytest.mark.parametrize("day", [date(2026, 2, 1), date(2026, 4, 20), date(2026, 7, 1), date(2026, 12, 1)])
def test_turf_schedule(library: Library, crop: str, day: date) -> None:
    """For the rate that the interpretation finds, the same doses on the same days."""
    made = submission(Result("pH", "saturated_paste", 7.5), crop=crop)
    found = advice(interpret(replace(made, options=Options(as_of=day)), library, day), "N")
    season = next(step.inputs["season"] for step in found.because if step.step == "windows_left")
    single = result(
        library,
        "turf_nitrogen_schedule",
        crop=crop,
        N_rate=(season, "lb/1000 ft2"),
        area=(made.target.area.value, "ft2") if made.target.area else None,
        as_of=day,
    )
    wanted = [(dose.when, dose.from_date, dose.to_date, dose.limit) for dose in found.applications]
    assert [(dose["when"], dose["from"], dose["to"], dose["limit"]) for dose in single["applications"]] == wanted
    for dose, given in zip(single["applications"], found.applications, strict=True):
        assert dose["rate"].value == pytest.approx(given.rate.value, rel=0.005)
