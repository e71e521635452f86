"""What a single calculation may not give: caps, always-a-person rules, and inputs that cannot be."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from calculating import ask, codes, in_unit, result

from service.agronomy.calculations import WrongInput
from service.agronomy.cap_reach import caps_of_materials
from service.agronomy.dose_slips import in_a_row
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimitRow, MaterialRow

GARDEN = (1000, "ft2")
SODIC: dict[str, Any] = {
    "CEC_meq_100g": 20.0,
    "ESP_now_pct": 20.0,
    "ESP_wanted_pct": 10.0,
    "depth": (6, "in"),
    "bulk_density_g_cm3": 1.4,
}
LIME_FREE: dict[str, Any] = {"pH_now": 8.0, "pH_wanted": 6.5, "texture": "loam", "depth": (6, "in")}
ACID: dict[str, Any] = {"buffer_method": "sikora", "buffer_pH": 6.0, "pH_wanted": 6.4, "depth": (6, "in")}


def cap(library: Library, name: str) -> LimitRow:
    return next(row for row in library.rows("application-limits", LimitRow) if row.limit == name)


def product(library: Library, nutrient: str, rate: tuple[float, str], **more: Any) -> Any:
    return ask(library, "product_amount", **{"nutrient": nutrient, "rate": rate, "area": GARDEN, **more})


def refused(library: Library, name: str, **inputs: Any) -> WrongInput:
    with pytest.raises(WrongInput) as caught:
        ask(library, name, **inputs)
    return caught.value


# Hard caps: a rate above every use's cap never leaves.


@pytest.mark.parametrize(
    ("name", "nutrient", "grade"),
    [("p2o5_year", "P2O5", "0-46-0"), ("k2o_year", "K2O", "0-0-60"), ("n_lawn_year", "N", "46-0-0")],
)
@pytest.mark.parametrize(("share", "status"), [(0.999, "given"), (1.0, "given"), (1.001, "withheld")])
def test_yearly_caps(library: Library, name: str, nutrient: str, grade: str, share: float, status: str) -> None:
    """At the largest hard cap of the table a rate is given, a thousandth above it is not; for N that is the lawn's."""
    row = cap(library, name)
    answer = product(library, nutrient, (row.maximum * share, row.unit), grade=grade)
    assert answer.status == status
    if status == "withheld":
        assert all(value is None for value in answer.result.values())
        assert answer.steps == ()
        (reason,) = answer.reasons
        assert reason.code == "rate_over_cap"
        assert {"per_100", "per_1000", "per_acre", "cap"} <= reason.values.keys()


def test_what_comes_along_has_caps_too(library: Library) -> None:
    """5 lb N per 1000 ft2 from 10-20-10 would bring 436 lb P2O5 per acre, above the cap of 300."""
    answer = product(library, "N", (5, "lb/1000 ft2"), grade="10-20-10")
    assert answer.status == "withheld"
    assert answer.reasons[0].analyte == "P2O5"


def test_the_material_itself_has_caps(library: Library) -> None:
    """Gypsum as a source of sulfur stays under the ceiling of 10 US tons per acre."""
    sulfur = {"area": (1, "acre"), "material": "gypsum"}
    assert product(library, "S", (3000, "lb/acre"), **sulfur).status == "given"  # 17,647 lb of gypsum
    answer = product(library, "S", (4000, "lb/acre"), **sulfur)  # 23,529 lb
    assert answer.status == "withheld"
    assert answer.reasons[0].analyte == "gypsum"


def test_sulfur_keeps_its_ceiling_whatever_grows_there(library: Library) -> None:
    """20 lb at once on 1,000 ft2, no more anywhere; in several doses each keeps it."""
    sulfur = {"area": (1000, "ft2"), "material": "elemental_sulfur"}
    row = cap(library, "s_ceiling")
    assert product(library, "S", (row.maximum, row.unit), **sulfur).status == "given"
    answer = product(library, "S", (500, "lb/1000 ft2"), **sulfur)
    assert (answer.status, answer.reasons[0].analyte) == ("withheld", "S")


@pytest.mark.parametrize(
    ("material", "subject"), [("steer_manure", "manure"), ("horse_manure", "manure"), ("yard_compost", "compost")]
)
def test_manure_and_compost_have_the_cap_on_themselves(library: Library, material: str, subject: str) -> None:
    """20 US tons an acre of manure; 4 in of compost is 0.1016 m x 550 kg/m3 = 55.9 kg/m2."""
    found = {cap.row.subject: cap for cap in library.index(caps_of_materials)[material]}
    assert set(found) == {subject}
    tons = {"manure": 20 * 2000 * 453.59237 / 4046.8564224, "compost": 0.1016 * 550_000}
    assert found[subject].base == pytest.approx(tons[subject], rel=1e-6)


@pytest.mark.parametrize(
    ("nutrient", "material", "rate"),
    [("Zn", "zinc_sulfate", 50), ("Cu", "copper_sulfate", 50), ("P2O5", "triple_superphosphate", 500)],
)
def test_no_amount_for_a_tree_without_a_cap_by_the_tree(
    library: Library, nutrient: str, material: str, rate: float
) -> None:
    answer = ask(library, "product_amount", nutrient=nutrient, material=material, per_tree=(rate, "lb/tree"))
    assert answer.status == "withheld"
    assert answer.reasons[0].code == ("dose_over_cap_each" if nutrient == "P2O5" else "no_cap_per_tree")


def test_lime_sulfur_is_handled_like_an_acid(library: Library) -> None:
    answer = product(library, "S", (1, "lb/1000 ft2"), area=(1000, "ft2"), material="lime_sulfur")
    assert (answer.status, answer.reasons[0].code) == ("withheld", "acid")


@pytest.mark.parametrize("name", ["rate", "area", "bag"])
def test_an_amount_of_nothing_is_refused_at_its_place(library: Library, name: str) -> None:
    sent = {"rate": (1, "lb/1000 ft2"), "area": (1000, "ft2"), "bag": (50, "lb")}
    sent[name] = (0, sent[name][1])
    problem = refused(library, "product_amount", nutrient="N", grade="21-0-0", **sent)
    assert (problem.field, problem.code) == (f"{name}/value", "out_of_range")


def test_a_blend_for_no_ground_is_refused(library: Library) -> None:
    problem = refused(library, "blend", needs={"N": Quantity(1, "lb/1000 ft2")}, area=(0, "ft2"))
    assert (problem.field, problem.code) == ("area/value", "out_of_range")


def test_zinc_above_the_largest_published_rate(library: Library) -> None:
    row = cap(library, "zn_once")
    zinc = {"material": "zinc_sulfate", "area": (1, "acre")}
    assert product(library, "Zn", (row.maximum, row.unit), **zinc).status == "given"
    assert product(library, "Zn", (row.maximum * 1.01, row.unit), **zinc).status == "withheld"


@pytest.mark.parametrize(("rate", "told"), [(0.99, False), (1.0, False), (1.01, True), (3.0, True)])
def test_more_than_a_lawn_takes_at_once_is_told(library: Library, rate: float, told: bool) -> None:
    """1 lb N per 1000 ft2 at once on a lawn (application-limits n_lawn_dose): more is a season's rate, to be split."""
    answer = product(library, "N", (rate, "lb/1000 ft2"), grade="46-0-0")
    assert ("calc.over_lawn_dose" in codes(answer)) is told
    if rate == 3.0:
        note = next(note for note in answer.warnings if note.code == "calc.over_lawn_dose")
        assert note.values["doses"] == 3


# Always a person.


@pytest.mark.parametrize("material", ["borax", "sodium_borate", "sodium_octaborate", "boric_acid", "urea"])
def test_boron_never_leaves_unread(library: Library, material: str) -> None:
    answer = product(library, "B", (0.0001, "lb/1000 ft2"), material=material)
    assert (answer.status, answer.reasons[0].code) == ("withheld", "boron_amount")
    assert all(value is None for value in answer.result.values())


def test_every_material_with_boron_is_withheld_for_whatever_it_is_bought(library: Library) -> None:
    with_boron = [row for row in library.rows("materials", MaterialRow) if row.B_pct]
    assert with_boron
    for row in with_boron:
        assert product(library, "N", (1, "lb/1000 ft2"), material=row.material).status == "withheld"


def test_acid_never_leaves_unread(library: Library) -> None:
    answer = product(library, "S", (1, "lb/1000 ft2"), material="sulfuric_acid")
    assert (answer.status, answer.reasons[0].code) == ("withheld", "acid")


@pytest.mark.parametrize(
    ("area", "status"),
    [((9_999, "ft2"), "given"), ((10_000, "ft2"), "given"), ((10_001, "ft2"), "withheld"), ((1, "acre"), "withheld")],
)
def test_gypsum_for_a_large_area_is_for_a_person(library: Library, area: tuple[float, str], status: str) -> None:
    """always-a-person, reclamation_area: more than 10,000 ft2."""
    answer = ask(library, "gypsum", **SODIC, area=area)
    assert answer.status == status
    if status == "withheld":
        assert answer.reasons[0].code == "reclamation_area"
        assert set(answer.result.values()) == {None}
        assert answer.steps == ()


def test_a_lawns_yearly_cap_holds_whatever_windows_are_left(library: Library) -> None:
    """Buffalograss takes at most 2 lb N per 1000 ft2 a year (Kansas); in December no window of the year is left."""
    lawn = {"crop": "buffalograss-lawn", "area": GARDEN, "as_of": date(2026, 12, 1)}
    assert ask(library, "turf_nitrogen_schedule", N_rate=(2, "lb/1000 ft2"), **lawn).status == "given"
    answer = ask(library, "turf_nitrogen_schedule", N_rate=(2.01, "lb/1000 ft2"), **lawn)
    assert (answer.status, answer.reasons[0].code) == ("withheld", "rate_over_cap")


@pytest.mark.parametrize("rate", [0.5, 1.0, 2.0, 4.0, 6.0, 7.0])
def test_no_dose_of_a_schedule_is_above_its_cap(library: Library, rate: float) -> None:
    """Soluble N: at most 1 lb per 1000 ft2 at once."""
    found = result(
        library,
        "turf_nitrogen_schedule",
        crop="hybrid-bermudagrass-lawn",
        N_rate=(rate, "lb/1000 ft2"),
        area=GARDEN,
        as_of=date(2026, 3, 1),
    )
    doses = [in_unit(library, dose["rate"], "lb/1000 ft2") for dose in found["applications"]]
    assert doses
    assert max(doses) <= 1.0 + 1e-9
    assert sum(doses) <= rate + 0.05  # doses are named in steps of a spreader


# "None needed" and "do not" are answers.


@pytest.mark.parametrize(
    ("now", "wanted", "code"),
    [
        (20.0, 20.0, "calc.gypsum_none_needed"),
        (8.0, 15.0, "calc.gypsum_none_needed"),
        (5.99, 3.0, "calc.gypsum_useless"),
    ],
)
def test_no_gypsum_without_sodium(library: Library, now: float, wanted: float, code: str) -> None:
    """At the ESP wanted none is needed; below 6 % gypsum does nothing (factor gypsum_useless_below_esp_pct)."""
    answer = ask(library, "gypsum", **{**SODIC, "ESP_now_pct": now, "ESP_wanted_pct": wanted})
    assert code in codes(answer)
    assert answer.result["rate"] == Quantity(0.0, "lb/acre")
    assert answer.result["applications"] == ()


def test_gypsum_at_the_line_is_given(library: Library) -> None:
    answer = ask(library, "gypsum", **{**SODIC, "ESP_now_pct": 6.0, "ESP_wanted_pct": 3.0})
    assert answer.result["rate"].value > 0


@pytest.mark.parametrize(("lime", "advised"), [(0.0, True), (0.499, True), (0.5, False), (0.501, False), (6.0, False)])
def test_sulfur_only_where_there_is_next_to_no_lime(library: Library, lime: float, advised: bool) -> None:
    """Factor free_lime_threshold_pct: from half a percent sulfur does not lower the pH in practice."""
    answer = ask(library, "sulfur", **LIME_FREE, lime_pct=lime)
    assert answer.result["advised"] is advised
    assert (answer.result["rate"] is None) is not advised
    assert ("calc.sulfur_not_in_lime" in codes(answer)) is not advised


def test_sulfur_where_the_pH_is_low_enough(library: Library) -> None:
    answer = ask(library, "sulfur", **{**LIME_FREE, "pH_now": 6.5}, lime_pct=0.0)
    assert "calc.sulfur_none_needed" in codes(answer)
    assert answer.result["rate"] is None


def test_sulfur_below_the_table_says_how_far_it_goes(library: Library) -> None:
    """The table ends at pH 6.5: a lower wish gets the rate to 6.5 and is told so."""
    low = ask(library, "sulfur", **{**LIME_FREE, "pH_wanted": 5.0}, lime_pct=0.0)
    assert "calc.sulfur_part_way" in codes(low)
    assert low.result["rate"] == result(library, "sulfur", **LIME_FREE, lime_pct=0.0)["rate"]


def test_sulfur_in_two_steps_is_sulfur_in_one(library: Library) -> None:
    """From 8.0 to 7.0 and from 7.0 to 6.5 together take what 8.0 to 6.5 takes."""
    whole, upper, lower = (
        result(library, "sulfur", **{**LIME_FREE, "pH_now": now, "pH_wanted": wanted}, lime_pct=0.0)["rate"].value
        for now, wanted in ((8.0, 6.5), (8.0, 7.0), (7.0, 6.5))
    )
    assert whole == pytest.approx(upper + lower, rel=1e-5)


@pytest.mark.parametrize(("pH", "given"), [(6.39, True), (6.4, False), (6.8, False), (7.5, False)])
def test_no_lime_where_the_pH_is_high_enough(library: Library, pH: float, given: bool) -> None:
    """At the pH wanted, and from 6.8 on whatever is wanted (factor lime_needed_pH_max), no lime of any kind."""
    answer = ask(library, "lime", **ACID, pH_now=pH, ECCE_pct=100.0)
    assert (answer.result["rate"].value > 0) is given
    assert ("calc.lime_none_needed" in codes(answer)) is not given


def test_no_lime_from_pH_6_8_whatever_is_wanted(library: Library) -> None:
    answer = ask(library, "lime", **{**ACID, "pH_wanted": 7.2}, pH_now=6.8, ECCE_pct=100.0)
    assert answer.result["rate"].value == 0


def test_lime_across_the_printed_step_is_a_range(library: Library) -> None:
    """Between buffer pH 5.7 and 5.8 the Oregon table steps: nothing is interpolated, both ends are told."""
    answer = ask(library, "lime", **{**ACID, "buffer_pH": 5.75}, pH_now=4.8, ECCE_pct=100.0)
    assert answer.result["rate"].value < answer.result["rate_high"].value
    assert "calc.lime_range" in codes(answer)


def test_leaching_that_is_not_practical_is_told(library: Library) -> None:
    """Above 0.3 (Rhoades) a leaching requirement is not practical; on it nothing is said."""
    asked = {"ECw_dS_m": 3.0, "method": "conventional"}
    on_it = 3.0 * (1 / 0.3 + 1) / 5
    assert "salt.leaching_impractical" not in codes(ask(library, "leaching_requirement", ECe_dS_m=on_it, **asked))
    assert "salt.leaching_impractical" in codes(ask(library, "leaching_requirement", ECe_dS_m=on_it * 0.99, **asked))


def test_no_water_where_the_salt_is_low_enough(library: Library) -> None:
    answer = ask(
        library,
        "reclamation_leaching",
        ECe_now_dS_m=2.0,
        ECe_wanted_dS_m=2.0,
        ECw_dS_m=0.5,
        depth=(12, "in"),
        soil="medium",
        water="ponded",
    )
    assert answer.result["water_depth"] == Quantity(0.0, "in")
    assert codes(answer) == {"calc.no_leaching_needed"}


def test_a_crop_without_a_published_line_gets_no_yield(library: Library) -> None:
    crop = next(crop for crop in library.crops.values() if crop.salt is None or crop.salt.slope_pct_per_dS_m is None)
    answer = ask(library, "relative_yield", crop=crop.id, ECe_dS_m=3.0)
    assert (answer.status, answer.reasons[0].code) == ("withheld", "no_salt_line")
    assert answer.result == {"relative_yield_pct": None, "ECe_for_90_75_50_0": None}


# What cannot be is refused, with the field.


@pytest.mark.parametrize(
    ("name", "inputs", "field"),
    [
        ("ece_estimate", {"EC_dS_m": 1450.0, "method": "water_1_1", "texture": "loam"}, "EC_dS_m"),
        ("esp", {"SAR": 66.0}, "SAR"),
        ("esp", {"SAR": 5.0, "CEC_meq_100g": 5.0}, "SAR"),
        ("esp", {"Na_meq_100g": 12.0, "CEC_meq_100g": 10.0}, "Na_meq_100g"),
        ("esp", {"Na_meq_100g": 12.0}, "CEC_meq_100g"),
        ("esp", {}, "SAR"),
        ("texture", {"sand_pct": 60.0, "silt_pct": 40.0, "clay_pct": 40.0}, "sand_pct"),
        ("texture", {"sand_pct": 60.0, "silt_pct": 60.0}, "sand_pct"),
        ("texture", {"sand_pct": 60.0}, "sand_pct"),
        ("ece_estimate", {"EC_dS_m": 1.0, "method": "water_1_1"}, "texture"),
        ("leaching_requirement", {"ECw_dS_m": 9.0, "ECe_dS_m": 2.0, "method": "conventional"}, "ECw_dS_m"),
        ("leaching_requirement", {"ECw_dS_m": 9.0, "ECe_dS_m": 0.0, "method": "high_frequency"}, "ECe_dS_m"),
        ("relative_yield", {"ECe_dS_m": 2.0}, "crop"),
        ("relative_yield", {"ECe_dS_m": 2.0, "threshold_dS_m": 2.0}, "slope_pct_per_dS_m"),
        ("relative_yield", {"ECe_dS_m": 2.0, "threshold_dS_m": 2.0, "crop": "tomato"}, "threshold_dS_m"),
        ("sulfur", {**LIME_FREE, "pH_now": 9.0, "lime_pct": 0.0}, "pH_now"),
        ("sulfur", {**LIME_FREE, "pH_now": 78.0, "lime_pct": 0.0}, "pH_now"),
        ("lime", {**ACID, "buffer_pH": 4.1, "pH_now": 4.5}, "buffer_pH"),
        ("gypsum", {**SODIC, "CEC_meq_100g": 900.0}, "CEC_meq_100g"),
        ("nitrate_credit", {"NO3_N_mg_kg": -1.0, "depth": (12, "in")}, "NO3_N_mg_kg"),
        ("product_amount", {"nutrient": "P2O5", "rate": (1, "lb/acre"), "area": GARDEN, "grade": "46-0-0"}, "nutrient"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN}, "grade"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN, "grade": "60-60-0"}, "grade"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN, "grade": "90-0-0"}, "grade"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN, "grade": "21-0"}, "grade"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN, "grade": "1e9-0-0"}, "grade"),
        ("product_amount", {"nutrient": "N", "rate": (1, "lb/acre"), "area": GARDEN, "material": "gold"}, "material"),
        ("convert", {"quantity": "gold", "value": 1.0, "from_": "mg/kg", "to": "%"}, "quantity"),
        ("convert", {"quantity": "K", "value": -1.0, "from_": "mg/kg", "to": "%"}, "value"),
        ("convert", {"quantity": "K", "value": 1.0, "from_": "mg/kg", "to": "lb/acre"}, "depth"),
        ("convert", {"quantity": "K", "value": 1.0, "from_": "mg/kg", "to": "mg/L"}, "to"),
        ("convert", {"quantity": "NO3", "value": 1.0, "from_": "%", "to": "%", "to_quantity": "P"}, "to_quantity"),
        ("convert", {"quantity": "length", "value": 1.0, "from_": "in", "to": "acre"}, "to"),
        ("convert", {"quantity": "length", "value": 1.0, "from_": "in", "to": "ft", "to_quantity": "P"}, "to_quantity"),
    ],
)
def test_inputs_at_fault_are_named(library: Library, name: str, inputs: dict[str, Any], field: str) -> None:
    problem = refused(library, name, **inputs)
    assert problem.field == field
    assert problem.expected


@pytest.mark.parametrize("ion", ["Na", "Ca", "Mg"])
def test_an_ion_by_mass_of_soil_is_refused_at_its_unit(library: Library, ion: str) -> None:
    ions = dict.fromkeys(("Na", "Ca", "Mg"), (5.0, "meq/L"))
    problem = refused(library, "sar", **{**ions, ion: (100.0, "mg/kg")})
    assert (problem.field, problem.code) == (f"{ion}/unit", "unit_does_not_fit")


def test_an_unknown_ion_is_named_with_what_it_may_be(library: Library) -> None:
    cations = {"Natrium": Quantity(1, "meq/L")}
    problem = refused(library, "ion_balance", cations=cations, anions={"Cl": Quantity(1, "meq/L")})
    assert (problem.field, problem.code) == ("cations/Natrium", "unknown_ion")
    assert "Na" in problem.allowed


def test_nitrate_twice_is_refused(library: Library) -> None:
    anions = {"NO3": Quantity(1, "meq/L"), "NO3-N": Quantity(1, "meq/L")}
    problem = refused(library, "ion_balance", cations={"Na": Quantity(1, "meq/L")}, anions=anions)
    assert problem.code == "repeated_ion"


def test_a_missing_anion_is_not_zero(library: Library) -> None:
    """Without sulfate the balance says nothing, and names the sulfate that would close it."""
    answer = ask(
        library,
        "ion_balance",
        cations={"Ca": Quantity(8, "meq/L"), "Mg": Quantity(4, "meq/L"), "Na": Quantity(12, "meq/L")},
        anions={"Cl": Quantity(9, "meq/L"), "HCO3": Quantity(4, "meq/L")},
    )
    assert answer.result["verdict"] == "incomplete"
    assert {"calc.balance_incomplete", "calc.sulfate_by_difference"} <= codes(answer)


# What a hold says, whole: a reason cut short would leave a reader without the next step.


def test_what_the_holds_say(library: Library) -> None:
    """Boron and acid: severity, subject and what to send, as the decision of an interpretation gives them."""
    boron = product(library, "B", (0.001, "lb/1000 ft2"), material="borax")
    assert boron.reasons == (Reason("boron_amount", "hold", "B", {}, Note("ask.boron")),)
    acid = product(library, "S", (1, "lb/1000 ft2"), material="sulfuric_acid")
    assert acid.reasons == (Reason("acid", "hold", None, {}, Note("ask.acid")),)


def test_what_the_cap_says(library: Library) -> None:
    """500 lb P2O5 per acre written out three ways, beside the cap of 300."""
    (reason,) = product(library, "P2O5", (500, "lb/acre"), grade="0-46-0").reasons
    assert (reason.code, reason.severity, reason.analyte) == ("rate_over_cap", "hold", "P2O5")
    assert reason.values == {
        "subject": Word("subject", "P2O5"),
        "cap": Quantity(300, "lb/acre"),
        "per": Word("per", "year"),
        "per_100": Quantity(1.15, "lb/100 ft2"),
        "per_1000": Quantity(11.5, "lb/1000 ft2"),
        "per_acre": Quantity(500, "lb/acre"),
        "slip": in_a_row(
            [
                Note("slip.per_1000", {"dose": Quantity(50, "lb/acre")}),
                Note("slip.phosphate", {"dose": Quantity(218, "lb/acre")}),
            ]
        ),
    }
    assert reason.ask == Note("ask.dose_over_cap", {"subject": Word("subject", "P2O5")})


def test_a_cap_by_use_is_told_for_the_nutrient_asked(library: Library) -> None:
    (reason,) = product(library, "N", (8, "lb/1000 ft2"), grade="46-0-0").reasons
    assert reason.values["subject"] == Word("subject", "N")
    assert reason.values["per_1000"] == Quantity(8, "lb/1000 ft2")
    assert reason.values["cap"] == Quantity(7, "lb/1000 ft2")


def test_what_a_large_area_says(library: Library) -> None:
    """The same hold as an interpretation's, with the area sent and the limit."""
    (reason,) = ask(library, "gypsum", **SODIC, area=(1, "acre")).reasons
    assert (reason.code, reason.severity, reason.pointer) == ("reclamation_area", "hold", None)
    assert reason.values == {
        "subject": Word("subject", "gypsum"),
        "area": Quantity(1, "acre"),
        "limit": Quantity(10_000, "ft2"),
    }
    assert reason.ask is not None


def test_what_the_lawn_warning_says(library: Library) -> None:
    answer = product(library, "N", (2.5, "lb/1000 ft2"), grade="46-0-0")
    (note,) = [note for note in answer.warnings if note.code == "calc.over_lawn_dose"]
    assert note.values == {
        "subject": Word("subject", "N"),
        "maximum": Quantity(1, "lb/1000 ft2"),
        "doses": 3,
    }


def test_doses_of_sulfur(library: Library) -> None:
    """1,500 lb per acre (34 lb per 1000 ft2) on worked ground: two doses of at most 20 lb per 1000 ft2."""
    found = result(library, "sulfur", **LIME_FREE, lime_pct=0.0, area=(500, "ft2"))
    (dose,) = found["applications"]
    assert (dose["when"].code, dose["when"].values["count"], dose["doses"]) == ("when.sulfur_split", 2, 2)
    assert dose["rate"] == Quantity(17.2, "lb/1000 ft2")
    assert dose["limit"] == Note("limit.sulfur", {"maximum": Quantity(20, "lb/1000 ft2")})
    assert found["rate"].value == pytest.approx(1500 / 43.56, rel=1e-5)
    assert found["for_area"].value == pytest.approx(1500 / 43.56 / 2, rel=1e-5)


def test_a_small_amount_of_sulfur_goes_on_at_once(library: Library) -> None:
    """From pH 7.0 to 6.5 in loam: 150 lb per acre."""
    (dose,) = result(library, "sulfur", **{**LIME_FREE, "pH_now": 7.0}, lime_pct=0.0)["applications"]
    assert (dose["when"].code, dose["doses"], dose["rate"]) == ("when.sulfur_once", 1, Quantity(150, "lb/acre"))


def test_doses_of_gypsum_name_the_water_that_dissolves_them(library: Library) -> None:
    """5 US ton per acre at a time on worked ground; 30 meq/L dissolve in pure water (Handbook 60), 2.58 g/L.

    20.1 t/ha in two doses of 1,005 g/m2: 389 mm of water each, computed here.
    """
    inputs = {**SODIC, "ESP_now_pct": 30.0, "depth": (30, "cm"), "efficiency": 0.8, "purity_pct": 100.0}
    found = result(library, "gypsum", **inputs)
    grams = 4.0 * 10 * 86.086 / 1000 * 0.30 * 1400 / 0.8
    assert in_unit(library, found["rate"], "g/m2") == pytest.approx(grams, rel=1e-4)
    (dose,) = found["applications"]
    assert dose["doses"] == 2
    assert in_unit(library, dose["rate"], "g/m2") == pytest.approx(grams / 2, rel=0.005)
    water = dose["when"].values["water"]
    assert in_unit(library, water, "mm") == pytest.approx(grams / 2 / (30 * 86.086 / 1000), rel=0.005)


def test_from_which_area_a_person_plans_it_is_said(library: Library) -> None:
    """Without an area nobody can tell: the limit is named."""
    (note,) = [note for note in ask(library, "gypsum", **SODIC).warnings if note.code == "calc.reclamation_person"]
    assert note.values == {"limit": Quantity(10_000, "ft2")}


# Whole answers where little or nothing is to be done.


def test_no_gypsum_is_nothing_of_anything(library: Library) -> None:
    found = result(library, "gypsum", **{**SODIC, "ESP_wanted_pct": 20.0}, area=GARDEN)
    nothing = Quantity(0.0, "lb/1000 ft2")
    amendments = ("gypsum", "elemental_sulfur", "sulfuric_acid", "lime_sulfur", "calcium_chloride")
    assert found == {
        "rate": nothing,
        "for_area": Quantity(0.0, "lb"),
        "equivalents": dict.fromkeys(amendments, nothing),
        "applications": (),
    }


def test_no_lime_is_nothing(library: Library) -> None:
    found = result(library, "lime", **ACID, pH_now=7.0)
    assert found == {"rate": Quantity(0.0, "lb/acre"), "rate_high": Quantity(0.0, "lb/acre")}


@pytest.mark.parametrize(
    ("change", "swallowed"), [({"lime_pct": 2.0}, 12813.0), ({"pH_now": 6.0, "lime_pct": 0.2}, 1281.3)]
)
def test_no_sulfur_shows_only_what_the_lime_takes(library: Library, change: dict[str, Any], swallowed: float) -> None:
    """6,406 lb/acre for each percent in 6 inches (computed), whatever the answer."""
    found = result(library, "sulfur", **{**LIME_FREE, **change})
    assert found.pop("lime_neutralization").value == pytest.approx(swallowed, rel=1e-4)
    assert found == {"advised": False, "rate": None, "for_area": None, "applications": ()}


def test_a_trace_of_lime_is_added_to_the_table(library: Library) -> None:
    """0.2 % of lime in 12 inches takes 2,563 lb/acre on top of twice the 6-inch rate of 1,500 (WFH, computed)."""
    found = result(library, "sulfur", **{**LIME_FREE, "depth": (12, "in")}, lime_pct=0.2)
    assert in_unit(library, found["lime_neutralization"], "lb/acre") == pytest.approx(2562.6, rel=1e-4)
    assert in_unit(library, found["rate"], "lb/acre") == pytest.approx(3000 + 2562.6, rel=1e-4)


@pytest.mark.parametrize(("pH", "printed"), [(8.5, 2500), (8.0, 1500), (7.5, 800), (7.0, 150)])
def test_sulfur_at_every_printed_row(library: Library, pH: float, printed: float) -> None:
    """Loam, lb/acre for 6 inches, down to pH 6.5; the table ends at 8.5."""
    found = result(library, "sulfur", **{**LIME_FREE, "pH_now": pH}, lime_pct=0.0)
    assert in_unit(library, found["rate"], "lb/acre") == pytest.approx(printed, rel=1e-5)
    problem = refused(library, "sulfur", **{**LIME_FREE, "pH_now": 8.51}, lime_pct=0.0)
    assert (problem.field, problem.expected) == ("pH_now", "6.5 <= x <= 8.5")


def test_equivalents_are_of_pure_gypsum(library: Library) -> None:
    """A product of 80 % takes a quarter more; sulfur does the work of pure gypsum, so its figure stays."""
    pure, bought = (result(library, "gypsum", **SODIC, purity_pct=purity) for purity in (100.0, 80.0))
    assert bought["rate"].value == pytest.approx(pure["rate"].value / 0.8, rel=1e-5)
    assert bought["equivalents"] == pure["equivalents"]
    assert pure["equivalents"]["gypsum"] == pure["rate"]


def test_deeper_than_is_treated_at_one_time_is_told(library: Library) -> None:
    """12 inches (factor gypsum_depth_max_in): on it nothing is said."""
    on_it, below = (ask(library, "gypsum", **{**SODIC, "depth": (depth, "in")}) for depth in (12.0, 12.01))
    assert "calc.gypsum_deep" not in codes(on_it)
    assert "calc.gypsum_deep" in codes(below)


def test_what_is_not_in_the_product_names_what_is(library: Library) -> None:
    problem = refused(library, "product_amount", nutrient="N", rate=(1, "lb/acre"), area=GARDEN, grade="0-46-10")
    assert (problem.code, problem.expected) == ("not_supplied", "one of P2O5, K2O")
    problem = refused(library, "product_amount", nutrient="N", rate=(1, "lb/acre"), area=GARDEN, grade="0-0-0")
    assert problem.expected == "one of nothing"


@pytest.mark.parametrize(
    ("subject", "name", "inputs"),
    [
        ("S", "sulfur", {**LIME_FREE, "lime_pct": 0.0}),
        ("lime", "lime", {**ACID, "pH_now": 5.0}),
        ("gypsum", "gypsum", SODIC),
    ],
)
@pytest.mark.parametrize("per", ["application", "year", "once"])
def test_a_cap_that_a_table_adds_is_obeyed(
    library: Library, subject: str, name: str, inputs: dict[str, Any], per: str
) -> None:
    """The check cannot be configured away: a new hard row for every use withholds the amount, whatever it is per."""
    row = replace(cap(library, "gypsum_ceiling"), limit="new", subject=subject, per=per, maximum=1.0, unit="lb/acre")
    tables = {**library.tables, "application-limits": (*library.tables["application-limits"], row)}
    stricter = Library(tables, library.editions, library.sources, library.crops)
    assert ask(library, name, **inputs).status == "given"
    answer = ask(stricter, name, **inputs)
    if per == "application" and name != "lime":  # split until each dose keeps it, as the interpretation does
        (dose,) = answer.result["applications"]
        assert in_unit(library, dose["rate"], "lb/acre") <= 1.0
        return
    assert answer.status == "withheld"
    assert set(answer.result) == set(ask(library, name, **inputs).result)
    assert set(answer.result.values()) == {None}
    assert (answer.reasons[0].code, answer.reasons[0].analyte) == ("rate_over_cap", subject)
