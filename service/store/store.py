"""Reading and writing. One connection per transaction; a write takes the write lock at its start, so that several
processes queue instead of failing half-way."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError, OperationalError, ProgrammingError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from service.store.areas import Areas
from service.store.engine import make_engine
from service.store.interned import sha256_of
from service.store.records import Claim, Former, Heading, Kept, Record, Sight
from service.store.sight import owners, seen
from service.store.tables import REVISION, interpretation, layout, report_number, request_key, void
from service.store.voids import Voids

KEPT_SECONDS = 48 * 3600
WRITERS = 7_264_631
"""Any number, as long as every process takes the same."""


class StoreUnavailableError(Exception):
    """The database cannot be reached, is full or has not been set up; nothing was written."""


class StoreBusyError(StoreUnavailableError):
    """Others kept the database to themselves for too long; nothing was written."""


FAILURES = (OperationalError, ProgrammingError, PoolTimeoutError)
BUSY_SQLITE = (5, 6)
"""SQLITE_BUSY and SQLITE_LOCKED (SQLite, Result and Error Codes); the low byte of an extended code."""
BUSY_POSTGRESQL = ("55P03", "57014", "40001", "40P01", "53300")
"""Lock not available, canceled by a timeout, serialization failure, deadlock, too many connections
(PostgreSQL, appendix Error Codes)."""
NO_TABLE_POSTGRESQL = "42P01"


def _told_apart(problem: SQLAlchemyError) -> StoreUnavailableError:
    """Busy, not available, or a fault of ours, which stays what it is."""
    if not isinstance(problem, DBAPIError):
        return StoreBusyError()
    state = getattr(problem.orig, "sqlstate", None)
    number = getattr(problem.orig, "sqlite_errorcode", 0) & 0xFF
    if number in BUSY_SQLITE or state in BUSY_POSTGRESQL:
        return StoreBusyError()
    if isinstance(problem, ProgrammingError) and state != NO_TABLE_POSTGRESQL:
        raise problem
    return StoreUnavailableError()


class ClaimLostError(Exception):
    """Another request took the idempotency key over; this one must not leave an effect."""


class Store:
    """One database, shared by several processes and threads."""

    def __init__(self, url: str) -> None:
        self.engine = make_engine(url)

    def close(self) -> None:
        """Give the connections back."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Areas]:
        """One connection to read with: ``reading.trail`` and all other areas. Raises StoreUnavailableError."""
        with self._reading() as connection:
            yield Areas(connection)

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        try:
            with self.engine.connect() as connection:
                yield connection
        except FAILURES as problem:
            raise _told_apart(problem) from problem

    @contextmanager
    def writing(self) -> Iterator["Book"]:
        """One transaction: everything in it is kept, or nothing.

        Raises:
            StoreUnavailableError: the database could not be written; StoreBusyError: it may be in a moment.
        """
        try:
            with self.engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
                if connection.dialect.name == "postgresql":  # one writer at a time, as SQLite has it
                    connection.execute(sa.select(sa.func.pg_advisory_xact_lock(WRITERS)))
                yield Book(connection)
        except FAILURES as problem:
            raise _told_apart(problem) from problem

    def find(self, sight: Sight, id: str) -> Record | None:  # noqa: A002
        """One interpretation that is in sight, with what became of it."""
        later = interpretation.alias("later")
        columns = [column for column in interpretation.c if column.name not in ("serial", "layout")]
        query = (
            sa.select(*columns, layout.c.editions, later.c.id.label("replaced_by"))
            .join_from(interpretation, layout)
            .outerjoin(later, later.c.replaces == interpretation.c.id)
            .where(interpretation.c.id == id, seen(sight))
        )
        with self._reading() as connection:
            row = connection.execute(query).mappings().one_or_none()
            return Record(**{**row, **Voids(connection).marks(id, row["replaced_by"])}) if row else None

    def page(self, sight: Sight, before: int | None, limit: int, equal: Mapping[str, str | None]) -> list[Heading]:
        """Headings in sight, newest first, older than the serial ``before``, with the given columns equal."""
        later = interpretation.alias("later")
        columns = [interpretation.c[name] for name in Heading._fields if name != "replaced_by"]
        query = (
            sa.select(*columns, later.c.id)
            .outerjoin(later, later.c.replaces == interpretation.c.id)
            .order_by(interpretation.c.serial.desc())
            .limit(limit)
        )
        if before is not None:
            query = query.where(interpretation.c.serial < before)
        for name, value in equal.items():
            if value is not None:
                query = query.where(interpretation.c[name] == value)
        with self._reading() as connection:
            parts = [connection.execute(query.where(owner)).all() for owner in owners(sight)]
        found = sorted((Heading(*row) for rows in parts for row in rows), key=lambda line: -line.serial)
        return found[:limit]

    def laid_out(self) -> list[tuple[str | None, str]]:
        """Every combination of crop and tables in force that anything kept was made with."""
        pairs = sa.select(interpretation.c.layout, interpretation.c.crop).distinct().subquery()
        query = sa.select(pairs.c.crop, layout.c.editions).join_from(pairs, layout, pairs.c.layout == layout.c.id)
        with self._reading() as connection:
            return [(crop, editions) for crop, editions in connection.execute(query)]

    def answers_on(self, laid_out: str) -> Iterator[bytes]:
        """The answers made with exactly these tables in force, one after the other."""
        same = sa.select(layout.c.id).where(layout.c.sha256 == sha256_of(laid_out)).scalar_subquery()
        query = sa.select(interpretation.c.answer).where(interpretation.c.layout == same)
        with self._reading() as connection:
            yield from (bytes(answer) for answer in connection.execute(query).scalars())

    def ready(self) -> bool:
        """Whether the database answers and stands at the revision this code was written for."""
        try:
            with self.engine.connect() as connection:
                return connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar() == REVISION
        except SQLAlchemyError:
            return False


KEPT_COLUMNS = [column.name for column in interpretation.c if column.name not in ("serial", "layout")]
ADD = sa.insert(interpretation).returning(interpretation.c.serial)


class Book(Areas):
    """The writes of one transaction, the areas' among them."""

    def next_sequence(self, organization: str, year: int) -> int:
        """The next number of the year; a transaction that fails gives it back."""
        insert: Any = postgresql.insert if self.connection.dialect.name == "postgresql" else sqlite.insert
        statement = (
            insert(report_number)
            .values(organization=organization, year=year, last=1)
            .on_conflict_do_update(index_elements=["organization", "year"], set_={"last": report_number.c.last + 1})
            .returning(report_number.c.last)
        )
        return int(self.connection.execute(statement).scalar_one())

    def formers(self, case_key: str) -> list[Former]:
        """Revisions of the same case that hold their key, newest revision first; none that was voided."""
        query = (
            sa.select(*(interpretation.c[name] for name in Former._fields))
            .outerjoin(void, void.c.interpretation == interpretation.c.id)
            .where(interpretation.c.case_key == case_key, interpretation.c.business_key.is_not(None))
            .where(void.c.interpretation.is_(None))
            .order_by(interpretation.c.revision.desc())
        )
        return [Former(*row) for row in self.connection.execute(query)]

    def newest(self, id: str) -> str:  # noqa: A002
        """The interpretation at the end of the chain of replacements that one belongs to."""
        later = sa.select(interpretation.c.id).where(interpretation.c.replaces == sa.bindparam("former"))
        while (following := self.connection.execute(later, {"former": id}).scalar()) is not None:
            id = following  # noqa: A001
        return id

    def answer_of(self, id: str) -> bytes:  # noqa: A002
        """The stored answer of one interpretation."""
        query = sa.select(interpretation.c.answer).where(interpretation.c.id == id)
        return bytes(self.connection.execute(query).scalar_one())

    def add(self, record: Record) -> int:
        """Keep one interpretation. Returns its serial number."""
        values = {name: getattr(record, name) for name in KEPT_COLUMNS}
        values["layout"] = self.usage.layout_of(record.editions)
        return int(self.connection.execute(ADD, values).scalar_one())

    def claim(self, claim: Claim, body_sha256: str, now: float, stale_after: float) -> Kept | None:
        """Take an idempotency key; what is known of it when somebody holds it already, else None."""
        self.connection.execute(sa.delete(request_key).where(request_key.c.claimed_at < now - KEPT_SECONDS))
        mine = _is(claim)
        row = self.connection.execute(
            sa.select(*(request_key.c[name] for name in Kept._fields)).where(*mine)
        ).one_or_none()
        if row is not None:
            kept = Kept(*row)
            if kept.status is not None or kept.body_sha256 != body_sha256 or abs(now - kept.claimed_at) < stale_after:
                return kept
            self.connection.execute(sa.delete(request_key).where(*mine))
        values = {"body_sha256": body_sha256, "claim": claim.token, "claimed_at": now}
        named = {"organization": claim.organization, "route": claim.route, "key": claim.key}
        self.connection.execute(sa.insert(request_key).values(**named, **values))
        return None

    def finish(self, claim: Claim, status: int, location: str | None, body: bytes) -> None:
        """Keep the answer under the key, in the transaction that keeps the effect. Raises ClaimLostError."""
        kept = self.connection.execute(
            sa.update(request_key)
            .where(*_is(claim), request_key.c.claim == claim.token)
            .values(status=status, location=location, body=body)
        )
        if kept.rowcount != 1:
            raise ClaimLostError

    def release(self, claim: Claim) -> None:
        """Give a key back: its request came to nothing."""
        self.connection.execute(sa.delete(request_key).where(*_is(claim), request_key.c.claim == claim.token))


def _is(claim: Claim) -> tuple[Any, ...]:
    columns = request_key.c
    return (columns.organization == claim.organization, columns.route == claim.route, columns.key == claim.key)
