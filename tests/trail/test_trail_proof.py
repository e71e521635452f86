"""Nothing kept can be changed unseen: on both databases, in an export, by command, by other code than ours.

The figure to reach is 10,000 random one-byte edits, all found; edits.py runs them, here a part of them.
"""

import json
import random
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from desk_cases import LAWN, sent
from edits import filled, unguard, unseen
from verify_export import verdict

from service.commands import main
from service.contract.problem import ProblemError
from service.desk.callers import OPEN_CALLER
from service.desk.issue import issue
from service.desk.trail import DELETED, export, page, publish_heads
from service.desk.trail_check import prove_database, prove_export
from service.store.tables import interpretation, trail, trail_head
from service.store.trail import Head

SCRIPT = Path(__file__).with_name("verify_export.py")


@pytest.fixture
def full(office):
    filled(office)
    return office


@pytest.fixture
def full_file(make_sqlite_office):
    office = make_sqlite_office()
    filled(office)
    return office


def proof_of(office, known=()):
    with office.records.reading() as reading:
        return prove_database(reading, known)


def lines_of(office, **more):
    return b"".join(export(OPEN_CALLER, office, **more))


def test_what_was_only_written_is_proved(full):
    proof = proof_of(full)
    assert (proof.rows, proof.records, proof.broken) == (8, 5, ())
    assert [(head.organization, head.sequence) for head in proof.heads] == [("juniper-bench", 3), ("local", 5)]


def test_random_edits_of_one_byte_are_all_found(full_file):
    assert unseen(full_file, 300, random.Random()) == []


def test_rows_removed_from_the_end_are_missed_even_with_the_head_moved_once_a_head_was_told(full_file):
    publish_heads(full_file)
    old = proof_of(full_file).heads
    unguard(full_file.records)
    with full_file.records.writing() as book:
        entries = list(book.trail.entries("local"))
        book.connection.execute(sa.delete(trail).where(trail.c.organization == "local", trail.c.sequence == 5))
        book.connection.execute(sa.delete(interpretation).where(interpretation.c.id == entries[4].object_id))
        mine = trail_head.c.organization == "local"
        book.connection.execute(sa.update(trail_head).where(mine).values(sequence=4, hash=entries[3].hash))
    assert [fault.what for fault in proof_of(full_file).broken] == ["was published as a head and is missing"]
    with full_file.records.writing() as book:
        book.connection.execute(sa.text("DELETE FROM notice"))
    assert proof_of(full_file).broken == ()
    assert [fault.sequence for fault in proof_of(full_file, old).broken] == [5]


def test_a_deletion_that_the_trail_tells_of_leaves_the_proof_whole(full):
    with full.records.writing() as book:
        last = list(book.trail.entries("local"))[-1].object_id
        at = full.now().isoformat(timespec="seconds")
        book.trail.append("local", at, "retention", DELETED, "interpretation", last)
        book.connection.execute(sa.text("DELETE FROM review_reason"))
        book.connection.execute(sa.text("DELETE FROM review"))
        book.connection.execute(sa.delete(interpretation).where(interpretation.c.id == last))
    assert proof_of(full).broken == ()
    assert verdict(lines_of(full, answers=True)) == []


def test_an_export_is_proved_by_our_code_and_by_the_script(full, tmp_path):
    data, file = lines_of(full, answers=True), tmp_path / "trail.ndjson"
    assert (prove_export(data.splitlines(keepends=True)).records, verdict(data)) == (5, [])
    file.write_bytes(data)
    done = subprocess.run([sys.executable, "-I", SCRIPT, file], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "all is as it was written\n")
    file.write_bytes(data[:-1])
    assert subprocess.run([sys.executable, "-I", SCRIPT, file], capture_output=True).returncode == 1


def test_an_export_may_begin_where_the_last_one_ended(full):
    data = lines_of(full, after=3)
    assert [json.loads(line)["sequence"] for line in data.splitlines()] == [4, 5, 5]
    assert verdict(data) == []
    assert prove_export(data.splitlines(keepends=True)).broken == ()


@pytest.mark.parametrize("cut", [0, 1, 3, -1])
def test_a_line_that_is_missing_is_missed(full, cut):
    lines = lines_of(full, answers=False).splitlines(keepends=True)
    del lines[cut]
    broken = prove_export(lines).broken
    assert bool(broken) == bool(verdict(b"".join(lines))) == (cut != 0)


def test_a_published_head_shows_a_trail_that_was_written_anew(full):
    lines = lines_of(full).splitlines(keepends=True)
    other = Head("local", 3, "f" * 64)
    assert [fault.sequence for fault in prove_export(lines, [other]).broken] == [3]
    assert verdict(b"".join(lines), [(3, "f" * 64)]) != []
    assert verdict(b"".join(lines), [(9, "f" * 64)]) != []


def test_heads_are_told_once_a_day(full):
    told = publish_heads(full)
    assert [head.organization for head in told] == ["juniper-bench", "local"]
    assert publish_heads(full) == []
    tomorrow = replace(full, now=lambda: full.now() + timedelta(days=1))
    assert publish_heads(tomorrow) == told
    with full.records.reading() as reading:
        notices = reading.trail.notices("local", 0, 10, "trail.head")
    assert json.loads(notices[0].detail) == {"sequence": told[1].sequence, "hash": told[1].hash}


def test_only_an_administrator_reads_it_and_only_the_own_chain(full):
    stranger = OPEN_CALLER._replace(organization="juniper-bench", kind="county_office")
    assert [entry.object_id for entry in page(stranger, full, 0, 10)] == ["s-0", "s-1", "s-2"]
    with pytest.raises(ProblemError):
        page(stranger._replace(roles=frozenset(("agent", "reviewer"))), full, 0, 10)
    with pytest.raises(ProblemError):
        export(stranger._replace(roles=frozenset(("agent",))), full)


def test_the_command_proves_a_database_and_an_export(make_sqlite_office, tmp_path, capsys):
    office = make_sqlite_office()
    issue(OPEN_CALLER, sent(LAWN), office)
    url = str(office.records.engine.url)
    assert main(["verify-trail", "--database", url, "--publish"]) == 0
    said = capsys.readouterr().out
    assert "1 rows, 1 interpretations: all is as it was written" in said
    head = said.split()[1]
    file = tmp_path / "trail.ndjson"
    file.write_bytes(lines_of(office, answers=True))
    assert main(["verify-trail", str(file), "--head", head]) == 0
    assert main(["verify-trail", str(file), "--head", f"local:1:{'0' * 64}"]) == 1
    unguard(office.records)
    with office.records.writing() as book:
        book.connection.execute(sa.update(interpretation).values(answer=b"{}"))
    capsys.readouterr()
    assert main(["verify-trail", "--database", url]) == 1
    assert "local, row 1: the answer of interpretation" in capsys.readouterr().out
    with office.records.reading() as reading:
        assert len(reading.trail.notices("local", 0, 10, "trail.head")) == 1


def test_nothing_is_said_to_be_proved_where_nothing_can_be_read(tmp_path, capsys):
    assert main(["verify-trail", str(tmp_path / "none.ndjson")]) == 1
    assert main(["verify-trail", "--database", f"sqlite:///{tmp_path / 'none.db'}"]) == 1
    assert "nothing was proved" in capsys.readouterr().err
