"""How much of a material: published examples, doses, bags, measures, units.

Published: 71 lb of ammonium sulfate for 1 lb of nitrogen per 1,000 ft2 on 15,000 ft2 (Four steps in fertilizer
calculations, teaching slides); one ton of 0-8-8 from 800 lb of 0-20-0 and 267 lb of 0-0-60 (NC State, Fertilizer terms
and calculations). The rest is mass over the share of the nutrient.
"""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import DAY, dose, plain, submission
from supplying import ACID, brought, by_id, g_m2, ground, own, supply

from service.agronomy.caps import Caps, applies
from service.agronomy.findings import Application, Note, Recommendation
from service.agronomy.interpret import interpret
from service.agronomy.materials.doses import parts_of, split
from service.agronomy.materials.needs import amount_of, demands, dose_limits
from service.agronomy.materials.stock import table_of
from service.agronomy.materials.weights import weigh
from service.agronomy.rounding import step_of
from service.agronomy.submission import MaterialWishes, Quantity, Result
from service.agronomy.tables import Library
from service.agronomy.units import Units
from service.blending import solve
from service.contract.answer import Issue, document, encoded
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words

GARDEN = {"crop": "vegetable-garden", "stage": "planting"}
FIELD = {"crop": "corn-grain", "stage": "planting"}
GRAMS_M2_PER_LB_1000 = 453.59237 / 92.90304
LAWN_NEEDS = ("N", "P2O5", "K2O")


def test_a_lawn_by_the_slides(library: Library) -> None:
    """15 lb of N on 15,000 ft2 take 71 lb of ammonium sulfate."""
    case = ground(library, area=Quantity(15_000, "ft2"))
    (use,) = supply(case, [dose(case, "N", 1.0)]).materials
    assert use.material == "ammonium_sulfate"
    assert use.amount.unit == "lb"
    assert use.amount.value == pytest.approx(71, rel=0.01)
    assert use.base_rate == pytest.approx(GRAMS_M2_PER_LB_1000 / 0.21)
    assert use.rate.value == pytest.approx(4.76, abs=0.05)
    assert dict(use.also_supplies)["S"].value == pytest.approx(4.76 * 0.24, abs=0.05)


def test_a_ton_of_0_8_8(library: Library) -> None:
    """160 lb each of phosphate and potash from 0-20-0 and 0-0-60: 800 and 267 lb."""
    wishes = MaterialWishes(only=("ordinary_superphosphate", "potassium_chloride"))
    case = ground(library, area=Quantity(1, "acre"), wishes=wishes, options={"units": "us_field"}, **FIELD)
    found = by_id(supply(case, [dose(case, item, 160, "lb/acre") for item in ("P2O5", "K2O")]))
    assert found["ordinary_superphosphate"].amount == Quantity(800.0, "lb")
    assert found["potassium_chloride"].amount.value == pytest.approx(267, rel=0.01)


def test_nitrogen_that_comes_with_phosphate_is_taken_off_its_doses(library: Library) -> None:
    """1 lb P2O5 of 18-46-0 brings 0.39 lb N: the first dose is smaller by so much, the second is not."""
    wishes = MaterialWishes(products=(own("dap", "18-46-0"), own("as", "21-0-0")))
    case = ground(library, wishes=wishes, **GARDEN)
    found = by_id(supply(case, [dose(case, "N", 2.0, split=2), dose(case, "P2O5", 1.0)]))
    first, second = (each.rate.value * 0.21 for each in found["as"].per_application)
    assert first == pytest.approx(1.0 - 18 / 46, rel=0.01)
    assert second == pytest.approx(1.0, rel=0.01)


def test_what_has_no_dates_goes_with_the_first_dose(library: Library) -> None:
    """Phosphate without windows is spread with the first nitrogen."""
    case = ground(library, **GARDEN)
    early = Application(Note("when.spring"), Quantity(1, "lb/1000 ft2"), None, DAY, DAY)
    nitrogen = replace(dose(case, "N", 1.0), applications=(early,))
    phosphate = replace(dose(case, "P2O5", 4.0), applications=())
    found = supply(case, [nitrogen, phosphate])
    assert {each.from_date for use in found.materials for each in use.per_application} == {DAY}


def test_bags_to_buy_and_what_is_left(library: Library) -> None:
    """71.4 lb from bags of 50 lb: two, and 28.6 lb left over."""
    wishes = MaterialWishes(products=(own("as", "21-0-0", bag=Quantity(50, "lb")),))
    case = ground(library, area=Quantity(15_000, "ft2"), wishes=wishes)
    (use,) = supply(case, [dose(case, "N", 1.0)]).materials
    assert use.bags is not None
    assert (use.bags.count, use.bags.size) == (2, Quantity(50.0, "lb"))
    assert use.bags.left_over.value == pytest.approx(28.6, abs=0.5)


def test_the_least_cost_is_chosen(library: Library) -> None:
    """Nitrogen at 20 for 50 lb of 21-0-0 (1.90 a pound) against 40 for 50 lb of 46-0-0 (1.74 a pound)."""
    bag = Quantity(50, "lb")
    shelf = (own("dear", "21-0-0", bag=bag, price=20.0), own("cheap", "46-0-0", bag=bag, price=40.0))
    case = ground(library, wishes=MaterialWishes("cost", products=shelf), **GARDEN)
    assert set(by_id(supply(case, [dose(case, "N", 1.0)]))) == {"cheap"}


def test_kitchen_measures_stand_beside_the_weight(library: Library) -> None:
    """Ammonium sulfate weighs 1.03 kg per litre: 4.76 lb are 2.1 L or 4.4 pints; metric readers get litres."""
    case = ground(library, area=Quantity(1000, "ft2"))
    (use,) = supply(case, [dose(case, "N", 1.0)]).materials
    assert use.household is not None
    assert use.household.values == {"amount": Quantity(4.5, "pint"), "scatter": 15.0}
    metric = ground(library, area=Quantity(1000, "ft2"), options={"units": "metric"})
    (use,) = supply(metric, [dose(metric, "N", 1.0)]).materials
    assert use.amount.value == pytest.approx(2.16, abs=0.05)
    assert use.household is not None
    assert use.household.values["amount"] == Quantity(2.0, "L")


def test_trace_elements_are_weighed(library: Library) -> None:
    """No spoons of zinc: ounces."""
    case = ground(library, area=Quantity(100, "ft2"), **GARDEN)
    (use,) = supply(case, [dose(case, "Zn", 0.2)]).materials
    assert use.household is None
    assert use.amount.unit == "oz"


def test_a_tree_gets_its_dose_by_the_tree(library: Library) -> None:
    """8 oz of N from 21-0-0 are 2.4 lb a tree, whatever the area."""
    case = ground(library, crop="peach", stage="bearing", area=None, wishes=MaterialWishes(only=("ammonium_sulfate",)))
    grams = case.library.index(Units.of).convert(8, "oz/tree", "g/tree")
    tree = Recommendation("nutrient", "N", Note("rec.test"), rate=case.units.per_tree(grams), base_rate=grams)
    (use,) = supply(case, [tree]).materials
    assert use.amount.unit == "lb/tree"
    assert use.amount.value == pytest.approx(0.5 / 0.21, rel=0.02)


rates = st.floats(0.05, 3.0)
asked = st.fixed_dictionaries(
    {},
    optional={
        "N": rates,
        "P2O5": rates,
        "K2O": rates,
        "S": rates,
        "Zn": st.floats(0.02, 0.3),
        "Cu": st.floats(0.01, 0.1),
    },
)
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
grounds = st.sampled_from(
    [
        {"crop": "tall-fescue-lawn"},
        GARDEN,
        FIELD,
        {"crop": "tall-fescue-lawn", "surface_water_distance": Quantity(10, "ft")},
        {"crop": "vegetable-garden", "condition": {"organic_only": True}},
        {"crop": "snap-bean"},
    ]
)
salts = st.sampled_from([0.8, 2.5, 6.0])


def case_with(library: Library, ece: float, place: dict, **more):
    from making import LAWN_RESULTS

    results = [item for item in LAWN_RESULTS if item.analyte != "EC"]
    return ground(library, *results, Result("EC", "saturated_paste_extract", ece, "dS/m"), **{**place, **more})


def wanted(case, needs, spared=()):
    return [
        *(dose(case, name, rate, split=max(1, round(rate + 0.5))) for name, rate in needs.items()),
        *(plain("none_needed", name) for name in spared if name not in needs),
    ]


@given(needs=asked, place=grounds, ece=salts, spared=st.sets(st.sampled_from(LAWN_NEEDS)))
@SLOW
def test_supplied_or_told_short_and_no_cap_passed(
    library: Library, needs: dict[str, float], place: dict, ece: float, spared: set[str]
) -> None:
    """Every need is met to a crumb (5 %, a rounding less) or told short; what the materials bring keeps every cap."""
    case = case_with(library, ece, place)
    items = wanted(case, needs, spared)
    found = supply(case, items)
    total = brought(library, found)
    short = {
        note.values["subject"].word
        for told in found.notes
        if told.kind == "short"
        for note in told.text.values["missing"]
    }
    for item in items:
        if item.kind == "nutrient" and item.subject not in short:
            assert total.get(item.subject, 0.0) >= amount_of(item) * 0.945, (item.subject, total)
    for subject, caps in library.index(Caps.of).by_subject.items():
        for cap in caps:
            if cap.row.per in ("year", "once") and cap.dimension == "areal_rate" and applies(case, cap.row):
                most = max(cap.base, amount_of(dose(case, subject, needs[subject])) if subject in needs else 0.0)
                assert total.get(subject, 0.0) <= most * 1.00001, subject
    for name in spared - needs.keys() - {"N"}:
        assert total.get(name, 0.0) == 0.0, name
    assert total.get("B", 0.0) == 0.0


@given(needs=asked, place=grounds, ece=salts)
@SLOW
def test_no_single_dose_passes_its_limit(library: Library, needs: dict[str, float], place: dict, ece: float) -> None:
    """All nitrogen of one window together stays within the limit on a dose, or within the dose that was asked for."""
    case = case_with(library, ece, place)
    items = wanted(case, needs)
    found = supply(case, items)
    limit = dose_limits(case).get("N")
    if limit is None or "N" not in needs:
        return
    largest = max(limit, max(g_m2(library, each.rate) for each in items[0].applications) if items else 0.0)
    table = library.index(table_of)
    for use in found.materials:
        for each in use.per_application:
            nitrogen = g_m2(library, each.rate) * table[use.material].analysis.get("N", 0.0) / 100
            assert nitrogen <= largest * 1.0001


@given(needs=asked, place=grounds, factor=st.sampled_from([0.5, 2.0, 10.0]))
@SLOW
def test_amounts_scale_with_the_area(library: Library, needs: dict[str, float], place: dict, factor: float) -> None:
    """Twice the ground takes the same materials at the same rates."""
    one = case_with(library, 0.8, place, area=Quantity(2000, "ft2"))
    other = case_with(library, 0.8, place, area=Quantity(2000 * factor, "ft2"))
    rates = [
        {use.material: use.base_rate for use in supply(case, wanted(case, needs)).materials} for case in (one, other)
    ]
    assert rates[0] == pytest.approx(rates[1])


@given(needs=asked, place=grounds, ece=salts)
@SLOW
def test_units_do_not_change_the_choice(library: Library, needs: dict[str, float], place: dict, ece: float) -> None:
    """Who reads in kilograms is told the same materials in the same amounts."""
    found = []
    for units in ("us_garden", "us_field", "metric"):
        case = case_with(library, ece, place, options={"units": units})
        items = [replace(item, base_doses=()) for item in wanted(case, needs)]
        found.append({use.material: use.base_rate for use in supply(case, items).materials})
    assert found[0] == pytest.approx(found[1])
    assert found[0] == pytest.approx(found[2])


def test_the_same_submission_gives_the_same_bytes(library: Library) -> None:
    """Materials, reasons and order do not depend on what was solved before."""
    words = Words("en", Catalogue(), library.index(labels)["en"])
    results = (Result("pH", "saturated_paste", 7.9), Result("P", "olsen", 6, "mg/kg"))
    sent = submission(*results, crop="tall-fescue-lawn")
    issued = Issue("2026-04-20T09:30:00+00:00", "engine", "sha")
    bodies = set()
    for _ in range(3):
        found = interpret(sent, library, DAY, solver=solve)
        bodies.add(encoded(document(found, sent.options, issued, library.sources, words.say)))
    assert len(bodies) == 1
    assert interpret(sent, library, DAY).materials == ()


def test_printed_doses_add_up_to_the_printed_amount(library: Library) -> None:
    """What is weighed out by dose is what is bought."""
    case = ground(library, area=Quantity(4321, "ft2"))
    (use,) = supply(case, [dose(case, "N", 3.0, split=4)]).materials
    assert sum(each.amount.value for each in use.per_application if each.amount) == pytest.approx(use.amount.value)
    assert all(each.amount and each.amount.unit == use.amount.unit for each in use.per_application)
    exact = (use.base_rate or 0.0) * (case.area_m2 or 0.0) / 453.59237
    assert use.amount.value == pytest.approx(exact, rel=0.02)


@given(
    doses=st.lists(st.floats(1, 1e5), min_size=1, max_size=6),
    units=st.sampled_from(["us_garden", "metric"]),
    room=st.floats(1.0, 1.2),
)
@SLOW
def test_doses_are_shares_of_a_whole_that_is_rounded_once(
    library: Library, doses: list[float], units: str, room: float
) -> None:
    """The whole is within half a step of the exact one; doses add up to it and pass no limit by rounding."""
    case = ground(library, options={"units": units})
    exact = sum(doses)
    free = weigh(case, doses)
    grams = library.index(Units.of).convert(1.0, free.whole.unit, "g")
    step = step_of(exact / grams, free.whole.unit)
    assert abs(free.whole.value - exact / grams) <= max(step / 2, 1e-5 * exact / grams) + 1e-9
    assert sum(each.value for each in free.doses) == pytest.approx(free.whole.value, rel=1e-5)
    kept = weigh(case, doses, most=[each * room for each in doses], most_whole=exact * room)
    assert kept.whole.value * grams <= exact * room * (1 + 2e-5)
    assert kept.whole.value * grams >= min(exact * 0.98, exact - step * grams)
    assert sum(each.value for each in kept.doses) == pytest.approx(kept.whole.value, rel=1e-5)
    for each, grams_of_it in zip(kept.doses, doses, strict=True):
        assert each.value * grams <= grams_of_it * room * (1 + 2e-5)


@pytest.mark.parametrize(
    ("pounds", "shown"),
    [(44.52, (44.5, "lb")), (44.25, (44.5, "lb")), (13.39, (13.5, "lb")), (1.86, (1.9, "lb")), (0.6, (9.5, "oz"))],
)
def test_amounts_are_named_as_people_weigh_them(library: Library, pounds: float, shown: tuple[float, str]) -> None:
    """Half pounds from ten up, tenths from one, below that ounces (a way of printing; 1 lb is 16 oz)."""
    assert tuple(weigh(ground(library), [pounds * 453.59237]).whole) == shown


def test_phosphate_goes_out_on_its_own_day(library: Library) -> None:
    """A new lawn: all phosphate before seeding; what its material brings of nitrogen comes off that day's dose."""
    shelf = (own("starter", "16-20-0"), own("as", "21-0-0"))
    case = ground(library, wishes=MaterialWishes(products=shelf), crop="vegetable-garden", stage="planting")
    later = DAY + timedelta(days=42)
    before = Application(Note("when.before_seeding"), Quantity(1, "lb/1000 ft2"), None, DAY, DAY + timedelta(days=5))
    second = Application(Note("when.later"), Quantity(1, "lb/1000 ft2"), None, later, later + timedelta(days=14))
    nitrogen = replace(dose(case, "N", 2.0), applications=(before, second))
    phosphate = replace(dose(case, "P2O5", 1.0), applications=(before,))
    found = by_id(supply(case, [nitrogen, phosphate]))
    assert {each.from_date for each in found["starter"].per_application} == {DAY}
    by_day = {each.from_date: g_m2(library, each.rate) * 0.21 for each in found["as"].per_application}
    with_it = (found["starter"].base_rate or 0.0) * 0.16
    assert by_day[DAY] + with_it == pytest.approx(GRAMS_M2_PER_LB_1000, rel=0.03)
    assert by_day[later] == pytest.approx(GRAMS_M2_PER_LB_1000, rel=0.02)


def test_quick_nitrogen_on_sand_is_cut_into_halves(library: Library) -> None:
    """No more than 0.5 lb of quick nitrogen per 1,000 ft2 at once on a lawn on sand (S-FYN, the row quick_sand)."""
    wishes = MaterialWishes(products=(own("mixed", "21-0-0", slow_release_pct=60),), only=("mixed",))
    quick = MaterialWishes(only=("ammonium_sulfate", "polymer_coated_urea"))
    for wished in (wishes, quick):
        case = ground(library, wishes=wished, crop="tall-fescue-lawn", texture="loamy_sand")
        window = Application(Note("when.fall"), Quantity(1, "lb/1000 ft2"), None, DAY, DAY + timedelta(days=29))
        found = supply(case, [replace(dose(case, "N", 1.0), applications=(window,))])
        for use in found.materials:
            if use.material == "ammonium_sulfate":
                for each in use.per_application:
                    assert g_m2(library, each.rate) * 0.21 <= 0.5 * GRAMS_M2_PER_LB_1000 * 1.0001
                assert any(note.code == "material.rule.quick_sand" for note in use.how)
        assert found.materials


def test_a_rule_cuts_doses_over_their_window(library: Library) -> None:
    """Where all of it is quick: 2 lb under a rule of 0.5 lb are four doses, one after the other, in the same window."""
    case = ground(library, crop="vegetable-garden", wishes=MaterialWishes(only=("ammonium_sulfate",)))
    window = Application(Note("when.fall"), Quantity(2, "lb/1000 ft2"), None, DAY, DAY + timedelta(days=27))
    (demand,) = demands(case, [replace(dose(case, "N", 2.0), applications=(window,))])
    stock = library.index(table_of)["ammonium_sulfate"]
    parts = parts_of(demand, [(stock, 2 * GRAMS_M2_PER_LB_1000 / 0.21)])
    (cut,) = split(demand, parts, {"ammonium_sulfate": 0.5 * GRAMS_M2_PER_LB_1000})
    assert [each * 0.21 for each in cut.doses] == pytest.approx([0.5 * GRAMS_M2_PER_LB_1000] * 4)
    days = [(when.from_date, when.to_date) for when in cut.whens if when is not None]
    assert days == [(DAY + timedelta(days=7 * week), DAY + timedelta(days=7 * week + 6)) for week in range(4)]
    assert split(demand, parts, {}) == parts


def test_nitrogen_of_a_later_day_does_not_come_early(library: Library) -> None:
    """Two doses of nitrogen: what phosphate and potash bring beside them stays within the first one and a tenth."""
    case = ground(library, **GARDEN)
    later = DAY + timedelta(days=42)
    first = Application(Note("when.before"), Quantity(0.7, "lb/1000 ft2"), None, DAY, DAY + timedelta(days=41))
    second = Application(Note("when.later"), Quantity(0.65, "lb/1000 ft2"), None, later, later + timedelta(days=14))
    items = [replace(dose(case, "N", 1.35), applications=(first, second))]
    items += [replace(dose(case, name, rate), applications=(first,)) for name, rate in (("P2O5", 2.9), ("K2O", 2.1))]
    table, early = library.index(table_of), 0.0
    for use in supply(case, items).materials:
        share = table[use.material].analysis.get("N", 0.0) / 100
        early += sum(g_m2(library, each.rate) * share for each in use.per_application if each.from_date == DAY)
    assert early <= 0.7 * 1.13 * GRAMS_M2_PER_LB_1000


def test_what_a_material_gives_is_told_like_the_need_for_it(library: Library) -> None:
    """On a small bed products are told per 100 square feet; what they bring stands beside the need, per 1,000."""
    case = ground(library, *ACID, area=Quantity(400, "ft2"), crop="vegetable-garden")
    need = Recommendation(
        "nutrient", "N", Note("rec.n_bed"), rate=case.units.rate(8.0), base_rate=8.0, verification="practice"
    )
    (use,) = supply(case, [need]).materials
    assert use.rate.unit == "oz/100 ft2"
    assert use.supplies is not None
    assert use.supplies.unit == need.rate.unit  # type: ignore[union-attr]
    assert use.supplies.value == pytest.approx(need.rate.value, rel=0.05)  # type: ignore[union-attr]
