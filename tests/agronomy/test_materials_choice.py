"""Which materials are chosen for a ground, and which never: the rules of ``material-rules`` carried through.

Chloride and salty ground, urea and iron on lime, rock phosphate: the sources stand with the rules; what has none there
is common practice of the trade, and so are the choices that follow from it.
"""

import pytest
from making import LAWN_RESULTS, dose, plain
from supplying import ACID, SALTY, brought, by_id, ground, own, supply

from service.agronomy.submission import AtHand, MaterialWishes, Quantity, Result
from service.agronomy.tables import Library

GARDEN = {"crop": "vegetable-garden", "stage": "planting"}
FIELD = {"crop": "corn-grain", "stage": "planting"}
POTASH = "potassium_chloride"


def chosen(library: Library, *results: Result, subject: str = "N", rate: float = 1.0, **more: object) -> set[str]:
    case = ground(library, *results, **more)  # type: ignore[arg-type]
    return set(by_id(supply(case, [dose(case, subject, rate)])))


def test_salty_ground_gets_no_chloride(library: Library) -> None:
    """The salt brings more salt: potassium sulfate instead (common practice), and the answer says why."""
    case = ground(library, *SALTY, **FIELD)
    found = supply(case, [dose(case, "K2O", 60, "lb/acre")])
    assert set(by_id(found)) == {"potassium_sulfate"}
    out = next(note for note in found.notes if POTASH in note.materials)
    assert out.text.values["why"].code == "material.rule.chloride_saline"
    assert by_id(found)["potassium_sulfate"].why.code == "material.why.others_out"


def test_fields_without_salt_get_the_usual_potash(library: Library) -> None:
    """Where chloride does no harm a farm spreads potassium chloride (common practice)."""
    assert chosen(library, subject="K2O", **FIELD) == {POTASH}


def test_limy_home_ground_is_fed_with_ammonium_sulfate(library: Library) -> None:
    """Urea left on limy soil loses up to 44 % (Montana State); who works it in or is on a farm may use it."""
    assert chosen(library) == {"ammonium_sulfate"}
    assert chosen(library, **FIELD) == {"urea"}
    assert chosen(library, *ACID) == {"urea"}


@pytest.mark.parametrize("case", [GARDEN, FIELD])
def test_urea_and_ammonium_on_lime_are_watered_in(library: Library, case: dict[str, str]) -> None:
    """Half an inch of water in one go (Montana State)."""
    where = ground(library, **case)
    (use,) = supply(where, [dose(where, "N", 1.0)]).materials
    water = [note for note in use.how if note.code in ("material.rule.urea_limy", "material.rule.ammonium_limy")]
    assert [note.values["value"] for note in water] == [Quantity(0.5, "in")]


def test_zinc_on_lime_is_the_sulfate(library: Library) -> None:
    """Not the chelate, which is for leaves and drip lines, and not the oxide, which does not work (Nebraska)."""
    assert chosen(library, subject="Zn", rate=0.2, **GARDEN) == {"zinc_sulfate"}


def test_phosphate_that_lime_locks_up_is_not_offered(library: Library) -> None:
    """Rock phosphate and bone meal give practically nothing above pH 7 (Colorado State), to organic growers too."""
    where = ground(library, condition={"organic_only": True}, **GARDEN)
    found = supply(where, [dose(where, "P2O5", 1.0)])
    assert {"rock_phosphate", "bone_meal"}.isdisjoint(by_id(found))
    told = {note.text.values["why"].code for note in found.notes if note.kind == "left_out"}
    assert {"material.rule.rock_phosphate_alkaline", "material.rule.bone_alkaline"} & told


@pytest.mark.parametrize("organic", [None, True])
def test_acid_ground_too_gets_what_dissolves(library: Library, organic: bool | None) -> None:
    """Rock phosphate is 3 % available at best: not beside superphosphate; no sodium nitrate on any ground."""
    case = ground(library, *ACID, condition={"organic_only": organic}, **GARDEN)
    phosphate = set(by_id(supply(case, [dose(case, "P2O5", 1.0)])))
    assert organic or "rock_phosphate" not in phosphate
    assert phosphate
    assert "sodium_nitrate" not in by_id(supply(case, [dose(case, "N", 1.0)]))


def test_organic_growers_get_what_the_national_list_allows(library: Library) -> None:
    """7 CFR 205: no synthetic nitrogen; a grade on a bag is not known to be allowed."""
    wishes = MaterialWishes(products=(own("bag", "21-0-0"),))
    case = ground(library, condition={"organic_only": True}, **GARDEN)
    assert set(by_id(supply(case, [dose(case, "N", 1.0)]))) == {"feather_meal"}
    listed = ground(library, condition={"organic_only": True}, wishes=wishes, **GARDEN)
    assert supply(listed, [dose(listed, "N", 1.0)]).materials == ()


def test_nothing_brings_what_is_not_needed(library: Library) -> None:
    """With enough phosphorus and potassium in the soil neither comes along, though it is on the shelf."""
    wishes = MaterialWishes(products=(own("even", "16-16-16"), own("plain", "21-0-0")))
    case = ground(library, wishes=wishes)
    spared = [plain("none_needed", "P2O5"), plain("none_needed", "K2O")]
    found = supply(case, [dose(case, "N", 1.0), *spared])
    assert set(by_id(found)) == {"plain"}
    even = ground(library, wishes=MaterialWishes(products=(own("even", "16-16-16"),)))
    short = supply(even, [dose(even, "N", 1.0), *spared])
    assert short.materials == ()
    assert {note.kind for note in short.notes} >= {"short", "nearest"}


def test_a_little_potash_on_a_lawn_with_enough_is_told_and_harms_nobody(library: Library) -> None:
    """28-0-4, a usual lawn food: 1 lb N brings 4/28 lb K2O. What is richer in potash, or has phosphate, stays out."""
    spared = [plain("none_needed", "P2O5"), plain("none_needed", "K2O")]
    case = ground(library, wishes=MaterialWishes(products=(own("food", "28-0-4"),)))
    found = supply(case, [dose(case, "N", 1.0), *spared])
    (use,) = found.materials
    assert [note.kind for note in found.notes if note.kind == "short"] == []
    (remark,) = [note for note in use.how if note.code == "material.how.spared"]
    assert remark.values["amount"].value == pytest.approx(4 / 28, abs=0.01)
    for grade in ("28-0-10", "28-4-0"):
        case = ground(library, wishes=MaterialWishes(products=(own("food", grade),)))
        assert "short" in {note.kind for note in supply(case, [dose(case, "N", 1.0), *spared]).notes}
    law = ground(library, wishes=MaterialWishes(products=(own("food", "28-0-4"),)))
    barred = supply(law, [dose(law, "N", 1.0), dose(law, "K2O", 1.0)], frozenset(("K2O",)))
    assert "short" in {note.kind for note in barred.notes}


def test_what_must_never_be_mixed_is_not_chosen_together(library: Library) -> None:
    """Urea and superphosphate go wet and sticky (common practice): one need stays short, and the reason is told."""
    case = ground(library, *ACID, wishes=MaterialWishes(only=("urea", "triple_superphosphate")), **GARDEN)
    found = supply(case, [dose(case, "N", 2.0), dose(case, "P2O5", 2.0)])
    assert len(by_id(found)) == 1
    (short,) = [note for note in found.notes if note.kind == "short"]
    assert [why.code for why in short.text.values["why"]] == ["supply.binding.apart"]


def test_a_crumb_is_not_called_missing(library: Library) -> None:
    """One product for two needs in its own proportion: 4 % of the potash less is told by nobody, 10 % is."""
    for potash, told in ((1.04 * 1.15, False), (1.15 * 1.12, True)):
        wishes = MaterialWishes(products=(own("even", "10-0-10"),), most_products=1)
        case = ground(library, *ACID, wishes=wishes, **GARDEN)
        found = supply(case, [dose(case, "N", 1.0), dose(case, "K2O", potash)])
        assert ("short" in {note.kind for note in found.notes}) == told


def test_a_bag_too_large_for_the_bed_is_bought_and_spread_in_part(library: Library) -> None:
    """5 lb of 10-10-10 bring 0.5 lb of each (S-BACKYARD's arithmetic); 45 of the bag's 50 lb are left over."""
    bag = own("even", "10-10-10", bag=Quantity(50, "lb"))
    area = Quantity(1000, "ft2")
    needs = ("N", "P2O5", "K2O")
    uses = []
    for whole in (False, True):
        wishes = MaterialWishes(whole_bags=whole, products=(bag,))
        case = ground(library, *ACID, wishes=wishes, area=area, **GARDEN)
        (use,) = supply(case, [dose(case, name, 0.5) for name in needs]).materials
        assert (use.amount.value, use.bags.count, use.bags.left_over.value) == (pytest.approx(5), 1, pytest.approx(45))
        uses.append(use)
    assert uses[0] == uses[1]


def test_a_caution_that_rules_phosphate_out_is_kept(library: Library) -> None:
    """Where the law forbids phosphate on a lawn no material brings any, although the soil is low in it."""
    case = ground(library)
    found = supply(case, [dose(case, "N", 1.0), dose(case, "P2O5", 1.0)], frozenset(("P2O5",)))
    assert "P2O5" not in brought(library, found)
    assert "N" in brought(library, found)


def test_lawns_by_the_water_get_slow_nitrogen(library: Library) -> None:
    """At least 30 % (the Florida rule), and the answer says so."""
    case = ground(library, surface_water_distance=Quantity(15, "ft"))
    (use,) = supply(case, [dose(case, "N", 1.0)]).materials
    assert use.material in ("polymer_coated_urea", "methylene_urea", "ureaform", "ibdu", "sulfur_coated_urea")
    assert use.why.code == "material.rule.slow_water"


def test_several_needs_take_few_products(library: Library) -> None:
    """Three nutrients in two or three products, and never one that brings the potassium nobody asked for."""
    case = ground(library, **GARDEN)
    found = supply(case, [dose(case, "N", 2.0), dose(case, "P2O5", 2.0), dose(case, "Zn", 0.2)])
    assert len(found.materials) <= 3
    assert "K2O" not in brought(library, found)


def test_boron_acids_and_gases_are_never_chosen(library: Library) -> None:
    """A person reads every amount of boron first; acids and gases are for the trained (common practice)."""
    case = ground(library, wishes=MaterialWishes(only=("borax", "sulfuric_acid", "anhydrous_ammonia")))
    found = supply(case, [dose(case, "B", 0.02), dose(case, "S", 1.0), dose(case, "N", 1.0)])
    assert found.materials == ()


def test_what_is_at_hand_goes_first_and_no_farther(library: Library) -> None:
    """Ten pounds of a grade that is at hand are used; the rest is something that can be bought."""
    wishes = MaterialWishes(at_hand=(AtHand(Quantity(10, "lb"), grade="16-20-0"),))
    case = ground(library, wishes=wishes)
    found = supply(case, [dose(case, "N", 2.0, split=2), dose(case, "P2O5", 1.0)])
    first = by_id(found)["16-20-0"]
    assert first.why.code == "material.why.at_hand"
    assert first.amount == Quantity(10.0, "lb")
    assert len(found.materials) > 1


@pytest.mark.parametrize("results", [LAWN_RESULTS, SALTY])
def test_a_plain_reason_is_always_given(library: Library, results: tuple[Result, ...]) -> None:
    """Every material says why it was taken, what it rests on and how far that was checked."""
    case = ground(library, *results, **GARDEN)
    for use in supply(case, [dose(case, "N", 1.0), dose(case, "K2O", 1.0)]).materials:
        assert use.why.code.startswith(("material.why.", "material.rule."))
        assert use.sources
        assert use.verification
        assert use.because
