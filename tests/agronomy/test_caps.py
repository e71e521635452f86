"""Hard caps: on the cap a dose leaves, above it it becomes a hold with its arithmetic, whatever the unit or area.

Caps: 1 lb soluble N per 1,000 ft2 and application on lawns (New York lawn guide; Minnesota Extension), 10 lb sulfur per
1,000 ft2 on standing turf (Clemson EC 707), 15 lb zinc per acre (the largest published rate,
Arizona vegetables), 5 lb copper per acre (common practice), 7 lb N per 1,000 ft2 and year on lawns
(the largest published rate, Texas), 2 lb on buffalograss (Kansas State), 8 oz N per tree (Utah State), 3 kg
boron per ha (Handbook of Plant Nutrition).
"""

from dataclasses import replace
from math import isclose
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import LAWN_RESULTS, case_of, dose, plain

from service.agronomy import caps
from service.agronomy.errors import TableError, UnknownUnit
from service.agronomy.findings import Application, Note, Reason, Recommendation, Word
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimitRow

GARDEN = "vegetable-garden"


def enforced(case: Case, item: Recommendation) -> tuple[list[Recommendation], tuple[Reason, ...]]:
    return caps.enforce(case, [item])


def held(case: Case, item: Recommendation) -> bool:
    kept, reasons = enforced(case, item)
    assert (kept == []) is bool(reasons)
    assert all(reason.severity == "hold" for reason in reasons)
    return bool(reasons)


HARD: list[tuple[dict[str, Any], str, str, str, float, int]] = [
    # case, subject, kind, unit, cap, doses
    ({}, "N", "nutrient", "lb/1000 ft2", 1.0, 1),
    ({}, "N", "nutrient", "lb/1000 ft2", 7.0, 8),
    ({"crop": "buffalograss-lawn"}, "N", "nutrient", "lb/1000 ft2", 2.0, 4),
    ({"crop": GARDEN, "stage": None}, "N", "nutrient", "lb/1000 ft2", 7.0, 8),
    ({"crop": "alfalfa", "stage": None}, "N", "nutrient", "lb/acre", 300.0, 8),
    ({}, "sulfur", "amendment", "lb/1000 ft2", 10.0, 1),
    ({"stage": "overseeding"}, "sulfur", "amendment", "lb/1000 ft2", 10.0, 1),
    ({}, "S", "nutrient", "lb/1000 ft2", 10.0, 1),
    ({}, "P2O5", "nutrient", "lb/acre", 300.0, 1),
    ({}, "K2O", "nutrient", "lb/acre", 480.0, 1),
    ({}, "Zn", "nutrient", "lb/acre", 15.0, 1),
    ({}, "Cu", "nutrient", "lb/acre", 5.0, 1),
    ({}, "B", "nutrient", "lb/1000 ft2", 0.04, 1),
    ({"crop": "alfalfa", "stage": None}, "B", "nutrient", "lb/acre", 2.7, 1),
    ({}, "gypsum", "amendment", "ton/acre", 10.0, 1),
]


@pytest.mark.parametrize("units", ["us_garden", "us_field", "metric"])
@pytest.mark.parametrize(("more", "subject", "kind", "unit", "cap", "split"), HARD)
def test_a_hard_cap_below_on_and_above(
    library: Library, units: str, more: dict[str, Any], subject: str, kind: str, unit: str, cap: float, split: int
) -> None:
    case = case_of(library, options={"units": units}, **more)
    assert not held(case, dose(case, subject, cap * 0.98, unit, kind, split))
    assert not held(case, dose(case, subject, cap, unit, kind, split))
    assert held(case, dose(case, subject, cap * 1.06, unit, kind, split))


@pytest.mark.parametrize("units", ["us_garden", "us_field", "metric"])
def test_a_split_is_judged_dose_by_dose(library: Library, units: str) -> None:
    """3 lb N in three doses of 1 lb keep the cap; the same 3 lb at once do not."""
    case = case_of(library, options={"units": units})
    assert not held(case, dose(case, "N", 3, split=3))
    assert held(case, dose(case, "N", 3, split=2))
    assert held(case, dose(case, "N", 3))
    printed_only = replace(dose(case, "N", 3), applications=(), base_rate=None)
    assert held(case, printed_only)
    undivided = replace(dose(case, "N", 3), applications=())
    assert held(case, undivided)
    assert not held(case, replace(dose(case, "N", 1), applications=()))


def test_one_dose_too_large_is_enough(library: Library) -> None:
    case = case_of(library)
    good = dose(case, "N", 0.5)
    when = Note("when.test")
    uneven = replace(
        dose(case, "N", 2.1),
        applications=(
            Application(when, case.units.rate(case_grams(case, 0.5))),
            Application(when, case.units.rate(case_grams(case, 1.1))),
            Application(when, case.units.rate(case_grams(case, 0.5))),
        ),
    )
    kept, reasons = caps.enforce(case, [good, uneven, good])
    assert kept == [good, good]
    (reason,) = reasons
    assert isclose(reason.values["per_1000"].value, 1.1)


def case_grams(case: Case, lb_per_1000: float) -> float:
    item = dose(case, "N", lb_per_1000)
    assert item.base_rate is not None
    return item.base_rate


def test_the_reason_shows_the_arithmetic(library: Library) -> None:
    """12 lb per 1,000 ft2 is 1.2 per 100 and 12 x 43.56 = 523 per acre: a slip by area or unit shows at a glance."""
    case = case_of(library)
    _, (reason,) = enforced(case, dose(case, "sulfur", 12, kind="amendment"))
    assert reason.code == "dose_over_cap"
    assert reason.severity == "hold"
    assert reason.analyte == "sulfur"
    assert reason.values["per_100"] == Quantity(1.2, "lb/100 ft2")
    assert reason.values["per_1000"] == Quantity(12.0, "lb/1000 ft2")
    assert reason.values["per_acre"] == Quantity(523.0, "lb/acre")
    assert reason.values["cap"] == Quantity(10, "lb/1000 ft2")
    assert reason.values["per"].word == "application"
    assert reason.ask is not None


def test_what_carries_no_amount_passes(library: Library) -> None:
    case = case_of(library)
    for kind in ("practice", "do_not", "none_needed", "not_suited"):
        assert not held(case, replace(dose(case, "sulfur", 50), kind=kind))
    for kind in ("nutrient", "amendment", "water"):
        assert not held(case, plain(kind, "N"))
        assert held(case, replace(dose(case, "sulfur", 50), kind=kind))
    assert not held(case, dose(case, "chloride", 500))


def test_caps_of_another_target_do_not_hold(library: Library) -> None:
    garden = case_of(library, crop=GARDEN, stage=None)
    assert not held(garden, dose(garden, "N", 1.5))
    assert not held(garden, dose(garden, "sulfur", 15, kind="amendment"))
    turf = case_of(library)
    assert held(turf, dose(turf, "sulfur", 15, kind="amendment"))
    new = case_of(library, stage="seeding")
    assert not held(new, dose(new, "sulfur", 15, kind="amendment"))
    unknown = case_of(library, stage=None)
    assert held(unknown, dose(unknown, "sulfur", 15, kind="amendment"))


def test_use_decides_the_boron_cap(library: Library) -> None:
    """0.04 lb per 1,000 ft2 at home, 2.7 lb per acre (0.062 lb per 1,000 ft2) anywhere."""
    home = case_of(library, crop="alfalfa", stage=None, condition={"use": "home"})
    field = case_of(library, crop="alfalfa", stage=None)
    assert held(home, dose(home, "B", 0.05))
    assert not held(field, dose(field, "B", 0.05))
    assert held(field, dose(field, "B", 0.063))


def test_a_tree_has_a_cap_of_its_own(library: Library) -> None:
    """8 oz N per tree and year (Utah State): 226.8 g."""
    case = case_of(library, crop="apple", stage="bearing")

    def per_tree(grams: float) -> Recommendation:
        rate = case.units.per_tree(grams)
        when = (Application(Note("when.test"), rate),)
        return Recommendation("nutrient", "N", Note("rec.test"), rate=rate, applications=when, base_rate=grams)

    assert not held(case, per_tree(8 * 28.349))
    assert held(case, per_tree(8 * 28.351))
    _, (reason,) = enforced(case, per_tree(300))
    assert reason.code == "dose_over_cap_each"
    assert reason.values == {
        "subject": Word("subject", "N"),
        "cap": Quantity(8, "oz/tree"),
        "per": Word("per", "year"),
        "dose": Quantity(0.661, "lb/tree"),
    }
    assert reason.ask == Note("ask.dose_over_cap", {"subject": Word("subject", "N")})


def test_compost_is_capped_by_depth(library: Library) -> None:
    """No single layer above 4 in (common practice)."""
    case = case_of(library, crop=GARDEN, stage=None)

    def layer(value: float, unit: str) -> Recommendation:
        return Recommendation("amendment", "compost", Note("rec.test"), rate=Quantity(value, unit))

    assert not held(case, layer(3.99, "in"))
    assert not held(case, layer(4, "in"))
    assert held(case, layer(4.01, "in"))
    assert held(case, layer(10.2, "cm"))
    assert not held(case, layer(10.1, "cm"))
    _, (reason,) = enforced(case, layer(6, "in"))
    assert reason.code == "dose_over_cap_each"
    assert reason.values["dose"] == Quantity(6, "in")


def with_cap(library: Library, subject: str, maximum: float, unit: str, per: str, **more: Any) -> Library:
    rows = library.rows("application-limits", LimitRow)
    own = LimitRow(
        limit="test",
        subject=subject,
        per=per,
        maximum=maximum,
        unit=unit,
        hard=True,
        sources=("practice",),
        verification="practice",
        **more,
    )
    return Library(
        {**library.tables, "application-limits": (*rows, own)}, library.editions, library.sources, library.crops
    )


@pytest.mark.parametrize("units", ["us_garden", "metric"])
@pytest.mark.parametrize(("grams", "over"), [(99, False), (100, False), (102, True)])
def test_a_cap_per_dose_and_tree(library: Library, units: str, grams: float, over: bool) -> None:
    case = case_of(with_cap(library, "Fe", 100, "g/tree", "application"), crop="apple", options={"units": units})
    whole, each = case.units.per_tree(3 * grams), case.units.per_tree(grams)
    when = Note("when.test")
    item = Recommendation(
        "nutrient", "Fe", Note("rec.test"), rate=whole, applications=(Application(when, each),) * 3, base_rate=3 * grams
    )
    assert held(case, item) is over


def test_rounding_for_people_breaks_no_cap(library: Library) -> None:
    """100.1 g is printed as 0.221 lb, which is 100.2 g: the dose is the cap, and keeps it."""
    case = case_of(with_cap(library, "Fe", 100.1, "g/tree", "application"), crop="apple")
    each = case.units.per_tree(100.1)
    assert each == Quantity(0.221, "lb/tree")
    when = (Application(Note("when.test"), each),)
    item = Recommendation("nutrient", "Fe", Note("rec.test"), rate=each, applications=when, base_rate=100.1)
    assert not held(case, item)


@pytest.mark.parametrize(("inches", "over"), [(1.9, False), (2, False), (2.1, True)])
def test_a_cap_per_layer_and_year(library: Library, inches: float, over: bool) -> None:
    item = Recommendation("amendment", "mulch", Note("rec.test"), rate=Quantity(inches, "in"), base_rate=inches * 25.4)
    assert held(case_of(with_cap(library, "mulch", 2, "in", "year")), item) is over
    layers = replace(item, applications=(Application(Note("when.test"), Quantity(inches, "in")),) * 2)
    assert held(case_of(with_cap(library, "mulch", 2, "in", "application")), layers) is over


@pytest.mark.parametrize("when", ["seed_row", "with_seed"])
def test_nothing_is_placed_with_the_seed(library: Library, when: str) -> None:
    """Caps for fertilizer beside the seed are for a placement that no recommendation has."""
    case = case_of(with_cap(library, "Fe", 0, "lb/acre", "application", when=when))
    assert not held(case, dose(case, "Fe", 1))


@pytest.mark.parametrize("when", ["", "heat", "a_condition_nobody_wrote"])
def test_a_condition_that_cannot_be_ruled_out_counts_as_met(library: Library, when: str) -> None:
    case = case_of(with_cap(library, "Fe", 0.5, "lb/acre", "application", when=when))
    assert held(case, dose(case, "Fe", 1))


def test_who_the_ground_is_for(library: Library) -> None:
    """A cap for homes holds for a garden whose use nobody named, a cap for fields for a forage crop."""
    garden = {"crop": GARDEN, "stage": None}
    home = with_cap(library, "Fe", 0.5, "lb/acre", "application", uses=("home",))
    field = with_cap(library, "Fe", 0.5, "lb/acre", "application", uses=("field",))
    for shelf, crop, over in (
        (home, GARDEN, True),
        (home, "alfalfa", False),
        (home, "winter-wheat", False),
        (home, None, True),
        (field, GARDEN, False),
        (field, "alfalfa", True),
        (field, "winter-wheat", True),
        (field, None, True),
    ):
        case = case_of(shelf, **{**garden, "crop": crop})
        assert held(case, dose(case, "Fe", 1)) is over
    sold = case_of(home, condition={"use": "market"}, **garden)
    assert not held(sold, dose(sold, "Fe", 1))


def test_a_dose_by_mass_is_not_measured_by_depth(library: Library) -> None:
    """A layer in inches and a mass per area do not compare without a density nobody gave."""
    case = case_of(library, crop=GARDEN, stage=None)
    by_mass = dose(case, "compost", 900, kind="amendment")
    assert not held(case, by_mass)
    assert not held(case, replace(by_mass, applications=()))
    tree = case_of(library, crop="apple", stage="bearing")
    assert not held(tree, dose(tree, "N", 1))


def test_no_setting_takes_a_cap_away(library: Library) -> None:
    """Neither upkeep, nor stage, nor a calibration, nor a pin of the case lets a dose through."""
    for more in (
        {"condition": {"maintenance": "high"}},
        {"stage": None},
        {"options": {"calibration": "colorado"}},
        {"options": {"editions": {"application-limits": "2025-01-01"}}},
        {"area": None},
    ):
        case = case_of(library, **more)
        assert held(case, dose(case, "N", 2))


@pytest.mark.parametrize(("unit", "error"), [("barleycorn", UnknownUnit), ("cups", TableError), ("d", TableError)])
def test_a_hard_cap_that_cannot_be_checked_is_an_error(library: Library, unit: str, error: type[Exception]) -> None:
    rows = library.rows("application-limits", LimitRow)
    broken = tuple(replace(row, unit=unit) if row.limit == "n_lawn_dose" else row for row in rows)
    changed = Library(
        {**library.tables, "application-limits": broken}, library.editions, library.sources, library.crops
    )
    with pytest.raises(error, match=unit):
        changed.index(caps.Caps.of)


def test_soft_caps_hold_nothing(library: Library) -> None:
    """Soft rows split doses elsewhere; only hard rows hold."""
    case = case_of(library)
    assert not held(case, dose(case, "gypsum", 100, kind="amendment"))
    assert not held(case, dose(case, "lime", 100, kind="amendment"))


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rate=st.floats(0.01, 400),
    split=st.integers(1, 6),
    subject=st.sampled_from(["N", "P2O5", "K2O", "S", "sulfur", "Zn", "Cu", "B", "gypsum"]),
    units=st.sampled_from(["us_garden", "us_field", "metric"]),
)
def test_no_dose_over_its_cap_ever_leaves(library: Library, rate: float, split: int, subject: str, units: str) -> None:
    """Whatever is proposed, what is kept keeps every hard cap of the table, as printed for the client."""
    case = case_of(library, *LAWN_RESULTS, explain=False, options={"units": units})
    kept, reasons = enforced(case, dose(case, subject, rate, split=split))
    assert len(kept) + len(reasons) == 1
    for item in kept:
        for row in library.rows("application-limits", LimitRow):
            if row.hard and row.subject == caps.SAME.get(subject, subject) and caps.applies(case, row):
                whole = item.base_rate if row.per in ("year", "once") else None
                limit = dose(case, subject, row.maximum, row.unit).base_rate if "/tree" not in row.unit else None
                if limit is None or row.unit == "in" or row.when:
                    continue
                if whole is not None:
                    assert whole <= limit * 1.000001
                else:
                    assert all(each.rate.value <= case.units.rate(limit).value for each in item.applications)
