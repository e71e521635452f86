"""Wishes for materials: right ones become the dataclass, wrong ones are named with their place and what is right."""

from datetime import date
from typing import Any

import pytest

from service.agronomy.submission import AtHand, MaterialWishes, OwnProduct, Quantity
from service.agronomy.tables import Library
from service.contract.problem import ProblemError
from service.contract.submission import load_submission

BAG = {"value": 50, "unit": "lb"}
RIGHT = {
    "objective": "cost",
    "only": ["urea", "mine"],
    "whole_bags": True,
    "most_products": 2,
    "at_hand": [{"material": "potassium_sulfate", "amount": {"value": 5, "unit": "kg"}}],
    "products": [
        {"id": "mine", "grade": "24-0-11", "bag": BAG, "price": 30, "slow_release_pct": 40, "chloride": True},
    ],
}


def loaded(library: Library, wishes: Any) -> MaterialWishes | None:
    document = {
        "results": [{"analyte": "pH", "value": 7.5}],
        "target": {"crop": "apple"},
        "options": {"materials": wishes},
    }
    return load_submission(document, library, date(2026, 4, 20)).options.materials


def test_wishes_are_read(library: Library) -> None:
    """Every field, and blank ones as not said."""
    assert loaded(library, RIGHT) == MaterialWishes(
        "cost",
        ("urea", "mine"),
        True,
        2,
        (AtHand(Quantity(5.0, "kg"), "potassium_sulfate"),),
        (OwnProduct("mine", "24-0-11", None, Quantity(50.0, "lb"), 30.0, 40.0, True),),
    )
    assert loaded(library, {}) == MaterialWishes()
    assert loaded(library, None) is None


WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    ("objective", {"objective": "cheap"}, "/objective", "unknown_word"),
    ("unknown material", {"only": ["ureaa"]}, "/only/0", "unknown_material"),
    ("at hand unknown", {"at_hand": [{"material": "ureaa", "amount": BAG}]}, "/at_hand/0/material", "unknown_material"),
    ("at hand neither", {"at_hand": [{"amount": BAG}]}, "/at_hand/0/grade", "one_way"),
    (
        "no mass",
        {"at_hand": [{"material": "urea", "amount": {"value": 5, "unit": "ft"}}]},
        "/at_hand/0/amount/unit",
        "",
    ),
    ("over 100", {"products": [{"id": "a", "grade": "60-60-0"}]}, "/products/0/grade", "grade_over_100"),
    ("above ammonia", {"products": [{"id": "a", "grade": "90-0-0"}]}, "/products/0/grade", "grade_impossible"),
    ("not a grade", {"products": [{"id": "a", "grade": "10-10"}]}, "/products/0/grade", "not_a_grade"),
    ("empty grade", {"products": [{"id": "a", "grade": "0-0-0"}]}, "/products/0/grade", "grade_empty"),
    ("both", {"products": [{"id": "a", "grade": "1-1-1", "material": "urea"}]}, "/products/0/grade", "one_way"),
    ("price of what", {"products": [{"id": "a", "grade": "1-1-1", "price": 3}]}, "/products/0/bag", "missing"),
    ("twice", {"products": [{"id": "a", "grade": "1-1-1"}] * 2}, "/products/1/id", "repeated_item"),
    ("a material's id", {"products": [{"id": "urea", "grade": "0-0-60"}]}, "/products/0/id", "name_taken"),
    ("a grade as id", {"products": [{"id": "46-0-0", "grade": "0-0-60"}]}, "/products/0/id", "name_is_grade"),
    (
        "an impossible grade as id",
        {"products": [{"id": "90-0-0", "grade": "0-0-60"}]},
        "/products/0/id",
        "name_is_grade",
    ),
    ("markup", {"products": [{"id": "<b>", "grade": "0-0-60"}]}, "/products/0/id", "not_a_name"),
    ("two lines", {"products": [{"id": "a\nb", "grade": "0-0-60"}]}, "/products/0/id", "not_a_name"),
    ("bell", {"products": [{"id": "a\x07", "grade": "0-0-60"}]}, "/products/0/id", "control_character"),
    ("long name", {"products": [{"id": "a" * 41, "grade": "0-0-60"}]}, "/products/0/id", "wrong_length"),
    ("cost of what", {"objective": "cost"}, "/products", "missing"),
    (
        "no price",
        {"objective": "cost", "products": [{"id": "a", "grade": "1-1-1", "bag": BAG}]},
        "/products/0/price",
        "missing",
    ),
    (
        "too many",
        {"products": [{"id": str(n), "grade": "1-1-1"} for n in range(31)]},
        "/products",
        "wrong_count",
    ),
    (
        "too many bags",
        {"whole_bags": True, "products": [{"id": str(n), "grade": "1-1-1", "bag": BAG} for n in range(13)]},
        "/products",
        "too_many_bags",
    ),
    ("no products", {"most_products": 0}, "/most_products", "out_of_range"),
    ("a brand", {"brand": "x"}, "/brand", "unknown_field"),
]


@pytest.mark.parametrize(("wishes", "place", "code"), [case[1:] for case in WRONG], ids=[case[0] for case in WRONG])
def test_wrong_wishes_are_named(library: Library, wishes: dict[str, Any], place: str, code: str) -> None:
    """The pointer, the code and what would be right."""
    with pytest.raises(ProblemError) as caught:
        loaded(library, wishes)
    (error,) = caught.value.problem.errors
    assert error.pointer == f"/options/materials{place}"
    assert error.code == (code or "unit_does_not_fit")
    assert error.expected


def test_a_misspelled_material_is_guessed_at(library: Library) -> None:
    """Also by its name in either language."""
    for name in ("ammonium sulphate", "sulfato de amonio"):
        with pytest.raises(ProblemError) as caught:
            loaded(library, {"only": [name]})
        assert "ammonium_sulfate" in caught.value.problem.errors[0].suggestions
