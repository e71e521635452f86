"""Idempotency keys, by the rules of draft-ietf-httpapi-idempotency-key-header-07: replay, 422, 409."""

import threading
import time

import orjson
import pytest
from desk_cases import LAWN, sent

from service.contract.problem import ProblemError
from service.desk.callers import OPEN_CALLER
from service.desk.intake import sha256
from service.desk.issue import issue
from service.desk.retries import STALE_AFTER, once
from service.store.records import Claim, Sight

BODY = sent({**LAWN, "sample": {}})
ROUTE = "POST /v1/interpretations"


def post(office, key="key-1", body=BODY):
    return once(OPEN_CALLER, office, ROUTE, key, body, lambda claim: issue(OPEN_CALLER, body, office, claim))


def kept(office):
    return len(office.records.page(Sight("local"), None, 100, {}))


def test_a_repeated_request_gets_the_first_answer(office):
    first, second = post(office), post(office)
    assert first == second
    assert kept(office) == 1


def test_another_body_under_the_same_key_is_refused(office):
    post(office)
    with pytest.raises(ProblemError) as caught:
        post(office, body=sent({**LAWN, "sample": {}, "site": {"county": "Juniper Bench"}}))
    assert caught.value.problem.kind == "key-reused"
    assert caught.value.problem.status == 422


def test_another_key_is_another_request(office):
    assert post(office, "key-1").id != post(office, "key-2").id


def test_a_request_that_still_runs_is_a_conflict(office):
    def act(claim):
        with pytest.raises(ProblemError) as caught:
            post(office)
        assert caught.value.problem.kind == "still-running"
        assert caught.value.problem.headers["Retry-After"]
        return issue(OPEN_CALLER, BODY, office, claim)

    assert once(OPEN_CALLER, office, ROUTE, "key-1", BODY, act).status == 201
    assert kept(office) == 1


def test_a_refused_request_does_not_burn_the_key(office):
    with pytest.raises(ProblemError):
        post(office, body=b"{}")
    assert post(office).status == 201


def test_a_conflict_of_business_is_kept_like_an_answer(office):
    issue(OPEN_CALLER, sent(LAWN), office)
    other = sent({**LAWN, "results": LAWN["results"][:1]})
    first, second = post(office, body=other), post(office, body=other)
    assert (first.status, second.status, first.body) == (409, 409, second.body)


@pytest.mark.parametrize(("age", "works"), [(0, False), (STALE_AFTER - 5, False), (STALE_AFTER + 1, True)])
def test_a_key_of_a_dead_process_works_again_after_a_minute(office, age, works):
    """As after a kill between claim and finish: the key is taken and nobody works on it."""
    dead = Claim("local", ROUTE, "key-1", "a process that is gone")
    with office.records.writing() as book:
        book.claim(dead, sha256(BODY), time.time() - age, STALE_AFTER)
    if works:
        assert post(office).status == 201
    else:
        with pytest.raises(ProblemError):
            post(office)
    assert kept(office) == int(works)


def test_an_interrupted_request_gives_its_key_back(office):
    def dies(claim):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        once(OPEN_CALLER, office, ROUTE, "key-1", BODY, dies)
    assert post(office).status == 201


def test_fifty_posts_at_once_with_one_key_have_one_effect(office):
    replies, conflicts = [], []

    def work():
        try:
            replies.append(post(office))
        except ProblemError as problem:
            conflicts.append(problem.problem.kind)

    threads = [threading.Thread(target=work) for _ in range(50)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert kept(office) == 1
    assert len({reply.body for reply in replies}) == 1
    assert set(conflicts) <= {"still-running"}
    assert len(replies) + len(conflicts) == 50


def test_fifty_posts_at_once_with_one_laboratory_number_have_one_effect(office):
    body, replies = sent(LAWN), []
    threads = [threading.Thread(target=lambda: replies.append(issue(OPEN_CALLER, body, office))) for _ in range(50)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(reply.status for reply in replies) == [200] * 49 + [201]
    assert len({reply.id for reply in replies}) == 1
    assert orjson.loads(replies[0].body)["number"] == "2026-000001"
    assert kept(office) == 1
