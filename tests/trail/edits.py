"""Random one-byte edits of a filled database and of an export; every one must be found.

Run as a script for 10,000 of each: .venv/bin/python tests/trail/edits.py [ROUNDS]. The last figure stands in
DEVELOPERS.md, "The trail". A short run is part of the tests.
"""

import random
import sys
import tempfile
from pathlib import Path

import sqlalchemy as sa
from verify_export import verdict

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests"))

from desk_cases import LAWN, LEAD, revised, sent  # noqa: E402

from service.catalog.catalog import load_catalog  # noqa: E402
from service.desk.callers import OPEN_CALLER  # noqa: E402
from service.desk.issue import issue  # noqa: E402
from service.desk.office import Office  # noqa: E402
from service.desk.trail import export  # noqa: E402
from service.desk.trail_check import prove_database, prove_export  # noqa: E402
from service.settings import shipped  # noqa: E402
from service.store.migrate import migrate  # noqa: E402
from service.store.store import Store, StoreUnavailableError  # noqa: E402
from service.store.tables import interpretation, trail, trail_head  # noqa: E402

LETTERS = 'abcdefghijklmnopqrstuvwxyz0123456789{}",.:-_ '
OUR_OWN = {"serial", "layout"}
"""Numbers of the database's own making, which nothing of a report is in."""

PLACES = [
    (table, column)
    for table in (trail, trail_head, interpretation)
    for column in table.c
    if (table is not interpretation or column.name not in OUR_OWN)
]


def filled(office: Office) -> None:
    """Several reports with a revision, a held one with its draft, and rows of another organization."""
    plain = {**LAWN, "sample": {}}
    for body in (sent(LAWN), sent(revised(LAWN, 2)), sent({**LEAD, "sample": {}}), *[sent(plain)] * 2):
        assert issue(OPEN_CALLER, body, office).status == 201
    with office.records.writing() as book:
        for number in range(3):
            at = f"2026-04-20T10:00:0{number}+00:00"
            book.trail.append("juniper-bench", at, "key-1", "sample.status", "sample", f"s-{number}", "", {"to": "due"})


def unguard(store: Store) -> None:
    """Somebody with the database in hand takes the triggers away first."""
    with store.writing() as book:
        names = (
            book.connection.execute(sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
        )
        for name in names:
            book.connection.execute(sa.text(f"DROP TRIGGER {name}"))


class Vandal:
    """Changes one byte of one value of one row, and puts it back."""

    def __init__(self, store: Store, dice: random.Random) -> None:
        self.store, self.dice = store, dice

    def edit(self, connection: sa.Connection):
        """One edit: table, column, the row's number and the new value."""
        while True:
            table, column = self.dice.choice(PLACES)
            rows = connection.execute(sa.select(sa.literal_column("rowid"), column).select_from(table)).all()
            filled = [pair for pair in rows if pair[1] not in (None, b"", "")]
            if filled:
                row, value = self.dice.choice(filled)
                return table, column, row, self.changed(value)

    def changed(self, value):
        """The value with one byte changed; a truth value or number with one digit."""
        if isinstance(value, bytes):
            place = self.dice.randrange(len(value))
            return value[:place] + bytes([self.other(value[place], range(256))]) + value[place + 1 :]
        if isinstance(value, bool):
            return not value
        text = str(value)
        place = self.dice.randrange(len(text))
        letters = "0123456789" if isinstance(value, int) else LETTERS
        found = text[:place] + self.other(text[place], letters) + text[place + 1 :]
        return int(found) if isinstance(value, int) else found

    def other(self, former, among):
        """Anything but what stood there."""
        return self.dice.choice([item for item in among if item != former])

    def strike(self) -> str | None:
        """Edit, prove, take back. Returns what was edited unseen, or None when it was found or refused."""
        try:
            with self.store.writing() as book:
                table, column, row, value = self.edit(book.connection)
                changed = sa.update(table).where(sa.text(f"rowid = {row}")).values({column.name: value})
                book.connection.execute(changed)
                if prove_database(book).broken:
                    raise Found
        except (Found, StoreUnavailableError, sa.exc.IntegrityError):
            return None
        return f"{table.name}.{column.name} row {row}: {value!r}"[:200]


class Found(Exception):
    """The edit was seen; its transaction is taken back."""


def edited(data: bytes, dice: random.Random) -> bytes:
    """An export with one byte changed, anywhere in it."""
    place = dice.randrange(len(data))
    return data[:place] + bytes([dice.choice([b for b in range(256) if b != data[place]])]) + data[place + 1 :]


def unseen(office: Office, rounds: int, dice: random.Random) -> list[str]:
    """Edits of the database and of its export that nobody saw; empty is right."""
    data = b"".join(export(OPEN_CALLER, office, answers=True))
    assert verdict(data) == []
    assert prove_export(data.splitlines(keepends=True)).broken == ()
    with office.records.reading() as reading:
        assert prove_database(reading).broken == ()
    unguard(office.records)
    vandal, missed = Vandal(office.records, dice), []
    for _ in range(rounds):
        if what := vandal.strike():
            missed.append(what)
        spoiled = edited(data, dice)
        if not verdict(spoiled) or not prove_export(spoiled.splitlines(keepends=True)).broken:
            missed.append("export")
    return missed


def main(rounds: int) -> int:
    """The long run."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/saltbush.db"
        migrate(url, shipped("migrations"))
        office = Office(load_catalog([ROOT / "crops"]), "engine", Store(url))
        filled(office)
        missed = unseen(office, rounds, random.Random(2026))
        office.records.close()
    print(f"{rounds} edits of the database and {rounds} of its export: {len(missed)} not found", *missed[:20], sep="\n")
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000))
