"""Reading again: the same bytes, the present state, the proof."""

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime

import orjson
import pytest
from desk_cases import IMPOSSIBLE, LAWN, LEAD, sent

from service.catalog.catalog import Catalog
from service.contract.problem import ProblemError
from service.desk import records
from service.desk.callers import OPEN_CALLER
from service.desk.issue import issue

SPANISH = {**LAWN, "sample": {}, "options": {"language": "es", "units": "metric", "as_of": "2025-10-01"}}


@pytest.mark.parametrize("document", [LAWN, LEAD, IMPOSSIBLE, SPANISH])
def test_replay_computes_the_same_bytes_again(office, document):
    reply = issue(OPEN_CALLER, sent(document), office)
    later = replace(office, now=lambda: datetime(2031, 7, 1, tzinfo=UTC))
    again = records.replay(records.find(OPEN_CALLER, later, reply.id), later)
    assert (again.how, again.body) == ("recomputed", reply.body)


def test_replay_after_a_replacement_still_gives_the_first_bytes(office):
    first = issue(OPEN_CALLER, sent(LAWN), office)
    changed = deepcopy(LAWN)
    changed["sample"]["revision"] = 2
    second = issue(OPEN_CALLER, sent(changed), office)
    for reply in (first, second):
        again = records.replay(records.find(OPEN_CALLER, office, reply.id), office)
        assert (again.how, again.body) == ("recomputed", reply.body)


def test_replay_by_another_engine_gives_the_stored_bytes_and_says_so(office):
    reply = issue(OPEN_CALLER, sent(LAWN), office)
    newer = replace(office, engine="engine-2")
    again = records.replay(records.find(OPEN_CALLER, newer, reply.id), newer)
    assert (again.how, again.body) == ("stored", reply.body)


def test_replay_ignores_tables_and_crops_that_came_later(office, catalog):
    """A new crop must not appear among the alternatives of an old answer."""
    salty = deepcopy(LAWN)
    salty["results"][1]["value"] = 9
    salty["target"] = {"crop": "snap-bean", "area": {"value": 200, "unit": "ft2"}}
    fewer = {name: editions for name, editions in catalog.crop_editions.items() if name != "asparagus"}
    then = replace(office, catalog=Catalog(catalog.tables, fewer, catalog.sources))
    reply = issue(OPEN_CALLER, sent(salty), then)
    again = records.replay(records.find(OPEN_CALLER, office, reply.id), office)
    assert (again.how, again.body) == ("recomputed", reply.body)
    today = orjson.loads(issue(OPEN_CALLER, sent({**salty, "sample": {}}), office).body)
    assert "asparagus" in [each["crop"] for each in today["salinity"]["alternatives"]]


def test_replay_with_other_sources_or_without_a_table_gives_the_stored_bytes(office, catalog):
    reply = issue(OPEN_CALLER, sent(LAWN), office)
    source = next(iter(catalog.sources.values()))
    renamed = {**catalog.sources, source.id: replace(source, citation="Otherwise.")}
    gone = {name: table for name, table in catalog.tables.items() if name != "classes"}
    for other in (Catalog(catalog.tables, catalog.crop_editions, renamed), Catalog(gone, {}, catalog.sources)):
        later = replace(office, catalog=other)
        again = records.replay(records.find(OPEN_CALLER, later, reply.id), later)
        assert (again.how, again.body) == ("stored", reply.body)


def test_replay_that_comes_out_otherwise_is_told(office):
    """A record whose bytes this engine would not make: the stored bytes still stand."""
    reply = issue(OPEN_CALLER, sent(LAWN), office)
    record = records.find(OPEN_CALLER, office, reply.id)
    tampered = replace(record, answer=record.answer.replace(b'"released"', b'"held"', 1))
    assert records.replay(tampered, office).how == "differs"


def test_tags_change_with_the_state(office):
    first = issue(OPEN_CALLER, sent(LAWN), office)
    before = records.present(records.find(OPEN_CALLER, office, first.id))
    changed = deepcopy(LAWN)
    changed["sample"]["revision"] = 2
    issue(OPEN_CALLER, sent(changed), office)
    after = records.present(records.find(OPEN_CALLER, office, first.id))
    assert before.etag != after.etag


def test_text_is_in_the_language_of_the_answer(office):
    english = records.as_text(
        records.find(OPEN_CALLER, office, issue(OPEN_CALLER, sent(LAWN), office).id), office
    ).body.decode()
    spanish = records.as_text(
        records.find(OPEN_CALLER, office, issue(OPEN_CALLER, sent(SPANISH), office).id), office
    ).body.decode()
    assert "2026-000001" in english
    assert "Soil report" in english
    assert "Soil report" not in spanish


def test_unknown_ids_are_not_found(office):
    with pytest.raises(ProblemError) as caught:
        records.find(OPEN_CALLER, office, "nothing")
    assert caught.value.problem.status == 404
