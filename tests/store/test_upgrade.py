"""A filled database of the first shape is brought to the newest and back: reports stay byte for byte what they were."""

from dataclasses import asdict, replace

import pytest
import sqlalchemy as sa
from alembic import command
from test_store import PLAIN, other

from service.settings import shipped
from service.store.engine import make_engine
from service.store.migrate import configuration
from service.store.records import Sight
from service.store.store import Store

FIRST = "0001"
RECORDS = (PLAIN, other(2, replaces=PLAIN.id, editions='{"a": 1}', draft=b"{}"), other(3, crop=None))
COLUMNS = (
    *("id", "organization", "year", "sequence", "number", "issued_at", "issued_on", "outcome", "crop", "laboratory"),
    *("lab_number", "revision", "case_key", "business_key", "content_sha256", "submission", "submission_sha256"),
    *("answer", "answer_sha256", "draft", "engine", "editions", "replaces"),
)
"""Columns of the first shape."""


def move(url, turn, revision):
    engine, config = make_engine(url), configuration(shipped("migrations"))
    with engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        turn(config, revision)
    engine.dispose()


@pytest.fixture
def first(database_url):
    """A database at the first revision with three reports, as its own program wrote them."""
    move(database_url, command.downgrade, FIRST)
    engine = make_engine(database_url)
    with engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
        for record in RECORDS:
            values = {name: value for name, value in asdict(record).items() if name in COLUMNS}
            names, marks = ", ".join(values), ", ".join(f":{name}" for name in values)
            connection.execute(sa.text(f"INSERT INTO interpretation ({names}) VALUES ({marks})"), values)
    engine.dispose()
    return database_url


def test_reports_are_the_same_after_the_upgrade(first):
    move(first, command.upgrade, "head")
    store = Store(first)
    for record in RECORDS:
        later = "id-2" if record is PLAIN else None
        assert store.find(Sight("local"), record.id) == replace(record, replaced_by=later)
    assert sorted(editions for _, editions in store.laid_out()) == ['{"a": 1}', "{}", "{}"]
    with store.writing() as book:
        assert book.add(other(4)) == 4
    store.close()


def test_and_after_the_way_back(first):
    move(first, command.upgrade, "head")
    move(first, command.downgrade, FIRST)
    engine = make_engine(first)
    with engine.connect() as connection:
        query = sa.text(f"SELECT {', '.join(COLUMNS)} FROM interpretation ORDER BY serial")
        found = [
            {name: bytes(value) if isinstance(value, memoryview) else value for name, value in row.items()}
            for row in connection.execute(query).mappings()
        ]
    engine.dispose()
    assert found == [{name: asdict(record)[name] for name in COLUMNS} for record in RECORDS]
