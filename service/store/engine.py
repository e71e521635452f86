"""Database engines, with SQLite made durable."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import event

from service.settings import SettingError

BUSY_SECONDS = 15
DURABLE = ("fsync", "full_page_writes", "synchronous_commit")
"""Settings of PostgreSQL without which an answered request may be lost (PostgreSQL manual, Write Ahead Log)."""


class NotDurableError(SettingError):
    """The database server would lose what it said it had kept."""


def make_engine(url: str) -> sa.Engine:
    """An engine that keeps what it commits.

    SQLite: write-ahead log, synchronous=FULL, foreign keys, waiting for locks. PostgreSQL: by psycopg 3; a server that
    does not sync is refused with NotDurableError at the first connection, unless the URL says ``durable=off``.
    """
    if url.startswith("sqlite"):
        return _sqlite(url)
    given = sa.make_url(url)
    wanted = given.query.get("durable") != "off"
    engine = sa.create_engine(
        given.difference_update_query(["durable"]).set(drivername="postgresql+psycopg"), pool_pre_ping=True
    )
    if wanted:
        event.listen(engine, "connect", _hold_durable)
    return engine


def _hold_durable(connection: Any, _: Any) -> None:
    off = [name for name in DURABLE if connection.execute(f"SHOW {name}").fetchone()[0] == "off"]
    connection.rollback()
    if off:
        raise NotDurableError(f"PostgreSQL runs with {', '.join(off)} off; turn it on, or it may lose reports")


def _sqlite(url: str) -> sa.Engine:
    engine = sa.create_engine(url, connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _: Any) -> None:
    connection.isolation_level = None  # the driver must not begin transactions of its own
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", f"busy_timeout={BUSY_SECONDS * 1000}"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    write = connection.get_execution_options().get("saltbush_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")
