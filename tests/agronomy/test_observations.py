"""What a gardener sees is read for what it is worth: a practice or a next step, never an amount.

Readings follow common practice of the western land-grants' diagnostic keys.
"""

from typing import Any

import pytest
from making import LAWN_RESULTS, case_of, judged

from service.agronomy import observations
from service.agronomy.findings import Recommendation, Word
from service.agronomy.submission import Result
from service.agronomy.tables import Library

SALTY = (*(item for item in LAWN_RESULTS if item.analyte != "EC"), Result("EC", "saturated_paste_extract", 5, "dS/m"))
ESTIMATED = (*(item for item in LAWN_RESULTS if item.analyte != "EC"), Result("EC", "water_1_1", 0.4, "dS/m"))
SODIC = (*(item for item in LAWN_RESULTS if item.analyte != "SAR"), Result("SAR", "saturated_paste_extract", 20))
UNTESTED = (Result("pH", "saturated_paste", 7.9),)
ALL_SIGNS = (
    "ponding",
    "crusting",
    "slow_infiltration",
    "white_crust",
    "yellowing_new_leaves",
    "yellowing_old_leaves",
    "leaf_tip_burn",
    "leaf_edge_burn",
    "bare_patches",
    "stunting",
    "poor_growth",
    "blossom_end_rot",
)


def read(library: Library, *results: Result, **site: Any) -> list[Recommendation]:
    case = case_of(library, *results, **site)
    return observations.read(case, *judged(case))


def codes(library: Library, *results: Result, **site: Any) -> list[str]:
    return [item.text.code for item in read(library, *results, **site)]


def test_nothing_seen_nothing_said(library: Library) -> None:
    assert read(library) == []


@pytest.mark.parametrize("results", [LAWN_RESULTS, SALTY, SODIC, UNTESTED])
def test_no_sign_ever_gives_an_amount(library: Library, results: tuple[Result, ...]) -> None:
    found = read(library, *results, symptoms=ALL_SIGNS, observations={"vinegar_fizz": "strong"})
    assert found
    for item in found:
        assert item.kind == "practice"
        assert (item.rate, item.for_area, item.applications, item.base_rate) == (None, None, (), None)
        assert item.sources == ("practice",)
        assert item.verification == "practice"


@pytest.mark.parametrize("sign", ["ponding", "crusting", "slow_infiltration"])
def test_standing_water_is_not_proof_of_sodium(library: Library, sign: str) -> None:
    seen = (sign,)
    assert codes(library, *UNTESTED, symptoms=seen) == ["rec.puddling_sodium_unknown"]
    assert codes(library, symptoms=seen) == ["rec.puddling_not_sodium"]
    assert codes(library, *SODIC, symptoms=seen) == ["rec.puddling_fits_sodium"]
    (item,) = read(library, symptoms=seen)
    assert item.text.values == {"seen": (Word("symptom", sign),)}
    assert item.subject == "drainage"


def test_a_white_crust_is_salt_only_when_salt_was_found(library: Library) -> None:
    seen = ("white_crust",)
    assert codes(library, *SALTY, symptoms=seen) == ["rec.white_crust.high"]
    assert codes(library, symptoms=seen) == ["rec.white_crust.low"]
    assert codes(library, *UNTESTED, symptoms=seen) == ["rec.white_crust.unknown"]
    assert codes(library, *ESTIMATED, symptoms=seen) == ["rec.white_crust.unknown"]


@pytest.mark.parametrize("sign", ["leaf_tip_burn", "leaf_edge_burn"])
def test_leaf_burn(library: Library, sign: str) -> None:
    seen = (sign,)
    assert codes(library, *SALTY, symptoms=seen) == ["rec.leaf_burn.high"]
    assert codes(library, symptoms=seen) == ["rec.leaf_burn.low"]
    assert codes(library, *UNTESTED, symptoms=seen) == ["rec.leaf_burn.unknown"]


def test_yellow_leaves(library: Library) -> None:
    assert codes(library, symptoms=("yellowing_new_leaves",)) == ["rec.yellow_new_leaves_limy"]
    assert codes(library, *UNTESTED, symptoms=("yellowing_new_leaves",)) == ["rec.yellow_new_leaves"]
    assert codes(library, symptoms=("yellowing_old_leaves",)) == ["rec.yellow_old_leaves"]


def test_fruit_rot_and_patches(library: Library) -> None:
    assert codes(library, symptoms=("blossom_end_rot",)) == ["rec.blossom_end_rot"]
    found = read(library, symptoms=("stunting", "bare_patches", "poor_growth"))
    (item,) = found
    assert item.text.code == "rec.sample_good_and_bad"
    assert item.text.values["seen"] == tuple(Word("symptom", s) for s in ("stunting", "bare_patches", "poor_growth"))


@pytest.mark.parametrize(
    ("answer", "code"),
    [("none", "rec.vinegar_silent"), ("slight", "rec.vinegar_fizzes"), ("strong", "rec.vinegar_fizzes")],
)
def test_vinegar(library: Library, answer: str, code: str) -> None:
    """Vinegar is weak: its silence proves nothing, its fizz does."""
    seen = {"vinegar_fizz": answer}
    assert codes(library, *UNTESTED, observations=seen) == [code]
    assert codes(library, observations=seen) == []


def test_other_observations_are_left_alone(library: Library) -> None:
    assert codes(library, *UNTESTED, observations={"ribbon": "over_2_in"}) == []
    assert codes(library, *UNTESTED, observations={"vinegar_fizz": "maybe"}) == []
