"""Gypsum: its arithmetic against print, its chemistry against an independent program, and when it is advised."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import case_of
from phreeqpython import PhreeqPython

from service.agronomy import requests, salinity, sodium, texture
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Recommendation, Sodium
from service.agronomy.gypsum import (
    GYPSUM_G_PER_EQUIVALENT,
    equivalent_amounts,
    gypsum_rate,
    sodium_to_replace,
    soil_mass,
)
from service.agronomy.reaction import assess as react
from service.agronomy.reference import reference_of
from service.agronomy.sodicity import sar
from service.agronomy.submission import Depth, Quantity, Result
from service.agronomy.tables import Library
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_1000_FT2, SQUARE_METRES_PER_ACRE

PASTE = "saturated_paste_extract"
SODIC = (Result("Na", PASTE, 920, "mg/L"), Result("Ca", PASTE, 160, "mg/L"), Result("Mg", PASTE, 48, "mg/L"))
CEC = Result("CEC", "displacement", 18, "meq/100 g")
LIMY = Result("lime", "calcimeter", 5, "%")
TON_ACRE = 2000 * GRAMS_PER_LB / SQUARE_METRES_PER_ACRE
DEPTH = st.floats(1, 24)
DENSITY = st.floats(0.8, 1.8)


def judged(library: Library, *results: Result, **more: Any) -> Sodium:
    case = case_of(library, *results, **{"crop": "tomato", "depth": Depth(0, 6, "in"), **more})
    soil = texture.texture_of(case)
    found = sodium.assess(case, salinity.assess(case, soil), soil)
    assert found is not None
    return found


def answered(library: Library, *results: Result, **more: Any) -> Recommendation:
    case = case_of(library, *results, **{"crop": "tomato", "depth": Depth(0, 6, "in"), **more})
    soil = texture.texture_of(case)
    salts = salinity.assess(case, soil)
    found = requests.answer(case, salts, sodium.assess(case, salts, soil), react(case, soil), soil)
    return next(item for item in found if item.subject == "gypsum")


def test_gypsum_dissolves_as_phreeqc_says() -> None:
    """Water saturated with gypsum at 25 C holds 15.1 mmol/L Ca by PHREEQC (2 %: databases differ in the ion pair), and
    some more where sodium chloride is about. That much calcium brings 20 meq/L of sodium down to a SAR below 6."""
    chemistry = PhreeqPython()
    pure, salty = chemistry.add_solution({}), chemistry.add_solution({"units": "mmol/kgw", "Na": 20, "Cl": "20 charge"})
    for solution in (pure, salty):
        solution.saturate("Gypsum")
    assert pure.total("Ca", units="mmol") == pytest.approx(15.1, rel=0.02)
    assert pure.total("Ca", units="mmol") < salty.total("Ca", units="mmol") < 1.2 * pure.total("Ca", units="mmol")
    assert sar(20, 2 * salty.total("Ca", units="mmol"), 0.0) < 6


def test_gypsum_saturated_water_sits_near_the_table_figure(library: Library) -> None:
    """A gypsum-saturated soil sits near 2 dS/m (ASPAC-3A1); PHREEQC's own conductivity model says 2.26: within 15 %."""
    pure = PhreeqPython().add_solution({})
    pure.saturate("Gypsum")
    figure = reference_of(library).factor("acid_gypsum_ec_dS_m").value
    assert pure.sc / 1000 == pytest.approx(figure, rel=0.15)


def test_equivalent_weight() -> None:
    """86.08 g per equivalent (OSTER1999: 86.09 mg per meq)."""
    assert pytest.approx(86.09, abs=0.02) == GYPSUM_G_PER_EQUIVALENT


def test_western_extension_example() -> None:
    """Land-grant example for a sodic soil (CSU0504, recalled): CEC 18, 16 points of ESP to replace: 4.9 ton per
    acre-foot with the factor 1.7; 1.72 gives 4.96."""
    need = sodium_to_replace(26, 10, 18)
    assert need == pytest.approx(2.88)
    density = 4e6 * GRAMS_PER_LB / SQUARE_METRES_PER_ACRE / soil_mass(12, 1.0) / 1000
    assert gypsum_rate(need, 12, density) / TON_ACRE == pytest.approx(4.96, abs=0.01)


def test_printed_table_per_1000_ft2() -> None:
    """HB60 table (recomputed): 3 meq/100 g in 6 in, 2,000,000 lb of soil: 119 lb per 1000 ft2."""
    density = 2e6 * GRAMS_PER_LB / SQUARE_METRES_PER_ACRE / soil_mass(6, 1.0) / 1000
    assert gypsum_rate(3, 6, density) * SQUARE_METRES_PER_1000_FT2 / GRAMS_PER_LB == pytest.approx(118.6, abs=0.5)


@given(st.floats(0.1, 20), DEPTH, DENSITY, st.floats(1.1, 4))
def test_linear_in_depth_and_density(need: float, depth: float, density: float, factor: float) -> None:
    """Twice the depth or the density takes twice the gypsum."""
    once = gypsum_rate(need, depth, density)
    assert gypsum_rate(need, depth * factor, density) == pytest.approx(factor * once)
    assert gypsum_rate(need, depth, density * factor) == pytest.approx(factor * once)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100), st.floats(1, 60))
def test_more_sodium_never_takes_less(one: float, other: float, wanted: float, cec: float) -> None:
    """More ESP never lowers the requirement, and ESP at or below the goal needs none."""
    low, high = sorted((one, other))
    assert sodium_to_replace(low, wanted, cec) <= sodium_to_replace(high, wanted, cec)
    assert sodium_to_replace(wanted, wanted, cec) == 0


def test_efficiency_and_purity_divide() -> None:
    """80 % efficiency takes a quarter more (HB60), 90 % purity a ninth more."""
    assert gypsum_rate(0, 6, 1.3) == 0
    assert gypsum_rate(1, 6, 1.3, efficiency=0.8) == pytest.approx(1.25 * gypsum_rate(1, 6, 1.3))
    assert gypsum_rate(1, 6, 1.3, purity_pct=90) == pytest.approx(gypsum_rate(1, 6, 1.3) / 0.9)


def test_equivalents_follow_the_table(library: Library) -> None:
    """One ton of pure gypsum is done by 0.19 ton of sulfur or 0.57 ton of sulfuric acid (HB60)."""
    factors = {name: row.mass_per_mass_gypsum for name, row in reference_of(library).equivalents().items()}
    amounts = equivalent_amounts(1.0, factors)
    assert amounts["elemental_sulfur"] == pytest.approx(32.06 / 172.17, abs=0.001)
    assert amounts["sulfuric_acid"] == pytest.approx(98.07 / 172.17, abs=0.001)
    assert amounts["gypsum"] == 1


@pytest.mark.parametrize(
    "call",
    [
        lambda: sodium_to_replace(100.5, 10, 18),
        lambda: sodium_to_replace(20, -1, 18),
        lambda: sodium_to_replace(20, 10, 0),
        lambda: gypsum_rate(-0.5, 6, 1.3),
        lambda: gypsum_rate(1, 0, 1.3),
        lambda: gypsum_rate(1, 6, 0),
        lambda: gypsum_rate(1, 6, 1.3, efficiency=0),
        lambda: gypsum_rate(1, 6, 1.3, efficiency=1.01),
        lambda: gypsum_rate(1, 6, 1.3, purity_pct=0),
        lambda: gypsum_rate(1, 6, 1.3, purity_pct=100.5),
    ],
)
def test_outside_the_range(call: Any) -> None:
    """An impossible figure is refused."""
    with pytest.raises(OutOfRange):
        call()


def test_sodic_soil_with_everything_known(library: Library) -> None:
    """SAR 16.4, CEC 18 by displacement, 6 in, free drainage: the amount, its steps, its sources, its total."""
    found = judged(library, *SODIC, CEC, LIMY, drainage="free", area=Quantity(500, "ft2")).gypsum
    assert found is not None
    assert found.kind == "amendment"
    # By hand: ESP 18.62 -> 10 % of 18 meq/100 g = 1.55 meq/100 g; x 10 x 86.08 mg x 202.7 kg/m2 / 0.8
    assert found.base_rate == pytest.approx(1.5515 * 10 * 86.08 / 1000 * 6 * 25.4 * 1.33 / 0.8, rel=0.005)
    assert found.rate is not None
    assert found.for_area is not None
    assert found.for_area.value == pytest.approx(found.rate.value / 2, rel=0.01)
    assert [step.step for step in found.because][:2] == ["gypsum_sodium", "gypsum_rate"]
    assert found.sources
    assert found.verification == "memory"


def test_standing_lawn_takes_it_in_doses(library: Library) -> None:
    """On established turf no dose passes 50 lb per 1000 ft2, and the doses make up the whole."""
    found = judged(library, *SODIC, CEC, LIMY, drainage="free", crop="tall-fescue-lawn", stage="established").gypsum
    assert found is not None
    assert found.rate is not None
    assert found.rate.value > 50
    (application,) = found.applications
    assert application.rate.value <= 50
    assert application.when.values["count"] * application.rate.value == pytest.approx(found.rate.value, rel=0.01)
    assert application.limit is not None


def test_a_lawn_being_sown_takes_it_at_once(library: Library) -> None:
    """Before seeding the ground is tilled: the tilled cap holds, not the turf cap."""
    found = judged(library, *SODIC, CEC, LIMY, drainage="free", crop="tall-fescue-lawn", stage="seeding").gypsum
    assert found is not None
    assert found.applications[0].when.code == "when.gypsum_once"


SUM_OF_BASES = Result("CEC", "sum_of_bases", 18, "meq/100 g")


@pytest.mark.parametrize(
    ("results", "more", "why"),
    [
        ((CEC, LIMY), {}, "salt.drainage_unknown"),
        ((CEC, LIMY), {"drainage": "ponded"}, "salt.drainage_poor"),
        ((CEC, LIMY), {"drainage": "free", "symptoms": ("ponding",)}, "salt.water_stands"),
        ((CEC, LIMY), {"drainage": "free", "hard_layer_depth": Quantity(18, "in")}, "salt.hard_layer"),
        ((CEC, LIMY), {"drainage": "free", "depth": None}, "sodium.gypsum_needs_depth"),
        ((LIMY,), {"drainage": "free"}, "sodium.cec_missing"),
        ((SUM_OF_BASES, LIMY), {"drainage": "free"}, "sodium.cec_inflated"),
        ((SUM_OF_BASES,), {"drainage": "free"}, "sodium.cec_doubtful"),
    ],
)
def test_withheld_and_why(library: Library, results: tuple[Result, ...], more: dict[str, Any], why: str) -> None:
    """A sodic soil, but one thing is unknown or in the way: no amount, and the thing is named."""
    found = judged(library, *SODIC, *results, **more)
    assert found.sodium_class == "sodic"
    assert found.gypsum is None
    assert {"sodium.gypsum_withheld", why} <= {note.code for note in found.notes}


def test_sum_of_bases_will_do_without_lime(library: Library) -> None:
    """In soil that does not fizz the sum of bases is a fair CEC."""
    found = judged(library, *SODIC, SUM_OF_BASES, Result("lime", "acid_fizz", text="none"), drainage="free")
    assert found.gypsum is not None


@pytest.mark.parametrize(("value", "kind"), [(5.99, "do_not"), (6.0, "not_suited"), (12.99, "not_suited")])
def test_gypsum_asked_for(library: Library, value: float, kind: str) -> None:
    """Below SAR 6 gypsum is refused as useless; from 6 it is not called for yet."""
    found = answered(library, Result("SAR", PASTE, value), requests=("gypsum",))
    assert found.kind == kind
    assert found.base_rate is None
    assert found.reason is None


def test_gypsum_asked_for_without_a_test(library: Library) -> None:
    """Untested sodium: no amount, and the tests to order."""
    found = answered(library, Result("pH", "saturated_paste", 9.0), requests=("gypsum",))
    assert found.kind == "do_not"
    assert found.reason is not None
    assert found.reason.severity == "withhold"
    assert found.reason.ask is not None


def test_watchful_soil_that_seals_gets_gypsum(library: Library) -> None:
    """SAR 11, ESP 13 % and crusting: below the sodic line, yet gypsum has sodium to replace."""
    sealed = judged(library, Result("SAR", PASTE, 11), CEC, LIMY, drainage="free", symptoms=("crusting",))
    assert sealed.sodium_class == "nonsodic"
    assert sealed.gypsum is not None
    open_soil = judged(library, Result("SAR", PASTE, 11), CEC, LIMY, drainage="free")
    assert open_soil.gypsum is None


def test_esp_at_the_goal_needs_none(library: Library) -> None:
    """SAR 7 with crusting: ESP 8.3 % is already below the 10 % aimed for."""
    found = judged(library, Result("SAR", PASTE, 7), CEC, LIMY, drainage="free", symptoms=("crusting",))
    assert found.gypsum is None
    assert "sodium.gypsum_not_by_esp" in {note.code for note in found.notes}
