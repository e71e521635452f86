"""Which records a look reaches: one's own, those a laboratory sent in, all but the sandbox's; each along an index."""

from dataclasses import replace

import pytest
import sqlalchemy as sa
from test_store import PLAIN

from service.store.records import Sight
from service.store.sight import owners
from service.store.tables import interpretation

OFFICE, LABORATORY, ALL = Sight("office"), Sight("bench", laboratory=True), Sight("state", everything=True)
KEPT = (
    ("office", None, False),
    ("office", "bench", False),
    ("bench", None, False),
    ("bench", "bench", False),
    ("other", "bench", False),
    ("other", None, False),
    ("bench~sandbox", None, True),
)


@pytest.fixture
def filled(store):
    """A store with one record of each kind, in this order."""
    with store.writing() as book:
        for number, (owner, laboratory, sandbox) in enumerate(KEPT, 1):
            made = {"id": f"id-{number}", "sequence": number, "number": f"n-{number}", "business_key": None}
            more = {"organization": owner, "laboratory_organization": laboratory, "sandbox": sandbox}
            book.add(replace(PLAIN, **made, **more))
    return store


@pytest.mark.parametrize(
    ("sight", "seen"),
    [
        (OFFICE, "2 1"),
        (LABORATORY, "5 4 3 2"),
        (Sight("bench"), "4 3"),
        (ALL, "6 5 4 3 2 1"),
        (Sight("bench~sandbox"), "7"),
        (Sight("nobody", laboratory=True), ""),
    ],
)
def test_lists_and_single_records_reach_the_same(filled, sight, seen):
    wanted = [f"id-{number}" for number in seen.split()]
    assert [line.id for line in filled.page(sight, None, 10, {})] == wanted
    found = [f"id-{number}" for number in range(7, 0, -1) if filled.find(sight, f"id-{number}")]
    assert found == wanted


def test_pages_of_a_laboratory_meet_without_gap_or_overlap(filled):
    lines, before = [], None
    while page := filled.page(LABORATORY, before, 1, {}):
        lines += [line.id for line in page]
        before = page[-1].serial
    assert lines == ["id-5", "id-4", "id-3", "id-2"]


@pytest.mark.parametrize("sight", [OFFICE, LABORATORY])
def test_lists_run_along_an_index(filled, sight):
    if filled.engine.dialect.name == "postgresql":
        analyze, explain, scan = "SET enable_seqscan = off", "EXPLAIN", "Seq Scan"
    else:
        analyze, explain, scan = "ANALYZE", "EXPLAIN QUERY PLAN", "SCAN"
    with filled.engine.connect() as connection:
        connection.execute(sa.text(analyze))
        for owner in owners(sight):
            query = sa.select(interpretation.c.id).where(owner).order_by(interpretation.c.serial.desc()).limit(3)
            text = query.compile(connection, compile_kwargs={"literal_binds": True})
            plan = " ".join(str(row) for row in connection.execute(sa.text(f"{explain} {text}")))
            assert scan not in plan
            assert "organization_serial" in plan
