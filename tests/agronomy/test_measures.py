"""Weights in cups and pints, litres and gallons, and whole bags, against printed densities and exact units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry

from service.agronomy.materials.measures import bags, household, quarter, volume_litres
from service.agronomy.tables import Library, MaterialRow

POUND = 453.59237
UNITS = UnitRegistry()
GARDEN, FIELD, METRIC = "us_garden", "us_field", "metric"


def material(library: Library, name: str) -> MaterialRow:
    return next(row for row in library.rows("materials", MaterialRow) if row.material == name)


def measured(library: Library, name: str, grams: float, system: str = GARDEN) -> tuple[float, str]:
    note = household(material(library, name), grams, system)
    assert note is not None
    amount = note.values["amount"]
    return amount.value, amount.unit


def test_a_quart_of_urea(library: Library) -> None:
    """WE16: a quart (four cups) of urea weighs about 1.6 lb, by a garden table; 1.54 by its bulk density."""
    assert measured(library, "urea", 1.6 * POUND) == (4.25, "cup")
    assert measured(library, "urea", 1.5373 * POUND) == (4.0, "cup")


def test_cups_of_a_complete_fertilizer(library: Library) -> None:
    """WE17: 1.5 lb of 10-10-10 are about 3 cups, since a pint is near a pound."""
    assert measured(library, "balanced_10_10_10", 1.5 * POUND)[0] == pytest.approx(3, rel=0.1)


def test_a_cubic_yard_of_compost(library: Library) -> None:
    """WE34: 1 yd3 covers 324 ft2 one inch deep and 162 ft2 two inches deep."""
    row = material(library, "yard_compost")
    for square_feet, inches in ((324, 1), (162, 2)):
        litres = (square_feet * UNITS.foot**2 * inches * UNITS.inch).to("litre").magnitude
        grams = litres * 1000 * (row.bulk_density_kg_L or 0)
        assert measured(library, "yard_compost", grams) == (1.0, "yd3")


@pytest.mark.parametrize(
    ("name", "grams", "system", "wanted"),
    [
        ("urea", 8, GARDEN, (2.25, "tsp")),
        ("urea", 30, GARDEN, (2.75, "tbsp")),
        ("urea", 3 * POUND, FIELD, (7.75, "cup")),
        ("urea", 4 * POUND, FIELD, (5.25, "pint")),
        ("urea", 100, METRIC, (140, "mL")),
        ("urea", 37, METRIC, (50, "mL")),
        ("urea", 5000, METRIC, (6.75, "L")),
        ("urea", 15_000, METRIC, (20, "L")),
        ("uan_32", 11.06 * POUND, GARDEN, (1.0, "gal")),
        ("uan_28", 10.67 * POUND * 20, FIELD, (20, "gal")),
    ],
)
def test_the_vessel_that_fits(
    library: Library, name: str, grams: float, system: str, wanted: tuple[float, str]
) -> None:
    """By pint's units and the table's density; solutions as printed: 11.06 and 10.67 lb in a gallon."""
    assert measured(library, name, grams, system) == wanted
    litres = volume_litres(material(library, name), grams)
    assert (wanted[0] * UNITS(wanted[1].replace("gal", "gallon"))).to("litre").magnitude == pytest.approx(
        litres, rel=0.1
    )


@pytest.mark.parametrize(
    ("name", "grams"),
    [("zinc_sulfate", 500), ("boric_acid", 500), ("anhydrous_ammonia", 500), ("urea", 0.2), ("urea", 100_000)],
)
def test_what_is_weighed(library: Library, name: str, grams: float) -> None:
    """Common practice: trace elements, gases, pinches and hundreds of pints are not measured by volume."""
    assert household(material(library, name), grams, GARDEN) is None
    assert household(material(library, name), grams, METRIC) is None


def test_the_scatter_is_told(library: Library) -> None:
    note = household(material(library, "ammonium_sulfate"), 500, GARDEN)
    assert note is not None
    assert note.values["scatter"] == 15


@given(count=st.floats(0.125, 1e4))
def test_a_count_is_rounded_to_what_can_be_measured(count: float) -> None:
    """To the nearest quarter below ten, to the whole above; a quarter at least."""
    assert abs(quarter(count) - count) <= (0.5 if count >= 10 else 0.125) + 1e-9
    assert quarter(count) * 4 % 1 == 0


@given(count=st.integers(1, 500), bag_kg=st.floats(0.1, 1000), rest=st.floats(0.01, 1))
def test_bags_hold_what_is_wanted_and_no_bag_too_many(count: int, bag_kg: float, rest: float) -> None:
    """Bags are the least whole number that holds the amount; left over is what they hold above it."""
    grams = (count - 1 + rest) * bag_kg * 1000
    found, left = bags(grams, bag_kg)
    assert found == count
    assert left == pytest.approx(found * bag_kg * 1000 - grams, abs=1e-6 * grams + 1e-6)


def test_a_bag_just_full_is_one_bag() -> None:
    """0.1 kg three times is 0.3 kg also where binary fractions say a little more."""
    assert bags(0.1 * 3 * 1000, 0.1) == (3, 0.0)
