"""Whole reports of home gardens: what a reader must be told, and what must never be said beside it.

Nitrate: 10 mg/L as N and infants (US EPA). Other lines are common practice and are marked so.
"""

from typing import Any

from making import DAY, submission

from service.agronomy.findings import Interpretation
from service.agronomy.interpret import interpret
from service.agronomy.submission import OrganicInput, Quantity, Result, Well
from service.agronomy.tables import Library

PASTE = "saturated_paste_extract"
NEAR = Well(Quantity(15, "m"), infant=True)


def soil(analyte: str, value: float, unit: str = "mg/kg", qualifier: str | None = None) -> Result:
    methods = {"pH": "saturated_paste", "EC": PASTE, "P": "olsen", "K": "olsen", "NO3-N": "kcl_extract"}
    return Result(analyte, methods.get(analyte, "dtpa"), value, unit, qualifier)


def report(library: Library, *results: Result, **more: Any) -> Interpretation:
    sent = submission(*results, **{"crop": "vegetable-garden", "stage": "planning", **more})
    return interpret(sent, library, DAY)


def codes(answer: Interpretation) -> set[str]:
    return {item.code for item in answer.cautions}


def well_nitrate(value: float) -> tuple[Result, ...]:
    return (Result("NO3-N", "water_sample", value, "mg/L"),)


def test_an_untested_well_beside_rich_soil_is_a_danger_to_the_baby(library: Library) -> None:
    """Common practice, and US EPA on infants: other water until the well is tested, and never boiled."""
    answer = report(library, soil("pH", 7.9), soil("NO3-N", 40), well=NEAR)
    assert answer.cautions[0].code == "well_untested_infant"
    assert answer.cautions[0].severity == "danger"
    page = answer.summary
    assert page is not None
    assert page.actions[0].code == "summary.first.well_untested_infant"
    assert "do_not.well_untested_infant" in [note.code for note in page.do_not]
    assert page.contact.code == "summary.contact_danger"


def test_a_tested_well_poor_soil_or_no_baby_is_no_such_danger(library: Library) -> None:
    rich, poor = soil("NO3-N", 40), soil("NO3-N", 12)
    for results, more in (
        ((rich,), {"well": NEAR, "water": well_nitrate(3)}),
        ((poor,), {"well": NEAR}),
        ((rich,), {"well": Well(Quantity(15, "m"), infant=False)}),
    ):
        assert "well_untested_infant" not in codes(report(library, *results, **more))


def test_manure_stays_away_from_a_well_at_risk(library: Library) -> None:
    """Common practice: no manure beside an infant's well, a well over 10 mg/L, or where the soil is full of nitrate."""
    good = (soil("pH", 7.2), soil("EC", 1, "dS/m"), soil("P", 12))
    far = Well(Quantity(2000, "ft"), infant=True)
    habit = (OrganicInput("steer_manure", Quantity(1, "in"), per="year"),)
    for well, water, nitrate, refused in (
        (NEAR, (), 8, True),
        (Well(Quantity(35, "ft"), infant=False), well_nitrate(18), 8, True),
        (Well(Quantity(35, "ft"), infant=False), (), 55, True),
        (Well(Quantity(35, "ft"), infant=False), well_nitrate(2), 8, False),
        (far, (), 8, False),
    ):
        answer = report(
            library, *good, soil("NO3-N", nitrate), well=well, water=water, requests=("manure",), organic_inputs=habit
        )
        manure = [item.text.code for item in answer.recommendations if item.subject == "manure"]
        assert ("rec.manure_near_well" in manure) is refused
        assert ("raw_manure_food" in codes(answer)) is not refused
        assert ("rec.manure_wait" in manure) is not refused
