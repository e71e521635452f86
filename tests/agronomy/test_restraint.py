"""When fertilizer waits: salt in which nothing grows, untested sodium, a pH that cannot be, acid before lime.

Tomato: threshold 2.5 dS/m and 9.9 % for each dS/m more (Maas and Hoffman): 70.3 % at 5.5, none from 12.6 dS/m. The
lines at 25 and 75 % of growth are common practice.
"""

from dataclasses import replace
from typing import Any

import pytest
from making import DAY, submission

from service import blending
from service.agronomy.findings import Interpretation, Recommendation
from service.agronomy.interpret import interpret
from service.agronomy.submission import Depth, Quantity, Result
from service.agronomy.tables import Library

PASTE = "saturated_paste_extract"
LOW = (Result("P", "olsen", 9, "mg/kg"), Result("K", "ammonium_acetate", 90, "mg/kg"))


def salted(library: Library, ece: float, crop: str = "tomato", **more: Any) -> Interpretation:
    found = (Result("pH", "saturated_paste", 7.8), Result("EC", PASTE, ece, "dS/m"), Result("SAR", PASTE, 4), *LOW)
    return interpret(submission(*found, crop=crop, stage="planting", **more), library, DAY, solver=blending.solve)


def nitrogen(answer: Interpretation) -> Recommendation:
    return next(item for item in answer.recommendations if item.subject == "N")


def base(answer: Interpretation) -> float:
    rate = nitrogen(answer).base_rate
    assert rate is not None
    return rate


@pytest.mark.parametrize("ece", [12.7, 20, 40])
def test_nothing_is_fed_where_nothing_grows(library: Library, ece: float) -> None:
    answer = salted(library, ece)
    assert not answer.materials
    assert not [item for item in answer.recommendations if item.kind == "nutrient"]
    said = [item.text.code for item in answer.recommendations if item.subject == "fertilizer"]
    assert said == ["rec.no_fertilizer_salt"]
    assert answer.summary is not None
    assert "rec.no_fertilizer_salt" in {note.code for note in answer.summary.do_not}


def test_nitrogen_goes_down_with_the_growth(library: Library) -> None:
    """70.3 % of the growth uses 70.3 % of the nitrogen, 45.6 % at 8 dS/m; 80.2 % at 4.5 dS/m is a slight loss."""
    full = base(salted(library, 1))
    assert base(salted(library, 5.5)) == pytest.approx(full * 0.703, rel=1e-2)
    assert base(salted(library, 8)) == pytest.approx(full * 0.456, rel=1e-2)
    assert base(salted(library, 4.5)) == pytest.approx(full)
    told = salted(library, 5.5)
    assert nitrogen(told).text.values["more"].code == "rec.n_more_salt"


def test_ground_without_a_line_goes_by_the_classes(library: Library) -> None:
    """Soil Survey Manual: slightly saline from 4, moderately saline from 8 dS/m; half and none are practice."""
    garden = {ece: salted(library, ece, crop="vegetable-garden") for ece in (3.9, 6, 8)}
    assert base(garden[6]) == pytest.approx(base(garden[3.9]) / 2)
    assert not [item for item in garden[8].recommendations if item.kind == "nutrient"]


def test_drainage_is_the_first_thing_to_look_at(library: Library) -> None:
    summary = salted(library, 5.5).summary
    assert summary is not None
    assert summary.actions[0].code == "summary.test_drainage"
    drained = salted(library, 5.5, drainage="free").summary
    assert drained is not None
    assert "summary.test_drainage" not in {line.code for line in drained.actions}


@pytest.mark.parametrize(("pH", "fed"), [(8.4, True), (8.5, False), (9.9, False)])
def test_no_fertilizer_before_the_sodium_test(library: Library, pH: float, fed: bool) -> None:
    """USDA Handbook 60: from pH 8.5 sodium carbonate is likely. The verdict says not to buy, and so does the list."""
    found = (Result("pH", "saturated_paste", pH), Result("EC", PASTE, 1, "dS/m"), *LOW)
    answer = interpret(submission(*found), library, DAY)
    assert any(item.kind == "nutrient" for item in answer.recommendations) is fed
    assert answer.outcome == "released"
    tested = interpret(submission(*found, Result("SAR", PASTE, 3)), library, DAY)
    assert any(item.kind == "nutrient" for item in tested.recommendations)


@pytest.mark.parametrize(("pH", "outcome"), [(9.9, "released"), (10, "held"), (11, "held")])
def test_an_extreme_pH_waits_for_a_person(library: Library, pH: float, outcome: str) -> None:
    found = (Result("pH", "saturated_paste", pH), Result("EC", PASTE, 1, "dS/m"), *LOW)
    answer = interpret(submission(*found), library, DAY)
    assert answer.outcome == outcome
    assert ("pH_extreme" in {reason.code for reason in answer.reasons}) is (outcome == "held")


def test_acid_soil_needs_lime_first(library: Library) -> None:
    found = (
        Result("pH", "water_1_1", 5.2),
        Result("buffer_pH", "smp", 6.2),
        Result("P", "olsen", 20, "mg/kg"),
        Result("K", "ammonium_acetate", 150, "mg/kg"),
        Result("OM", "loss_on_ignition", 3, "%"),
        Result("EC", PASTE, 0.4, "dS/m"),
    )
    where: dict[str, Any] = {"crop": "vegetable-garden", "stage": "planting", "area": Quantity(1000, "ft2")}
    limed = interpret(submission(*found, requests=("lime",), **where), library, DAY).summary
    assert limed is not None
    assert limed.verdict.code == "summary.verdict_acid_lime"
    assert limed.actions[0].values["second"].code == "summary.lime_when"
    plain = interpret(submission(*found, **where), library, DAY).summary
    assert plain is not None
    assert plain.verdict.code == "summary.verdict_acid"


def test_no_word_of_urea_where_none_is_spread(library: Library) -> None:
    """Limy home ground gets ammonium sulfate: common practice after the losses that Montana measured."""
    found = (Result("pH", "saturated_paste", 7.9), Result("EC", PASTE, 1, "dS/m"), Result("lime", "calcimeter", 4, "%"))
    where: dict[str, Any] = {"crop": "bermudagrass-lawn", "condition": {"use": "home"}}
    answer = interpret(submission(*found, *LOW, **where), library, DAY, solver=blending.solve)
    assert answer.materials
    urea = any(use.material.startswith(("urea", "uan")) for use in answer.materials)
    assert ("urea_loss" in {caution.code for caution in answer.cautions}) is urea
    assert not urea
    unsolved = interpret(submission(*found, *LOW, **where), library, DAY)
    assert "urea_loss" in {caution.code for caution in unsolved.cautions}


def test_a_nitrate_test_too_shallow_is_named(library: Library) -> None:
    """Nebraska counts nitrate to 2 feet at least and else assumes a default (UNL EC117): 12 inches are not that."""
    found = (Result("NO3-N", "kcl_extract", 8, "mg/kg"), Result("OM", "loss_on_ignition", 2, "%"), *LOW)

    def told(*results: Result) -> str:
        sent = submission(*results, crop="corn-grain", stage="planting", depth=Depth(0, 12, "in"))
        sent = replace(sent, target=replace(sent.target, yield_goal=Quantity(150, "bu/acre")))
        return str(nitrogen(interpret(sent, library, DAY)).text)

    assert "rec.n_more_assumed_shallow" in told(*found)
    assert "rec.n_more_assumed_shallow" not in told(*found[1:])
    assert "rec.n_more_assumed" in told(*found[1:])


def test_a_lawn_hears_what_the_doses_leave_out(library: Library) -> None:
    found = (Result("pH", "saturated_paste", 7.4), Result("EC", PASTE, 1, "dS/m"), Result("SAR", PASTE, 2), *LOW)
    answer = interpret(submission(*found, crop="bermudagrass-lawn", texture="sand"), library, DAY)
    item = nitrogen(answer)
    assert item.rate is not None
    assert sum(dose.rate.value for dose in item.applications) < item.rate.value
    assert "rec.n_more_unfit" in str(item.text)
