"""Lists, searches, recalls and statistics over 10,000 and over 100,000 kept reports.

.venv/bin/python tests/bench/hundred_thousand.py [--postgresql] [--reports N]; needs some 4 GB of disk. The last figures
stand in DEVELOPERS.md, "The store". One stored answer is copied with the bytes of its id and number changed; days,
organizations, crops and outcomes vary. Everything goes through the functions of the store, in chunks.
"""

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from uuid import UUID

import orjson
import sqlalchemy as sa

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests"))

from databases import Server, stop, url_of  # noqa: E402
from desk_cases import LAWN, sent  # noqa: E402

from service.catalog.catalog import load_catalog  # noqa: E402
from service.desk import recalls  # noqa: E402
from service.desk.callers import OPEN_CALLER, Caller  # noqa: E402
from service.desk.intake import sha256  # noqa: E402
from service.desk.issue import issue  # noqa: E402
from service.desk.office import Office  # noqa: E402
from service.desk.recalls import Criteria  # noqa: E402
from service.desk.statistics import by_county, by_month  # noqa: E402
from service.desk.trail import note_issued  # noqa: E402
from service.desk.usage import words_of  # noqa: E402
from service.settings import shipped  # noqa: E402
from service.store.migrate import migrate  # noqa: E402
from service.store.records import Record, Sight  # noqa: E402
from service.store.store import Store  # noqa: E402

CHUNK = 500
REPEATS = 7
CROPS = ("tall-fescue-lawn", "tomato", "apple", "onion", "alfalfa")
OUTCOMES = ("released", "released", "released", "partial", "held")
FIRST_DAY = date(2021, 1, 1)
PROGRAMME = Caller("state", "programme", frozenset(("reviewer",)), "bench")
COUNTY = Caller("county-03", "county_office", frozenset(("reviewer",)), "bench")
MARCH = ("2021-03-01", "2021-03-31")
EC = {"analyte": "EC", "low": 0.5}
"""Met by every report."""
RARE, COMMON = "rule:rare_for_this_measurement", "crop:tall-fescue-lawn"
"""One report in a thousand, and nearly every report."""


@contextmanager
def database(postgresql: bool) -> Iterator[str]:
    """The URL of a fresh database."""
    folder = Path(tempfile.mkdtemp(prefix="saltbush-"))
    try:
        url = f"sqlite:///{folder}/saltbush.db"
        if postgresql:
            server = Server(folder, fsync="on")
            server.start()
            url = url_of(server.address, "postgres")
        migrate(url, shipped("migrations"))
        yield url
    finally:
        stop(folder)
        shutil.rmtree(folder)


def first_record(office: Office) -> Record:
    """A real one, to be copied."""
    reply = issue(OPEN_CALLER, sent(LAWN), office)
    record = office.records.find(Sight("local"), str(reply.id))
    assert record is not None
    return record


def copy_of(record: Record, number: int) -> Record:
    """One more report that says the same of another sample."""
    name, shown = str(UUID(int=number + 1)), f"{number:06d}"
    answer = record.answer.replace(record.id.encode(), name.encode(), 1).replace(
        b"2026-000001", b"2026-" + shown.encode()
    )
    day = (FIRST_DAY + timedelta(days=number // 60)).isoformat()
    return replace(
        record,
        id=name,
        organization=f"county-{number % 20:02d}",
        sequence=number,
        number=f"2026-{shown}",
        issued_at=f"{day}T10:00:00+00:00",
        issued_on=day,
        outcome=OUTCOMES[number % 5],
        crop=CROPS[number // 5 % 5],
        laboratory=f"laboratory-{number % 7}",
        lab_number=shown,
        laboratory_organization=f"bench-{number % 7}",
        place=f"place-{number % 5000}",
        county=f"County {number % 20}",
        received_at=(FIRST_DAY + timedelta(days=number // 60 - number % 9)).isoformat(),
        released_by=("rules", "person")[number % 4 == 0] if OUTCOMES[number % 5] != "held" else None,
        case_key=None,
        business_key=sha256(shown.encode()),
        answer=answer,
        answer_sha256=sha256(answer),
    )


def fill(store: Store, record: Record, start: int, end: int) -> float:
    """Seconds that the words of one report took, in the median."""
    words, spent = words_of(orjson.loads(record.answer), record.laboratory), []
    for first in range(start, end, CHUNK):
        with store.writing() as book:
            for number in range(first, min(first + CHUNK, end)):
                copied = copy_of(record, number)
                serial = book.add(copied)
                began = time.perf_counter()
                book.usage.keep(serial, words | {RARE} if number % 1000 == 0 else words)
                spent.append(time.perf_counter() - began)
                note_issued(book, copied)
    return median(spent)


def recalled(store: Store, *words: str, **span: str) -> int:
    """How many reports a recall finds."""
    with store.reading() as reading:
        return sum(1 for _ in reading.usage.resting_on(words, **span))


def called_back(office: Office, criteria: Criteria) -> int:
    """A whole recall through the desk: found, listed and counted."""
    return recalls.make(PROGRAMME, office, "a measurement", criteria).recall.found


def tasks(office_of_all: Office) -> dict[str, Callable[[], object]]:
    """What people do, each as a function of nothing."""
    store = office_of_all.records
    office, bench, all_of_them = Sight("county-03"), Sight("bench-3", laboratory=True), Sight("", everything=True)
    march = {"first_day": "2021-03-01", "last_day": "2021-03-31"}
    return {
        "list, an office": lambda: store.page(office, None, 50, {}),
        "list, a laboratory": lambda: store.page(bench, None, 50, {}),
        "list, the programme": lambda: store.page(all_of_them, None, 50, {}),
        "page in the middle": lambda: store.page(office, 5000, 50, {}),
        "held ones of an office": lambda: store.page(office, None, 50, {"outcome": "held"}),
        "one crop of an office": lambda: store.page(office, None, 50, {"crop": "apple"}),
        "a laboratory's number": lambda: store.page(
            all_of_them, None, 50, {"laboratory": "laboratory-3", "lab_number": "005001"}
        ),
        "recall, a rare rule": lambda: recalled(store, RARE),
        "recall, a rule and a month": lambda: recalled(store, COMMON, **march),
        "recall, every report": lambda: recalled(store, COMMON),
        "recall of a value, every report read": lambda: called_back(office_of_all, Criteria({}, value=EC)),
        "recall of a batch": lambda: called_back(office_of_all, Criteria({}, lab_numbers=("005001", "005008"))),
        "recall of a table, all listed": lambda: called_back(office_of_all, Criteria({}, table=("classes", None))),
        "statistics of a month": lambda: by_month(PROGRAMME, office_of_all, *MARCH),
        "statistics of an office's month": lambda: by_month(COUNTY, office_of_all, *MARCH),
        "statistics of all years": lambda: by_month(PROGRAMME, office_of_all, "2021-01-01", "2029-12-31"),
        "statistics by county": lambda: by_county(office_of_all, 2021),
        "which editions are in use": store.laid_out,
    }


def timed(task: Callable[[], object]) -> float:
    """Milliseconds in the median."""
    spent = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        task()
        spent.append(time.perf_counter() - began)
    return median(spent) * 1000


def size(store: Store, table: str) -> int:
    """Bytes of a table with its indexes."""
    with store.reading() as reading:
        if store.engine.dialect.name == "postgresql":
            query = sa.text(f"SELECT pg_total_relation_size('{table}')")
        else:
            query = sa.text(f"SELECT sum(pgsize) FROM dbstat WHERE name = '{table}' OR name LIKE 'ix_{table}%'")
        return int(reading.connection.execute(query).scalar() or 0)


def measured(office: Office, record: Record, start: int, end: int) -> dict[str, float]:
    """Fill up to ``end`` and time everything."""
    store, began = office.records, time.perf_counter()
    words = fill(store, record, start, end)
    each = (time.perf_counter() - began) / (end - start)
    print(f"{end} reports: {each * 1000:.2f} ms to keep each, of that {words * 1000:.3f} ms for its words", flush=True)
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")
    return {name: timed(task) for name, task in tasks(office).items()}


def main() -> int:
    """Print both columns; 1 where a recall takes more than five seconds."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--reports", type=int, default=100_000)
    given = parser.parse_args()
    with database(given.postgresql) as url:
        store = Store(url)
        office = Office(load_catalog([ROOT / "crops"]), "engine", store)
        record = first_record(office)
        few = measured(office, record, 0, given.reports // 10)
        many = measured(office, record, given.reports // 10, given.reports)
        print(f"{'':34}{given.reports // 10:>10}{given.reports:>10}  (ms)")
        for name, before in few.items():
            print(f"{name:34}{before:10.2f}{many[name]:10.2f}")
        try:
            print(f"used: {size(store, 'used') / given.reports:.0f} bytes a report")
        except sa.exc.OperationalError:
            print("used: this SQLite cannot tell sizes")
        store.close()
    return int(max(time for name, time in many.items() if name.startswith("recall")) > 5000)


if __name__ == "__main__":
    sys.exit(main())
