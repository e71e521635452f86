"""The database: durable, written once, safe between processes."""

import subprocess
import sys
from dataclasses import replace

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import IntegrityError

from service.settings import shipped
from service.store.engine import make_engine
from service.store.migrate import configuration, migrate
from service.store.records import Claim, Record, Sight
from service.store.store import ClaimLostError, Store, StoreUnavailableError
from service.store.tables import REVISION, metadata

PLAIN = Record(
    id="00000000-0000-4000-8000-000000000001",
    organization="local",
    year=2026,
    sequence=1,
    number="2026-000001",
    issued_at="2026-04-20T10:00:00+00:00",
    issued_on="2026-04-20",
    outcome="released",
    crop="apple",
    laboratory="juniper-bench-demo-laboratory",
    lab_number="26-1",
    revision=1,
    case_key="c",
    business_key="b",
    content_sha256="0",
    submission=b'{"a": 1}',
    submission_sha256="1",
    answer=b'{"replaced_by":null}',
    answer_sha256="2",
    draft=None,
    engine="test",
    editions="{}",
    replaces=None,
)


def other(number: int, **changes: object) -> Record:
    base = {"id": f"id-{number}", "sequence": number, "number": f"2026-{number:06d}", "business_key": None}
    return replace(PLAIN, **{**base, **changes})


def test_migrations_make_exactly_the_tables_of_the_code(url):
    engine = make_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "render_as_batch": True})
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == REVISION
    engine.dispose()
    assert ScriptDirectory.from_config(configuration(shipped("migrations"))).get_current_head() == REVISION


def test_migrations_go_back(url):
    engine = make_engine(url)
    config = configuration(shipped("migrations"))
    with engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.downgrade(config, "base")
        assert sa.inspect(connection).get_table_names() == ["alembic_version"]
    engine.dispose()


def test_migrating_twice_changes_nothing(url, store):
    with store.writing() as book:
        book.add(PLAIN)
    migrate(url, shipped("migrations"))
    assert store.find(Sight("local"), PLAIN.id).answer == PLAIN.answer


def test_a_record_comes_back_as_it_was_written(store):
    with store.writing() as book:
        book.add(PLAIN)
    assert store.find(Sight("local"), PLAIN.id) == PLAIN
    assert store.find(Sight("other"), PLAIN.id) is None
    assert store.find(Sight("local"), "nothing") is None


def test_a_later_record_shows_on_the_former_without_changing_it(store):
    with store.writing() as book:
        book.add(PLAIN)
        book.add(other(2, replaces=PLAIN.id))
    found = store.find(Sight("local"), PLAIN.id)
    assert found == replace(PLAIN, replaced_by="id-2")


def test_a_record_can_be_replaced_only_once_and_only_if_it_exists(store):
    with store.writing() as book:
        book.add(PLAIN)
        book.add(other(2, replaces=PLAIN.id))
    with pytest.raises(IntegrityError), store.writing() as book:
        book.add(other(3, replaces=PLAIN.id))
    with pytest.raises(IntegrityError), store.writing() as book:
        book.add(other(4, replaces="nothing"))


def test_a_failing_transaction_leaves_nothing_and_gives_its_number_back(store):
    def fail():
        with store.writing() as book:
            assert book.next_sequence("local", 2026) == 1
            book.add(PLAIN)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert store.find(Sight("local"), PLAIN.id) is None
    with store.writing() as book:
        assert book.next_sequence("local", 2026) == 1


def test_numbers_run_by_organization_and_year(store):
    with store.writing() as book:
        drawn = [book.next_sequence(*key) for key in (("a", 2026), ("a", 2026), ("b", 2026), ("a", 2027), ("a", 2026))]
    assert drawn == [1, 2, 1, 1, 3]


def test_numbers_are_given_once_between_processes(url, store):
    """Four processes draw fifty numbers each at the same time: 1 to 200, none twice, none lost."""
    draw = (
        "import sys; from service.store.store import Store\n"
        "store = Store(sys.argv[1])\n"
        "for _ in range(50):\n"
        "    with store.writing() as book: print(book.next_sequence('local', 2026))\n"
        "store.close()"
    )
    running = [subprocess.Popen([sys.executable, "-c", draw, url], stdout=subprocess.PIPE, text=True) for _ in range(4)]
    drawn = [int(line) for process in running for line in process.communicate(timeout=120)[0].split()]
    assert sorted(drawn) == list(range(1, 201))


def test_pages_run_newest_first_without_gap_or_repeat(store):
    with store.writing() as book:
        for number in range(1, 8):
            book.add(other(number, crop="apple" if number % 2 else "onion"))
    first = store.page(Sight("local"), None, 3, {})
    second = store.page(Sight("local"), first[-1].serial, 10, {})
    assert [line.number[-1] for line in (*first, *second)] == list("7654321")
    assert [line.id for line in store.page(Sight("local"), None, 10, {"crop": "onion", "outcome": None})] == [
        "id-6",
        "id-4",
        "id-2",
    ]


CLAIM = Claim("local", "POST /v1/interpretations", "key-1", "token-1")


def test_a_key_is_taken_once_and_answers_afterwards(store):
    with store.writing() as book:
        assert book.claim(CLAIM, "sha", 1000.0, 60) is None
    with store.writing() as book:
        assert book.claim(CLAIM._replace(token="token-2"), "sha", 1001.0, 60).status is None
    with store.writing() as book:
        book.finish(CLAIM, 201, "id-1", b"{}")
    with store.writing() as book:
        kept = book.claim(CLAIM._replace(token="token-3"), "other", 1002.0, 60)
    assert (kept.body_sha256, kept.status, kept.location, kept.body) == ("sha", 201, "id-1", b"{}")


def test_a_dead_request_gives_its_key_up_and_can_leave_no_effect(store):
    """A minute later another request takes over; the first, should it wake, must not finish."""
    with store.writing() as book:
        book.claim(CLAIM, "sha", 1000.0, 60)
    with store.writing() as book:
        assert book.claim(CLAIM._replace(token="token-2"), "sha", 1061.0, 60) is None

    def wake():
        with store.writing() as book:
            book.add(PLAIN)
            book.finish(CLAIM, 201, PLAIN.id, b"{}")

    with pytest.raises(ClaimLostError):
        wake()
    assert store.find(Sight("local"), PLAIN.id) is None


def test_keys_are_kept_for_at_least_a_day_and_then_forgotten(store):
    with store.writing() as book:
        book.claim(CLAIM, "sha", 0.0, 60)
        book.finish(CLAIM, 201, "id-1", b"{}")
    with store.writing() as book:
        assert book.claim(CLAIM._replace(token="token-2"), "sha", 24 * 3600.0, 60) is not None
    with store.writing() as book:
        assert book.claim(CLAIM._replace(token="token-2"), "sha", 49 * 3600.0, 60) is None


def test_a_missing_or_foreign_database_is_not_ready(tmp_path, store):
    assert store.ready()
    empty = Store(f"sqlite:///{tmp_path / 'empty.db'}")
    assert not empty.ready()
    with pytest.raises(StoreUnavailableError):
        empty.find(Sight("local"), "x")
    empty.close()
