"""Every hard cap of the table on every road by which an amount can leave: a little above it never does."""

from typing import Any

import pytest
from calculating import ask
from making import case_of, dose

from service.agronomy import caps
from service.agronomy.calculations import WrongInput
from service.agronomy.cap_reach import caps_anywhere, caps_of_materials
from service.agronomy.findings import Note, Recommendation
from service.agronomy.judgement import Edit, Judgement, WrongEdit, judge
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, MaterialRow
from service.agronomy.units import Units

NUTRIENTS = ("N", "P2O5", "K2O", "S", "Fe", "Mn", "Zn", "Cu", "B")
GROUNDS = ("tall-fescue-lawn", "buffalograss-lawn", "vegetable-garden", "apple", "winter-wheat", "alfalfa")
ABOVE = 1.02


def above(cap: caps.Cap) -> Quantity:
    return Quantity(cap.printed.value * ABOVE, cap.printed.unit)


def hard(library: Library) -> list[tuple[str, caps.Cap]]:
    by_subject = library.index(caps.Caps.of).by_subject
    return [(subject, cap) for subject, found in by_subject.items() for cap in found if cap.base > 0]


def test_every_nutrient_and_amendment_has_a_cap_anywhere(library: Library) -> None:
    """Soils, crops and uses aside: nothing that is weighed out by area is without one."""
    known = {subject for subject, found in library.index(caps_anywhere).items() if found}
    assert known >= {*NUTRIENTS, "gypsum", "lime", "manure"}


@pytest.mark.parametrize("crop", GROUNDS)
def test_no_recommendation_and_no_edit_above_a_cap(library: Library, crop: str) -> None:
    case = case_of(library, crop=crop, stage=None, explain=False)
    judged = 0
    for subject, cap in hard(library):
        if not caps.applies(case, cap.row):
            continue
        rate = above(cap)
        kind = "nutrient" if subject in NUTRIENTS else "amendment"
        plain = Recommendation(kind, subject, Note("rec.test"), rate=rate)
        asked = dose(case, subject, rate.value, rate.unit, kind) if cap.dimension == caps.AREAL else plain
        assert caps.enforce(case, [asked])[0] == [], (subject, cap.row.limit)
        judged += 1
        judgement = Judgement((Edit(subject, rate, "more"),))
        if cap.dimension != caps.AREAL:  # a new amount is per area
            with pytest.raises(WrongEdit):
                judge(case, [], judgement)
            continue
        found = judge(case, [], judgement)
        assert found.over, (subject, cap.row.limit)
        assert found.recommendations == []
    assert judged > len(NUTRIENTS)


def withheld(library: Library, name: str, **inputs: Any) -> bool:
    try:
        return ask(library, name, **inputs).status == "withheld"
    except WrongInput:
        return True


def test_no_material_brings_more_than_a_cap_of_any_use(library: Library) -> None:
    """Each material of the table, each nutrient it holds, whoever asks and whatever grows there."""
    anywhere = library.index(caps_anywhere)
    own = library.index(caps_of_materials)
    for row in library.rows("materials", MaterialRow):
        for nutrient in NUTRIENTS:
            if not getattr(row, f"{nutrient}_pct") or (nutrient == "S" and own[row.material]):
                continue
            for cap in anywhere.get(nutrient, ()):
                rate = above(cap)
                asked = {"nutrient": nutrient, "rate": (rate.value, rate.unit), "area": (1, "acre")}
                assert withheld(library, "product_amount", material=row.material, **asked), (row.material, nutrient)


def test_no_material_itself_above_its_cap(library: Library) -> None:
    """So much of a nutrient that the material that brings it passes the cap on itself."""
    convert = library.index(Units.of).convert
    for row in library.rows("materials", MaterialRow):
        nutrient = next((name for name in ("K2O", "P2O5", "N", "S") if getattr(row, f"{name}_pct")), None)
        for cap in library.index(caps_of_materials)[row.material]:
            if nutrient is None:
                continue
            pounds = convert(cap.base * ABOVE, "g/m2", "lb/acre") * getattr(row, f"{nutrient}_pct") / 100
            asked = {"nutrient": nutrient, "rate": (pounds, "lb/acre"), "area": (1, "acre")}
            assert withheld(library, "product_amount", material=row.material, **asked), row.material


@pytest.mark.parametrize("nutrient", NUTRIENTS)
def test_no_blend_for_more_than_a_cap(library: Library, nutrient: str) -> None:
    for cap in library.index(caps_anywhere)[nutrient]:
        assert withheld(library, "blend", needs={nutrient: above(cap)}, area=(1, "acre"))


@pytest.mark.parametrize("nutrient", NUTRIENTS)
def test_no_tree_gets_more_than_its_cap_or_anything_without_one(library: Library, nutrient: str) -> None:
    row = next(row for row in library.rows("materials", MaterialRow) if getattr(row, f"{nutrient}_pct"))
    found = library.index(caps.Caps.of).by_subject[nutrient]
    rates = [above(cap) for cap in found if cap.dimension == caps.PER_TREE] or [Quantity(1, "oz/tree")]
    for rate in rates:
        asked = {"nutrient": nutrient, "per_tree": (rate.value, rate.unit)}
        assert withheld(library, "product_amount", material=row.material, **asked)
