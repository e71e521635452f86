"""Irrigation water against the published guideline, row by row."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import case_of

from service.agronomy import water
from service.agronomy.acidity import residual_sodium_carbonate
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Water
from service.agronomy.submission import IrrigationWater, Quantity, Result
from service.agronomy.tables import Library

NONE, SOME, SEVERE = "none", "slight_to_moderate", "severe"
SAMPLE = "water_sample"


def figure(analyte: str, value: float, unit: str | None = None) -> Result:
    units = {"EC": "dS/m", "TDS": "mg/L", "B": "mg/L", "NO3-N": "mg/L"}
    return Result(analyte, SAMPLE, value, unit or units.get(analyte, None if analyte in ("pH", "SAR") else "meq/L"))


def judged(library: Library, *results: Result, **more: Any) -> Water:
    found = water.assess(case_of(library, water=results, **more))
    assert found is not None
    return found


def restriction(found: Water, problem: str) -> str | None:
    return next((hazard.restriction for hazard in found.hazards if hazard.problem == problem), None)


def codes(found: Water) -> set[str]:
    return {note.code for note in found.notes}


@pytest.mark.parametrize(
    ("analyte", "problem", "value", "word"),
    [
        ("EC", "salinity", 0.699999, NONE),
        ("EC", "salinity", 0.7, SOME),
        ("EC", "salinity", 3.0, SOME),
        ("EC", "salinity", 3.000001, SEVERE),
        ("TDS", "salinity", 449, NONE),
        ("TDS", "salinity", 2001, SEVERE),
        ("SAR", "sodium_surface", 2.999999, NONE),
        ("SAR", "sodium_surface", 3.0, SOME),
        ("SAR", "sodium_surface", 9.0, SOME),
        ("SAR", "sodium_surface", 9.000001, SEVERE),
        ("Na", "sodium_sprinkler", 2.999999, NONE),
        ("Na", "sodium_sprinkler", 3.0, SOME),
        ("Na", "sodium_sprinkler", 30.0, SOME),
        ("Cl", "chloride_surface", 3.999999, NONE),
        ("Cl", "chloride_surface", 10.000001, SEVERE),
        ("Cl", "chloride_sprinkler", 3.1, SOME),
        ("B", "boron", 0.699999, NONE),
        ("B", "boron", 3.0, SOME),
        ("B", "boron", 3.000001, SEVERE),
        ("NO3-N", "nitrogen", 4.999999, NONE),
        ("NO3-N", "nitrogen", 30.000001, SEVERE),
        ("HCO3", "bicarbonate", 1.499999, NONE),
        ("HCO3", "bicarbonate", 8.500001, SEVERE),
        ("pH", "pH", 6.499999, SOME),
        ("pH", "pH", 6.5, NONE),
        ("pH", "pH", 8.4, NONE),
        ("pH", "pH", 8.400001, SOME),
    ],
)
def test_guideline_edges(library: Library, analyte: str, problem: str, value: float, word: str) -> None:
    """FAO29 table 1: each limit at, just below, just above. A figure on a limit is slight to moderate, as printed."""
    assert restriction(judged(library, figure(analyte, value)), problem) == word


@pytest.mark.parametrize(
    ("sar", "ec", "word"),
    [
        (2, 0.5, SOME),
        (5, 1.5, NONE),
        (8, 0.4, SEVERE),
        (25, 6.0, NONE),
        (2.999999, 0.71, NONE),
        (3.0, 0.71, SOME),
        (2, 0.199999, SEVERE),
        (2, 0.2, SOME),
        (2, 0.7, SOME),
        (2, 0.700001, NONE),
        (15, 2.9, SOME),
        (39.999999, 2.8, SEVERE),
    ],
)
@pytest.mark.formula("infilt")
def test_infiltration(library: Library, sar: float, ec: float, word: str) -> None:
    """FAO29 table 1: the higher the SAR, the more salt the water needs to soak in."""
    assert restriction(judged(library, figure("SAR", sar), figure("EC", ec)), "infiltration") == word


def test_infiltration_needs_sar_and_ec(library: Library) -> None:
    """Without either, or beyond the table (SAR 40), infiltration is not judged, and the answer says so."""
    for results in ([figure("EC", 0.3)], [figure("SAR", 5)], [figure("SAR", 41), figure("EC", 6)]):
        found = judged(library, *results)
        assert restriction(found, "infiltration") is None
        assert "water.infiltration_unknown" in codes(found)


FAO_WATER = (figure("Na", 7.73), figure("Ca", 2.32), figure("Mg", 1.44), figure("HCO3", 3.66), figure("EC", 1.15))


def test_sar_and_its_adjusted_form(library: Library) -> None:
    """The FAO29 example water: SAR 5.64; adjusted 6.31 (6.45 in print, which takes its table a row too far down)."""
    found = judged(library, *FAO_WATER)
    assert found.sar == pytest.approx(5.64, abs=0.005)
    assert found.sar_adjusted == pytest.approx(6.31, abs=0.03)
    assert next(step for step in found.steps if step.step == "adjusted_sar").sources


def test_no_adjusted_form_without_bicarbonate(library: Library) -> None:
    """Bicarbonate nobody measured is not zero."""
    found = judged(library, *FAO_WATER[:3], FAO_WATER[4])
    assert found.sar_adjusted is None


@pytest.mark.parametrize(
    ("co3", "word"),
    [(1.34, NONE), (1.349999, NONE), (1.35, SOME), (2.6, SOME), (2.600001, SEVERE)],
)
def test_residual_sodium_carbonate(library: Library, co3: float, word: str) -> None:
    """HB60: below 1.25 safe, to 2.5 marginal, above unsuitable; here (CO3 + 3.66) - 3.76."""
    found = judged(library, *FAO_WATER, figure("CO3", co3))
    assert found.rsc_meq_L == pytest.approx(co3 - 0.1, abs=0.006)
    assert restriction(found, "residual_sodium_carbonate") == word


def test_untested_carbonate_clears_nothing(library: Library) -> None:
    """Without CO3 the figure is the least it can be: it may accuse, never clear."""
    found = judged(library, *FAO_WATER)
    assert restriction(found, "residual_sodium_carbonate") is None
    assert "water.carbonate_not_tested" in codes(found)
    bad = judged(library, figure("Na", 9), figure("Ca", 1), figure("Mg", 0.5), figure("HCO3", 6))
    assert restriction(bad, "residual_sodium_carbonate") == SEVERE


@given(st.floats(0, 20), st.floats(0, 20), st.floats(0, 20), st.floats(0, 20))
def test_rsc_counts_each_ion_once(co3: float, hco3: float, ca: float, mg: float) -> None:
    """More calcium lowers it, more carbonate raises it, by as much."""
    rsc = residual_sodium_carbonate(co3, hco3, ca, mg)
    assert residual_sodium_carbonate(co3 + 1, hco3, ca + 1, mg) == pytest.approx(rsc)
    with pytest.raises(OutOfRange):
        residual_sodium_carbonate(-1, hco3, ca, mg)


def test_ec_from_dissolved_solids(library: Library) -> None:
    """960 mg/L stands for 1.5 dS/m (UNITS2004, 640), and the answer says that it was reckoned."""
    found = judged(library, figure("TDS", 960), figure("SAR", 2))
    assert "water.ec_from_tds" in codes(found)
    assert restriction(found, "infiltration") == NONE
    assert next(step for step in found.steps if step.step == "ec_from_tds").value == pytest.approx(1.5)


def test_censored_figures_rate_nothing(library: Library) -> None:
    """ "B < 1" straddles the limit of 0.7: no rating of boron."""
    found = judged(library, Result("B", SAMPLE, 1, "mg/L", "<"), figure("EC", 0.5))
    assert restriction(found, "boron") is None


def test_boron_against_the_crop(library: Library) -> None:
    """0.6 mg/L passes the guideline, but blackberry-sensitive plants suffer above 0.5; snap bean bears 1.0."""
    assert "water.boron_over_crop" not in codes(judged(library, figure("B", 1.0), crop="snap-bean"))
    assert "water.boron_over_crop" in codes(judged(library, figure("B", 1.1), crop="snap-bean"))


def test_what_a_season_brings(library: Library) -> None:
    """24 in of water with 20 mg/L nitrate-N: 109 lb N/acre (UCANR_INM strawberry example), 2.5 lb per 1000 ft2."""
    supply = IrrigationWater((figure("NO3-N", 20), figure("EC", 1.0)), applied=Quantity(24, "in"))
    found = water.assess(case_of(library, irrigation_water=supply))
    assert found is not None
    credit = next(note for note in found.notes if note.code == "water.nitrogen_credit").values["credit"]
    assert credit.value == pytest.approx(109 / 43.56, rel=0.005)
    load = next(note for note in found.notes if note.code == "water.salt_load").values["load"]
    assert load.value == pytest.approx(640 * 2.72 * 2 / 43.56, rel=0.005)


def test_softened_water(library: Library) -> None:
    """Softened water is named for what it is."""
    assert "water.softened" in codes(judged(library, figure("EC", 0.6), water_source="softened"))


def test_no_analysis_no_answer(library: Library) -> None:
    """A source without figures is not judged."""
    assert water.assess(case_of(library)) is None


def test_quiet_without_explanations(library: Library) -> None:
    """The same hazards, no steps."""
    quiet, loud = (judged(library, *FAO_WATER, explain=explain) for explain in (False, True))
    assert quiet.steps == ()
    assert [hazard[:2] for hazard in quiet.hazards] == [hazard[:2] for hazard in loud.hazards]
    assert (quiet.sar, quiet.sar_adjusted, quiet.rsc_meq_L) == (loud.sar, loud.sar_adjusted, loud.rsc_meq_L)


def test_nitrogen_of_each_foot_when_the_season_is_unknown(library: Library) -> None:
    """2.72 lb N per acre-foot and mg/L (uc-inm-water): 11 mg/L bring 30 lb per acre, 0.69 lb per 1,000 ft2, a foot."""
    for system, pounds in (("us_field", 30), ("us_garden", 0.69)):
        found = judged(library, figure("NO3-N", 11), options={"units": system})
        told = next(note for note in found.notes if note.code == "water.nitrogen_each")
        assert told.values["credit"].value == pytest.approx(pounds)
        assert told.values["water"] == Quantity(12, "in")


@pytest.mark.parametrize(("crop", "told"), [("cotton", False), ("apple", True), (None, True)])
def test_sodium_through_the_roots_is_a_matter_of_woody_plants(library: Library, crop: str | None, told: bool) -> None:
    """FAO29 table 1: most annual crops are not sensitive; the rating stands, the remark is for trees and shrubs."""
    found = judged(library, figure("SAR", 5), figure("Cl", 6), crop=crop)
    assert restriction(found, "sodium_surface") == restriction(found, "chloride_surface") == SOME
    assert ({"water.sodium_surface", "water.chloride_surface"} <= codes(found)) == told


def test_a_severe_restriction_asks_for_something_else(library: Library) -> None:
    """Hardier plants and calcium are spoken of where the restriction is severe, not where it is slight."""
    slight = codes(judged(library, figure("EC", 1.4), figure("SAR", 5)))
    assert "water.salinity" in slight
    severe = codes(judged(library, figure("EC", 3.5), figure("SAR", 5)))
    assert "water.salinity_severe" in severe
    assert "water.infiltration_severe" in codes(judged(library, figure("EC", 0.1), figure("SAR", 5)))
    assert "water.infiltration" in codes(judged(library, figure("EC", 0.5), figure("SAR", 1)))
