"""Rules on materials where they decide: on salty and limy ground, for plants, for homes and for certified growers."""

import pytest
from making import LAWN_RESULTS, case_of

from service.agronomy import reaction, salinity, sodium, texture
from service.agronomy.materials.facts import FARM, HOME, Facts, Scene, facts_of
from service.agronomy.materials.rules import EXCLUDE, exclusion, fits, holding
from service.agronomy.materials.stock import table_of
from service.agronomy.tables import Library

NOTHING_NEEDED: frozenset[str] = frozenset()
FE, P = frozenset(("Fe",)), frozenset(("P2O5",))


def facts(*true: str, **figures: float) -> Facts:
    return Facts(frozenset(true), figures, frozenset((HOME,)))


def out(library: Library, known: Facts, needed: frozenset[str] = NOTHING_NEEDED) -> dict[str, str]:
    """Materials that may not be used, each with the rule that says so."""
    rules = [row for row in holding(library, known) if row.action == EXCLUDE]
    found = {name: exclusion(rules, stock, needed) for name, stock in library.index(table_of).items()}
    return {name: rule.rule for name, rule in found.items() if rule is not None}


@pytest.mark.parametrize(("ece", "kept_out"), [(3.9, False), (4.0, True), (9.0, True)])
def test_salty_ground(library: Library, ece: float, kept_out: bool) -> None:
    """Common practice: from 4 dS/m on no chloride, no sodium, no manure, nothing as salty as sodium nitrate."""
    found = out(library, facts(saline=ece))
    for material in ("potassium_chloride", "sodium_nitrate", "steer_manure", "manure_compost", "ammonium_nitrate"):
        assert (material in found) is kept_out, material
    assert "potassium_sulfate" not in found


def test_salt_that_nobody_tested_rules_nothing_out(library: Library) -> None:
    assert "potassium_chloride" not in out(library, facts())


def test_iron_on_limy_soil(library: Library) -> None:
    """Cantera et al. 2002: of the iron chelates EDDHA stays in solution in a calcareous soil; salts are fixed."""
    found = out(library, facts("limy"), FE)
    assert {"iron_edta", "iron_dtpa", "ferrous_sulfate", "ferrous_sulfate_monohydrate", "ferric_sulfate"} <= set(found)
    assert "iron_eddha" not in found
    assert "ferrous_sulfate" not in out(library, facts("limy"))  # for another need it is not the rule's business


def test_no_phosphate_where_none_is_needed(library: Library) -> None:
    """Every material that holds P2O5, be it ever so little, and no other."""
    found = {name for name, rule in out(library, facts("p_none_needed")).items() if rule == "p_none_needed"}
    stocks = library.index(table_of)
    assert found == {name for name, stock in stocks.items() if stock.analysis.get("P2O5")} - {"zinc_oxide"}


def test_never_at_home(library: Library) -> None:
    """WAC 296-307 (ammonia), CRS R43070 (ammonium nitrate), common practice (acids, caustics)."""
    found = out(library, facts(HOME))
    for material in (
        "anhydrous_ammonia",
        "ammonium_nitrate",
        "sulfuric_acid",
        "quicklime",
        "lime_sulfur",
        "aqua_ammonia",
    ):
        assert material in found
    farm = out(library, facts(FARM))
    assert "ammonium_nitrate" not in farm
    assert "urea" not in found


def test_certified_growers(library: Library) -> None:
    """7 CFR 205.203 and 205.602: plant and animal materials; no ammonia salts, no urea, nothing that is not known."""
    found = out(library, facts("organic_only"))
    assert {"urea", "ammonium_sulfate", "diammonium_phosphate", "calcium_chloride", "zinc_edta"} <= set(found)
    assert not {"feather_meal", "alfalfa_meal", "rock_phosphate", "gypsum"} & set(found)


def test_seedlings(library: Library) -> None:
    """Nebraska: no urea and no thiosulfate with any seed. Common practice: nothing very salty beside seedlings."""
    found = out(library, facts("seedling"))
    assert {"urea", "ammonium_thiosulfate", "potassium_chloride", "sodium_nitrate"} <= set(found)
    assert not {"monoammonium_phosphate", "triple_superphosphate", "potassium_sulfate"} & set(found)


def test_phosphate_that_alkaline_soil_never_lets_go(library: Library) -> None:
    """Colorado 0.569: rock phosphate and bone meal release next to nothing in limy soil."""
    assert {"rock_phosphate", "bone_meal", "raw_bone_meal"} <= set(out(library, facts("limy"), P))
    assert "rock_phosphate" not in out(library, facts(alkaline=6.4), P)
    assert "rock_phosphate" in out(library, facts(alkaline=6.5), P)


def test_urea_is_watered_in(library: Library) -> None:
    """Montana: half an inch in one go, on any soil and above all on a limy one."""
    urea = library.index(table_of)["urea"]
    told = [row for row in holding(library, facts("limy")) if row.action == "water_in" and fits(row, urea)]
    assert [row.rule for row in told][:1] == ["urea_limy"]
    assert {(row.value, row.value_unit) for row in told} == {(0.5, "in")}


@pytest.mark.parametrize(("crop", "sensitive"), [("strawberry", True), ("snap-bean", True), ("tomato", False)])
def test_plants_that_bear_little_chloride(library: Library, crop: str, sensitive: bool) -> None:
    """Maas 1990: strawberry and bean 10 meq/L of chloride in the extract, tomato 25."""
    case = case_of(library, *LAWN_RESULTS, crop=crop)
    soil = texture.texture_of(case)
    salts = salinity.assess(case, soil)
    scene = Scene(case, (), salts, sodium.assess(case, salts, soil), reaction.assess(case, soil), soil)
    assert ("chloride_sensitive" in facts_of(scene).true) is sensitive
    assert ("potassium_chloride" in out(library, facts_of(scene))) is sensitive
