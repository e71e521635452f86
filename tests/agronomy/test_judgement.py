"""What a person may change about a held case, and what even a person may not.

Caps are those of `test_caps` (1 lb soluble N per 1,000 ft2 and application on lawns: New York lawn guide; 15 lb zinc
per acre: the largest published rate, Arizona vegetables). Acid needs a person (contract, "Always a person").
"""

import pytest
from making import DAY, submission

from service.agronomy.findings import Interpretation, Reason
from service.agronomy.interpret import interpret
from service.agronomy.judgement import Edit, Judgement, WrongEdit
from service.agronomy.submission import Quantity, Result
from service.agronomy.tables import Library

WHY = "The lawn is shaded and grows slowly."


def read(library: Library, *edits: Edit, **case: object) -> Interpretation:
    return interpret(submission(**case), library, DAY, judged_by=Judgement(edits))  # type: ignore[arg-type]


def rate_of(found: Interpretation, subject: str) -> Quantity | None:
    return next((item.rate for item in found.recommendations if item.subject == subject and item.rate), None)


def test_a_hold_that_a_person_has_read_lets_the_report_out(library: Library) -> None:
    gravel = submission(Result("Pb", "total_digest", 600, "mg/kg"), Result("P", "olsen", 8, "mg/kg"))
    by_rules = interpret(gravel, library, DAY)
    assert by_rules.outcome == "held"
    found = interpret(gravel, library, DAY, judged_by=Judgement())
    assert found.outcome in ("released", "partial")
    assert "read_by_person" in {reason.code for reason in found.reasons}
    assert {reason.severity for reason in found.reasons}.isdisjoint({"hold", "refuse"})
    assert found.cautions == by_rules.cautions, "a person clears the hold, never the warning"


def test_without_edits_the_amounts_are_those_of_the_rules(library: Library) -> None:
    assert read(library).recommendations == interpret(submission(), library, DAY).recommendations


def test_an_edited_rate_goes_out_in_the_same_doses_and_is_told(library: Library) -> None:
    before = interpret(submission(), library, DAY)
    found = read(library, Edit("N", Quantity(2, "lb/1000 ft2"), WHY))
    nitrogen = next(item for item in found.recommendations if item.subject == "N")
    drafted = next(item for item in before.recommendations if item.subject == "N")
    assert nitrogen.rate == Quantity(2, "lb/1000 ft2")
    assert len(nitrogen.applications) == len(drafted.applications)
    assert sum(dose.rate.value for dose in nitrogen.applications) == pytest.approx(2, abs=0.05)
    assert found.edited[0].was == drafted.rate
    assert found.edited[0].reason == WHY
    assert found.outcome == "released"


def test_a_subject_may_be_left_out_and_another_added(library: Library) -> None:
    found = read(library, Edit("N", None, WHY), Edit("Zn", Quantity(5, "lb/acre"), WHY))
    assert rate_of(found, "N") is None
    assert rate_of(found, "Zn") == Quantity(5, "lb/acre")


@pytest.mark.parametrize(
    ("subject", "most", "above"),
    [
        ("Zn", Quantity(15, "lb/acre"), Quantity(15.1, "lb/acre")),
        ("Cu", Quantity(5, "lb/acre"), Quantity(6, "lb/acre")),
    ],
)
def test_not_even_a_person_breaks_a_cap(library: Library, subject: str, most: Quantity, above: Quantity) -> None:
    assert read(library, Edit(subject, most, WHY)).outcome == "released"
    broken = read(library, Edit(subject, above, WHY))
    assert broken.outcome == "held"
    assert rate_of(broken, subject) is None


@pytest.mark.parametrize(
    ("edit", "field"),
    [
        (Edit("N", Quantity(2, "in"), WHY), "rate"),
        (Edit("N", Quantity(2, "bushels"), WHY), "rate"),
        (Edit("N", Quantity(20, "g/tree"), WHY), "rate"),
        (Edit("Zn", None, WHY), "subject"),
        (Edit("vinegar", Quantity(2, "lb/acre"), WHY), "subject"),
        (Edit("compost", Quantity(90000, "lb/1000 ft2"), WHY), "subject"),
        (Edit("Zn", Quantity(0, "lb/acre"), WHY), "rate"),
        (Edit("Zn", Quantity(-1, "lb/acre"), WHY), "rate"),
    ],
)
def test_an_edit_that_cannot_be_made_says_why(library: Library, edit: Edit, field: str) -> None:
    with pytest.raises(WrongEdit) as wrong:
        read(library, edit)
    assert wrong.value.field == field
    assert wrong.value.expected


def test_what_stands_against_release_holds_a_sound_report_and_keeps_the_outcome_of_the_rules(library: Library) -> None:
    stopped = Reason("class_paused", "hold")
    found = interpret(submission(), library, DAY, standing=stopped)
    assert (found.outcome, found.by_rules, found.reasons[0]) == ("held", "released", stopped)
    assert found.summary is not None
    assert not any("apply" in action.code for action in found.summary.actions), "no amount leaves with the summary"
