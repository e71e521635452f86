"""pH, free lime, and what both allow the target."""

from typing import Any

import pytest
from making import case_of

from service.agronomy import reaction
from service.agronomy.reaction import Reaction
from service.agronomy.submission import Result
from service.agronomy.tables import Library


def judged(library: Library, *results: Result, **more: Any) -> Reaction:
    return reaction.assess(case_of(library, *results, **{"crop": "tomato", **more}), None)


def pH(value: float, method: str = "saturated_paste", qualifier: str | None = None) -> Result:
    return Result("pH", method, value, None, qualifier)


def lime(value: float, qualifier: str | None = None) -> Result:
    return Result("lime", "calcimeter", value, "%", qualifier)


def fizz(word: str, method: str = "acid_fizz") -> Result:
    return Result("lime", method, text=word)


def codes(found: Reaction) -> set[str]:
    return {note.code for note in found.notes}


@pytest.mark.parametrize(
    ("value", "word"),
    [
        (5.599999, "strongly_acid"),
        (5.6, "moderately_acid"),
        (6.099999, "moderately_acid"),
        (6.1, "slightly_acid"),
        (6.6, "neutral"),
        (7.399999, "neutral"),
        (7.4, "slightly_alkaline"),
        (7.899999, "slightly_alkaline"),
        (7.9, "moderately_alkaline"),
        (8.499999, "moderately_alkaline"),
        (8.5, "strongly_alkaline"),
    ],
)
def test_class_edges(library: Library, value: float, word: str) -> None:
    """Soil Survey Manual reaction classes: printed as 5.6-6.0, 6.1-6.5, 6.6-7.3, 7.4-7.8, 7.9-8.4, 8.5 and up."""
    assert judged(library, pH(value)).pH_class == word


@pytest.mark.parametrize("method", ["saturated_paste", "water_1_1", "water_1_2", "water_1_5", "not_stated"])
def test_water_pH_methods(library: Library, method: str) -> None:
    """Every water pH is read on the same scale."""
    found = judged(library, pH(7.0, method))
    assert (found.pH, found.pH_class, found.method) == (7.0, "neutral", method)


@pytest.mark.parametrize("method", ["cacl2", "home_kit", "probe"])
def test_other_pH_decides_nothing(library: Library, method: str) -> None:
    """Calcium chloride is another scale; kits and probes are observations."""
    found = judged(library, pH(7.0, method))
    assert (found.pH, found.pH_class, found.calcareous) == (None, "unknown", None)
    assert ("reaction.calcium_chloride_pH" in codes(found)) == (method == "cacl2")


def test_paste_goes_before_other_methods(library: Library) -> None:
    """With two methods the saturated paste leads, whatever the order."""
    assert judged(library, pH(8.1, "water_1_2"), pH(7.8)).pH == 7.8


@pytest.mark.parametrize(
    ("value", "word", "calcareous"),
    [
        (0.0, "none", False),
        (0.499999, "none", False),
        (0.5, "low", True),
        (0.999999, "low", True),
        (1.0, "medium", True),
        (2.0, "high", True),
        (40.0, "high", True),
    ],
)
def test_lime_classes(library: Library, value: float, word: str, calcareous: bool) -> None:
    """Lime classes of csu-0502 (1 and 2 %); the line of 0.5 % is common practice."""
    found = judged(library, pH(7.8), lime(value))
    assert (found.lime, found.calcareous, found.lime_pct) == (word, calcareous, value)


def test_lime_below_the_reporting_limit(library: Library) -> None:
    """ "< 0.5 %" is below the line; "< 2 %" may be either side."""
    assert judged(library, pH(7.4), lime(0.5, "<")).calcareous is False
    assert judged(library, pH(7.4), lime(2, "<")).calcareous is None
    assert judged(library, pH(7.8), lime(5, ">")).calcareous is True


@pytest.mark.parametrize(
    ("word", "calcareous", "lime_class"),
    [
        ("none", False, "none"),
        ("very_slight", None, "low"),
        ("slight", True, "medium"),
        ("strong", True, "high"),
        ("violent", True, "high"),
    ],
)
def test_acid_fizz(library: Library, word: str, calcareous: bool | None, lime_class: str) -> None:
    """A slight or stronger fizz shows lime; a very slight one leaves it open (csu-0502: an estimate by fizz)."""
    found = judged(library, pH(7.6), fizz(word))
    assert (found.calcareous, found.lime, found.lime_pct) == (calcareous, lime_class, None)


def test_vinegar_shows_but_does_not_clear(library: Library) -> None:
    """Vinegar that fizzes shows lime, vinegar that does not proves nothing."""
    assert judged(library, pH(7.6), observations={"vinegar_fizz": "strong"}).calcareous is True
    assert judged(library, pH(7.6), observations={"vinegar_fizz": "none"}).calcareous is None


def test_percent_goes_before_fizz(library: Library) -> None:
    """A measured percentage is worth more than a word."""
    found = judged(library, pH(7.6), fizz("strong"), lime(0.2))
    assert (found.calcareous, found.lime_how) == (False, "percent")


@pytest.mark.parametrize(("value", "calcareous"), [(6.999999, False), (7.0, None), (8.4, None)])
def test_acid_soil_holds_no_lime(library: Library, value: float, calcareous: bool | None) -> None:
    """Below pH 7.0 lime cannot last (common practice); from there nobody knows without a test."""
    assert judged(library, pH(value)).calcareous is calcareous


@pytest.mark.parametrize(("value", "code"), [(7.499999, "reaction.lime_untested"), (7.5, "reaction.lime_likely")])
def test_untested_lime(library: Library, value: float, code: str) -> None:
    """From pH 7.5 lime is likely; the answer says how to find out."""
    assert code in codes(judged(library, pH(value)))


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (5.999999, "reaction.pH_below"),
        (6.0, "reaction.pH_fits"),
        (8.3, "reaction.pH_fits"),
        (8.300001, "reaction.pH_above"),
    ],
)
def test_pH_against_the_crop(library: Library, value: float, code: str) -> None:
    """msu-soilscoop lists no pH limitation from 6.0 to 8.3: pH 7.8 is no defect."""
    assert code in codes(judged(library, pH(value)))


def test_blueberry_on_lime(library: Library) -> None:
    """A lime-intolerant plant is named on limy soil, and on alkaline soil nobody tested; not on acid soil."""
    named = "reaction.lime_intolerant"
    assert named in codes(judged(library, pH(7.2), lime(3), crop="blueberry"))
    assert named in codes(judged(library, pH(7.5), crop="blueberry"))
    assert named not in codes(judged(library, pH(7.499999), crop="blueberry"))
    assert named not in codes(judged(library, pH(5.0), crop="blueberry"))
    assert named not in codes(judged(library, pH(7.4), fizz("none"), crop="blueberry"))


def test_no_crop_and_no_pH(library: Library) -> None:
    """Nothing sent, nothing made up."""
    found = judged(library, Result("OM", "loss_on_ignition", 3, "%"), crop=None)
    assert (found.pH, found.pH_class, found.lime, found.calcareous) == (None, "unknown", "unknown", None)
    assert found.notes == ()


def test_censored_pH_is_not_a_figure(library: Library) -> None:
    """ "pH > 8.4" is not a figure to compute with."""
    assert judged(library, pH(8.5, qualifier=">")).pH is None


def test_sources(library: Library) -> None:
    """Class, lime and crop range are cited."""
    found = judged(library, pH(7.8), lime(4))
    assert {"SSM", "csu-0502", "msu-soilscoop"} <= set(found.sources)
    assert found.verification == "memory"
