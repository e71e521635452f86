"""Cautions follow their triggers: inside, on and outside each limit, and nothing more.

Limits are named with their source. *Common practice* marks a working line of the trade without a single source.
"""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import DAY, LAWN, LAWN_RESULTS, case_of, dose, judged, plain

from service.agronomy import cautions, ratings
from service.agronomy.errors import TableError
from service.agronomy.findings import Caution, Recommendation
from service.agronomy.health import SEVERITIES
from service.agronomy.sample import Case
from service.agronomy.scene import Limit
from service.agronomy.submission import Depth, OrganicInput, Quantity, Result, Well
from service.agronomy.tables import CautionRow, CropCaution, Library, LimitRow
from service.agronomy.triggers import TRIGGERS

GARDEN = "vegetable-garden"


def gathered(case: Case, *given: Recommendation, materials: tuple[str, ...] = ()) -> tuple[Caution, ...]:
    salts, exchangeable, acidity = judged(case)
    findings = ratings.rate(case).findings
    return cautions.gather(case, findings, salts, exchangeable, acidity, None, given, materials)


def codes(case: Case, *given: Recommendation, materials: tuple[str, ...] = ()) -> set[str]:
    return {item.code for item in gathered(case, *given, materials=materials)}


def nitrogen(case: Case) -> Recommendation:
    return dose(case, "N", 1)


def soil(analyte: str, method: str, value: float, unit: str = "mg/kg", qualifier: str | None = None) -> Result:
    return Result(analyte, method, value, unit, qualifier)


def in_water(analyte: str, value: float, unit: str = "mg/L") -> Result:
    return Result(analyte, "water_sample", value, unit)


# --- the ordinary report -----------------------------------------------------------------------------------------


def test_an_ordinary_lawn_gets_routine_notes_only(library: Library) -> None:
    """Nothing alarming on a normal report: the crop's own, the note on urea on an alkaline lawn, and the scope."""
    case = case_of(library)
    found = gathered(case, nitrogen(case), plain("none_needed", "P2O5"), plain("none_needed", "K2O"))
    assert [item.code for item in found] == ["lawn_summer_heat", "urea_loss", "scope"]
    assert {item.severity for item in found} == {"notice"}


def test_without_any_advice_only_the_scope_is_said(library: Library) -> None:
    """Beside what the crop itself says, whatever the results."""
    case = case_of(library)
    assert case.crop is not None
    assert codes(case) == {"scope", *(caution.code for caution in case.crop.cautions)}
    bare = replace(library.crops[LAWN], cautions=())
    alone = Library(library.tables, library.editions, library.sources, {**library.crops, LAWN: bare})
    assert codes(case_of(alone)) == {"scope"}


# --- figures at their limits --------------------------------------------------------------------------------------

AT_LIMITS: list[tuple[str, str, dict[str, Any], tuple[float, float, float], tuple[bool, bool, bool]]] = [
    # caution, what is measured, the rest of the case, (below, on, above), fires
    ("boiling_nitrate", "water NO3-N", {"well": Well()}, (9.99, 10, 10.01), (False, False, True)),  # US EPA: above 10
    ("not_drinking_water", "water NO3-N", {}, (9.99, 10, 10.01), (False, False, True)),  # the same figure, no well
    ("water_nitrate_infant", "water NO3-N", {"well": Well(infant=True)}, (9.99, 10, 10.01), (False, False, True)),
    ("water_nitrate_raised", "water NO3-N", {"well": Well()}, (4.99, 5, 10), (False, True, True)),  # common practice
    ("nitrate_ion_or_n", "water NO3", {}, (43.9, 44, 44.1), (False, False, True)),  # 10 x 62.004 / 14.007 = 44.3
    ("soil_nitrate_high", "NO3-N kcl_extract", {}, (29.9, 30, 30.1), (False, False, True)),  # common practice
    ("copper_buildup", "Cu dtpa", {}, (19.9, 20, 20.1), (False, False, True)),  # common practice
    ("zinc_buildup", "Zn dtpa", {}, (49.9, 50, 50.1), (False, False, True)),  # common practice
    ("boron_enough_soil", "B hot_water", {"requests": ("boron",)}, (0.99, 1.0, 1.01), (False, True, True)),
    ("boron_in_water", "water B", {"requests": ("boron",)}, (0.49, 0.5, 0.51), (False, True, True)),  # common practice
    ("compost_overload", "P olsen", {"requests": ("compost",)}, (59.9, 60, 60.1), (False, False, True)),  # Utah State
    ("wood_ash_alkaline", "pH saturated_paste", {"requests": ("wood_ash",)}, (6.99, 7.0, 7.01), (False, True, True)),
    ("acidifying_limy_soil", "lime calcimeter", {"requests": ("lower_ph",)}, (0.49, 0.5, 0.51), (False, True, True)),
]
UNITS = {"pH": "", "lime": "%"}


def measured(library: Library, what: str, value: float, site: dict[str, Any]) -> Case:
    first, second = what.split()
    if first == "water":
        return case_of(library, *LAWN_RESULTS, water=(in_water(second, value),), **site)
    result = Result(first, second, value, UNITS.get(first, "mg/kg") or None)
    others = tuple(item for item in LAWN_RESULTS if item.analyte != first)
    return case_of(library, *others, result, **site)


@pytest.mark.parametrize(("code", "what", "site", "values", "fires"), AT_LIMITS, ids=[row[0] for row in AT_LIMITS])
def test_a_limit_is_kept_below_on_and_above(
    library: Library, code: str, what: str, site: dict[str, Any], values: Any, fires: Any
) -> None:
    found = tuple(code in codes(measured(library, what, value, site)) for value in values)
    assert found == fires


def test_raised_nitrate_stops_where_the_limit_begins(library: Library) -> None:
    """5 to 10 mg/L is the note, above 10 the warning; never both."""
    case = case_of(library, water=(in_water("NO3-N", 10.01),), well=Well())
    assert "water_nitrate_raised" not in codes(case)
    assert "boiling_nitrate" in codes(case)


@pytest.mark.parametrize(("pH", "fires"), [(7.49, False), (7.5, True), (7.51, True)])
def test_surface_urea_follows_pH_and_only_with_nitrogen(library: Library, pH: float, fires: bool) -> None:
    """Montana State trials lost 1-44 % of surface urea; from pH 7.5 is a working line of the trade."""
    case = case_of(library, Result("pH", "saturated_paste", pH))
    assert ("urea_loss" in codes(case, nitrogen(case))) is fires
    assert "urea_loss" not in codes(case)
    assert "urea_loss" not in codes(case, dose(case, "P2O5", 1))


@pytest.mark.parametrize(("ece", "fires"), [(3.99, False), (4.0, True), (4.01, True)])
def test_fertilizer_on_salty_soil(library: Library, ece: float, fires: bool) -> None:
    """4 dS/m in the saturation extract is the saline soil of USDA Handbook 60."""
    case = case_of(library, Result("EC", "saturated_paste_extract", ece, "dS/m"))
    assert ("salty_soil_fertilizer" in codes(case, nitrogen(case))) is fires
    assert "salty_soil_fertilizer" not in codes(case)


def test_an_estimate_warns_by_its_upper_end(library: Library) -> None:
    """An EC by 1:2 water is an estimate with a range: where the range reaches the limit the caution stands."""
    case = case_of(library, Result("EC", "water_1_2", 1.1, "dS/m"), crop="snap-bean", texture="sandy_loam")
    salts, _, _ = judged(case)
    assert salts is not None
    assert salts.ece is not None
    assert salts.ece.value < 4 <= salts.ece.high
    assert "salty_soil_fertilizer" in codes(case, nitrogen(case))


@pytest.mark.parametrize(("ece", "fires"), [(1.99, False), (2.0, True), (2.01, True)])
def test_potash_for_a_tender_plant(library: Library, ece: float, fires: bool) -> None:
    """From 2 dS/m no chloride for sensitive plants (common practice); beans are rated sensitive (Maas 1990)."""
    case = case_of(library, Result("EC", "saturated_paste_extract", ece, "dS/m"), crop="snap-bean", stage=None)
    assert ("chloride_fertilizer" in codes(case, dose(case, "K2O", 1))) is fires
    assert "chloride_fertilizer" not in codes(case)
    hardy = case_of(library, Result("EC", "saturated_paste_extract", ece, "dS/m"))
    assert "chloride_fertilizer" not in codes(hardy, dose(hardy, "K2O", 1))


@pytest.mark.parametrize(("sar", "fires"), [(5.99, True), (6.0, False), (6.01, False)])
def test_gypsum_without_sodium(library: Library, sar: float, fires: bool) -> None:
    """Gypsum does nothing for ordinary clay (Oregon State EC 1503); SAR below 6 is the working line."""
    case = case_of(library, Result("SAR", "saturated_paste_extract", sar), requests=("gypsum",))
    assert ("gypsum_without_sodium" in codes(case)) is fires
    assert "gypsum_without_sodium" not in codes(case_of(library, Result("SAR", "saturated_paste_extract", sar)))


@pytest.mark.parametrize(("sar", "fires"), [(5.99, False), (6.0, True), (6.01, True)])
def test_softened_water_on_soil_with_sodium(library: Library, sar: float, fires: bool) -> None:
    """From SAR 6 no material that adds sodium (common practice)."""
    case = case_of(library, Result("SAR", "saturated_paste_extract", sar), water_source="softened")
    found = codes(case)
    assert ("sodium_salts" in found) is fires
    assert "softened_water" in found


@pytest.mark.parametrize(("feet", "fires"), [(24.9, True), (25, False), (25.1, False)])
def test_near_water(library: Library, feet: float, fires: bool) -> None:
    """A strip of 25 ft by some laws; common practice elsewhere."""
    case = case_of(library, surface_water_distance=Quantity(feet, "ft"))
    assert ("near_water" in codes(case, nitrogen(case))) is fires
    assert "near_water" not in codes(case)
    metric = case_of(library, surface_water_distance=Quantity(feet * 0.3048, "m"))
    assert ("near_water" in codes(metric, nitrogen(metric))) is fires


@pytest.mark.parametrize(
    ("units", "strip", "law"),
    [("us_garden", Quantity(10, "ft"), Quantity(25, "ft")), ("metric", Quantity(3.0, "m"), Quantity(7.6, "m"))],
)
def test_the_strip_along_water_has_a_width(library: Library, units: str, strip: Quantity, law: Quantity) -> None:
    """At least 10 ft, 25 ft by some laws (common practice), in the client's units."""
    case = case_of(library, surface_water_distance=Quantity(15, "ft"), options={"units": units})
    found = {item.code: item for item in gathered(case, nitrogen(case))}["near_water"]
    assert (found.values["strip"], found.values["limit"]) == (strip, law)


def test_a_library_without_the_strip_is_at_fault(library: Library) -> None:
    rows = tuple(row for row in library.rows("application-limits", LimitRow) if row.limit != "setback_surface_water")
    bare = Library({**library.tables, "application-limits": rows}, library.editions, library.sources, library.crops)
    case = case_of(bare, surface_water_distance=Quantity(15, "ft"))
    with pytest.raises(TableError):
        gathered(case, nitrogen(case))


@pytest.mark.parametrize(("slope", "fires"), [(14.9, False), (15, False), (15.1, True)])
def test_steep_slope(library: Library, slope: float, fires: bool) -> None:
    """No broadcast on bare slope above 15 % (common practice)."""
    case = case_of(library, slope_pct=slope)
    assert ("steep_slope" in codes(case, nitrogen(case))) is fires
    assert "steep_slope" not in codes(case)


def test_a_standing_lawn_is_never_told_to_work_it_in(library: Library) -> None:
    """On a slope and after urea a lawn is watered; only open soil is worked."""
    for crop, slope, urea in (
        (LAWN, "lawn", "water"),
        (GARDEN, "soil", "water_or_work"),
        (None, "soil", "water_or_work"),
    ):
        case = case_of(library, crop=crop, stage=None, slope_pct=18)
        found = {item.code: item for item in gathered(case, nitrogen(case))}
        assert found["steep_slope"].values["how"].code == f"caution.slope.{slope}"
        assert found["steep_slope"].values["slope"] == 18
        assert found["urea_loss"].values["how"].code == f"caution.urea.{urea}"


@pytest.mark.parametrize(("inches", "fires"), [(11.9, False), (12, False), (12.1, True)])
def test_digging_below_a_foot(library: Library, inches: float, fires: bool) -> None:
    """State one-call laws ask for marking before digging; deeper than 12 in is the working line."""
    assert ("call_811" in codes(case_of(library, depth=Depth(0, inches, "in")))) is fires
    deep = Result("NO3-N", "kcl_extract", 5, "mg/kg", depth=Depth(6, inches, "in"))
    assert ("call_811" in codes(case_of(library, *LAWN_RESULTS, deep))) is fires


@pytest.mark.parametrize(("acres", "fires"), [(0.99, True), (1, False), (1.01, False)])
def test_boron_is_weighed_on_small_areas(library: Library, acres: float, fires: bool) -> None:
    """One acre: below it the amounts are ounces (common practice)."""
    case = case_of(library, area=Quantity(acres, "acre"), requests=("boron",))
    assert ("boron_weigh" in codes(case)) is fires
    assert "boron_weigh" in codes(case_of(library, area=None, requests=("boron",)))
    assert "boron_weigh" not in codes(case_of(library, area=Quantity(acres, "acre")))


# --- plans and places ---------------------------------------------------------------------------------------------


def planned(library: Library, material: str, crop: str | None = GARDEN, **site: Any) -> Case:
    return case_of(library, crop=crop, organic_inputs=(OrganicInput(material),), **site)


def test_manure_on_food(library: Library) -> None:
    """120 and 90 days before harvest: 7 CFR 205.203."""
    found = {item.code: item for item in gathered(planned(library, "steer_manure"))}
    assert found["raw_manure_food"].severity == "danger"
    assert found["raw_manure_food"].values == {"touching": 120, "off": 90}
    assert "raw_manure_food" in codes(planned(library, "steer_manure", crop=None))
    assert "raw_manure_food" not in codes(planned(library, "steer_manure", crop=LAWN))
    assert "raw_manure_food" not in codes(planned(library, "straw"))


def test_herbicide_carry_over(library: Library) -> None:
    """Weed killers in manure, compost, hay and straw harm broadleaf beds (North Carolina and Washington State)."""
    for material in ("compost", "horse_manure", "straw"):
        assert "herbicide_carryover" in codes(planned(library, material))
    assert "herbicide_carryover" not in codes(planned(library, "wood_chips"))
    assert "herbicide_carryover" not in codes(planned(library, "compost", crop=LAWN))
    assert "herbicide_carryover" not in codes(planned(library, "compost", crop="apple"))


def test_a_refused_request_sets_off_nothing(library: Library) -> None:
    """Compost asked for and refused is not put on, so the pot test is no use; a yearly habit still is."""
    case = case_of(library, crop=GARDEN, requests=("compost",))
    assert "herbicide_carryover" in codes(case)
    assert "herbicide_carryover" not in codes(case, plain("do_not", "compost"))
    habit = planned(library, "compost", requests=("compost",))
    assert "herbicide_carryover" in codes(habit, plain("do_not", "compost"))


def test_sulfur_only_where_sulfur_is_recommended(library: Library) -> None:
    case = case_of(library)
    sulfur = dose(case, "sulfur", 5, kind="amendment")
    assert {"sulfur_dust", "overacidifying"} <= codes(case, sulfur)
    assert "sulfur_with_nitrate" not in codes(case, sulfur)
    assert "sulfur_with_nitrate" in codes(case, sulfur, nitrogen(case))
    assert not {"sulfur_dust", "overacidifying"} & codes(case, plain("do_not", "sulfur"))
    assert not {"sulfur_dust", "overacidifying"} & codes(case, dose(case, "S", 1))


def test_lime_and_nitrogen_apart(library: Library) -> None:
    case = case_of(library)
    lime = dose(case, "lime", 20, kind="amendment")
    assert "lime_with_ammonium" in codes(case, lime, nitrogen(case))
    assert "lime_with_ammonium" not in codes(case, lime)
    assert "lime_with_ammonium" not in codes(case, nitrogen(case))
    manured = case_of(library, organic_inputs=(OrganicInput("dairy_manure"),))
    assert "lime_with_ammonium" in codes(manured, lime)


def test_iron_stains(library: Library) -> None:
    case = case_of(library)
    for kind, subject in (("nutrient", "Fe"), ("practice", "iron_chelate"), ("amendment", "iron_chelate")):
        assert "rust_stains" in codes(case, plain(kind, subject))
    assert "rust_stains" not in codes(case, plain("none_needed", "Fe"))
    assert "rust_stains" not in codes(case, plain("do_not", "iron_chelate"))


def test_iron_that_is_only_watched_stains_nothing(library: Library) -> None:
    """A word on a middling figure is no iron; nor is there siding or paving on a field."""
    assert "rust_stains" not in codes(case_of(library), plain("practice", "Fe"))
    for crop, fires in (("corn-grain", False), ("alfalfa", False), (GARDEN, True), (None, True)):
        case = case_of(library, crop=crop, stage=None)
        assert ("rust_stains" in codes(case, plain("practice", "iron_chelate"))) is fires


def test_acid(library: Library) -> None:
    """Acid is for licensed applicators; a use nobody named counts as home."""
    asked = {"requests": ("acid",)}
    assert {"acid_home", "fertigation_backflow"} <= codes(case_of(library, **asked))
    assert {"acid_home", "fertigation_backflow"} <= codes(case_of(library, condition={"use": "home"}, **asked))
    for use in ("market", "field"):
        found = codes(case_of(library, condition={"use": use}, **asked))
        assert "acid_home" not in found
        assert "fertigation_backflow" in found
    assert not {"acid_home", "fertigation_backflow"} & codes(case_of(library))
    refused = codes(case_of(library, **asked), plain("do_not", "acid"))
    assert "acid_home" in refused
    assert "fertigation_backflow" not in refused
    named = codes(case_of(library, **asked), plain("do_not", "acid"), materials=("sulfuric_acid",))
    assert "fertigation_backflow" in named
    given = case_of(library)
    assert "acid_home" in codes(given, dose(given, "acid", 1, kind="amendment"))


def test_private_well(library: Library) -> None:
    case = case_of(library, well=Well())
    assert "private_well" in codes(case, nitrogen(case))
    assert "private_well" in codes(planned(library, "compost", well=Well()))
    assert "private_well" not in codes(case)
    dry = case_of(library)
    assert "private_well" not in codes(dry, nitrogen(dry))


def test_infants_are_reckoned_with_until_somebody_says_no(library: Library) -> None:
    bad = (in_water("NO3-N", 12),)
    assert "water_nitrate_infant" in codes(case_of(library, water=bad, well=Well(infant=True)))
    assert "water_nitrate_infant" in codes(case_of(library, water=bad, well=Well(infant=None)))
    assert "water_nitrate_infant" not in codes(case_of(library, water=bad, well=Well(infant=False)))
    assert "water_nitrate_infant" not in codes(case_of(library, water=bad))


def test_livestock(library: Library) -> None:
    """Sheep and copper (Colorado State Extension): poultry litter or copper on ground that feeds livestock."""
    feeding = {"crop": "alfalfa", "condition": {"livestock": True}}
    litter = (OrganicInput("poultry_manure"),)
    assert "sheep_copper" in codes(case_of(library, organic_inputs=litter, **feeding))
    case = case_of(library, **feeding)
    assert "sheep_copper" in codes(case, dose(case, "Cu", 0.1))
    assert "sheep_copper" not in codes(case, nitrogen(case))
    assert "sheep_copper" not in codes(case_of(library, crop="alfalfa", organic_inputs=litter))
    rich = soil("NO3-N", "kcl_extract", 40)
    assert "forage_livestock" in codes(case_of(library, rich, **feeding))
    assert "forage_livestock" not in codes(case_of(library, rich, crop="alfalfa"))


def test_what_may_kill_livestock_stands_first(library: Library) -> None:
    """Above phosphorus, deep digging and urea; of nitrate it says that hay keeps it (common practice)."""
    rich = (*LAWN_RESULTS[:5], soil("NO3-N", "kcl_extract", 48), soil("P", "olsen", 62))
    feeding = {"crop": "forage-sorghum", "stage": None, "condition": {"livestock": True}}
    case = case_of(library, *rich, depth=Depth(0, 24, "in"), organic_inputs=(OrganicInput("steer_manure"),), **feeding)
    found = gathered(case)
    assert (found[0].code, found[0].severity) == ("forage_livestock", "danger")
    assert found[0].values["more"].code == "caution.forage_nitrate_facts"
    own = [item.code for item in found if item.code.startswith("forage_sorghum")]
    assert own == ["forage_sorghum_nitrate", "forage_sorghum_prussic_acid"]
    assert [item.code for item in found].index("compost_overload") > [item.code for item in found].index(own[-1])
    zinc = gathered(case_of(library, soil("Zn", "dtpa", 60), **feeding))
    assert {item.code: item for item in zinc}["forage_livestock"].values["more"] == ""


def test_children_and_materials(library: Library) -> None:
    case = case_of(library, children=True)
    assert "store_sealed" in codes(case, nitrogen(case))
    assert "store_sealed" not in codes(case)
    without = case_of(library)
    assert "store_sealed" not in codes(without, nitrogen(without))


def test_meals_for_organic_gardens(library: Library) -> None:
    case = case_of(library, requests=("organic_only",))
    assert "meals_and_dogs" in codes(case, nitrogen(case))
    assert "meals_and_dogs" not in codes(case)
    kept = case_of(library, condition={"organic_only": True})
    assert "meals_and_dogs" in codes(kept, nitrogen(kept))
    plain_lawn = case_of(library)
    assert "meals_and_dogs" not in codes(plain_lawn, nitrogen(plain_lawn))
    assert "meals_and_dogs" in codes(plain_lawn, materials=("bone_meal",))


def test_phosphate_on_a_lawn_that_has_enough(library: Library) -> None:
    """Lawn phosphorus laws: Connecticut legislative research 2012-R-0076."""
    case = case_of(library)
    assert "phosphorus_law" in codes(case, dose(case, "P2O5", 1))
    assert "phosphorus_law" in codes(case_of(library, organic_inputs=(OrganicInput("compost"),)))
    assert "phosphorus_law" not in codes(case, nitrogen(case))
    poor = case_of(library, soil("P", "olsen", 2))
    assert "phosphorus_law" not in codes(poor, dose(poor, "P2O5", 1))
    garden = case_of(library, crop=GARDEN)
    assert "phosphorus_law" not in codes(garden, dose(garden, "P2O5", 1))


def test_sodic_soil_that_does_not_drain(library: Library) -> None:
    sodic = Result("SAR", "saturated_paste_extract", 20)
    for drainage in ("slow", "ponded"):
        assert "gypsum_without_drainage" in codes(case_of(library, sodic, drainage=drainage))
    assert "gypsum_without_drainage" not in codes(case_of(library, sodic, drainage="free"))
    assert "gypsum_without_drainage" not in codes(case_of(library, sodic))
    low = Result("SAR", "saturated_paste_extract", 2)
    assert "gypsum_without_drainage" not in codes(case_of(library, low, drainage="slow"))


def test_ground_that_cannot_be_worked(library: Library) -> None:
    for ground in ("frozen", "snow", "saturated"):
        case = case_of(library, observations={"ground": ground})
        assert "frozen_ground" in codes(case, nitrogen(case))
        assert "frozen_ground" not in codes(case)
    dry = case_of(library, observations={"ground": "dry"})
    assert "frozen_ground" not in codes(dry, nitrogen(dry))


def test_biosolids_on_food(library: Library) -> None:
    """40 CFR 503."""
    assert "biosolids_food" in codes(planned(library, "biosolids"))
    assert "biosolids_food" not in codes(planned(library, "biosolids", crop=LAWN))


@pytest.mark.parametrize("fizz", ["slight", "strong", "violent"])
def test_a_fizz_is_enough_to_warn_against_acidifying(library: Library, fizz: str) -> None:
    """Slight effervescence with acid means free lime (common practice)."""
    limy = Result("lime", "acid_fizz", text=fizz)
    pH = Result("pH", "saturated_paste", 8)
    for request in ("lower_ph", "sulfur", "aluminum_sulfate", "vinegar", "coffee_grounds"):
        assert "acidifying_limy_soil" in codes(case_of(library, pH, limy, requests=(request,)))
    assert "acidifying_limy_soil" not in codes(case_of(library, pH, limy))
    none = Result("lime", "acid_fizz", text="none")
    assert "acidifying_limy_soil" not in codes(case_of(library, pH, none, requests=("lower_ph",)))


@pytest.mark.parametrize(
    ("sodium", "requests", "fires"),
    [(30, ("sulfur",), False), (30, ("sulfur", "lower_ph"), True), (30, ("lower_ph",), True), (4, ("sulfur",), True)],
)
def test_sulfur_on_a_sodic_soil_is_a_wish_for_calcium(
    library: Library, sodium: float, requests: tuple[str, ...], fires: bool
) -> None:
    """In limy soil sulfur frees calcium (Handbook 60 lists it among the amendments for sodic soils)."""
    ions = [Result(ion, "saturated_paste_extract", value, "meq/L") for ion, value in (("Ca", 4), ("Mg", 2))]
    salt = Result("Na", "saturated_paste_extract", sodium, "meq/L")
    limy = Result("lime", "acid_fizz", text="strong")
    case = case_of(library, Result("pH", "saturated_paste", 8.4), limy, salt, *ions, requests=requests)
    assert ("acidifying_limy_soil" in codes(case)) is fires


def test_a_choice_instead_fits_the_ground(library: Library) -> None:
    """No pots for a lawn or a hundred acres."""
    for crop, ground in (
        (LAWN, "lawn"),
        ("corn-grain", "field"),
        ("alfalfa", "field"),
        (GARDEN, "garden"),
        (None, "garden"),
    ):
        found = {item.code: item for item in gathered(case_of(library, crop=crop, stage=None, requests=("lower_ph",)))}
        assert found["acidifying_limy_soil"].values["instead"].code == f"caution.instead.{ground}"


@pytest.mark.parametrize(
    ("material", "code"),
    [
        ("anhydrous_ammonia", "anhydrous_ammonia"),
        ("ammonium_nitrate", "ammonium_nitrate"),
        ("quicklime", "caustic_lime"),
        ("hydrated_lime", "caustic_lime"),
        ("pet_waste", "pet_waste"),
        ("weed_and_feed", "weed_and_feed"),
        ("sulfuric_acid", "fertigation_backflow"),
        ("elemental_sulfur", "sulfur_dust"),
    ],
)
def test_a_material_named_in_the_answer(library: Library, material: str, code: str) -> None:
    case = case_of(library)
    assert code in codes(case, materials=(material,))
    assert code not in codes(case)


def test_boron_for_a_tender_plant_comes_from_the_water(library: Library) -> None:
    """Onion and snap bean are sensitive to boron (Maas 1990), bermudagrass is not; 0.5 mg/L is common practice."""
    water = (in_water("B", 0.6),)
    assert "boron_in_water" in codes(case_of(library, crop="snap-bean", stage=None, water=water))
    assert "boron_in_water" not in codes(case_of(library, crop="tomato", stage=None, water=water))


# --- the whole list -----------------------------------------------------------------------------------------------


def test_gravest_first_each_once_and_scope_last(library: Library) -> None:
    case = case_of(
        library,
        *LAWN_RESULTS,
        soil("Pb", "total_digest", 700),
        soil("Pb", "total_digest", 650),
        crop=GARDEN,
        depth=Depth(0, 8, "in"),
        requests=("acid", "compost"),
        organic_inputs=(OrganicInput("steer_manure"),),
        well=Well(),
    )
    found = gathered(case, nitrogen(case))
    ranks = [SEVERITIES.index(item.severity) for item in found]
    assert ranks == sorted(ranks, reverse=True)
    assert len({item.code for item in found}) == len(found)
    assert found[-1].code == "scope"
    assert found[0].code in {"lead_level", "lead_removal_level"}


def test_every_caution_names_source_and_mark(library: Library) -> None:
    for row in library.rows("cautions", CautionRow):
        assert row.sources
        assert row.verification
        assert row.severity in SEVERITIES
        assert row.trigger in TRIGGERS
    assert {row.trigger for row in library.rows("cautions", CautionRow)} <= set(TRIGGERS)


QUIET_DO_NOTS = {"acidifying_limy_soil": "caution", "phosphorus_law": "caution"}
"""They harm neither people nor animals, and the *do not* itself says it: nothing alarming on a quiet report."""


def test_a_firm_do_not_is_grave(library: Library) -> None:
    """A *stop* of the safety sheet is danger and a do-not at once."""
    for row in library.rows("cautions", CautionRow):
        if row.do_not:
            assert row.severity == QUIET_DO_NOTS.get(row.caution, "danger")


def test_digging_is_a_notice(library: Library) -> None:
    """A deep sample that was taken long ago is no emergency."""
    (row,) = (row for row in library.rows("cautions", CautionRow) if row.caution == "call_811")
    assert row.severity == "notice"
    assert cautions.forbidding(library) == {row.caution for row in library.rows("cautions", CautionRow) if row.do_not}


def test_a_crop_brings_its_own_caution(library: Library) -> None:
    """Before the equally grave ones of the table and the scope; never twice."""
    own = CropCaution("rhubarb_leaves", "notice", ("practice",), "practice")
    again = CropCaution("scope", "danger", ("practice",), "practice")
    lawn = replace(library.crops[LAWN], cautions=(own,))
    case = case_of(Library(library.tables, library.editions, library.sources, {**library.crops, LAWN: lawn}))
    found = gathered(case, nitrogen(case))
    assert [item.code for item in found] == ["rhubarb_leaves", "urea_loss", "scope"]
    assert found[0] == Caution("rhubarb_leaves", "notice", {}, (), ("practice",), "practice")
    graver = replace(lawn, cautions=(again,))
    case = case_of(Library(library.tables, library.editions, library.sources, {**library.crops, LAWN: graver}))
    assert [(item.code, item.severity) for item in gathered(case)] == [("scope", "danger")]


def test_a_row_without_a_limit_shows_none(library: Library) -> None:
    rows = {row.caution: row for row in library.rows("cautions", CautionRow)}
    assert cautions._limit(rows["scope"]) == Limit(0, 0, None)
    assert cautions._limit(rows["water_nitrate_raised"]) == Limit(5_000_000, 10_000_000, Quantity(5, "mg/L"))


def test_equally_grave_ones_keep_the_order_of_the_table(library: Library) -> None:
    case = case_of(library, slope_pct=20, well=Well())
    assert case.crop is not None
    own = {caution.code for caution in case.crop.cautions}
    routine = [item.code for item in gathered(case, nitrogen(case)) if item.code not in own]
    table = [row.caution for row in library.rows("cautions", CautionRow)]
    assert len(routine) == 4
    assert routine == sorted(routine, key=table.index)


def test_an_unknown_trigger_is_an_error(library: Library) -> None:
    rows = library.rows("cautions", CautionRow)
    broken = Library(
        {**library.tables, "cautions": (*rows, replace(rows[0], trigger="full_moon"))},
        library.editions,
        library.sources,
        library.crops,
    )
    with pytest.raises(TableError, match="full_moon"):
        broken.index(cautions.Rules.of)


def test_the_day_of_the_case_is_the_one_asked_for(library: Library) -> None:
    assert case_of(library).as_of == DAY


# --- properties ---------------------------------------------------------------------------------------------------

EXTRA = [
    soil("Cu", "dtpa", 25),
    soil("Zn", "dtpa", 60),
    soil("B", "hot_water", 0.2),
    soil("B", "hot_water", 2),
    soil("NO3-N", "kcl_extract", 45),
    soil("Pb", "total_digest", 20),
    soil("Pb", "total_digest", 300),
    soil("As", "total_digest", 20),
    soil("Cd", "total_digest", 0.2),
    soil("K", "ammonium_acetate", 340),
    soil("Mn", "dtpa", 5),
    Result("OM", "loss_on_ignition", 3, "%"),
    Result("lime", "acid_fizz", text="strong"),
    Result("EC", "saturated_paste_extract", 6, "dS/m"),
    Result("SAR", "saturated_paste_extract", 20),
]
ANSWERS = {
    # a measured figure answers the caution that an estimate, or nothing at all, had set off
    "EC": {"salty_soil_fertilizer", "chloride_fertilizer"},
    "SAR": {"gypsum_without_sodium", "sodium_salts", "gypsum_without_drainage"},
}
START = (Result("pH", "saturated_paste", 8.0), soil("P", "olsen", 70))


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(before=st.lists(st.sampled_from(EXTRA), max_size=4, unique_by=lambda r: r.analyte), added=st.sampled_from(EXTRA))
def test_another_result_never_removes_a_caution_it_does_not_answer(
    library: Library, before: list[Result], added: Result
) -> None:
    if added.analyte in {item.analyte for item in before}:
        return
    site: dict[str, Any] = {
        "requests": ("boron", "compost", "lower_ph", "gypsum"),
        "water": (in_water("NO3-N", 12), in_water("B", 0.8)),
        "well": Well(),
        "children": True,
    }
    first = case_of(library, *START, *before, crop=GARDEN, stage=None, **site)
    second = case_of(library, *START, *before, added, crop=GARDEN, stage=None, **site)
    lost = codes(first, nitrogen(first)) - codes(second, nitrogen(second))
    assert lost <= ANSWERS.get(added.analyte, set())


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(EXTRA[:5] + EXTRA[5:12:2]))
def test_the_order_of_the_results_does_not_matter(library: Library, order: list[Result]) -> None:
    seen: dict[str, Result] = {item.analyte: item for item in EXTRA[:12]}
    unique = [item for item in order if seen[item.analyte] is item]
    case = case_of(library, *unique, crop=GARDEN, stage=None)
    straight = case_of(library, *sorted(unique, key=repr), crop=GARDEN, stage=None)
    assert codes(case, nitrogen(case)) == codes(straight, nitrogen(straight))


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    analyte=st.sampled_from(["Cu", "Zn", "NO3-N", "Pb", "As", "Cd"]),
    low=st.floats(0.01, 500),
    more=st.floats(0, 500),
)
def test_more_of_a_harmful_thing_never_silences_a_warning(
    library: Library, analyte: str, low: float, more: float
) -> None:
    method = {"Cu": "dtpa", "Zn": "dtpa", "NO3-N": "kcl_extract"}.get(analyte, "total_digest")
    routine = {"screening_level"}

    def warned(value: float) -> set[str]:
        return codes(case_of(library, soil(analyte, method, value), crop=GARDEN, stage=None)) - routine

    assert warned(low) <= warned(low + more)


def test_nothing_measured_is_not_a_zero(library: Library) -> None:
    """No test of sodium is no sodium problem answered: gypsum asked for without SAR draws no verdict on sodium."""
    case = case_of(library, Result("pH", "saturated_paste", 8), requests=("gypsum",))
    assert "gypsum_without_sodium" not in codes(case)
