"""Each statement and each commit of a keyed submission is made to fail in turn: all or nothing, and an honest reply.

The method is the one SQLite's own tests use: the first, the second, the n-th operation fails, until none does.
"""

import sqlite3
from contextlib import contextmanager, suppress

import orjson
import pytest
from desk_cases import LAWN, sent
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from service.desk.callers import OPEN_CALLER
from service.desk.issue import issue
from service.desk.retries import once
from service.store.records import Sight
from service.store.store import StoreUnavailableError

BODY = sent(LAWN)
MOST = 60


@contextmanager
def failing(office, number, kind):
    """The n-th statement or commit meets a full disk."""
    seen = 0

    def count(*_):
        nonlocal seen
        seen += 1
        if seen == number:
            raise OperationalError("statement", {}, sqlite3.OperationalError("database or disk is full"))

    engine = office.records.engine
    event.listen(engine, kind, count)
    try:
        yield lambda: seen
    finally:
        event.remove(engine, kind, count)


def post(office):
    return once(
        OPEN_CALLER,
        office,
        "POST /v1/interpretations",
        "key-1",
        BODY,
        lambda claim: issue(OPEN_CALLER, BODY, office, claim),
    )


@pytest.mark.parametrize("kind", ["before_cursor_execute", "commit"])
def test_whatever_write_fails_nothing_is_half_kept_and_the_retry_succeeds(make_office, kind):
    for number in range(1, MOST):
        office = make_office()
        with failing(office, number, kind) as counted:
            try:
                reply = post(office)
            except StoreUnavailableError:
                reply = None
            steps = counted()
        kept = office.records.page(Sight("local"), None, 10, {})
        if reply is not None:
            assert steps < number
            assert [line.id for line in kept] == [reply.id]
            break
        assert kept == []
    assert 1 < number < MOST - 1


def test_after_any_failure_the_case_can_be_issued_once(make_office):
    """The key may still be held by the request that failed, never its effect: without the key it goes through."""
    for number in range(1, 12):
        office = make_office()
        with failing(office, number, "before_cursor_execute"), suppress(StoreUnavailableError):
            post(office)
        again = issue(OPEN_CALLER, BODY, office)
        assert orjson.loads(again.body)["number"] == "2026-000001"
        assert len(office.records.page(Sight("local"), None, 10, {})) == 1
