"""Rates in another unit, against the exact units of NIST Special Publication 811: 0.45359237 kg, 0.3048 m."""

import pytest

from service.agronomy.submission import Quantity
from service.render.rates import also_metric, in_unit


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (3.2, "oz/100 ft2", "lb/1000 ft2", 2.0),
        (43.56, "lb/acre", "lb/1000 ft2", 1.0),
        (1.0, "lb/1000 ft2", "g/m2", 453.59237 / (1000 * 0.3048**2)),
        (1.0, "g/m2", "kg/ha", 10.0),
        (2.0, "lb/tree", "oz/tree", 32.0),
    ],
)
def test_rates_in_another_unit(value: float, unit: str, to: str, expected: float) -> None:
    found = in_unit(Quantity(value, unit), to)
    assert found is not None
    assert found.value == pytest.approx(expected)


@pytest.mark.parametrize(("unit", "to"), [("lb/tree", "g/m2"), ("in", "g/m2"), ("lb/acre", "g/tree"), ("%", "lb/acre")])
def test_what_cannot_be_compared_is_not(unit: str, to: str) -> None:
    assert in_unit(Quantity(1.0, unit), to) is None


def test_a_source_in_pounds_is_also_told_in_the_unit_of_a_metric_answer() -> None:
    assert also_metric(Quantity(3.75, "lb/1000 ft2"), "g/m2") == Quantity(18.3, "g/m2")
    assert also_metric(Quantity(3.75, "lb/1000 ft2"), "lb/1000 ft2") is None
    assert also_metric(Quantity(18.3, "g/m2"), "g/m2") is None
