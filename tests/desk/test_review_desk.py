"""What comes onto the desk, and what each decision makes of it.

The sequence of states is the contract's (section 6: held, approve, edit, ask, reject); the promises about agreement,
re-reading and the stop switch are those of laboratory autoverification (CLSI AUTO15: rules fixed in advance, a person
can switch them off at once).
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import orjson
import pytest
from desk_cases import LAWN, LEAD, revised, sent

from service.agronomy.judgement import Edit
from service.agronomy.submission import Quantity
from service.api.reviews import override
from service.contract.problem import ProblemError
from service.desk import records, reviews, switching
from service.desk.callers import Caller
from service.desk.issue import answer_only, issue
from service.desk.office import Office
from service.desk.phrases import Phrasing
from service.desk.release import drawn, gate_of
from service.desk.reviews import Decision

COUNTY = Caller("juniper-county", "county_office", frozenset(("submitter", "agent")), "key-clerk")
READER = Caller("saltbush-programme", "programme", frozenset(("reviewer", "administrator")), "key-reader")
SECOND = READER._replace(actor="key-second")
OTHER = Caller("cedar-county", "county_office", frozenset(("reviewer",)), "key-other")
TURF = "cool_season_turf.juniper-county"
WHY = "The lawn is in deep shade."


def post(office: Office, document: Any, caller: Caller = COUNTY) -> dict[str, Any]:
    return orjson.loads(issue(caller, sent(document), office).body)


def numbered(number: str) -> dict[str, Any]:
    return {**LAWN, "sample": {**LAWN["sample"], "lab_number": number}}


def let_out(office: Office, class_id: str = TURF) -> None:
    """Bring a class to release the way the rules of two persons have it."""
    asked = switching.wish(READER, office, class_id, "500 cases agreed")
    switching.approve(SECOND, office, class_id, asked.id)


def waiting(office: Office, caller: Caller = READER) -> list[Any]:
    return [review for review, _ in reviews.queue(caller, office, None, 50, "open", None)]


def report(office: Office, wanted: str | None) -> dict[str, Any]:
    assert wanted is not None
    return orjson.loads(records.present(records.find(COUNTY, office, wanted)).body)


def test_a_new_office_starts_in_the_shadow_and_keeps_amounts_back(office: Office) -> None:
    answer = post(office, LAWN)
    assert answer["outcome"] == "held"
    assert answer["reasons"][0]["code"] == "class_in_shadow"
    assert {item["kind"] for item in answer["recommendations"]}.isdisjoint({"nutrient", "amendment", "water"})
    (review,) = waiting(office)
    assert (review.kind, review.by_rules, review.release_class) == ("shadow", "released", TURF)


def test_what_is_only_asked_stands_behind_the_same_switch(office: Office) -> None:
    assert orjson.loads(answer_only(COUNTY, sent(LAWN), office))["outcome"] == "held"
    let_out(office)
    assert orjson.loads(answer_only(COUNTY, sent(LAWN), office))["outcome"] == "released"
    assert waiting(office) == []


def test_an_approved_draft_goes_out_as_a_new_report_with_its_amounts(office: Office) -> None:
    held = post(office, LAWN)
    (review,) = waiting(office)
    decided = reviews.decide(READER, office, review.id, Decision("approve"))
    out = report(office, decided.review.issued)
    assert (out["outcome"], out["replaces"], out["provenance"]["released_by"]) == ("released", held["id"], "person")
    assert any(item["kind"] == "nutrient" for item in out["recommendations"])
    assert report(office, held["id"])["replaced_by"] == out["id"]
    assert waiting(office) == []
    let_out(office)
    assert report(office, out["id"])["recommendations"] == post(office, revised(LAWN, 2))["recommendations"]


def test_a_report_that_a_person_released_is_made_again_byte_for_byte(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    edit = Edit("N", Quantity(2, "lb/1000 ft2"), WHY)
    later = replace(office, now=lambda: office.now() + timedelta(days=90))
    decision = Decision("edit", WHY, (edit,), (Phrasing(phrase="visit"), Phrasing(text="Call Tuesday.")))
    issued = reviews.decide(READER, later, review.id, decision).issued
    assert issued is not None
    again = records.replay(records.find(COUNTY, later, issued.id), later)
    assert (again.how, again.body) == ("recomputed", issued.answer)
    first = records.replay(records.find(COUNTY, later, review.interpretation), later)
    assert first.how == "recomputed"


def test_an_edit_keeps_the_draft_s_figure_beside_the_new_one(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    notes = (Phrasing(phrase="water_deep_seldom"),)
    decision = Decision("edit", WHY, (Edit("N", Quantity(2, "lb/1000 ft2"), WHY),), notes)
    out = report(office, reviews.decide(READER, office, review.id, decision).review.issued)
    nitrogen = next(item for item in out["recommendations"] if item["subject"] == "N")
    assert nitrogen["rate"] == {"value": 2.0, "unit": "lb/1000 ft2"}
    assert out["edited"][0]["was"]["value"] != 2
    assert out["edited"][0]["reason"] == WHY
    assert out["remarks"][0]["text"].startswith("Water deeply")


def test_remarks_come_in_the_language_of_the_report(office: Office) -> None:
    post(office, {**LAWN, "options": {"language": "es"}})
    (review,) = waiting(office)
    decision = Decision("approve", notes=(Phrasing(phrase="water_deep_seldom"),))
    out = report(office, reviews.decide(READER, office, review.id, decision).review.issued)
    assert out["remarks"][0]["text"].startswith("Riegue")


def test_not_even_a_reviewer_breaks_a_cap(office: Office) -> None:
    """Zinc: 15 lb per acre, the largest published rate (Arizona vegetables)."""
    post(office, LAWN)
    (review,) = waiting(office)
    with pytest.raises(ProblemError) as refused:
        reviews.decide(READER, office, review.id, Decision("edit", WHY, (Edit("Zn", Quantity(40, "lb/acre"), WHY),)))
    assert refused.value.problem.status == 422
    assert [error.code for error in refused.value.problem.errors] == ["dose_over_cap"]
    assert [item.id for item in waiting(office)] == [review.id]


def test_lead_is_held_whatever_the_class_and_goes_out_when_read(office: Office) -> None:
    let_out(office, "vegetables.juniper-county")
    post(office, LEAD)
    (review,) = waiting(office)
    assert (review.kind, review.urgency) == ("held", 3)
    out = report(office, reviews.decide(READER, office, review.id, Decision("approve")).review.issued)
    assert out["outcome"] in ("released", "partial")
    assert any(caution["severity"] == "danger" for caution in out["cautions"]), "the hold goes, the warning stays"


def test_a_rejected_case_is_refused_with_the_reason(office: Office) -> None:
    held = post(office, LAWN)
    (review,) = waiting(office)
    out = report(
        office, reviews.decide(READER, office, review.id, Decision("reject", "Two bags were mixed.")).review.issued
    )
    assert (out["outcome"], out["replaces"]) == ("refused", held["id"])
    assert "Two bags were mixed." in out["reasons"][0]["message"]
    assert out["recommendations"] == []


def test_what_was_asked_for_waits_and_can_still_be_decided(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    asked = reviews.decide(READER, office, review.id, Decision("ask", "Which field was it?"))
    assert (asked.review.state, asked.issued) == ("waiting", None)
    assert waiting(office) == []
    assert reviews.decide(READER, office, review.id, Decision("approve")).issued is not None


def test_two_reviewers_do_not_collide(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    reviews.claim(READER, office, review.id)
    for act in (
        lambda: reviews.claim(SECOND, office, review.id),
        lambda: reviews.decide(SECOND, office, review.id, Decision("approve")),
    ):
        with pytest.raises(ProblemError) as taken:
            act()
        assert taken.value.problem.kind == "claimed"
    later = replace(office, now=lambda: office.now() + timedelta(minutes=16))
    assert reviews.claim(SECOND, later, review.id).claimed_by == SECOND.actor


@pytest.mark.parametrize("second", ["approve", "edit", "ask", "reject"])
@pytest.mark.parametrize("first", ["approve", "edit", "reject"])
def test_a_closed_case_takes_no_second_decision(office: Office, first: str, second: str) -> None:
    def decision(word: str) -> Decision:
        edits = (Edit("N", Quantity(2, "lb/1000 ft2"), WHY),) if word == "edit" else ()
        return Decision(word, WHY, edits)

    post(office, LAWN)
    (review,) = waiting(office)
    reviews.decide(READER, office, review.id, decision(first))
    with pytest.raises(ProblemError) as refused:
        reviews.decide(READER, office, review.id, decision(second))
    assert refused.value.problem.kind == "not-in-this-state"


def test_a_correction_by_the_laboratory_overtakes_the_case(office: Office) -> None:
    post(office, LAWN)
    (former,) = waiting(office)
    post(office, revised(LAWN, 2))
    (review,) = waiting(office)
    assert review.id != former.id
    with pytest.raises(ProblemError) as refused:
        reviews.decide(READER, office, former.id, Decision("approve"))
    assert refused.value.problem.kind == "not-in-this-state"


def test_a_correction_after_the_decision_replaces_what_the_person_released(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    issued = reviews.decide(READER, office, review.id, Decision("approve")).issued
    assert issued is not None
    assert post(office, revised(LAWN, 2))["replaces"] == issued.id


def test_another_office_sees_neither_queue_nor_case(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    assert waiting(office, OTHER) == []
    for id in (review.id, "no-such-case"):  # noqa: A001
        with pytest.raises(ProblemError) as refused:
            reviews.decide(OTHER, office, id, Decision("approve"))
        assert refused.value.problem.detail == "There is no case of this id on the desk."


def test_the_stop_switch_acts_on_the_next_request(office: Office) -> None:
    let_out(office)
    assert post(office, LAWN)["outcome"] == "released"
    switching.switch(READER, office, TURF, "paused", "complaint")
    assert post(office, revised(LAWN, 2))["reasons"][0]["code"] == "class_paused"
    switching.resume(READER, office, TURF, "looked into")
    assert post(office, revised(LAWN, 3))["reasons"][0]["code"] == "class_in_shadow"
    let_out(office)
    switching.switch(READER, office, "all", "paused", "drill")
    assert post(office, revised(LAWN, 4))["reasons"][0]["code"] == "class_paused"
    switching.resume(READER, office, "all", "drill over")
    assert post(office, revised(LAWN, 5))["outcome"] == "released"


def test_one_person_alone_waits_a_day(office: Office) -> None:
    asked = switching.wish(READER, office, TURF, "agreed")
    with pytest.raises(ProblemError) as refused:
        switching.approve(READER, office, TURF, asked.id)
    assert refused.value.problem.kind == "second-person"
    tomorrow = replace(office, now=lambda: office.now() + timedelta(hours=24))
    assert "approved alone" in switching.approve(READER, tomorrow, TURF, asked.id).reason
    assert "unverified_rows" in asked.basis


def test_a_class_is_signed_again_within_a_year_or_falls_back_to_the_shadow(office: Office) -> None:
    """Yearly re-validation, as laboratory accreditation asks of autoverification: common practice."""
    let_out(office)
    assert post(office, LAWN)["outcome"] == "released"
    last = replace(office, now=lambda: office.now() + timedelta(days=364))
    over = replace(office, now=lambda: office.now() + timedelta(days=365))
    with pytest.raises(ProblemError):
        switching.wish(READER, office, TURF, "it is still new")
    assert post(last, revised(LAWN, 2))["outcome"] == "released"
    assert post(over, revised(LAWN, 3))["reasons"][0]["code"] == "class_in_shadow"
    assert switching.one(READER, over, TURF).switch.mode == "shadow"
    let_out(last)
    assert post(over, revised(LAWN, 4))["outcome"] == "released"


def test_a_wish_lapses_when_the_class_is_taken_back(office: Office) -> None:
    asked = switching.wish(READER, office, TURF, "agreed")
    switching.switch(SECOND, office, TURF, "paused", "complaint")
    with pytest.raises(ProblemError) as refused:
        switching.approve(SECOND, office, TURF, asked.id)
    assert refused.value.problem.kind == "not-in-this-state"
    with pytest.raises(ProblemError):
        switching.wish(READER, office, TURF, "agreed")
    switching.resume(READER, office, TURF, "looked into")
    later = switching.wish(READER, office, TURF, "agreed")
    post(office, LAWN)
    (review,) = waiting(office)
    reviews.decide(READER, office, review.id, Decision("approve", serious=True))
    with pytest.raises(ProblemError):
        switching.approve(SECOND, office, TURF, later.id)
    assert switching.one(READER, office, TURF).switch.mode == "shadow"


def test_changing_the_share_does_not_lift_a_stop_or_renew_the_signature(office: Office) -> None:
    let_out(office)
    until = switching.one(READER, office, TURF).signed_until
    later = replace(office, now=lambda: office.now() + timedelta(days=30))
    switching.reread(READER, later, TURF, 10, "more")
    assert switching.one(READER, later, TURF).signed_until == until
    switching.switch(READER, later, TURF, "paused", "drill")
    assert switching.reread(READER, later, TURF, 20, "more").mode == "paused"


def test_agreement_counts_decisions_and_serious_differences(office: Office) -> None:
    for number, decision in enumerate((Decision("approve"), Decision("approve"), Decision("reject", "wrong crop"))):
        post(office, numbered(str(number)))
        (review,) = waiting(office)
        reviews.decide(READER, office, review.id, decision)
    shown = switching.one(READER, office, TURF)
    assert shown.agreement[2:] == (3, 2, 1)
    assert shown.error_upper_95 == pytest.approx(0.8646, abs=1e-4), "Clopper-Pearson, 1 error in 3"


def test_one_serious_difference_found_in_re_reading_brings_the_class_back_to_the_shadow(office: Office) -> None:
    let_out(office)
    switching.reread(READER, office, TURF, 100, "drill")
    assert post(office, LAWN)["outcome"] == "released"
    (review,) = waiting(office)
    assert review.kind == "reread"
    reviews.decide(READER, office, review.id, Decision("approve", serious=False))
    assert switching.one(READER, office, TURF).switch.mode == "release"
    out = post(office, revised(LAWN, 2))
    (review,) = waiting(office)
    decided = reviews.decide(READER, office, review.id, Decision("reject", "Wrong table."))
    assert report(office, decided.review.issued)["replaces"] == out["id"]
    assert switching.one(READER, office, TURF).switch.mode == "shadow"


def test_about_the_share_that_was_set_is_drawn_for_re_reading(office: Office) -> None:
    let_out(office)
    gate = gate_of(COUNTY, office, "cool_season_turf")
    assert gate.reread_pct == 5
    share = sum(drawn(gate, f"id-{number}") for number in range(20_000)) / 20_000
    assert share == pytest.approx(0.05, abs=0.006)


@pytest.mark.parametrize(
    ("held", "approved", "flagged"), [(50, 41, True), (50, 40, False), (49, 49, False), (100, 81, True)]
)
def test_a_hold_that_is_mostly_overridden_is_flagged(held: int, approved: int, flagged: bool) -> None:
    """More than 80 % of 50 cases or more: at 98.9 % nobody reads any more (PMC12848223)."""
    assert override("total_metal", held, approved)["flagged"] is flagged


def test_the_sandbox_never_counts(office: Office) -> None:
    sandbox = COUNTY._replace(organization="juniper-county~sandbox", sandbox=True)
    answer = post(office, LEAD, sandbox)
    assert answer["number"].startswith("S-")
    assert waiting(office) == []
    (review,) = waiting(office, sandbox)
    reviews.decide(sandbox, office, review.id, Decision("reject", "trying out"))
    with office.records.reading() as reading:
        assert reading.reviews.agreement() == []
        assert reading.reviews.overrides() == []


def test_the_queue_is_urgent_first_then_oldest_and_pages(office: Office, make_office: Callable[[], Office]) -> None:
    for number in range(5):
        post(office, numbered(str(number)))
    post(office, {**LEAD, "sample": {"laboratory": "bench", "lab_number": "lead"}})
    seen: list[Any] = []
    after = None
    while page := reviews.queue(READER, office, after, 2, "open", None):
        seen += [review for review, _ in page]
        after = (seen[-1].urgency, seen[-1].serial)
    assert [review.urgency for review in seen] == [3, 1, 1, 1, 1, 1]
    assert [review.serial for review in seen[1:]] == sorted(review.serial for review in seen[1:])


def test_every_decision_and_switch_is_in_the_trail(office: Office) -> None:
    post(office, LAWN)
    (review,) = waiting(office)
    reviews.decide(READER, office, review.id, Decision("approve"))
    switching.switch(READER, office, TURF, "paused", "drill")
    with office.records.reading() as reading:
        own = [entry.action for entry in reading.trail.page(COUNTY.organization, 0, 50)]
        programme = [entry.action for entry in reading.trail.page(READER.organization, 0, 50)]
    assert own == ["interpretation.issued", "interpretation.issued", "review.decided"]
    assert programme == ["release_class.switched"]
