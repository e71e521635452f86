"""A report posted by mistake: it stays and says so, and its laboratory number is free again."""

import orjson
import pytest
from desk_cases import LAWN, revised, sent

from service.contract.problem import ProblemError
from service.desk import records, voiding
from service.desk.callers import OPEN_CALLER
from service.desk.issue import Reply, issue
from service.desk.office import Office
from service.desk.trail_check import prove_database

WHY = "Posted under the wrong number."


def posted(office: Office, document: dict) -> Reply:
    return issue(OPEN_CALLER, sent(document), office)


def shown(office: Office, id: str | None) -> dict:  # noqa: A002
    return orjson.loads(records.present(records.find(OPEN_CALLER, office, str(id))).body)


def test_a_void_report_stays_and_says_so(office: Office) -> None:
    reply = posted(office, LAWN)
    before = records.present(records.find(OPEN_CALLER, office, str(reply.id)))
    voiding.void(OPEN_CALLER, office, str(reply.id), WHY)
    after = records.present(records.find(OPEN_CALLER, office, str(reply.id)))
    assert before.etag != after.etag
    answer = orjson.loads(after.body)
    assert answer.pop("standing") == {
        "voided": {"at": "2026-04-20T09:30:00+00:00", "reason": WHY},
        "recalled": None,
    }
    assert answer == orjson.loads(before.body)
    record = records.find(OPEN_CALLER, office, str(reply.id))
    assert records.replay(record, office).body == reply.body
    assert "void" in records.as_text(record, office).body.decode()
    assert b"STATUS:CANCELLED" in records.as_calendar(record, office).body


def test_its_number_is_free_for_the_right_sample(office: Office) -> None:
    """Contract, section 6: the same number with other content is a conflict, until the wrong one is void."""
    wrong = posted(office, LAWN)
    right = {**LAWN, "results": LAWN["results"][:3]}
    assert posted(office, right).status == 409
    voiding.void(OPEN_CALLER, office, str(wrong.id), WHY)
    made = posted(office, right)
    assert made.status == 201
    assert shown(office, made.id)["replaces"] is None, "it may be another client's"
    again = posted(office, right)
    assert (again.status, again.id) == (200, made.id)
    assert posted(office, LAWN).status == 409
    voiding.void(OPEN_CALLER, office, str(made.id), WHY)
    assert posted(office, LAWN).status == 201


def test_a_void_correction_leaves_the_former_standing(office: Office) -> None:
    first = posted(office, LAWN)
    second = posted(office, revised(LAWN, 2))
    assert shown(office, first.id)["replaced_by"] == second.id
    voiding.void(OPEN_CALLER, office, str(second.id), WHY)
    assert shown(office, first.id)["replaced_by"] is None
    third = posted(office, revised(LAWN, 2))
    assert third.status == 201
    assert shown(office, first.id)["replaced_by"] == third.id


def test_nothing_is_voided_twice_nor_behind_its_correction(office: Office) -> None:
    first, second = posted(office, LAWN), posted(office, revised(LAWN, 2))
    with pytest.raises(ProblemError) as refused:
        voiding.void(OPEN_CALLER, office, str(first.id), WHY)
    assert str(second.id) in refused.value.problem.detail
    voiding.void(OPEN_CALLER, office, str(second.id), WHY)
    with pytest.raises(ProblemError) as refused:
        voiding.void(OPEN_CALLER, office, str(second.id), WHY)
    assert refused.value.problem.kind == "not-in-this-state"


def test_it_is_in_the_trail_told_and_every_proof_still_holds(office: Office) -> None:
    reply = posted(office, LAWN)
    voiding.void(OPEN_CALLER, office, str(reply.id), WHY)
    with office.records.reading() as reading:
        assert [row.action for row in reading.trail.page("local", 0, 9)] == [
            "interpretation.issued",
            "interpretation.voided",
        ]
        kinds = [row.kind for row in reading.trail.notices("local", 0, 9)]
        assert kinds == ["interpretation.released", "interpretation.voided"]
        assert not prove_database(reading).broken
