"""Recalls: which reports are called back, and how far each of them has come."""

import json
from collections.abc import Collection, Iterable, Iterator
from typing import Any, NamedTuple
from uuid import uuid4

import sqlalchemy as sa

from service.store.tables import interpretation, notice, recall, recall_item, use_word, used, void

LISTED, HELD, REISSUED, LIFTED = "listed", "held", "reissued", "lifted"
KEEP = {
    "sqlite": "SELECT :recall, interpretation.id, 'listed' FROM json_each(:serials) JOIN interpretation "
    "ON interpretation.serial = json_each.value",
    "postgresql": "SELECT :recall, interpretation.id, 'listed' FROM json_array_elements_text(:serials) listed "
    "JOIN interpretation ON interpretation.serial = listed::bigint",
}
"""All reports of a recall in one statement."""


class Recall(NamedTuple):
    """One recall; ``found`` is how many reports it called back when it was made."""

    id: str
    organization: str
    at: str
    by: str
    reason: str
    criteria: str
    found: int


class Called(NamedTuple):
    """One report that is called back, as the list shows it."""

    serial: int
    id: str
    organization: str
    number: str
    issued_on: str
    outcome: str
    laboratory: str | None
    laboratory_organization: str | None
    state: str
    replaced_by: str | None
    voided: bool


class Search(NamedTuple):
    """What a recall looks for: reports that rest on a word of each group, within the rest."""

    groups: tuple[tuple[str, ...], ...]
    first_day: str | None = None
    last_day: str | None = None
    organization: str | None = None
    county: str | None = None
    lab_numbers: tuple[str, ...] = ()


class Recalls:
    """Finds, keeps, lists and moves."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def words(self, beginning: str) -> list[str]:
        """Words of the usage index that begin so."""
        query = sa.select(use_word.c.word).where(
            use_word.c.word >= beginning, use_word.c.word < beginning + "\uffff", use_word.c.word.startswith(beginning)
        )
        return list(self._connection.execute(query).scalars())

    def search(self, wanted: Search, submissions: bool = False) -> Iterator[tuple[int, bytes]]:
        """Serial numbers, in order, with what was sent where that is asked for; never of the sandbox."""
        columns = interpretation.c
        sent: sa.ColumnElement[Any] = columns.submission if submissions else sa.literal(b"")
        query = sa.select(columns.serial, sent).where(columns.sandbox.is_(sa.false()), *_within(wanted))
        for group in wanted.groups:
            numbers = self._numbers(group)
            if not numbers:
                return
            resting = sa.select(used.c.interpretation).where(used.c.word.in_(numbers))
            query = query.where(columns.serial.in_(resting))
        rows = self._connection.execute(query.order_by(columns.serial), execution_options={"yield_per": 1000})
        yield from ((serial, bytes(body)) for serial, body in rows)

    def _numbers(self, words: Collection[str]) -> list[int]:
        return list(self._connection.execute(sa.select(use_word.c.id).where(use_word.c.word.in_(words))).scalars())

    def add(self, made: Recall, serials: list[int]) -> None:
        """Keep a recall with every report that it calls back."""
        self._connection.execute(sa.insert(recall).values(**made._asdict()))
        statement = f"INSERT INTO recall_item (recall, interpretation, state) {KEEP[self._connection.dialect.name]}"
        self._connection.execute(sa.text(statement), {"recall": made.id, "serials": json.dumps(serials)})

    def find(self, id: str) -> Recall | None:  # noqa: A002
        """One recall."""
        row = self._connection.execute(sa.select(*_of(recall, Recall)).where(recall.c.id == id)).one_or_none()
        return Recall(*row) if row else None

    def page(self, organization: str | None, before: tuple[str, str] | None, limit: int) -> list[Recall]:
        """Recalls of one organization, or of all, newest first."""
        query = sa.select(*_of(recall, Recall)).order_by(recall.c.at.desc(), recall.c.id.desc()).limit(limit)
        if organization is not None:
            query = query.where(recall.c.organization == organization)
        if before is not None:
            at, id = before  # noqa: A001
            query = query.where(sa.or_(recall.c.at < at, sa.and_(recall.c.at == at, recall.c.id < id)))
        return [Recall(*row) for row in self._connection.execute(query)]

    def counts(self, id: str) -> list[tuple[str, str, str, int]]:  # noqa: A002
        """Organization, outcome and state of the reports of a recall, with how many there are."""
        by = (interpretation.c.organization, interpretation.c.outcome, recall_item.c.state)
        query = (
            sa.select(*by, sa.func.count())
            .join_from(recall_item, interpretation, interpretation.c.id == recall_item.c.interpretation)
            .where(recall_item.c.recall == id)
        )
        return [(str(a), str(b), str(c), int(n)) for a, b, c, n in self._connection.execute(query.group_by(*by))]

    def items(self, id: str, after: int, limit: int | None, state: str | None = None) -> list[Called]:  # noqa: A002
        """Reports of a recall in order of their serial numbers, from the one behind ``after``."""
        later = interpretation.alias("later")
        plain = [interpretation.c[name] for name in Called._fields[:8]]
        query = (
            sa.select(*plain, recall_item.c.state, later.c.id, void.c.interpretation.is_not(None))
            .join_from(recall_item, interpretation, interpretation.c.id == recall_item.c.interpretation)
            .outerjoin(later, later.c.replaces == interpretation.c.id)
            .outerjoin(void, void.c.interpretation == interpretation.c.id)
            .where(recall_item.c.recall == id, interpretation.c.serial > after)
            .order_by(interpretation.c.serial)
            .limit(limit)
        )
        if state is not None:
            query = query.where(recall_item.c.state == state)
        return [Called(*row) for row in self._connection.execute(query)]

    def move(self, id: str, reports: Iterable[str], state: str) -> None:  # noqa: A002
        """Bring reports of a recall to another state."""
        mine = sa.update(recall_item).where(
            recall_item.c.recall == id, recall_item.c.interpretation == sa.bindparam("report")
        )
        rows = [{"report": report} for report in reports]
        if rows:
            self._connection.execute(mine.values(state=state), rows)

    def tell(self, rows: Iterable[tuple[str, str]], at: str, kind: str, id: str) -> None:  # noqa: A002
        """A notice for each organization and report."""
        made = [
            {
                "id": str(uuid4()),
                "organization": organization,
                "kind": kind,
                "object_id": report,
                "at": at,
                "detail": json.dumps({"recall": id}, separators=(",", ":")),
            }
            for organization, report in rows
        ]
        if made:
            self._connection.execute(sa.insert(notice), made)


def _within(wanted: Search) -> list[sa.ColumnElement[bool]]:
    columns = interpretation.c
    found = []
    if wanted.first_day is not None:
        found.append(columns.issued_on >= wanted.first_day)
    if wanted.last_day is not None:
        found.append(columns.issued_on <= wanted.last_day)
    if wanted.organization is not None:
        found.append(columns.organization == wanted.organization)
    if wanted.county is not None:
        found.append(columns.county == wanted.county)
    if wanted.lab_numbers:
        found.append(columns.lab_number.in_(wanted.lab_numbers))
    return found


def _of(table: sa.Table, row: Any) -> list[Any]:
    return [table.c[name] for name in row._fields]
