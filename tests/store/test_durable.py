"""A database that would lose what it said it had kept is refused.

SQLite's documentation: in WAL mode only synchronous=FULL (2) syncs each commit. PostgreSQL's manual, chapter Write
Ahead Log: fsync or full_page_writes off may end in unrecoverable corruption, synchronous_commit off may lose the last
transactions.
"""

import shutil
import tempfile
from pathlib import Path

import pytest
from databases import Server, stop

from service.store.engine import NotDurableError, make_engine
from service.store.store import Store


def test_sqlite_is_durable_and_keeps_foreign_keys(sqlite_url):
    store = Store(sqlite_url)
    with store.engine.connect() as connection:
        said = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    store.close()
    assert said == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 15000}


def test_a_postgresql_that_does_not_sync_is_refused_unless_the_address_allows_it(postgresql_url):
    allowed = make_engine(postgresql_url)
    with allowed.connect() as connection:
        assert connection.exec_driver_sql("SHOW fsync").scalar() == "off"
    allowed.dispose()
    engine = make_engine(postgresql_url.replace("durable=off", ""))
    with pytest.raises(NotDurableError, match="fsync, full_page_writes, synchronous_commit off"), engine.connect():
        pass
    engine.dispose()


def test_a_postgresql_that_syncs_is_taken():
    """The driver is psycopg 3 however the address names it."""
    folder = Path(tempfile.mkdtemp(prefix="saltbush-"))
    try:
        server = Server(folder, fsync="on")
        server.start()
        engine = make_engine(server.address)
        with engine.connect() as connection:
            assert connection.exec_driver_sql("SHOW fsync").scalar() == "on"
        assert engine.driver == "psycopg"
        engine.dispose()
    finally:
        stop(folder)
        shutil.rmtree(folder)
