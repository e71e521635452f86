"""Leaching: the share that must drain, the water that washes salt out, and when it is advised."""

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from making import case_of

from service.agronomy import salinity, texture
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Leaching, Salinity
from service.agronomy.leaching import (
    applied_water,
    leaching_requirement,
    leaching_requirement_drainage,
    leaching_requirement_frequent,
    reclamation_water,
)
from service.agronomy.submission import Depth, IrrigationWater, Quantity, Result
from service.agronomy.tables import LeachingRow, Library

PASTE = "saturated_paste_extract"
CALM = (Result("Na", PASTE, 10, "meq/L"), Result("Ca", PASTE, 40, "meq/L"), Result("Mg", PASTE, 20, "meq/L"))
MILD = (Result("Na", PASTE, 2, "meq/L"), Result("Ca", PASTE, 6, "meq/L"), Result("Mg", PASTE, 3, "meq/L"))
SALTY = Result("EC", PASTE, 7, "dS/m")
EC = st.floats(0.05, 30)


def judged(library: Library, *results: Result, **more: Any) -> Salinity:
    case = case_of(library, *results, **{"crop": "tomato", "depth": Depth(0, 6, "in"), **more})
    found = salinity.assess(case, texture.texture_of(case))
    assert found is not None
    return found


def washed(library: Library, *results: Result, **more: Any) -> Leaching:
    found = judged(library, *results, **more).leaching
    assert found is not None
    return found


@given(EC, EC)
def test_saltier_water_needs_more(water: float, bearable: float) -> None:
    """The leaching requirement rises with the water's EC and falls with what the crop bears."""
    assume(1.3 * water * 1.1 < 2.5 * bearable)
    fraction = leaching_requirement(water, bearable, ece_multiple=5)
    assert 0 < fraction < 1
    assert leaching_requirement(1.1 * water, bearable, ece_multiple=5) > fraction
    assert leaching_requirement(water, 1.1 * bearable, ece_multiple=5) < fraction


def test_frequent_irrigation_example() -> None:
    """Drip on tomato, ECw 1.2, no yield at 12.6 dS/m (FAO29 table 4): 1.2 / 25.2 = 5 %."""
    assert leaching_requirement_frequent(1.2, 12.6, max_multiple=2) == pytest.approx(0.048, abs=0.001)


def test_applied_water_with_efficiency() -> None:
    """800 mm of use, a tenth drained, 80 % efficiency: 1,111 mm (FAO29 eq. 7, its 890 mm over 0.8)."""
    assert applied_water(800, 0.1, 0.8) == pytest.approx(1111, abs=1)


@given(st.floats(2, 40), st.floats(0.5, 1.9), st.floats(1, 40), st.floats(0.05, 0.6))
def test_reclamation_is_linear_in_depth(now: float, wanted: float, depth: float, k: float) -> None:
    """Twice the soil takes twice the water; water with salt of its own takes more."""
    water = reclamation_water(now, wanted, depth, k)
    assert reclamation_water(now, wanted, 2 * depth, k) == pytest.approx(2 * water)
    assert reclamation_water(now, wanted, depth, k, 0.4) > water


@pytest.mark.parametrize(("inches", "left_medium", "left_sandy"), [(6, 60, 20), (12, 30, 10), (24, 15, 5)])
def test_rule_of_thumb(library: Library, inches: float, left_medium: float, left_sandy: float) -> None:
    """Common practice: 6, 12, 24 in of water per foot take away about 50, 80, 90 %.

    The published k gives 40, 70, 85 % ponded on finer soil and 80, 90, 95 % on sand or in turns: the rule lies between.
    """
    rows = {(row.water, row.soil): row.k for row in library.rows("reclamation-leaching", LeachingRow)}
    for key, left in ((("ponded", "medium"), left_medium), (("intermittent", "any"), left_sandy)):
        assert reclamation_water(100, left, 12, rows[key]) == pytest.approx(inches)


@pytest.mark.parametrize(
    "call",
    [
        lambda: leaching_requirement(5, 2, ece_multiple=5),
        lambda: leaching_requirement(-1, 2, ece_multiple=5),
        lambda: leaching_requirement(1, 0, ece_multiple=5),
        lambda: leaching_requirement_frequent(10, 5, max_multiple=2),
        lambda: leaching_requirement_drainage(5, 5),
        lambda: applied_water(800, 1),
        lambda: applied_water(800, -0.1),
        lambda: applied_water(800, 0.1, 0),
        lambda: applied_water(800, 0.1, 1.01),
        lambda: reclamation_water(8, 2, 0, 0.1),
        lambda: reclamation_water(8, 2, 12, 0),
        lambda: reclamation_water(8, 2, 12, 0.1, 2),
    ],
)
def test_outside_the_range(call: Any) -> None:
    """No water can leach below its own salt; no share can pass the whole."""
    with pytest.raises(OutOfRange):
        call()


def test_nothing_to_wash_out() -> None:
    """A soil already at the goal takes no water."""
    assert reclamation_water(2, 2, 12, 0.1) == 0


def test_washing_out_a_tomato_bed(library: Library) -> None:
    """ECe 7, threshold 2.5, drained, no sodium: 0.1 x 12 x 7 / 2.5 = 3.36 in, 1,047 gal on 500 ft2."""
    found = washed(library, SALTY, *CALM, drainage="free", area=Quantity(500, "ft2"))
    assert found.kind == "reclamation"
    assert found.depth == Quantity(3.36, "in")
    assert found.volume is not None
    assert found.volume.value == pytest.approx(3.36 / 12 * 500 * 7.4805, rel=0.01)
    assert "salt.leach_water_unknown" in {note.code for note in found.conditions}


def test_salt_of_the_water_is_subtracted(library: Library) -> None:
    """With water of 0.7 dS/m: 0.1 x 12 x 6.3 / 1.8 = 4.2 in, and the condition about unknown water goes."""
    found = washed(library, SALTY, *CALM, drainage="free", water=(Result("EC", "water_sample", 0.7, "dS/m"),))
    assert found.depth.value == pytest.approx(4.2)
    assert "salt.leach_water_unknown" not in {note.code for note in found.conditions}


SODIC = (Result("Na", PASTE, 40, "meq/L"), Result("Ca", PASTE, 8, "meq/L"), Result("Mg", PASTE, 4, "meq/L"))


@pytest.mark.parametrize(
    ("results", "more", "why"),
    [
        ((SALTY, *CALM), {}, "salt.drainage_unknown"),
        ((SALTY, *CALM), {"drainage": "unknown"}, "salt.drainage_unknown"),
        ((SALTY, *CALM), {"drainage": "slow"}, "salt.drainage_poor"),
        ((SALTY, *CALM), {"drainage": "free", "symptoms": ("ponding",)}, "salt.water_stands"),
        ((SALTY, *CALM), {"drainage": "free", "hard_layer_depth": Quantity(23.9, "in")}, "salt.hard_layer"),
        ((SALTY,), {"drainage": "free"}, "salt.leaching_needs_sodium"),
        (
            (SALTY, *CALM),
            {"drainage": "free", "water": (Result("EC", "water_sample", 2.5, "dS/m"),)},
            "salt.leaching_water_too_salty",
        ),
    ],
)
def test_withheld_and_why(library: Library, results: tuple[Result, ...], more: dict[str, Any], why: str) -> None:
    """Each precondition that fails or is unknown withholds the depth and is named."""
    found = judged(library, *results, **more)
    assert found.leaching is None
    assert {"salt.leaching_withheld", why} <= {note.code for note in found.notes}


def test_an_estimate_is_measured_first(library: Library) -> None:
    """Washing on an estimate is not withheld for other reasons: the saturated paste comes before all of them."""
    found = judged(library, Result("EC", "water_1_2", 3, "dS/m"), *CALM)
    assert found.leaching is None
    told = {note.code for note in found.notes}
    assert "salt.leaching_needs_paste" in told
    assert told.isdisjoint({"salt.leaching_withheld", "salt.drainage_unknown"})


def test_deep_hard_layer_does_not_block(library: Library) -> None:
    """A layer at the working line of 24 in or deeper leaves room to leach (common practice)."""
    assert washed(library, SALTY, *CALM, drainage="free", hard_layer_depth=Quantity(24, "in")).kind == "reclamation"


@pytest.mark.parametrize(("ece", "leached"), [(3.5, False), (3.511, True)])
def test_leaching_begins_at_a_loss_worth_it(library: Library, ece: float, leached: bool) -> None:
    """Tomato loses 10 % at 3.51 dS/m (FAO29 prints 3.5): from there washing out is advised."""
    found = judged(library, Result("EC", PASTE, ece, "dS/m"), *CALM, drainage="free")
    assert (found.leaching is not None) == leached


@pytest.mark.parametrize(("crop", "ece", "leached"), [("rose", 2.0, False), ("rose", 2.1, True), ("apple", 3.9, False)])
def test_leaching_without_a_yield_line(library: Library, crop: str, ece: float, leached: bool) -> None:
    """A limit of looks asks for leaching past it; a bare rating only from the saline limit of 4 dS/m (HB60)."""
    found = judged(library, Result("EC", PASTE, ece, "dS/m"), Result("SAR", PASTE, 2), crop=crop, drainage="free")
    assert (found.leaching is not None) == leached


def test_share_for_good_soil_and_known_water(library: Library) -> None:
    """ECw 1.2 on tomato (2.5): 10.6 % must drain; of 24 in a season that is 2.85 in more, once salt is over 2.5."""
    water = IrrigationWater((Result("EC", "water_sample", 1.2, "dS/m"),), applied=Quantity(24, "in"))
    found = washed(library, Result("EC", PASTE, 2.6, "dS/m"), Result("SAR", PASTE, 2), irrigation_water=water)
    assert found.kind == "maintenance"
    assert found.fraction == pytest.approx(0.106, abs=0.001)
    assert found.depth.value == pytest.approx(24 * 0.1062 / 0.8938, rel=0.01)


@pytest.mark.parametrize(
    ("ecw", "why"),
    [(1.0, "salt.leaching_share"), (1.2, "salt.leaching_impractical"), (2.6, "salt.water_beyond_crop")],
)
def test_water_against_the_crop(library: Library, ecw: float, why: str) -> None:
    """Snap bean (1.0): 25 % is practical, 32 % is not, and above 2.5 dS/m no share will do."""
    water = (Result("EC", "water_sample", ecw, "dS/m"),)
    found = judged(library, Result("EC", PASTE, 1.2, "dS/m"), *MILD, crop="snap-bean", water=water)
    assert why in {note.code for note in found.notes}
    assert found.leaching is None
