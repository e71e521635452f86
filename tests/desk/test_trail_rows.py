"""Every write of the desk leaves one row of the trail in its own transaction."""

import json
from dataclasses import asdict

import orjson
from desk_cases import LAWN, revised, sent

from service.desk.callers import OPEN_CALLER
from service.desk.intake import sha256
from service.desk.issue import answer_only, issue
from service.store.records import Sight, sealed


def rows(office):
    with office.records.reading() as reading:
        return list(reading.trail.entries("local"))


def test_issuing_writes_one_row_that_seals_the_record(office):
    reply = issue(OPEN_CALLER, sent(LAWN), office)
    (row,) = rows(office)
    record = office.records.find(Sight("local"), reply.id)
    assert (row.action, row.object_kind, row.object_id) == ("interpretation.issued", "interpretation", reply.id)
    assert (row.at, row.actor) == (record.issued_at, "local")
    assert row.content_sha256 == sha256(reply.body)
    detail = json.loads(row.detail)
    assert detail == {"number": "2026-000001", "outcome": record.outcome, "record_sha256": sealed(asdict(record))}


def test_replacing_says_so_in_the_row_and_tells_the_organization(office):
    first, second = issue(OPEN_CALLER, sent(LAWN), office), issue(OPEN_CALLER, sent(revised(LAWN, 2)), office)
    assert json.loads(rows(office)[-1].detail)["replaces"] == first.id
    with office.records.reading() as reading:
        (notice,) = reading.trail.notices("local", 0, 10, "interpretation.replaced")
    assert (notice.object_id, orjson.loads(notice.detail)) == (first.id, {"by": second.id, "revision": 2})


def test_what_keeps_nothing_writes_no_row(office):
    issue(OPEN_CALLER, sent(LAWN), office)
    issue(OPEN_CALLER, sent(LAWN), office)
    answer_only(OPEN_CALLER, sent(LAWN), office)
    assert len(rows(office)) == 1
