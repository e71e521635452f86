"""What stays open: a long list for a lone pH, a short one for a complete report, and always what to order.

Which tests matter for which ground is common practice, after the testing guides of the western land-grants.
"""

from typing import Any

import pytest
from making import LAWN_RESULTS, case_of, judged

from service.agronomy import not_assessed
from service.agronomy.findings import NotAssessed, Note, Word
from service.agronomy.sample import Case
from service.agronomy.submission import Depth, Result, Well
from service.agronomy.tables import Library

GARDEN = "vegetable-garden"
PH = Result("pH", "saturated_paste", 7.9)


def missing(case: Case) -> dict[str, NotAssessed]:
    return {item.subject: item for item in not_assessed.list_missing(case, *judged(case))}


def without(*analytes: str) -> tuple[Result, ...]:
    return tuple(item for item in LAWN_RESULTS if item.analyte not in analytes)


def test_a_complete_lawn_report_leaves_nothing_open(library: Library) -> None:
    assert missing(case_of(library)) == {}


def test_a_lone_pH_leaves_much_open(library: Library) -> None:
    found = missing(case_of(library, PH, crop=GARDEN, stage=None))
    assert list(found) == [
        "salts",
        "sodium",
        "lime",
        "organic_matter",
        "nitrate",
        "P",
        "K",
        "zinc",
        "iron",
        "boron",
        "texture",
        "lead",
        "irrigation_water",
    ]
    for subject, item in found.items():
        assert item.why.code == f"missing.{subject}"
        assert item.ask.code == f"ask.{subject}"


@pytest.mark.parametrize(
    ("analytes", "subject"),
    [
        (("pH",), "pH"),
        (("EC",), "salts"),
        (("SAR",), "sodium"),
        (("lime",), "lime"),
        (("OM",), "organic_matter"),
        (("P",), "P"),
        (("K",), "K"),
        (("Zn",), "zinc"),
        (("Fe",), "iron"),
    ],
)
def test_each_untested_subject_is_named(library: Library, analytes: tuple[str, ...], subject: str) -> None:
    found = missing(case_of(library, *without(*analytes)))
    assert subject in found
    assert subject not in missing(case_of(library))


def test_nitrate_matters_where_a_test_guides_the_rate(library: Library) -> None:
    """Lawns and trees are fed by season and age; legumes make their own."""
    rest = without("NO3-N")
    assert "nitrate" in missing(case_of(library, *rest, crop=GARDEN, stage=None))
    assert "nitrate" in missing(case_of(library, *rest, crop=None))
    for crop in ("tall-fescue-lawn", "apple", "shade-tree", "alfalfa", "snap-bean"):
        assert "nitrate" not in missing(case_of(library, *rest, crop=crop, stage=None))


def test_nitrate_of_a_deeper_layer_is_nitrate(library: Library) -> None:
    deep = Result("NO3-N", "kcl_extract", 5, "mg/kg", depth=Depth(12, 24, "in"))
    assert "nitrate" not in missing(case_of(library, *without("NO3-N"), deep, crop=GARDEN, stage=None))


def test_a_soluble_extract_is_no_fertility_test(library: Library) -> None:
    soluble = Result("K", "saturated_paste_extract", 1, "meq/L")
    assert "K" in missing(case_of(library, *without("K"), soluble))


def test_an_extract_that_nobody_named_does_not_count(library: Library) -> None:
    found = missing(case_of(library, *without("P"), Result("P", None, 20, "mg/kg")))
    assert found["P"].why.code == "missing.not_usable"


def test_a_spoilt_figure_is_named_as_spoilt(library: Library) -> None:
    """A galvanized pail spoils zinc (county guidance on sampling tools)."""
    found = missing(case_of(library, *without("Zn"), Result("Zn", "dtpa", 38, "mg/kg")))
    assert "zinc" not in found
    spoilt = missing(case_of(library, sample={"container": "galvanized"}))
    assert spoilt["zinc"].why.code == "missing.not_used"
    assert spoilt["zinc"].why.values["why"].code == "void.galvanized_container"
    assert spoilt["zinc"].ask == Note("ask.zinc")


@pytest.mark.parametrize(
    ("result", "subject", "why"),
    [
        (Result("NO3-N", "kcl_extract", 44, "dS/m"), "nitrate", "void.unit_does_not_fit"),
        (Result("EC", "saturated_paste_extract", 820, "dS/m"), "salts", "void.impossible_value"),
        (Result("P", "olsen", 12), "P", "void.unit_missing"),
    ],
)
def test_an_unread_figure_is_named_with_the_true_reason(
    library: Library, result: Result, subject: str, why: str
) -> None:
    """A unit that does not fit is no fault of the sample, and the answer settles it before a new test does."""
    found = missing(case_of(library, *without(result.analyte), result, crop=GARDEN, stage=None))[subject]
    assert found.why.code == "missing.not_used"
    assert found.why.values["why"].code == why
    assert found.ask == Note("ask.settle_figure", {"subject": Word("subject", subject)})


def test_a_kit_is_an_observation(library: Library) -> None:
    found = missing(case_of(library, *without("pH"), Result("pH", "home_kit", 7)))
    assert found["pH"].why.code == "missing.observation_only"


def test_sodium_that_is_only_suspected_stays_open(library: Library) -> None:
    found = missing(case_of(library, Result("pH", "saturated_paste", 9.0), symptoms=("ponding",)))
    assert found["sodium"].ask.code == "ask.sodium"


@pytest.mark.parametrize(
    ("site", "named"),
    [
        ({}, False),
        ({"children": True}, True),
        ({"children": False}, False),
        ({"house_built": 1950}, True),
        ({"house_built": 1977}, True),
        ({"house_built": 1978}, False),
        ({"condition": {"use": "school"}}, True),
        ({"condition": {"use": "home"}}, False),
    ],
)
def test_lead_only_with_a_reason(library: Library, site: dict[str, Any], named: bool) -> None:
    """Children, a school, or a house of the lead-paint years (before the ban of 1978)."""
    assert ("lead" in missing(case_of(library, **site))) is named
    tested = Result("Pb", "total_digest", 20, "mg/kg")
    assert "lead" not in missing(case_of(library, *LAWN_RESULTS, tested, **site))


def test_a_first_look_at_a_lawn_does_not_ask_for_lead(library: Library) -> None:
    assert "lead" not in missing(case_of(library, PH))
    assert "lead" in missing(case_of(library, PH, crop=None))


def test_boron_only_with_a_reason(library: Library) -> None:
    assert "boron" not in missing(case_of(library))
    assert "boron" in missing(case_of(library, requests=("boron",)))
    tested = Result("B", "hot_water", 0.5, "mg/kg")
    assert "boron" not in missing(case_of(library, *LAWN_RESULTS, tested, requests=("boron",)))
    assert "boron" in missing(case_of(library, PH))


def test_texture_where_salts_are_only_estimated(library: Library) -> None:
    estimated = (*without("EC"), Result("EC", "water_1_1", 0.5, "dS/m"))
    assert "texture" in missing(case_of(library, *estimated))
    assert "texture" not in missing(case_of(library, *estimated, texture="loam"))
    assert "texture" not in missing(case_of(library, *estimated, observations={"ribbon": "none"}))
    assert "texture" not in missing(case_of(library))
    sodic = (*without("SAR"), Result("SAR", "saturated_paste_extract", 20))
    assert "texture" in missing(case_of(library, *sodic))


def test_water_where_salt_or_sodium_was_found(library: Library) -> None:
    salty = (*without("EC"), Result("EC", "saturated_paste_extract", 5, "dS/m"))
    sodic = (*without("SAR"), Result("SAR", "saturated_paste_extract", 20))
    water = (Result("EC", "water_sample", 0.5, "dS/m"),)
    for results in (salty, sodic):
        assert "irrigation_water" in missing(case_of(library, *results))
        assert "irrigation_water" not in missing(case_of(library, *results, water=water))
    assert "irrigation_water" not in missing(case_of(library))


def test_a_private_well_is_tested_every_year(library: Library) -> None:
    assert "well_water" in missing(case_of(library, well=Well()))
    nitrate = (Result("NO3-N", "water_sample", 2, "mg/L"),)
    assert "well_water" not in missing(case_of(library, well=Well(), water=nitrate))
    assert "well_water" not in missing(case_of(library))


def test_a_missing_figure_is_not_a_zero(library: Library) -> None:
    """Nothing tested and tested as very low are two different answers."""
    zero = Result("P", "olsen", 0.5, "mg/kg")
    assert "P" not in missing(case_of(library, *without("P"), zero))
    assert "P" in missing(case_of(library, *without("P")))
