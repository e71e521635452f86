"""Texts kept once under a small number, which each process remembers."""

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

MANY = 500


def sha256_of(text: str) -> str:
    """What a long text is found by."""
    return hashlib.sha256(text.encode()).hexdigest()


class Interned:
    """Numbers of texts in a table with a unique key.

    A number is remembered for the process only if it was there before the transaction that asks: what this
    transaction adds may still be taken back. Rows of the table are never removed.
    """

    def __init__(self, table: sa.Table, key: str) -> None:
        self._table = table
        self._key = key
        self._known: WeakKeyDictionary[sa.Engine, dict[str, int]] = WeakKeyDictionary()

    def numbers(
        self, connection: sa.Connection, rows: Mapping[str, Mapping[str, Any]], added: dict[str, int]
    ) -> dict[str, int]:
        """The number of every key, made where it is new; ``added`` holds what this transaction made, and gets more.

        Args:
            rows: for each key what else its row holds.
        """
        known = self._known.setdefault(connection.engine, {})
        found = {key: number for key in rows if (number := added.get(key) or known.get(key))}
        missing = [key for key in rows if key not in found]
        if missing:
            before = self._read(connection, missing)
            known.update(before)
            new = [{self._key: key, **rows[key]} for key in missing if key not in before]
            if new:
                self._write(connection, new)
                added.update(self._read(connection, [row[self._key] for row in new]))
            found.update(before)
            found.update({key: added[key] for key in missing if key not in before})
        return found

    def _read(self, connection: sa.Connection, keys: Iterable[str]) -> dict[str, int]:
        keys, column, found = list(keys), self._table.c[self._key], dict[str, int]()
        for start in range(0, len(keys), MANY):
            query = sa.select(column, self._table.c.id).where(column.in_(keys[start : start + MANY]))
            found.update((key, number) for key, number in connection.execute(query))
        return found

    def _write(self, connection: sa.Connection, rows: list[dict[str, Any]]) -> None:
        insert: Any = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
        connection.execute(insert(self._table).on_conflict_do_nothing(), sorted(rows, key=lambda row: row[self._key]))
