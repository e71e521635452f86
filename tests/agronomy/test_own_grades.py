"""A product known by its grade alone is taken for what holds so much nitrogen.

Pure ammonium nitrate holds 35.0 % N and urea 46.6 % (atomic masses, IUPAC): above the first it can only be urea.
"""

import pytest
from supplying import ground, own

from service.agronomy.materials.stock import stocks_of
from service.agronomy.submission import MaterialWishes
from service.agronomy.tables import Library


@pytest.mark.parametrize(
    ("grade", "properties"),
    [("46-0-0", {"urea", "quick_N"}), ("24-0-0", {"ammonium", "quick_N"}), ("0-46-0", set()), ("0-0-60", {"chloride"})],
)
def test_the_form_behind_a_grade(library: Library, grade: str, properties: set[str]) -> None:
    wishes = MaterialWishes(products=(own("mine", grade),))
    assert stocks_of(ground(library, wishes=wishes), wishes)["mine"].properties == properties
