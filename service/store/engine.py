"""Database engines, with SQLite made durable."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import event

BUSY_SECONDS = 15


def make_engine(url: str) -> sa.Engine:
    """An engine whose SQLite connections are durable (WAL, synchronous=FULL), keep foreign keys and wait for locks."""
    if not url.startswith("sqlite"):
        return sa.create_engine(url, pool_pre_ping=True)
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
