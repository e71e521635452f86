"""The materials catalogue against chemistry, against printed densities, and against what its columns promise."""

import molmass
import pytest

from service.agronomy.materials.facts import FARM, FIGURES, HOME, WORDS
from service.agronomy.materials.grade import SUPPLIED
from service.agronomy.tables import FactorRow, Library, LimitRow, MaterialRow, MaterialRuleRow
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words, placeholders

OXIDES = {"P2O5": ("P", 2, "P2O5"), "K2O": ("K", 2, "K2O")}
ROUNDING = 1.03
"""Labels are rounded; a hydrate of fewer waters holds up to this much more."""
# Name of the table, molmass formula. Urea 46.65 % N, ammonium sulfate 21.2 % N and 24.26 % S ... by IUPAC weights.
PURE = {
    "urea": "CH4N2O",
    "ammonium_sulfate": "N2H8SO4",
    "ammonium_sulfate_granular": "N2H8SO4",
    "ammonium_nitrate": "N2H4O3",
    "calcium_nitrate": "Ca5N12H24O43",
    "sodium_nitrate": "NaNO3",
    "potassium_nitrate": "KNO3",
    "anhydrous_ammonia": "NH3",
    "ibdu": "C6H14N4O2",
    "monoammonium_phosphate": "NH6PO4",
    "diammonium_phosphate": "N2H9PO4",
    "triple_superphosphate": "CaH6P2O9",
    "monopotassium_phosphate": "KH2PO4",
    "potassium_chloride": "KCl",
    "potassium_sulfate": "K2SO4",
    "potassium_magnesium_sulfate": "K2Mg2S3O12",
    "magnesium_sulfate": "MgSO4(H2O)7",
    "zinc_sulfate": "ZnSO4(H2O)",
    "zinc_sulfate_heptahydrate": "ZnSO4(H2O)7",
    "zinc_oxide": "ZnO",
    "ferrous_sulfate": "FeSO4(H2O)7",
    "ferrous_sulfate_monohydrate": "FeSO4(H2O)",
    "ferric_sulfate": "Fe2S3O12(H2O)9",
    "manganese_sulfate": "MnSO4(H2O)",
    "copper_sulfate": "CuSO4(H2O)5",
    "borax": "Na2B4O7(H2O)10",
    "sodium_borate": "Na2B4O7(H2O)5",
    "sodium_octaborate": "Na2B8O13(H2O)4",
    "boric_acid": "H3BO3",
    "gypsum": "CaSO4(H2O)2",
    "elemental_sulfur": "S",
    "sulfuric_acid": "H2SO4",
    "aluminum_sulfate": "Al2S3O12(H2O)18",
    "calcitic_lime": "CaCO3",
    "dolomitic_lime": "CaMgC2O6",
    "hydrated_lime": "CaO2H2",
    "quicklime": "CaO",
    "calcium_chloride": "CaCl2(H2O)2",
}
BY_WEIGHT_OF_SOMETHING_ELSE = {("monoammonium_phosphate", "S"), ("triple_superphosphate", "S")}
"""A manufacture leaves a little sulfate beside the phosphate."""
# Printed: per cent in the pure compound, by IUPAC weights (a table of label grades and pure compounds).
PRINTED = {
    ("urea", "N"): 46.65,
    ("ammonium_sulfate", "N"): 21.20,
    ("ammonium_sulfate", "S"): 24.26,
    ("ammonium_nitrate", "N"): 35.00,
    ("calcium_nitrate", "N"): 15.55,
    ("sodium_nitrate", "N"): 16.48,
    ("potassium_nitrate", "K2O"): 46.58,
    ("anhydrous_ammonia", "N"): 82.24,
    ("monoammonium_phosphate", "P2O5"): 61.70,
    ("diammonium_phosphate", "P2O5"): 53.74,
    ("monopotassium_phosphate", "K2O"): 34.61,
    ("triple_superphosphate", "P2O5"): 56.31,
    ("potassium_chloride", "K2O"): 63.18,
    ("potassium_sulfate", "K2O"): 54.06,
    ("potassium_magnesium_sulfate", "Mg"): 11.71,
    ("magnesium_sulfate", "Mg"): 9.86,
    ("zinc_sulfate", "Zn"): 36.43,
    ("zinc_sulfate", "S"): 17.87,
    ("zinc_sulfate_heptahydrate", "Zn"): 22.74,
    ("ferrous_sulfate", "Fe"): 20.09,
    ("ferrous_sulfate_monohydrate", "Fe"): 32.87,
    ("manganese_sulfate", "Mn"): 32.51,
    ("copper_sulfate", "Cu"): 25.45,
    ("borax", "B"): 11.34,
    ("sodium_borate", "B"): 14.84,
    ("sodium_octaborate", "B"): 20.96,
    ("boric_acid", "B"): 17.48,
    ("gypsum", "Ca"): 23.28,
    ("gypsum", "S"): 18.62,
    ("sulfuric_acid", "S"): 32.69,
    ("aluminum_sulfate", "S"): 14.43,
    ("calcitic_lime", "Ca"): 40.04,
    ("dolomitic_lime", "Mg"): 13.18,
    ("hydrated_lime", "Ca"): 54.09,
    ("quicklime", "Ca"): 71.47,
}
MARKS = ("read", "computed", "practice", "memory")


def materials(library: Library) -> dict[str, MaterialRow]:
    return {row.material: row for row in library.rows("materials", MaterialRow)}


def rules(library: Library) -> tuple[MaterialRuleRow, ...]:
    return library.rows("material-rules", MaterialRuleRow)


def pure_pct(formula: str, nutrient: str) -> float:
    """Per cent of a nutrient, as labelled, in a pure compound."""
    element, per_oxide, oxide = OXIDES.get(nutrient, (nutrient, 1, nutrient))
    whole = molmass.Formula(formula)
    held = whole.composition()
    if element not in held:
        return 0.0
    return 100 * held[element].count / per_oxide * molmass.Formula(oxide).mass / whole.mass


def stated(row: MaterialRow) -> dict[str, float]:
    return {name: share for name in SUPPLIED if (share := getattr(row, f"{name}_pct"))}


@pytest.mark.parametrize(("material", "formula"), PURE.items())
def test_no_label_holds_more_than_the_pure_compound(library: Library, material: str, formula: str) -> None:
    """By molmass: no figure of the table is above the pure compound by more than a label's rounding."""
    for nutrient, share in stated(materials(library)[material]).items():
        if (material, nutrient) not in BY_WEIGHT_OF_SOMETHING_ELSE:
            assert share <= pure_pct(formula, nutrient) * ROUNDING, (nutrient, share)


@pytest.mark.parametrize(("of", "printed"), PRINTED.items())
def test_pure_compounds_as_printed(of: tuple[str, str], printed: float) -> None:
    """molmass and a printed table of pure compounds agree: two independent sums of the same weights."""
    assert pure_pct(PURE[of[0]], of[1]) == pytest.approx(printed, abs=0.02)


def test_misprints_are_not_repeated(library: Library) -> None:
    """In print, and wrong by stoichiometry: urea 47 % N, ammonium nitrate 35 %, zinc sulfate monohydrate 14 % S;
    a salt index of 88.3 for ammonium sulfate does not fit its own 3.252 a unit; sulfur makes acid of 312, not 218.
    """
    table = materials(library)
    assert table["urea"].N_pct == 46
    assert table["ammonium_nitrate"].N_pct == 34
    assert table["zinc_sulfate"].S_pct == pytest.approx(pure_pct(PURE["zinc_sulfate"], "S"), rel=0.03)
    assert table["ammonium_sulfate"].salt_index == pytest.approx(3.252 * 21, rel=0.02)
    acid = table["elemental_sulfur"].acidity_lb_CaCO3_per_100_lb
    assert acid == pytest.approx(molmass.Formula("CaCO3").mass / molmass.Formula("S").mass * 90, rel=0.01)


def test_grades_named_are_the_grades_held(library: Library) -> None:
    """A name that holds a grade (0-46-0) says what the columns say."""
    for row in materials(library).values():
        named = next((word for word in row.name_en.split() if word.count("-") == 2 and word[0].isdigit()), None)
        if named:
            held = [getattr(row, f"{nutrient}_pct") or 0 for nutrient in ("N", "P2O5", "K2O")]
            assert [float(part) for part in named.split("-")] == held, row.material


def test_the_catalogue_is_wide_and_every_column_filled(library: Library) -> None:
    """At least 60 generic materials, each with form, use, who sells it and what the National List says."""
    table = materials(library)
    assert len(table) >= 60
    limits = {row.limit for row in library.rows("application-limits", LimitRow)}
    for row in table.values():
        assert row.form in ("dry", "solution", "gas", "bulk"), row.material
        assert row.use, row.material
        assert set(row.use) <= {"spread", "dissolve", "inject", "foliar"}, row.material
        assert row.sold in ("home", "farm", "both"), row.material
        assert set(row.limits) <= limits, row.material
        assert bool(row.chloride) == ("chloride" in row.properties), row.material
        assert (row.slow_N_pct is not None) == bool(row.N_pct), row.material
        assert (row.density_range_pct is None) == (row.bulk_density_kg_L is None), row.material


def test_every_figure_has_a_mark_of_its_own(library: Library) -> None:
    """A figure with a mark, no figure without one; the row's own mark is the weakest or weaker."""
    pairs = {
        "salt_index": "salt_index_verification",
        "acidity_lb_CaCO3_per_100_lb": "acidity_verification",
        "slow_N_pct": "slow_N_verification",
        "bulk_density_kg_L": "density_verification",
    }
    for row in materials(library).values():
        for figure, mark in pairs.items():
            present = getattr(row, figure) is not None
            assert (getattr(row, mark) in MARKS) == present, (row.material, figure)
        assert row.analysis_verification in MARKS, row.material


# 7 CFR 205.602 as read: what it names, and whether use is restricted or prohibited.
CFR_205_602 = {
    "sodium_nitrate": ("restricted", "(h)"),
    "potassium_chloride": ("restricted", "(e)"),
    "calcium_chloride": ("prohibited", "(c)"),
}


def test_the_national_list_as_read(library: Library) -> None:
    """7 CFR 205.602 names three of these; the Agricultural Marketing Service names ammonia salts and urea."""
    table = materials(library)
    for material, (word, paragraph) in CFR_205_602.items():
        row = table[material]
        assert (row.national_list, row.national_list_verification) == (word, "read")
        assert f"205.602{paragraph}" in row.national_list_place
    for row in table.values():
        if {"ammonium", "urea"} & set(row.properties):
            assert row.national_list in ("prohibited", "not_listed"), row.material


def test_what_the_list_does_not_say_is_not_known(library: Library) -> None:
    """A word without a place would be a guess."""
    for row in materials(library).values():
        known = row.national_list != "unknown"
        assert bool(row.national_list_place) is known, row.material
        assert (row.national_list_verification in MARKS) is known, row.material


def test_rules_name_only_what_there_is(library: Library) -> None:
    """Materials, properties, categories of a rule occur in the table, so that no rule is idle by a slip of the pen."""
    table = materials(library)
    properties = {word for row in table.values() for word in row.properties}
    for rule in rules(library):
        assert set(rule.material) <= set(table), rule.rule
        assert set(rule.property) <= properties, rule.rule
        assert set(rule.category) <= {row.category for row in table.values()}, rule.rule
        assert set(rule.other) <= properties | set(table), rule.rule
        assert (rule.limit is None) == (rule.limit_unit == ""), rule.rule
        if rule.action in ("water_in", "slow_share", "split"):
            assert rule.value, rule.rule
        assert bool(rule.other) == (rule.action in ("apart", "never")), rule.rule


def test_every_condition_of_a_rule_is_one_that_is_looked_for(library: Library) -> None:
    """A misspelled word would never be true, and its rule never hold."""
    actions = {"exclude", "water_in", "slow_share", "split", "say", "prefer", "apart", "never"}
    for rule in rules(library):
        assert set(rule.when) <= set(WORDS) | {HOME, FARM}, rule.rule
        assert rule.action in actions, rule.rule
        assert rule.limit is None or rule.when[0] in FIGURES, rule.rule


@pytest.mark.parametrize(
    ("rule", "factor"),
    [
        ("chloride_rising", "kcl_caution_ece_dS_m"),
        ("chloride_saline", "low_salt_sources_ece_dS_m"),
        ("urea_alkaline", "urea_loss_pH"),
        ("iron_edta_alkaline", "chelate_edta_pH_max"),
        ("iron_dtpa_alkaline", "chelate_dtpa_pH_max"),
        ("iron_salt_alkaline", "iron_sulfate_useless_pH"),
        ("lime_alkaline", "lime_needed_pH_max"),
        ("wood_ash_alkaline", "wood_ash_pH_max"),
    ],
)
def test_rules_and_factors_draw_the_same_lines(library: Library, rule: str, factor: str) -> None:
    line = next(row.limit for row in rules(library) if row.rule == rule)
    assert line == next(row.value for row in library.rows("factors", FactorRow) if row.factor == factor)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_rule_and_caution_is_said(library: Library, language: str) -> None:
    """Each in a whole sentence that asks only for figures the row has."""
    words = Words(language, Catalogue(), library.index(labels)[language])
    texts = Catalogue().texts(language)
    for rule in rules(library):
        if rule.action == "prefer":
            continue
        given = {name for name in ("limit", "value") if getattr(rule, name) is not None}
        assert placeholders(texts[f"material.rule.{rule.rule}"]) <= given, rule.rule
    for row in materials(library).values():
        assert words.has(f"word.material_form.{row.form}")
        assert words.has(f"word.material_category.{row.category}"), row.category
        assert words.has(f"word.national_list.{row.national_list}")
        for word in row.cautions:
            assert f"material.caution.{word}" in texts, word
