"""Sodium step by step: which figure it rests on, the class, and what it says when nothing was tested."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import case_of

from service.agronomy import salinity, sodium, texture
from service.agronomy.findings import Sodium
from service.agronomy.submission import Depth, Result
from service.agronomy.tables import Library

PASTE = "saturated_paste_extract"
SHARED_LIBRARY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def found_for(library: Library, *results: Result, **more: Any) -> Sodium | None:
    case = case_of(library, *results, **{"crop": "tomato", "depth": Depth(0, 6, "in"), **more})
    soil = texture.texture_of(case)
    return sodium.assess(case, salinity.assess(case, soil), soil)


def judged(library: Library, *results: Result, **more: Any) -> Sodium:
    found = found_for(library, *results, **more)
    assert found is not None
    return found


def ions(Na: float, Ca: float, Mg: float, unit: str = "meq/L") -> tuple[Result, ...]:
    return (Result("Na", PASTE, Na, unit), Result("Ca", PASTE, Ca, unit), Result("Mg", PASTE, Mg, unit))


def codes(found: Sodium) -> set[str]:
    return {note.code for note in found.notes}


def test_sar_from_milligrams(library: Library) -> None:
    """Na 920, Ca 160, Mg 48 mg/L is 40, 8, 4 meq/L: SAR 16.4, sodic. From mg/L unconverted it would be 90."""
    found = judged(library, *ions(920, 160, 48, "mg/L"))
    assert found.sar == pytest.approx(16.38, abs=0.01)
    assert found.sodium_class == "sodic"
    assert found.esp is not None
    assert (found.esp.how, found.esp.value) == ("from_SAR", pytest.approx(18.6))


@pytest.mark.parametrize(
    ("value", "name"), [(0, "nonsodic"), (12.999999, "nonsodic"), (13, "sodic"), (13.000001, "sodic"), (60, "sodic")]
)
@pytest.mark.formula("class")
def test_class_edges_by_sar(library: Library, value: float, name: str) -> None:
    """SAR 13 (ALI2011 table 8.7; HB60): at, just below, just above."""
    assert judged(library, Result("SAR", PASTE, value)).sodium_class == name


@pytest.mark.parametrize(("value", "name"), [(14.999999, "nonsodic"), (15, "sodic"), (15.000001, "sodic")])
@pytest.mark.formula("class")
def test_class_edges_by_esp(library: Library, value: float, name: str) -> None:
    """ESP 15 %: at, just below, just above."""
    assert judged(library, Result("ESP", "exchangeable", value, "%")).sodium_class == name


@pytest.mark.parametrize(
    ("ece", "sar", "name"),
    [(2, 5, "normal"), (6, 8, "saline"), (3, 20, "sodic"), (7, 25, "saline_sodic"), (4, 13, "saline_sodic")],
)
@pytest.mark.formula("class")
def test_four_classes_of_soil(library: Library, ece: float, sar: float, name: str) -> None:
    """HB60 chapter 1: saline from 4 dS/m, sodic from SAR 13."""
    found = judged(library, Result("EC", PASTE, ece, "dS/m"), Result("SAR", PASTE, sar))
    assert found.soil_class == name


def test_soil_class_needs_both(library: Library) -> None:
    """No ECe, or an estimate that straddles 4 dS/m: the class of the soil stays open."""
    assert judged(library, Result("SAR", PASTE, 5)).soil_class == "unknown"
    estimate = Result("EC", "water_1_2", 1.5, "dS/m")
    assert judged(library, Result("SAR", PASTE, 5), estimate).soil_class == "unknown"


@SHARED_LIBRARY
@given(low=st.floats(0.1, 60), factor=st.floats(1.0, 5))
def test_more_sodium_never_lowers_the_hazard(library: Library, low: float, factor: float) -> None:
    """Raising Na alone never turns a sodic soil nonsodic."""
    mild, grave = judged(library, *ions(low, 6, 3)), judged(library, *ions(low * factor, 6, 3))
    assert (mild.sar or 0) <= (grave.sar or 0)
    assert not (mild.sodium_class == "sodic" and grave.sodium_class == "nonsodic")


def test_untested_sodium_is_unknown(library: Library) -> None:
    """pH 9.0 with ponding and no Na, Ca, Mg: unknown, no gypsum, the test named; never "no problem"."""
    found = judged(library, Result("pH", "saturated_paste", 9.0), symptoms=("ponding",))
    assert (found.sar, found.esp, found.sodium_class, found.soil_class) == (None, None, "unknown", "unknown")
    assert found.gypsum is None
    assert {"sodium.pH_suggests", "sodium.symptoms_suggest", "sodium.not_judged"} <= codes(found)


@pytest.mark.parametrize(("pH", "suspected"), [(8.499999, False), (8.5, True), (9.2, True)])
def test_suspicion_by_pH(library: Library, pH: float, suspected: bool) -> None:
    """From pH 8.5 sodium is suspected (HB60); below, an untested ordinary soil raises no alarm."""
    assert (found_for(library, Result("pH", "saturated_paste", pH)) is not None) == suspected


@pytest.mark.parametrize("missing", ["Na", "Ca", "Mg"])
def test_a_missing_ion_is_not_zero(library: Library, missing: str) -> None:
    """Without one of the three there is no SAR."""
    two = tuple(result for result in ions(40, 8, 4) if result.analyte != missing)
    assert found_for(library, *two) is None


def test_reported_sar_stands_in(library: Library) -> None:
    """With ions missing the laboratory's own SAR is used, and the answer says so."""
    found = judged(library, Result("SAR", PASTE, 9))
    assert found.sar == 9
    assert "sodium.sar_as_reported" in codes(found)


def test_computed_sar_goes_before_the_reported(library: Library) -> None:
    """With all three ions the SAR is ours."""
    found = judged(library, *ions(10, 6, 3), Result("SAR", PASTE, 4.7))
    assert found.sar == pytest.approx(4.71, abs=0.01)
    assert "sodium.sar_as_reported" not in codes(found)


def test_censored_sodium_keeps_its_interval(library: Library) -> None:
    """ "Na < 0.5" is at most SAR 0.24: nonsodic. "Na < 60" may be either: unknown."""
    small = judged(library, Result("Na", PASTE, 0.5, "meq/L", "<"), *ions(0, 6, 3)[1:])
    assert (small.sar, small.sodium_class) == (None, "nonsodic")
    wide = judged(library, Result("Na", PASTE, 60, "meq/L", "<"), *ions(0, 6, 3)[1:])
    assert (wide.sar, wide.sodium_class) == (None, "unknown")
    assert "sodium.straddles" in codes(wide)
    calcium = judged(library, Result("Na", PASTE, 60, "meq/L"), Result("Ca", PASTE, 1, "meq/L", "<"), ions(0, 0, 1)[2])
    assert calcium.sodium_class == "sodic"


def test_esp_from_exchangeable_sodium(library: Library) -> None:
    """690 mg/kg extractable Na (3 meq/100 g), 20 meq/L soluble at SP 50 (1 meq/100 g), CEC 20: ESP 10 % (HB60)."""
    found = judged(
        library,
        Result("Na", "ammonium_acetate", 689.7, "mg/kg"),
        *ions(20, 12, 8),
        Result("SP", "saturated_paste", 50, "%"),
        Result("CEC", "displacement", 20, "meq/100 g"),
    )
    assert found.esp is not None
    assert (found.esp.how, found.esp.value) == ("from_exchangeable", pytest.approx(10.0, abs=0.05))


def test_uncorrected_esp_proves_only_low(library: Library) -> None:
    """Without the soluble part the figure is an upper end: 10 % proves nonsodic, 20 % proves nothing."""
    cec = Result("CEC", "displacement", 20, "meq/100 g")
    low = judged(library, Result("Na", "ammonium_acetate", 459.8, "mg/kg"), cec)
    high = judged(library, Result("Na", "ammonium_acetate", 919.6, "mg/kg"), cec)
    assert (low.sodium_class, high.sodium_class) == ("nonsodic", "unknown")
    assert "sodium.esp_uncorrected" in codes(high)


def test_soluble_beyond_extractable(library: Library) -> None:
    """More dissolved than extractable sodium cannot be: no ESP from it, and the laboratory is to be asked."""
    found = judged(
        library,
        Result("Na", "ammonium_acetate", 100, "mg/kg"),
        *ions(40, 12, 8),
        Result("SP", "saturated_paste", 50, "%"),
        Result("CEC", "displacement", 20, "meq/100 g"),
    )
    assert "sodium.soluble_exceeds" in codes(found)
    assert found.esp is not None
    assert found.esp.how == "from_SAR"


def test_the_graver_of_two_counts(library: Library) -> None:
    """SAR says nonsodic, a measured ESP says sodic: sodic, and the answer says that they differ."""
    found = judged(library, Result("SAR", PASTE, 8), Result("ESP", "exchangeable", 18, "%"))
    assert found.sodium_class == "sodic"
    assert "sodium.sar_and_esp_differ" in codes(found)


def test_beyond_the_line(library: Library) -> None:
    """SAR 70 is outside the soils behind the line (HB60: SAR below 65): sodic, but no ESP is made up."""
    found = judged(library, Result("SAR", PASTE, 70))
    assert (found.sodium_class, found.esp) == ("sodic", None)
    assert "sodium.sar_beyond_line" in codes(found)


@pytest.mark.parametrize(("value", "watched"), [(5.99, False), (6.0, True), (12.9, True)])
def test_watch_line(library: Library, value: float, watched: bool) -> None:
    """From SAR 6 a nonsodic soil is watched (common practice, as in Australia from ESP 6)."""
    assert ("sodium.watch" in codes(judged(library, Result("SAR", PASTE, value)))) == watched


def test_sealing_without_sodium(library: Library) -> None:
    """Ponding at SAR 2: sodium is cleared as the cause."""
    found = judged(library, Result("SAR", PASTE, 2), symptoms=("ponding",))
    assert "sodium.symptoms_from_elsewhere" in codes(found)
