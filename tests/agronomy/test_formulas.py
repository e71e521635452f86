"""Formulas that no other test calls by themselves: against the print behind them."""

import pytest

from service.agronomy.acid_advice import convention_mass
from service.agronomy.hydrometer import Curves
from service.agronomy.tables import Library
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_ACRE


@pytest.mark.parametrize(("reading", "depth_cm"), [(0, 16.3), (5, 15.5), (15, 13.8), (25, 12.2), (35, 10.6), (60, 6.5)])
def test_effective_depth(library: Library, reading: float, depth_cm: float) -> None:
    """ASTM D422, table of effective depth for hydrometer 152H, one decimal."""
    assert library.index(Curves.of).effective_depth_cm(reading) == pytest.approx(depth_cm, abs=0.06)


def test_two_million_pounds(library: Library) -> None:
    """The convention for an acre six inches deep, 2,000,000 lb, is a bulk density of 1.47 g/cm3 (MERCED, computed)."""
    mass = convention_mass(library)
    assert mass == pytest.approx(2_000_000 * GRAMS_PER_LB / SQUARE_METRES_PER_ACRE)
    assert mass / 1e6 / (6 * 0.0254) == pytest.approx(1.47, abs=0.005)
