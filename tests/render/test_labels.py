"""Names that stand in tables reach the words of each language."""

from service.agronomy.tables import Library
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words


def test_every_named_row_has_a_name_in_both_languages(library: Library) -> None:
    found = library.index(labels)
    assert set(found["en"]) == set(found["es"])
    for crop in library.crops.values():
        assert found["en"][f"word.crop.{crop.id}"] == crop.names["en"][0]
        assert found["es"][f"word.crop.{crop.id}"] == crop.names["es"][0]


def test_labels_are_collected_once(library: Library) -> None:
    assert library.index(labels) is library.index(labels)


def test_a_crop_is_named_in_a_sentence(library: Library) -> None:
    words = Words("es", Catalogue(), library.index(labels)["es"])
    assert words.word("crop", "apple") == library.crops["apple"].names["es"][0]
    assert words.word("analyte", "Zn") == "zinc"
