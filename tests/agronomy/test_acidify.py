"""Lowering pH: the arithmetic of lime, sulfur where the soil is free of it, and the firm no elsewhere."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import case_of
from molmass import Formula

from service.agronomy import reaction, requests, texture
from service.agronomy.acidity import (
    ACETIC_PER_CACO3,
    GYPSUM_PER_CACO3,
    SULFUR_PER_CACO3,
    between,
    carbonate,
    gypsum_formed,
    sulfur_for_carbonate,
    vinegar_for_carbonate,
)
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Recommendation
from service.agronomy.submission import Depth, Quantity, Result
from service.agronomy.tables import Library, SulfurRateRow
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_1000_FT2, SQUARE_METRES_PER_ACRE

LB_ACRE = GRAMS_PER_LB / SQUARE_METRES_PER_ACRE
LB_1000 = GRAMS_PER_LB / SQUARE_METRES_PER_1000_FT2
ACRE_6_IN = 2_000_000 * LB_ACRE
LIME_FREE = Result("lime", "acid_fizz", text="none")


def answers(library: Library, *results: Result, asked: str = "lower_ph", **more: Any) -> list[Recommendation]:
    case = case_of(library, *results, requests=(asked,), **{"crop": "vegetable-garden", "stage": None, **more})
    soil = texture.texture_of(case)
    return requests.answer(case, None, None, reaction.assess(case, soil), soil)


def answered(library: Library, *results: Result, subject: str = "sulfur", **more: Any) -> Recommendation:
    (found,) = [item for item in answers(library, *results, **more) if item.subject == subject]
    return found


def pH(value: float) -> Result:
    return Result("pH", "saturated_paste", value)


def lime(value: float) -> Result:
    return Result("lime", "calcimeter", value, "%")


def test_ratios_by_an_independent_table_of_masses() -> None:
    """S, gypsum and acetic acid per CaCO3, against the molmass package (1e-4)."""
    chalk = Formula("CaCO3").mass
    assert Formula("S").mass / chalk == pytest.approx(SULFUR_PER_CACO3, rel=1e-3)
    assert Formula("CaSO4(H2O)2").mass / chalk == pytest.approx(GYPSUM_PER_CACO3, rel=1e-4)
    assert 2 * Formula("C2H4O2").mass / chalk == pytest.approx(ACETIC_PER_CACO3, rel=1e-4)


@pytest.mark.parametrize(
    ("percent", "lb_acre", "gypsum"),
    [(0.5, 3203, 17202), (1, 6406, 34403), (2, 12813, 68806), (5, 32032, 172016), (20, 128130, 688064)],
)
def test_sulfur_for_lime(percent: float, lb_acre: float, gypsum: float) -> None:
    """The arithmetic for 2,000,000 lb of soil (computed): 1 % takes 6,406 lb S/acre and leaves 34,403 lb gypsum."""
    assert sulfur_for_carbonate(percent, ACRE_6_IN) / LB_ACRE == pytest.approx(lb_acre, rel=2e-4)
    assert gypsum_formed(percent, ACRE_6_IN) / LB_ACRE == pytest.approx(gypsum, rel=2e-4)


def test_published_sulfur_figures() -> None:
    """A demonstration plot prints 3.2 US tons per acre (6,400 lb) for 1 %; a forum 3.12 lb lime per lb of sulfur."""
    assert sulfur_for_carbonate(1, ACRE_6_IN) / LB_ACRE == pytest.approx(6400, rel=0.002)
    assert pytest.approx(3.12, rel=0.002) == 1 / SULFUR_PER_CACO3
    assert sulfur_for_carbonate(1, ACRE_6_IN, 90) / LB_ACRE == pytest.approx(7118, rel=2e-4)
    assert sulfur_for_carbonate(1, ACRE_6_IN) / LB_1000 == pytest.approx(147, abs=0.5)


@given(st.floats(0, 100), st.floats(1, 1e6), st.floats(1, 5))
def test_linear_in_soil(percent: float, soil: float, factor: float) -> None:
    """Twice the soil, twice the sulfur; the lime swallows what its mass asks."""
    assert sulfur_for_carbonate(percent, soil * factor) == pytest.approx(factor * sulfur_for_carbonate(percent, soil))
    assert carbonate(percent, soil) <= soil


@pytest.mark.parametrize(
    "call",
    [
        lambda: carbonate(-0.1, 1),
        lambda: carbonate(109.1, 1),
        lambda: sulfur_for_carbonate(1, 1, 0),
        lambda: sulfur_for_carbonate(1, 1, 100.5),
        lambda: vinegar_for_carbonate(1, 1, 0),
        lambda: between(9, [(7, 1), (8, 2)]),
        lambda: between(6.9, [(7, 1), (8, 2)]),
        lambda: between(7, []),
    ],
)
def test_outside_the_range(call: Any) -> None:
    """Nothing is read beyond a table or a pure substance."""
    with pytest.raises(OutOfRange):
        call()


def test_garden_with_six_percent_lime(library: Library) -> None:
    """pH 8.1, 6 % lime, asked to lower it: do not; 6 x 147 = 882 lb S per 1000 ft2, in steps, and no dose plan."""
    found = answered(library, pH(8.1), lime(6))
    assert found.kind == "do_not"
    assert (found.rate, found.applications, found.base_rate, found.reason) == (None, (), None, None)
    values = found.text.values
    assert values["sulfur"].value == pytest.approx(882, abs=1)
    assert values["gypsum"].value == pytest.approx(6 * 34403 / 43.56, rel=0.002)
    # 20 lb per 1000 ft2 at a time in tilled ground (common practice): 882 / 20 = 44.1, so 45 doses.
    assert values["doses"] == 45
    assert [step.step for step in found.because] == ["sulfur_for_lime", "sulfur_doses", "gypsum_left"]
    assert all(step.sources for step in found.because)


def test_lawn_counts_in_turf_doses(library: Library) -> None:
    """On turf 5 lb per 1000 ft2 at a time: 147 lb are 30 doses for each 1 %."""
    found = answered(library, pH(7.8), lime(1), crop="tall-fescue-lawn", stage="established")
    assert found.text.values["doses"] == 30


@pytest.mark.parametrize(("percent", "kind"), [(0.499999, "none_needed"), (0.5, "do_not"), (0.500001, "do_not")])
def test_the_line_of_lime(library: Library, percent: float, kind: str) -> None:
    """At 0.5 % lime and above sulfur is refused; below, pH 7.8 suits the garden and none is needed."""
    assert answered(library, pH(7.8), lime(percent)).kind == kind


def test_fizz_without_a_figure(library: Library) -> None:
    """Fizzing soil without a percentage: do not, told for each 1 %."""
    found = answered(library, pH(8.0), Result("lime", "acid_fizz", text="strong"))
    assert (found.kind, found.text.code) == ("do_not", "rec.sulfur_not_in_limy")
    assert found.text.values["sulfur"].value == pytest.approx(147, abs=0.5)


@pytest.mark.parametrize(
    ("value", "code"),
    [(7.5, "rec.sulfur_lime_likely"), (7.499999, "rec.sulfur_fizz_first"), (7.0, "rec.sulfur_fizz_first")],
)
def test_lime_not_tested(library: Library, value: float, code: str) -> None:
    """From pH 7.5 untested soil is taken as limy; from 7.0 a fizz test comes first. No rate in either case."""
    found = answered(library, pH(value), crop="blueberry")
    assert (found.text.code, found.base_rate) == (code, None)
    assert (found.reason is not None) == (code == "rec.sulfur_fizz_first")


def test_no_pH(library: Library) -> None:
    """Without a laboratory pH there is no sulfur answer, and the test is named."""
    found = answered(library, Result("OM", "loss_on_ignition", 3, "%"))
    assert found.reason is not None
    assert found.reason.ask is not None


SULFUR_CASES = {"crop": "blueberry", "texture": "loam", "depth": Depth(0, 6, "in")}


def test_every_row_of_the_sulfur_table(library: Library) -> None:
    """S-WFH9 rates (recalled), lime-free soil to pH 6.5 over 6 in: each row comes back as printed."""
    soils = {"coarse": "sand", "medium": "loam", "fine": "clay"}
    for row in library.rows("sulfur-rates", SulfurRateRow):
        more = {**SULFUR_CASES, "texture": soils[row.texture]}
        found = answered(library, pH(row.pH_now), LIME_FREE, **more)
        assert found.base_rate == pytest.approx(row.rate_lb_acre * LB_ACRE, rel=1e-6)


def test_sulfur_between_rows_and_depths(library: Library) -> None:
    """pH 7.75 on loam: halfway between 800 and 1,500 lb; 3 in take half of 6 in."""
    six = answered(library, pH(7.75), LIME_FREE, **SULFUR_CASES)
    three = answered(library, pH(7.75), LIME_FREE, **{**SULFUR_CASES, "depth": Depth(0, 3, "in")})
    assert six.base_rate == pytest.approx(1150 * LB_ACRE)
    assert three.base_rate == pytest.approx(575 * LB_ACRE)


@pytest.mark.parametrize("area", [100.0, 200.0, 1000.0])
def test_area_scales(library: Library, area: float) -> None:
    """The total is the rate times the area."""
    found = answered(library, pH(7.5), LIME_FREE, **SULFUR_CASES, area=Quantity(area, "ft2"))
    assert found.rate is not None
    assert found.for_area is not None
    assert found.for_area.value == pytest.approx(found.rate.value * area / 1000, rel=0.006)


def test_a_trace_of_lime_is_counted(library: Library) -> None:
    """0.2 % measured lime takes 1,281 lb more per acre than the table alone."""
    plain = answered(library, pH(7.5), lime(0), **SULFUR_CASES).base_rate
    traced = answered(library, pH(7.5), lime(0.2), **SULFUR_CASES).base_rate
    assert plain is not None
    assert traced is not None
    assert (traced - plain) / LB_ACRE == pytest.approx(1281, abs=1)


def test_doses_keep_the_caps(library: Library) -> None:
    """No dose over 20 lb per 1000 ft2 tilled (common practice); the doses make up the whole."""
    found = answered(library, pH(8.5), LIME_FREE, **SULFUR_CASES)
    (application,) = found.applications
    assert found.base_rate is not None
    assert application.rate.value <= 20
    assert application.when.values["count"] == 3
    assert application.rate.value * 3 == pytest.approx(found.base_rate / LB_1000, rel=0.01)


@pytest.mark.parametrize(
    ("results", "more", "code"),
    [
        ((pH(7.5), LIME_FREE), {"texture": None}, "rec.sulfur_needs_texture"),
        ((pH(7.5), LIME_FREE), {"depth": None}, "rec.sulfur_needs_depth"),
        ((pH(8.6), LIME_FREE), {}, "rec.sulfur_outside_table"),
        ((pH(6.5),), {}, "rec.sulfur_outside_table"),
        ((pH(6.0),), {}, "rec.sulfur_outside_table"),
    ],
)
def test_withheld_and_why(library: Library, results: tuple[Result, ...], more: dict[str, Any], code: str) -> None:
    """What the rate depends on is unknown or off the table: no rate, and the reason to clear."""
    found = answered(library, *results, **{**SULFUR_CASES, **more})
    assert (found.text.code, found.base_rate) == (code, None)
    assert found.reason is not None
    assert found.reason.severity == "withhold"


@pytest.mark.parametrize("asked", ["vinegar", "aluminum_sulfate", "acid", "coffee_grounds"])
@pytest.mark.parametrize("soil", [lime(4), LIME_FREE])
def test_other_acids_are_refused(library: Library, asked: str, soil: Result) -> None:
    """Vinegar, aluminum sulfate, acid, coffee: a firm no on any soil, never an amount."""
    found = answered(library, pH(7.6), soil, asked=asked, subject=asked)
    assert (found.kind, found.base_rate) == ("do_not", None)
    assert found.sources
    assert found.verification


def test_how_much_vinegar_the_lime_swallows(library: Library) -> None:
    """1 % lime in an acre 6 in deep is 20,000 lb; at 5 % acid that is 24 lb of vinegar per lb: 480,000 lb."""
    found = answered(library, pH(7.9), lime(1), asked="vinegar", subject="vinegar")
    assert found.text.values["vinegar"].value == pytest.approx(480_000 / 43.56, rel=0.01)


def test_both_wishes_get_one_answer(library: Library) -> None:
    """lower_ph and sulfur are one question."""
    case = case_of(library, pH(8.1), lime(6), requests=("lower_ph", "sulfur"), crop="vegetable-garden")
    found = requests.answer(case, None, None, reaction.assess(case, None), None)
    assert [item.subject for item in found].count("sulfur") == 1
