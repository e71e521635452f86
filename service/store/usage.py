"""What every interpretation rests on, so that a recall finds all that used a rule, a row, a table or a source."""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import NamedTuple

import sqlalchemy as sa

from service.store.interned import Interned, sha256_of
from service.store.tables import interpretation, layout, use_word, used

WORDS = Interned(use_word, "word")
LAYOUTS = Interned(layout, "sha256")
LONGEST = 250
KEEP = {
    "sqlite": sa.text("INSERT INTO used (word, interpretation) SELECT value, :serial FROM json_each(:words)"),
    "postgresql": sa.text(
        "INSERT INTO used (word, interpretation) SELECT value::bigint, :serial FROM json_array_elements_text(:words)"
    ),
}
"""One statement for all words of a report."""


class Use(NamedTuple):
    """One report that rests on something."""

    serial: int
    id: str
    organization: str
    number: str
    issued_on: str
    outcome: str
    laboratory: str | None


class Usage:
    """Words of reports, written with them and looked up."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._added: dict[str, int] = {}
        self._added_layouts: dict[str, int] = {}

    def layout_of(self, editions: str) -> int:
        """The number of a set of editions, kept once."""
        key = sha256_of(editions)
        return LAYOUTS.numbers(self._connection, {key: {"editions": editions}}, self._added_layouts)[key]

    def keep(self, serial: int, words: Iterable[str]) -> None:
        """The words of one new report, by its serial number."""
        rows: Mapping[str, Mapping[str, str]] = {word[:LONGEST]: {} for word in words}
        numbers = WORDS.numbers(self._connection, rows, self._added)
        listed = json.dumps(sorted(numbers.values()))
        self._connection.execute(KEEP[self._connection.dialect.name], {"serial": serial, "words": listed})

    def forget(self, serial: int) -> None:
        """Words of a report that is deleted when its time is over."""
        self._connection.execute(sa.delete(used).where(used.c.interpretation == serial))

    def words_of(self, serial: int) -> list[str]:
        """The words of one report."""
        query = (
            sa.select(use_word.c.word)
            .join(used, used.c.word == use_word.c.id)
            .where(used.c.interpretation == serial)
            .order_by(use_word.c.word)
        )
        return list(self._connection.execute(query).scalars())

    def known(self, beginning: str, limit: int = 100) -> list[str]:
        """Words that begin so, in order: what can be recalled by."""
        query = (
            sa.select(use_word.c.word)
            .where(use_word.c.word >= beginning, use_word.c.word < beginning + "\uffff")
            .order_by(use_word.c.word)
            .limit(limit)
        )
        return list(self._connection.execute(query).scalars())

    def resting_on(
        self,
        words: Collection[str],
        first_day: str | None = None,
        last_day: str | None = None,
        organization: str | None = None,
        after: int = 0,
        limit: int | None = None,
    ) -> Iterator[Use]:
        """Reports that rest on all of the words, issued on the days given; in order of their serial numbers.

        Args:
            words: such as ``rule:p_high`` and ``laboratory:juniper-bench``; none: every report of the days, in no order
                unless there is a limit.
            first_day: ISO dates, both ends included.
        """
        query = sa.select(*(interpretation.c[name] for name in Use._fields)).select_from(interpretation)
        serial: sa.ColumnElement[int] = interpretation.c.serial
        for word in words:
            one = used.alias()
            number = sa.select(use_word.c.id).where(use_word.c.word == word[:LONGEST]).scalar_subquery()
            query = query.join(one, sa.and_(one.c.word == number, one.c.interpretation == interpretation.c.serial))
            serial = one.c.interpretation  # sorted already, since it stands behind the word in the key
        if after:
            query = query.where(serial > after)
        if first_day is not None:
            query = query.where(interpretation.c.issued_on >= first_day)
        if last_day is not None:
            query = query.where(interpretation.c.issued_on <= last_day)
        if organization is not None:
            query = query.where(interpretation.c.organization == organization)
        if words or limit is not None:
            query = query.order_by(serial).limit(limit)
        yield from (Use(*row) for row in self._connection.execute(query))
