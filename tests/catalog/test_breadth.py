"""Every target that the library was asked for, and what each must say of itself in both languages."""

import re
from functools import cache

import pytest

from service.agronomy.tables import CalibrationRow, Crop, Library
from service.catalog.catalog import Catalog
from service.render.catalogue import Catalogue

ASKED = {
    "lawns and turf": """kentucky-bluegrass-lawn perennial-ryegrass-lawn tall-fescue-lawn fine-fescue-lawn
        creeping-bentgrass-green bermudagrass-lawn hybrid-bermudagrass-lawn overseeded-bermudagrass-lawn
        buffalograss-lawn blue-grama-lawn zoysiagrass-lawn seashore-paspalum-lawn st-augustinegrass-lawn athletic-field
        new-lawn-seeding new-lawn-sod""",
    "vegetables and herbs": """tomato bell-pepper chile-pepper eggplant potato sweet-corn snap-bean pea cucumber
        summer-squash winter-squash pumpkin melon watermelon lettuce spinach swiss-chard cabbage broccoli cauliflower
        kale onion garlic carrot beet radish turnip sweet-potato okra asparagus artichoke rhubarb basil cilantro
        vegetable-garden raised-bed""",
    "fruit and nuts": """strawberry raspberry blackberry grape currant apple pear peach nectarine apricot cherry plum
        fig pomegranate jujube pecan pistachio almond walnut olive citrus date-palm blueberry""",
    "ornamentals": """shade-tree conifer desert-tree young-tree rose lilac evergreen-shrub low-water-shrub
        annual-flower-bed perennial-flower-bed bulb-bed cactus-succulent-bed native-pollinator-planting container""",
    "field and forage": """alfalfa new-alfalfa grass-hay dryland-pasture irrigated-pasture corn-grain corn-silage
        grain-sorghum forage-sorghum winter-wheat spring-wheat irrigated-wheat barley oat cotton dry-bean peanut
        sugar-beet sunflower safflower market-potato market-onion market-chile""",
}
"""The list of the task, by the ids that the library gives them."""
LIBRARY = {crop for listed in ASKED.values() for crop in listed.split()}
MIXED = {"vegetable-garden", "raised-bed", "container"}
"""Targets that are no plant: they have no scientific name."""
SALT_BY_SPECIES = "species_decides_salt_and_iron"
NO_SOIL_TABLE = "soil_tables_do_not_fit_potting_mix"
PLACE = {
    "en": r"\bzones?\b|elevation|high valleys|high gardens|mild winters",
    "es": r"\bzonas?\b|valles altos|jardines altos|inviernos suaves",
}
"""What makes a season note one by hardiness or elevation."""


@cache
def texts(language: str) -> dict[str, str]:
    return {code: entry.text for code, entry in Catalogue().entries[language].items()}


@pytest.fixture(params=sorted(LIBRARY), scope="module")
def crop(request: pytest.FixtureRequest, catalog: Catalog) -> Crop:
    return catalog.crops[request.param]


def test_at_least_a_hundred_were_asked_for_and_are_there(catalog: Catalog) -> None:
    assert len(LIBRARY) >= 100
    assert sorted(LIBRARY - set(catalog.crops)) == []


def test_names(crop: Crop) -> None:
    """Several common names in each language, and a scientific one unless it is no plant."""
    for language in ("en", "es"):
        assert len(set(crop.names[language])) >= 2, language
    assert bool(crop.scientific_name) is (crop.id not in MIXED)


def test_sample_and_soil(crop: Crop) -> None:
    """A kind, a sampling depth, a pH range with its source, and a salt tolerance or why there is none."""
    assert crop.kind in ("lawn", "vegetable", "fruit", "ornamental", "field", "forage")
    assert 0 <= crop.depth_in[0] < crop.depth_in[1] <= 36
    if crop.id != "container":
        assert crop.pH_range is not None
        assert crop.pH_source is not None
        assert 3.5 <= crop.pH_range[0] < crop.pH_range[1] <= 9
        assert crop.pH_source.sources


def test_classes_and_rates_or_that_there_are_none(crop: Crop, library: Library) -> None:
    """A crop without classes or without rates says so, and one that says so has none."""
    assert bool(crop.sufficiency) is (NO_SOIL_TABLE not in crop.notes)
    if not crop.amounts:
        assert {"ratings_only", NO_SOIL_TABLE} & set(crop.notes)
    known = {row.calibration for row in library.rows("calibrations", CalibrationRow)}
    assert set(crop.calibrations) <= known
    assert {row.calibration for row in (*crop.sufficiency, *crop.amounts)} <= set(crop.calibrations)


@pytest.mark.parametrize("language", ["en", "es"])
def test_season_by_hardiness_or_elevation(crop: Crop, language: str) -> None:
    notes = [texts(language)[f"crop.{note}"] for note in crop.notes if note.startswith("season_")]
    assert notes
    assert re.search(PLACE[language], notes[0], re.IGNORECASE), notes[0]


@pytest.mark.parametrize("language", ["en", "es"])
def test_cautions_of_its_own(crop: Crop, language: str) -> None:
    assert crop.cautions
    for caution in crop.cautions:
        assert caution.sources
        assert texts(language)[f"caution.{caution.code}"]


def test_sources(crop: Crop, catalog: Catalog) -> None:
    """Works of print stand behind every crop but a pot of mix."""
    rows = [*crop.sufficiency, *crop.amounts, *crop.salt_rivals, *(row for row in (crop.salt, crop.pH_source) if row)]
    cited = {source for row in rows for source in row.sources} - {"practice", "computed"}
    assert cited <= set(catalog.sources)
    assert bool(cited) is (crop.id != "container")


def test_calibrations_by_publisher_and_region(catalog: Catalog, library: Library) -> None:
    """At least four publishers by region; every crop has an order of its own, which begins with the default."""
    rows = library.rows("calibrations", CalibrationRow)
    assert len({row.publisher for row in rows if row.regions}) >= 4
    assert [crop.id for crop in catalog.crops.values() if crop.sufficiency and not crop.calibrations] == []
