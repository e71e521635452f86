"""Ratings without rates: what rests on a sample that describes the fertilizer, or an average of good and bad.

The handling is common practice (sampling manuals): give the ratings as provisional, withhold the rates.
"""

from typing import Any

import pytest
from making import LAWN_RESULTS, case_of, judged

from service.agronomy import amounts, ratings, texture, water
from service.agronomy.findings import Note, Recommendation, Word
from service.agronomy.submission import Result
from service.agronomy.tables import Library

GARDEN: dict[str, Any] = {"crop": "vegetable-garden", "stage": None}
FRESH = {"fertilized_within_days": 20}
LOW = (*(result for result in LAWN_RESULTS if result.analyte not in ("P", "NO3-N")), Result("P", "olsen", 4, "mg/kg"))


def given(library: Library, *results: Result, **more: Any) -> dict[str, Recommendation]:
    case = case_of(library, *results, **more)
    salts, exchangeable, acidity = judged(case)
    found = ratings.rate(case).findings
    answer = amounts.recommend(case, found, salts, exchangeable, acidity, texture.texture_of(case), water.assess(case))
    return {item.subject: item for item in answer.recommendations}


def withheld(item: Recommendation) -> bool:
    return item.text == Note("rec.rate_withheld", {"nutrient": Word("subject", item.subject)})


@pytest.mark.parametrize("sample", [FRESH, {"mixed_areas": True}])
def test_no_rate_and_no_none_rests_on_a_provisional_figure(library: Library, sample: dict[str, Any]) -> None:
    found = given(library, **GARDEN, sample=sample)
    for subject in ("N", "P2O5", "K2O", "Zn"):
        assert withheld(found[subject]), subject
        assert (found[subject].kind, found[subject].rate, found[subject].applications) == ("practice", None, ())
    assert not any(withheld(item) for item in given(library, **GARDEN).values())


def test_what_the_fertilizer_does_not_touch_keeps_its_answer(library: Library) -> None:
    found = given(library, **GARDEN, sample=FRESH)
    assert {"Fe", "Mn", "Cu"} <= {subject for subject, item in found.items() if item.kind == "none_needed"}


def test_a_low_figure_gives_no_rate_either(library: Library) -> None:
    assert given(library, *LOW)["P2O5"].rate is not None
    assert withheld(given(library, *LOW, sample=FRESH)["P2O5"])


def test_nitrogen_by_season_does_not_hang_on_the_test(library: Library) -> None:
    """A lawn is fed by season; without a nitrate test nothing of a garden's nitrogen is in doubt either."""
    assert not withheld(given(library, sample=FRESH)["N"])
    assert not withheld(given(library, *LOW, **GARDEN, sample=FRESH)["N"])
