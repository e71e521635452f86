"""What is looked up often runs along an index on both databases, as their own EXPLAIN says.

SQLite's manual, EXPLAIN QUERY PLAN: SCAN reads every row, SEARCH only those asked for. PostgreSQL's manual, Using
EXPLAIN: Seq Scan reads every row; with few rows it is chosen for that reason alone and is therefore forbidden here.
"""

import re

import pytest
import sqlalchemy as sa
from databases import KINDS, Databases
from sqlalchemy import event
from test_store import other

from service.store.records import Sight
from service.store.store import Store

OFFICE, BENCH = Sight("county-3"), Sight("bench-2", laboratory=True)
EVERYTHING = Sight("", everything=True)
SPAN = {"first_day": "2026-01-05", "last_day": "2026-01-06"}


def recall(store, *words, **span):
    with store.reading() as reading:
        return list(reading.usage.resting_on(words, **span))


LOOKS = {
    "list of an office": lambda store: store.page(OFFICE, None, 5, {}),
    "list of a laboratory": lambda store: store.page(BENCH, None, 5, {}),
    "list of the programme": lambda store: store.page(EVERYTHING, None, 5, {}),
    "next page": lambda store: store.page(OFFICE, 100, 5, {}),
    "held ones": lambda store: store.page(OFFICE, None, 5, {"outcome": "held"}),
    "one crop": lambda store: store.page(OFFICE, None, 5, {"crop": "apple"}),
    "one place": lambda store: store.page(OFFICE, None, 5, {"place": "place-4"}),
    "a laboratory's number": lambda store: store.page(EVERYTHING, None, 5, {"laboratory": "l", "lab_number": "7"}),
    "one report": lambda store: store.find(OFFICE, "id-7"),
    "recall by a rule": lambda store: recall(store, "rule:rare"),
    "recall by a rule and days": lambda store: recall(store, "rule:rare", "crop:apple", **SPAN),
    "recall by days": lambda store: recall(store, **SPAN),
}


@pytest.fixture(scope="module", params=KINDS)
def filled(request, tmp_path_factory):
    databases = Databases(request.param, tmp_path_factory.mktemp("plans"))
    store = Store(databases())
    fill(store)
    yield store
    store.close()
    databases.drop()


def fill(store):
    with store.writing() as book:
        for number in range(1, 301):
            record = other(
                number,
                organization=f"county-{number % 10}",
                laboratory_organization=f"bench-{number % 4}",
                outcome=("released", "held")[number % 7 == 0],
                crop=("apple", "onion")[number % 2],
                lab_number=str(number),
                place=f"place-{number % 40}",
                issued_on=f"2026-01-{number // 15 + 1:02d}",
            )
            serial = book.add(record)
            rare = {"rule:rare"} if number % 50 == 0 else set()
            book.usage.keep(serial, {f"crop:{record.crop}", "table:classes@2025-01-01", *rare})
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")


def plans(store, look):
    """The plan of every statement that a look-up sends."""
    sent, found = [], []

    def note(connection, cursor, statement, parameters, context, executemany):
        if statement.startswith("SELECT"):
            sent.append((statement, parameters))

    event.listen(store.engine, "before_cursor_execute", note)
    look(store)
    event.remove(store.engine, "before_cursor_execute", note)
    assert sent
    postgresql = store.engine.dialect.name == "postgresql"
    with store.engine.connect() as connection:
        if postgresql:
            connection.exec_driver_sql("SET enable_seqscan = off")
        for statement, parameters in sent:
            explain = "EXPLAIN" if postgresql else "EXPLAIN QUERY PLAN"
            rows = connection.exec_driver_sql(f"{explain} {statement}", parameters).all()
            found.append("\n".join(str(row[-1]) for row in rows))
    return found


@pytest.mark.parametrize("name", LOOKS)
def test_nothing_that_is_asked_often_reads_every_report(filled, name):
    for plan in plans(filled, LOOKS[name]):
        assert "Seq Scan" not in plan, plan
        bare = [line for line in plan.splitlines() if re.match(r"SCAN interpretation(?! USING| AS| later)\b", line)]
        assert name == "list of the programme" or not bare, plan
        assert "TEMP B-TREE FOR ORDER BY" not in plan, plan


def test_the_programme_reads_its_list_backwards_from_the_newest(filled):
    """A walk along the primary key that ends with the page, though SQLite calls it a scan."""
    (plan,) = plans(filled, LOOKS["list of the programme"])
    if filled.engine.dialect.name == "postgresql":
        assert "Index Scan Backward using pk_interpretation" in plan
    else:
        assert plan.startswith("SCAN interpretation")


@pytest.mark.parametrize(
    ("name", "index"),
    [
        ("list of an office", "ix_interpretation_organization_serial"),
        ("list of a laboratory", "ix_interpretation_laboratory_organization_serial"),
        ("one place", "ix_interpretation_organization_place_serial"),
        ("held ones", "ix_interpretation_organization_outcome_serial"),
        ("a laboratory's number", "ix_interpretation_laboratory_lab_number"),
        ("recall by days", "ix_interpretation_issued_on_organization"),
    ],
)
def test_each_has_its_own_index_where_the_table_is_large_enough_to_tell(filled, name, index):
    """SQLite names the index that it takes; PostgreSQL may weigh one index against another by size."""
    if filled.engine.dialect.name == "sqlite":
        assert any(index in plan for plan in plans(filled, LOOKS[name])), plans(filled, LOOKS[name])


def test_a_recall_finds_exactly_what_rests_on_all_words_within_the_days(filled):
    assert [use.serial for use in recall(filled, "rule:rare")] == [50, 100, 150, 200, 250, 300]
    assert [use.serial for use in recall(filled, "rule:rare", "crop:onion")] == []
    assert [use.serial for use in recall(filled, "rule:rare", first_day="2026-01-05", last_day="2026-01-11")] == [
        100,
        150,
    ]
    assert recall(filled, "rule:never") == []
    with filled.reading() as reading:
        assert [use.serial for use in reading.usage.resting_on(["rule:rare"], after=100, limit=2)] == [150, 200]
        assert [use.serial for use in reading.usage.resting_on(["rule:rare"], organization="county-0")] == [
            50,
            100,
            150,
            200,
            250,
            300,
        ]
        assert reading.usage.words_of(50) == ["crop:apple", "rule:rare", "table:classes@2025-01-01"]
        assert reading.usage.known("crop:") == ["crop:apple", "crop:onion"]


def test_layouts_are_kept_once_and_found_again(filled):
    with filled.writing() as book:
        book.add(other(400, editions='{"other": 1}', crop=None))
    assert sorted(filled.laid_out(), key=str) == [("apple", "{}"), ("onion", "{}"), (None, '{"other": 1}')]
    with filled.reading() as reading:
        assert reading.connection.execute(sa.text("SELECT count(*) FROM layout")).scalar() == 2
    assert len(list(filled.answers_on("{}"))) == 300
    assert filled.find(Sight("local"), "id-400").editions == '{"other": 1}'
