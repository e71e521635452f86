"""Issuing: numbers, revisions, the same case twice."""

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime

import orjson
import pytest
from desk_cases import IMPOSSIBLE, LAWN, LEAD, sent

from service.contract.problem import ProblemError
from service.desk import records
from service.desk.callers import OPEN_CALLER
from service.desk.issue import answer_only, issue
from service.store.records import Sight


def revised(document, revision, **target):
    changed = deepcopy(document)
    changed["sample"]["revision"] = revision
    changed["target"].update(target)
    return changed


def test_issued_answers_are_numbered_in_order_and_kept(office):
    first, second = issue(OPEN_CALLER, sent(LAWN), office), issue(OPEN_CALLER, sent({**LAWN, "sample": {}}), office)
    told = [orjson.loads(reply.body) for reply in (first, second)]
    assert [answer["number"] for answer in told] == ["2026-000001", "2026-000002"]
    assert [answer["outcome"] for answer in told] == ["released", "released"]
    assert told[0]["issued_at"] == "2026-04-20T09:30:00+00:00"
    assert records.present(records.find(OPEN_CALLER, office, first.id)).body == first.body


def test_numbers_begin_anew_with_the_year(office):
    issue(OPEN_CALLER, sent({**LAWN, "sample": {}}), office)
    later = replace(office, now=lambda: datetime(2027, 1, 1, tzinfo=UTC))
    assert orjson.loads(issue(OPEN_CALLER, sent({**LAWN, "sample": {}}), later).body)["number"] == "2027-000001"


def test_an_answer_that_is_not_kept_differs_only_in_what_keeping_adds(office):
    kept, loose = (
        orjson.loads(issue(OPEN_CALLER, sent(LAWN), office).body),
        orjson.loads(answer_only(OPEN_CALLER, sent(LAWN), office)),
    )
    assert (loose["id"], loose["number"]) == (None, None)
    assert {**kept, "id": None, "number": None} == loose


def test_the_same_content_gives_the_first_answer(office):
    """Also when its JSON is written otherwise: other order, 7.80 for 7.8, null for what is not said."""
    first = issue(OPEN_CALLER, sent(LAWN), office)
    other = {**dict(reversed(LAWN.items())), "site": None}
    again = issue(OPEN_CALLER, orjson.dumps(other, option=orjson.OPT_INDENT_2).replace(b"7.8", b"7.80"), office)
    assert (again.status, again.id, again.body) == (200, first.id, first.body)


def test_other_content_under_the_same_number_is_a_conflict(office):
    first = issue(OPEN_CALLER, sent(LAWN), office)
    changed = deepcopy(LAWN)
    changed["results"][0]["value"] = 7.9
    reply = issue(OPEN_CALLER, sent(changed), office)
    problem = orjson.loads(reply.body)
    assert (reply.status, problem["status"], problem["interpretation"]) == (409, 409, first.id)
    assert problem["next_revision"] == 2
    assert len(office.records.page(Sight("local"), None, 10, {})) == 1


def test_a_higher_revision_replaces_the_former(office):
    first = issue(OPEN_CALLER, sent(LAWN), office)
    second = issue(OPEN_CALLER, sent(revised(LAWN, 2)), office)
    third = issue(OPEN_CALLER, sent(revised(LAWN, 5)), office)
    assert orjson.loads(second.body)["replaces"] == first.id
    assert orjson.loads(third.body)["replaces"] == second.id
    shown = orjson.loads(records.present(records.find(OPEN_CALLER, office, first.id)).body)
    assert shown["replaced_by"] == second.id
    assert {**shown, "replaced_by": None} == orjson.loads(first.body)


def test_a_revision_below_the_newest_is_a_conflict(office):
    issue(OPEN_CALLER, sent(revised(LAWN, 3)), office)
    reply = issue(OPEN_CALLER, sent(revised(LAWN, 2)), office)
    assert (reply.status, orjson.loads(reply.body)["next_revision"]) == (409, 4)


def test_another_target_of_the_same_sample_is_another_case(office):
    first = issue(OPEN_CALLER, sent(LAWN), office)
    second = issue(OPEN_CALLER, sent(revised(LAWN, 1, crop="kentucky-bluegrass-lawn")), office)
    assert second.status == 201
    assert orjson.loads(second.body)["replaces"] is None
    assert first.id != second.id


def test_a_refused_answer_is_kept_but_leaves_the_number_free(office):
    refused = issue(OPEN_CALLER, sent(IMPOSSIBLE), office)
    assert (refused.status, orjson.loads(refused.body)["outcome"]) == (201, "refused")
    corrected = issue(OPEN_CALLER, sent(LAWN), office)
    assert corrected.status == 201
    assert orjson.loads(corrected.body)["replaces"] is None


def test_without_a_laboratory_number_every_submission_is_a_case_of_its_own(office):
    loose = {**LAWN, "sample": {"laboratory": "juniper-bench-demo-laboratory"}}
    assert issue(OPEN_CALLER, sent(loose), office).id != issue(OPEN_CALLER, sent(loose), office).id


def test_a_held_answer_keeps_amounts_from_the_submitter_and_the_whole_for_the_reviewer(office):
    reply = issue(OPEN_CALLER, sent(LEAD), office)
    shown, record = orjson.loads(reply.body), records.find(OPEN_CALLER, office, reply.id)
    whole = orjson.loads(record.draft)
    assert (shown["outcome"], record.outcome) == ("held", "held")
    kinds = {item["kind"] for item in shown["recommendations"]}
    assert kinds.isdisjoint({"nutrient", "amendment", "water"})
    assert {item["kind"] for item in whole["recommendations"]} & {"nutrient", "amendment", "water"}
    assert shown["reasons"] == whole["reasons"]
    assert shown["cautions"] == whole["cautions"]
    assert (whole["id"], whole["number"]) == (shown["id"], shown["number"])


def test_a_held_answer_shows_no_amount_when_it_is_not_kept_either(office):
    """It says how to have it looked at, since it is on nobody's desk."""
    shown = orjson.loads(answer_only(OPEN_CALLER, sent(LEAD), office))
    assert {reason["code"]: reason["ask"] for reason in shown["reasons"]}["held_not_kept"]
    assert {item["kind"] for item in shown["recommendations"]}.isdisjoint({"nutrient", "amendment", "water"})


def test_nothing_but_a_held_answer_has_a_draft(office):
    assert records.find(OPEN_CALLER, office, issue(OPEN_CALLER, sent(LAWN), office).id).draft is None


@pytest.mark.parametrize("editions", [{"classes": "1999-01-01"}, {"nothing": "2025-01-01"}, {"apple": "x"}])
def test_pins_that_name_nothing_are_refused_at_their_place(office, editions):
    document = {**LAWN, "options": {"editions": editions}}
    with pytest.raises(ProblemError) as caught:
        issue(OPEN_CALLER, sent(document), office)
    assert caught.value.problem.errors[0].pointer == f"/options/editions/{next(iter(editions))}"
    assert office.records.page(Sight("local"), None, 10, {}) == []


def test_earlier_results_are_compared_but_never_kept(office):
    earlier = [{"taken_on": "2023-04-01", "results": LAWN["results"][:1]}]
    document = {**LAWN, "earlier": earlier}
    assert orjson.loads(answer_only(OPEN_CALLER, sent(document), office))["outcome"] == "released"
    with pytest.raises(ProblemError) as caught:
        issue(OPEN_CALLER, sent(document), office)
    assert caught.value.problem.errors[0].pointer == "/earlier"
