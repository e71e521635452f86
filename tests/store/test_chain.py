"""The chain of the trail: each row holds the hash before it; canonical JSON as in RFC 8785."""

import hashlib
import json
from dataclasses import asdict, replace

import pytest
from test_store import PLAIN, other

from service.store.records import sealed
from service.store.trail import START, TrailBrokenError, canonical, hash_of

AT = "2026-04-20T10:00:00+00:00"


def write(book, number, organization="local"):
    return book.trail.append(organization, AT, "key-1", "sample.status", "sample", f"s-{number}", "", {"n": number})


def test_rows_are_numbered_and_chained_for_each_organization(store):
    with store.writing() as book:
        first, elsewhere, second = write(book, 1), write(book, 2, "other"), write(book, 3)
    with store.writing() as book:
        third = write(book, 4)
    assert [row.sequence for row in (first, second, third)] == [1, 2, 3]
    assert (first.previous, second.previous, third.previous) == (START, first.hash, second.hash)
    assert (elsewhere.sequence, elsewhere.previous) == (1, START)
    with store.reading() as reading:
        assert list(reading.trail.entries("local", chunk=2)) == [first, second, third]
        assert [tuple(head) for head in reading.trail.heads()] == [
            ("local", 3, third.hash),
            ("other", 1, elsewhere.hash),
        ]
        assert reading.trail.of("sample", "s-3") == [second]


def test_the_hash_is_what_the_manual_says(store):
    """Spelled out: keys sorted, no spaces, UTF-8, every column but the hash."""
    with store.writing() as book:
        row = book.trail.append("local", AT, "señora", "a", "k", "i", "f00", {"b": "ü", "a": [1, True]})
    text = (
        '{"action":"a","actor":"señora","at":"2026-04-20T10:00:00+00:00","content_sha256":"f00",'
        '"detail":"{\\"a\\":[1,true],\\"b\\":\\"ü\\"}","object_id":"i","object_kind":"k","organization":"local",'
        f'"previous":"{"0" * 64}","sequence":1}}'
    )
    assert row.hash == hashlib.sha256(text.encode()).hexdigest() == hash_of(row._asdict())
    assert json.loads(row.detail) == {"a": [1, True], "b": "ü"}


def test_a_failed_transaction_leaves_no_row_and_the_chain_goes_on(store):
    def fail():
        with store.writing() as book:
            write(book, 1)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with store.writing() as book:
        assert write(book, 2).sequence == 1


def test_a_transaction_that_was_partly_taken_back_cannot_fork_the_chain(store):
    def fork():
        with store.writing() as book:
            write(book, 1)
            inner = book.connection.begin_nested()
            write(book, 2)
            inner.rollback()
            write(book, 3)

    with pytest.raises(TrailBrokenError):
        fork()
    with store.reading() as reading:
        assert list(reading.trail.entries("local")) == []


def test_notices_come_in_order_and_by_kind(store):
    with store.writing() as book:
        ids = [book.trail.tell("local", AT, kind, "x", {"n": 1}) for kind in ("trail.head", "sample.status")]
        book.trail.tell("other", AT, "trail.head", "x")
    with store.reading() as reading:
        found = reading.trail.notices("local", 0, 10)
        assert [notice.id for notice in found] == ids
        assert reading.trail.notices("local", found[0].serial, 10) == found[1:]
        assert [notice.kind for notice in reading.trail.notices("local", 0, 10, "sample.status")] == ["sample.status"]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("answer", b'{"replaced_by":0}'),
        ("draft", b"{}"),
        ("county", "x"),
        ("sandbox", True),
        ("outcome", "held"),
        ("replaces", "x"),
        ("sequence", 0),
    ],
)
def test_whatever_changes_of_a_record_breaks_its_seal(name, value):
    assert sealed(asdict(replace(PLAIN, **{name: value}))) != sealed(asdict(PLAIN))


def test_what_became_of_a_record_since_and_columns_of_later_days_leave_its_seal():
    assert sealed({**asdict(replace(PLAIN, replaced_by="x")), "later_column": None, "serial": 7}) == sealed(
        asdict(PLAIN)
    )
    assert sealed(asdict(other(2))) != sealed(asdict(PLAIN))


def test_canonical_text_has_no_choice_left():
    assert canonical({"b": 1, "a": "é\n"}) == '{"a":"é\\n","b":1}'
