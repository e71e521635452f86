"""Row-level differences and the answers they change, as a reader of both tables would say them."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.tables import AmountRow, Band, ClassRow, FactorRow
from service.catalog.catalog import Catalog
from service.catalog.compare import compare_rows
from service.catalog.comparison import compare_editions
from service.catalog.effects import crop_effects, table_effects
from service.catalog.segments import differing


def band(rating: str, lower: float | None, upper: float | None, **more: Any) -> Band:
    return Band(
        **{
            "calibration": "demo",
            "analyte": "P",
            "method": "olsen",
            "unit": "mg/kg",
            "rating": rating,
            "lower": lower,
            "upper": upper,
            "sources": ("practice",),
            "verification": "practice",
            **more,
        }
    )


LADDER = [band("low", None, 7), band("medium", 7, 15), band("high", 15, None)]


def segments(before: list[Band], after: list[Band]) -> list[tuple[Any, ...]]:
    return [tuple(segment) for segment in differing(before, after)]


def test_equal_ladders_differ_nowhere() -> None:
    assert segments(LADDER, list(reversed(LADDER))) == []


def test_a_moved_limit_is_one_stretch() -> None:
    moved = [LADDER[0], band("medium", 7, 18), band("high", 18, None)]
    assert segments(LADDER, moved) == [(15, 18, "high", "medium")]


def test_a_class_that_is_gone_leaves_its_stretch_without_one() -> None:
    assert segments(LADDER, LADDER[1:]) == [(None, 7, "low", None)]
    assert segments(LADDER[:2], LADDER) == [(15, None, None, "high")]


def test_a_limit_that_changes_sides_is_one_figure() -> None:
    """Up to 15 and including it: only 15 itself changes."""
    sides = [LADDER[0], band("medium", 7, 15, upper_inclusive=True), band("high", 15, None, lower_inclusive=False)]
    assert segments(LADDER, sides) == [(15, 15, "high", "medium")]


def test_two_changes_side_by_side_are_told_apart() -> None:
    shifted = [band("low", None, 10), band("medium", 10, 20), band("high", 20, None)]
    assert segments(LADDER, shifted) == [(7, 10, "medium", "low"), (15, 20, "high", "medium")]


LIMITS = st.lists(st.integers(1, 60), min_size=1, max_size=5, unique=True).map(sorted)


def ladder(limits: list[int]) -> list[Band]:
    ends = [None, *limits, None]
    return [band(f"class {n}", ends[n], ends[n + 1]) for n in range(len(limits) + 1)]


def class_of(bands: list[Band], value: float) -> str | None:
    for row in bands:
        if (row.lower is None or row.lower <= value) and (row.upper is None or value < row.upper):
            return row.rating
    return None


@given(LIMITS, LIMITS, st.floats(0, 70, allow_nan=False).map(lambda x: round(x, 2)))
def test_a_figure_is_in_a_stretch_exactly_when_its_class_changes(
    one: list[int], other: list[int], value: float
) -> None:
    before, after = ladder(one), ladder(other)
    inside = [s for s in differing(before, after) if (s.low or -1) <= value and (s.high is None or value < s.high)]
    expected = (class_of(before, value), class_of(after, value))
    assert [(s.before, s.after) for s in inside] == ([expected] if expected[0] != expected[1] else [])


def test_rows_are_paired_by_likeness() -> None:
    """A changed figure is a changed row; a row about something else came or went."""
    after = [replace(LADDER[0], upper=9), LADDER[2], band("low", None, 1, analyte="Zn", method="dtpa")]
    found = compare_rows(LADDER, after)
    assert (LADDER[0], after[0], ("upper",)) in found.changed
    assert len(found.added) + len(found.changed) == 2
    assert len(found.removed) + len(found.changed) == 2


def test_the_order_of_rows_is_no_difference() -> None:
    found = compare_rows(LADDER, [replace(row, line=9) for row in reversed(LADDER)])
    assert found == ((), (), ())


def test_rows_of_another_subject_are_not_paired() -> None:
    one = FactorRow(factor="a", value=1, unit="1", sources=("practice",), verification="practice")
    found = compare_rows([one], [replace(one, factor="b")])
    assert (len(found.added), len(found.removed), found.changed) == (1, 1, ())


def test_marks_alone_change_no_answer() -> None:
    found = compare_rows(LADDER, [replace(LADDER[0], verification="read", place="p. 3"), *LADDER[1:]])
    (changed,) = found.changed
    assert (changed.columns, changed.figures) == (("place", "verification"), False)
    assert table_effects(LADDER, LADDER, found) == []


def test_effects_of_crops_are_told_once_for_all_that_share_them(catalog: Catalog) -> None:
    """One moved limit, two crops: one effect that names both."""
    names = ("tomato", "apple")
    crops = {name: replace(catalog.crops[name], sufficiency=tuple(LADDER)) for name in names}
    moved = tuple(replace(row, lower=8) if row.rating == "medium" else row for row in LADDER)
    later = {name: replace(crop, sufficiency=moved) for name, crop in crops.items()}
    (effect,) = crop_effects(crops, later)
    assert effect.crops == ("apple", "tomato")
    assert effect.what.code == "change.rating"


def test_changed_rates_are_told_with_what_they_depend_on(catalog: Catalog) -> None:
    rate = AmountRow(
        calibration="demo",
        nutrient="N",
        rate_low=1.0,
        rate_high=2.0,
        rate_unit="lb/1000 ft2",
        per="year",
        maintenance=("high",),
        sources=("practice",),
        verification="practice",
    )
    before = {"tomato": replace(catalog.crops["tomato"], amounts=(rate,))}
    for later, code in (
        (replace(rate, rate_high=3.0), "change.rate"),
        (replace(rate, maintenance=("low",)), "change.rate_moved"),
        (replace(rate, schedule="another"), "change.column"),
    ):
        after = {"tomato": replace(catalog.crops["tomato"], amounts=(later,))}
        assert [effect.what.code for effect in crop_effects(before, after)] == [code]
    assert crop_effects(before, {"tomato": replace(before["tomato"], amounts=())})[0].what.code == "change.rate"


@pytest.mark.parametrize(
    ("name", "value"),
    [("depth_in", (0.0, 2.0)), ("pH_range", (4.0, 5.0)), ("traits", frozenset(("new",))), ("names", {"en": ("new",)})],
)
def test_what_is_said_of_a_crop_is_compared(catalog: Catalog, name: str, value: Any) -> None:
    crop = catalog.crops["tomato"]
    (effect,) = crop_effects({"tomato": crop}, {"tomato": replace(crop, **{name: value})})
    assert (effect.what.code, effect.what.values["column"]) == ("change.column", name)


def test_classes_for_every_sample_are_told_for_everybody() -> None:
    one = ClassRow(
        ladder="salinity",
        name="nonsaline",
        unit="dS/m",
        lower=0.0,
        upper=2.0,
        sources=("practice",),
        verification="practice",
    )
    other = replace(one, upper=1.5)
    (effect,) = table_effects([one], [other], compare_rows([one], [other]))
    assert effect.crops == ()
    assert effect.what.code == "change.class"


def test_an_edition_against_itself_changes_nothing(catalog: Catalog) -> None:
    for name in ("ratings-colorado", "classes", "tomato"):
        (edition,) = catalog.editions_of(name)
        found = compare_editions(catalog, name, edition, edition)
        assert all(difference == ((), (), ()) for difference in found.tables.values())
        assert [effect.what.code for effect in found.effects] == ["change.nothing"]
    with pytest.raises(KeyError):
        compare_editions(catalog, "no-such", "2025-01-01", "2025-01-01")
