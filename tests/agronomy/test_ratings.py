"""What a result means: methods that hold or fail, calibrations chosen, intervals, neighbours, words for pH.

Sources stand beside the checks; samples are invented.
"""

import math
from collections.abc import Iterable
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import case_of

from service.agronomy.borderline import probability_beyond, probability_beyond_lognormal
from service.agronomy.calibration import prepare_calibrations
from service.agronomy.findings import Finding, Note, Reason
from service.agronomy.ratings import Rated, rate
from service.agronomy.sample import Case
from service.agronomy.submission import Depth, Result
from service.agronomy.tables import Library
from service.agronomy.validity import Rule, Soil, applies, prepare_validity

LIMY = (Result("pH", "water_1_1", 8.2), Result("lime", "calcimeter", 7, "%"))


def rated(library: Library, *results: Result, **more: Any) -> Rated:
    return rate(case_of(library, *results, **more))


def of(findings: Iterable[Finding], analyte: str) -> Finding:
    return next(finding for finding in findings if finding.analyte == analyte)


def reason(found: Rated, code: str) -> Reason:
    return next(item for item in found.reasons if item.code == code)


def test_bray_on_lime_is_withheld_by_name_and_not_converted(library: Library) -> None:
    """msu-olsenp-ph: the acid of the Bray test is spent on lime; some limy soils read zero with high Olsen P."""
    found = rated(library, *LIMY, Result("P", "bray_p1", 4, "mg/kg"))
    phosphorus = of(found.findings, "P")
    assert (phosphorus.status, phosphorus.rating) == ("withheld", None)
    assert phosphorus.understood == (4, "mg/kg")
    assert phosphorus.sources == ("msu-olsenp-ph",)
    why = reason(found, "method_not_valid")
    assert (why.severity, why.analyte) == ("withhold", "P")
    assert why.ask is not None
    assert why.ask.code == "ask.order_method_if_short"
    assert (why.ask.values["analyte"].word, why.ask.values["instead"].word) == ("P", "olsen")


@pytest.mark.parametrize(
    ("soil", "method", "status"),
    [
        ([Result("pH", "water_1_1", 6.999999)], "bray_p1", "rated"),
        ([Result("pH", "water_1_1", 7.0)], "bray_p1", "withheld"),
        ([Result("pH", "water_1_1", 6.8), Result("lime", "acid_fizz", text="strong")], "bray_p1", "withheld"),
        ([Result("pH", "water_1_1", 6.8), Result("lime", "acid_fizz", text="none")], "bray_p1", "rated"),
        ([Result("lime", "calcimeter", 7, "%")], "bray_p1", "withheld"),
        ([], "bray_p1", "withheld"),
        ([*LIMY], "mehlich_3", "withheld"),
        ([Result("pH", "water_1_1", 7.8), Result("lime", "acid_fizz", text="none")], "mehlich_3", "rated"),
        ([Result("pH", "water_1_1", 6.5)], "mehlich_3", "rated"),
        ([*LIMY], "olsen", "rated"),
        ([], "olsen", "rated"),
    ],
)
def test_where_a_phosphorus_test_may_be_used(library: Library, soil: list[Result], method: str, status: str) -> None:
    """Bray is rejected from pH 7.0 and on limy soil, Mehlich-3 on limy soil from pH 7.0 (msu-olsenp-ph,
    isu-mallarino-1997); where neither pH nor lime was sent nobody can know. Olsen is the test of the West."""
    found = rated(library, *soil, Result("P", method, 20, "mg/kg"))
    assert of(found.findings, "P").status == status


def test_without_pH_and_lime_the_reason_asks_for_either(library: Library) -> None:
    found = rated(library, Result("P", "bray_p1", 20, "mg/kg"))
    why = reason(found, "method_needs_ph")
    assert why.severity == "withhold"
    assert why.ask is not None
    assert why.ask.code == "ask.order_method_or_ph_if_short"


def test_mehlich_metals_are_not_judged_in_alkaline_soil(library: Library) -> None:
    """Practice: Mehlich-3 extracts several times more metal than DTPA."""
    found = rated(library, *LIMY, Result("Zn", "mehlich_3", 3, "mg/kg"))
    assert of(found.findings, "Zn").status == "withheld"


def test_an_ask_names_its_element(library: Library) -> None:
    """Of a sum of bases, which counts dissolved lime, nothing is short: only the right test is asked for."""
    sent = (Result("CEC", "sum_of_bases", 3.8, "meq/100 g"), Result("Zn", "mehlich_3", 3, "mg/kg"))
    found = rated(library, Result("pH", "water_1_1", 7.4), *sent)
    asks = {item.analyte: item.ask for item in found.reasons if item.code == "method_not_valid"}
    assert asks["CEC"] is not None
    assert asks["CEC"].code == "ask.order_method"
    assert asks["CEC"].values["analyte"].word == "CEC"
    assert asks["Zn"] is not None
    assert asks["Zn"].code == "ask.order_method_if_short"


def test_a_method_nobody_named_is_not_rated(library: Library) -> None:
    """A P figure means little without its extractant (EDIS-HS1229)."""
    found = rated(library, Result("P", "not_stated", 20, "mg/kg"))
    assert of(found.findings, "P").status == "not_rated"
    assert reason(found, "method_not_stated").severity == "withhold"
    assert reason(found, "method_not_stated").pointer == "/results/0/method"


def test_a_method_without_a_table_names_those_that_have_one(library: Library) -> None:
    found = rated(library, Result("K", "water_extract", 200, "mg/kg"))
    potassium = of(found.findings, "K")
    assert potassium.status == "not_rated"
    assert "ammonium_acetate" in [word.word for word in potassium.why.values["known"]]


@pytest.mark.parametrize(
    ("result", "code"),
    [
        (Result("EC", "saturated_paste_extract", 1, "dS/m"), "used_for_salinity"),
        (Result("Na", "saturated_paste_extract", 90, "mg/L"), "used_for_sodium"),
        (Result("Ca", "saturated_paste_extract", 90, "mg/L"), "used_for_sodium"),
        (Result("HCO3", "saturated_paste_extract", 90, "mg/L"), "used_for_sodium"),
        (Result("K", "saturated_paste_extract", 9, "mg/L"), "used_for_salinity"),
        (Result("SAR", "saturated_paste_extract", 2), "used_for_sodium"),
        (Result("lime", "calcimeter", 4, "%"), "used_for_lime"),
        (Result("lime", "acid_fizz", text="strong"), "used_for_lime"),
        (Result("sand", "hydrometer", 40, "%"), "used_for_texture"),
        (Result("Pb", "total_digest", 40, "mg/kg"), "used_for_safety"),
        (Result("NH4-N", "kcl_extract", 4, "mg/kg"), "used_for_nitrogen"),
    ],
)
def test_inputs_of_other_steps_are_named_as_such(library: Library, result: Result, code: str) -> None:
    found = rated(library, result)
    (finding,) = found.findings
    assert (finding.status, finding.why.code) == ("not_rated", f"finding.{code}")
    assert found.reasons == ()


def test_layers_below_are_not_rated(library: Library) -> None:
    deep = Result("NO3-N", "kcl_extract", 6, "mg/kg", depth=Depth(12, 24, "in"))
    (finding,) = rated(library, deep, depth=Depth(0, 12, "in")).findings
    assert finding.why.code == "finding.other_layer"


@pytest.mark.parametrize(
    ("qualifier", "value", "status", "rating"),
    [
        ("<", 0.2, "rated", "low"),
        ("<", 0.8, "rated", "low"),
        ("<", 0.9, "not_rated", None),
        (">", 0.8, "rated", "sufficient"),
        (">", 0.7, "not_rated", None),
    ],
)
def test_a_censored_figure_is_an_interval(
    library: Library, qualifier: str, value: float, status: str, rating: str | None
) -> None:
    """Utah prints 0.8 mg/kg DTPA zinc as the limit (usu-soiltest-2008): ``< 0.8`` lies wholly below it."""
    found = rated(library, Result("Zn", "dtpa", value, "mg/kg", qualifier))
    (finding,) = found.findings
    assert (finding.status, finding.rating) == (status, rating)
    assert finding.understood == (value, "mg/kg")
    assert [item.severity for item in found.reasons] == ([] if rating else ["withhold"])


def test_voided_is_withheld_and_weakened_is_rated_with_the_reason(library: Library) -> None:
    results = (Result("Zn", "dtpa", 38, "mg/kg"), Result("Fe", "dtpa", 9, "mg/kg"))
    case = case_of(library, *results)
    zinc, iron = rate(case.trusting({0: Note("void.x")}, {1: Note("weak.x")})).findings
    assert (zinc.status, zinc.why.code, zinc.rating) == ("withheld", "void.x", None)
    assert (iron.status, iron.why.code, iron.rating) == ("rated", "weak.x", "sufficient")


def chosen(library: Library, **more: Any) -> str | None:
    (finding,) = rated(library, Result("P", "olsen", 12, "mg/kg"), crop="alfalfa", **more).findings
    return finding.calibration


def test_one_calibration_by_wish_then_region_then_preference(library: Library) -> None:
    """Publishers disagree on Olsen P for alfalfa (conflict k01): one is chosen and named."""
    preferred = library.crops["alfalfa"].calibrations[0]
    assert chosen(library) == preferred
    assert chosen(library, region="US-UT") == "utah"
    assert chosen(library, region="US-CA") == "california"
    assert chosen(library, region="US-UT", options={"calibration": "california"}) == "california"
    assert chosen(library, region="US-ZZ") == preferred


def test_an_unknown_calibration_is_said(library: Library) -> None:
    found = rated(library, Result("P", "olsen", 12, "mg/kg"), options={"calibration": "atlantis"})
    assert reason(found, "calibration_unknown").severity == "warning"
    assert of(found.findings, "P").status == "rated"


def test_rivals_only_when_explaining_and_each_named_once(library: Library) -> None:
    (told,) = rated(library, Result("P", "olsen", 12, "mg/kg"), crop="alfalfa").findings
    names = [rival.calibration for rival in told.rivals]
    assert told.calibration not in names
    assert len(names) == len(set(names)) > 1
    (quiet,) = rated(library, Result("P", "olsen", 12, "mg/kg"), crop="alfalfa", explain=False).findings
    assert (quiet.rivals, quiet.borderline, quiet.rating) == ((), None, told.rating)


def test_turf_on_sand_has_its_own_potassium_table(library: Library) -> None:
    """carrow-2003: sufficient from 50 mg/kg Mehlich-3 K on sand, from 75 on other soils."""
    soil = (Result("pH", "water_1_1", 6.5), Result("K", "mehlich_3", 60, "mg/kg"))
    assert of(rated(library, *soil).findings, "K").rating == "low"
    assert of(rated(library, *soil, texture="sand").findings, "K").rating == "sufficient"


def test_every_rated_finding_names_its_table_and_source(library: Library) -> None:
    for finding in rated(library).findings:
        if finding.status == "rated":
            assert finding.sources
            assert finding.table is not None
            assert finding.table.id
            assert finding.verification in ("read", "computed", "practice", "memory")
            assert finding.rating_in_source


@pytest.mark.parametrize(
    ("pH", "rating"),
    [
        (5.5, "strongly_acid"),
        (6.5, "slightly_acid"),
        (7.0, "neutral"),
        (7.6, "slightly_alkaline"),
        (8.5, "strongly_alkaline"),
    ],
)
def test_pH_words(library: Library, pH: float, rating: str) -> None:
    """Reaction classes of the Soil Survey Manual: neutral 6.6-7.3, slightly alkaline 7.4-7.8 ..."""
    (finding,) = rated(library, Result("pH", "water_1_1", pH)).findings
    assert finding.rating == rating


def test_pH_7_6_is_no_defect_but_a_blueberry_cannot_stand_it(library: Library) -> None:
    """No pH limitation is listed between 6.0 and 8.3 (msu-soilscoop)."""
    (garden,) = rated(library, Result("pH", "saturated_paste", 7.6), crop="vegetable-garden").findings
    assert garden.why.code == "finding.ph_in_range"
    assert "msu-soilscoop" in garden.sources
    (high,) = rated(library, Result("pH", "saturated_paste", 8.6), crop="vegetable-garden").findings
    assert high.why.code == "finding.ph_above_range"
    (berry,) = rated(library, Result("pH", "saturated_paste", 7.6), crop="blueberry").findings
    assert berry.why.code == "finding.ph_above_range_intolerant"


def test_a_kit_is_an_observation(library: Library) -> None:
    """A colour card is read for what it is worth and never rated (practice)."""
    (finding,) = rated(library, Result("P", "home_kit", text="low")).findings
    assert (finding.status, finding.rating) == ("withheld", None)


def test_without_a_crop_there_are_general_ratings(library: Library) -> None:
    found = rated(library, Result("Zn", "dtpa", 0.1, "mg/kg"), Result("pH", "water_1_1", 7.6), crop=None)
    assert [finding.rating for finding in found.findings] == ["low", "slightly_alkaline"]


def test_a_gap_of_the_printed_table_stays_a_gap(library: Library) -> None:
    """osu-ec1478 prints Olsen P low below 10 and high from 25; nothing was seen between."""
    (finding,) = rated(
        library, Result("P", "olsen", 15, "mg/kg"), crop="tomato", options={"calibration": "oregon-east"}
    ).findings
    assert (finding.status, finding.rating, finding.why.code) == ("not_rated", None, "finding.between_classes")


def borderline(library: Library, analyte: str, method: str, value: float) -> tuple[str, float] | None:
    (finding,) = rated(library, Result(analyte, method, value, "mg/kg")).findings
    return finding.borderline


def test_near_a_limit_both_classes_are_named(library: Library) -> None:
    """Minnesota lawns: medium from 8, high from 19 mg/kg Olsen P. Chance by the normal distribution with the method's
    stated deviation, checked against the standard library's own."""
    (spec,) = [m.spec for m in case_of(library, Result("P", "olsen", 18, "mg/kg")).soil]
    assert spec is not None
    assert spec.uncertainty_kind == "relative"
    assert spec.uncertainty is not None
    chance = 1 - NormalDist(18, spec.uncertainty * 18).cdf(19)
    found = borderline(library, "P", "olsen", 18)
    assert found is not None
    assert found[0] == "high"
    assert found[1] == pytest.approx(chance, abs=0.006)
    assert borderline(library, "P", "olsen", 13) is None
    assert borderline(library, "P", "olsen", 60) is None


@given(st.floats(0.5, 200), st.floats(0.5, 200), st.floats(0.02, 0.4))
def test_chance_of_the_other_side(value: float, limit: float, relative: float) -> None:
    """Both error models against independent forms: the normal, and the normal of the logarithms."""
    deviation = relative * value
    normal = NormalDist(value, deviation)
    beyond = normal.cdf(limit) if limit < value else 1 - normal.cdf(limit)
    assert probability_beyond(value, limit, deviation) == pytest.approx(beyond, abs=1e-9)
    chance = probability_beyond_lognormal(value, limit, relative)
    sigma = math.sqrt(math.log(1 + relative**2))
    assert chance == pytest.approx(NormalDist().cdf(-abs(math.log(limit / value)) / sigma), abs=1e-9)
    assert chance == pytest.approx(probability_beyond_lognormal(limit, value, relative))


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0.5, 150))
def test_borderline_is_within_the_window_or_absent(library: Library, value: float) -> None:
    """practice: both classes are named between a chance of 0.2 and of 0.8."""
    found = borderline(library, "P", "olsen", value)
    assert found is None or 0.2 <= found[1] <= 0.5


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0.01, 400, allow_subnormal=False))
def test_a_change_of_unit_or_form_never_changes_a_class(library: Library, value: float) -> None:
    """P as P2O5 (factor 2.2914, exact from atomic masses), mg/kg as ppm and percent, K as meq/100 g (391 mg/kg)."""
    pairs = [
        (Result("P", "olsen", value, "mg/kg"), Result("P", "olsen", value, "ppm")),
        (Result("P", "olsen", value, "mg/kg"), Result("P", "olsen", value / 10_000, "%")),
        (Result("P", "olsen", value, "mg/kg"), Result("P2O5", "olsen", value * 141.942523996 / 61.947523996, "mg/kg")),
        (
            Result("K", "ammonium_acetate", value, "mg/kg"),
            Result("K", "ammonium_acetate", value / 390.983, "meq/100 g"),
        ),
    ]
    for first, second in pairs:
        a, b = (rated(library, result).findings[0] for result in (first, second))
        assert (a.rating, a.status) == (b.rating, b.status)


def test_order_of_results_does_not_matter(library: Library) -> None:
    case: Case = case_of(library)
    forward = {finding.analyte: finding.rating for finding in rate(case).findings}
    results = tuple(measurement.reported for measurement in reversed(case.soil))
    backward = {finding.analyte: finding.rating for finding in rated(library, *results).findings}
    assert forward == backward


def test_rules_in_doubt(library: Library) -> None:
    """The three-valued logic of a rule: unknown only where pH or lime would decide and is not known."""
    rules = library.index(prepare_validity)["P"]
    by_pH: Rule = next(rule for rule in rules["bray_p1"] if rule.row.when == "")
    by_lime: Rule = next(rule for rule in rules["bray_p1"] if rule.row.when == "calcareous")
    both: Rule = next(iter(rules["mehlich_3"]))
    acid, neutral = 6_500_000, 7_500_000
    assert [applies(by_pH, Soil(pH, None)) for pH in (None, acid, neutral)] == [None, False, True]
    assert [applies(by_lime, Soil(acid, lime)) for lime in (None, False, True)] == [False, False, True]
    assert applies(by_lime, Soil(None, None)) is None
    assert [applies(both, Soil(neutral, lime)) for lime in (None, False, True)] == [None, False, True]
    assert [applies(both, Soil(acid, lime)) for lime in (None, False, True)] == [False, False, False]


def test_calibrations_are_prepared_once(library: Library) -> None:
    calibrations = library.index(prepare_calibrations)
    case = case_of(library)
    assert calibrations.tables(case) is calibrations.tables(case_of(library))
