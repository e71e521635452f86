"""Words of reports: numbers of words are right under rollback and between processes."""

import subprocess
import sys

import pytest

from service.store.store import Store


def words(store, serial):
    with store.reading() as reading:
        return reading.usage.words_of(serial)


def test_a_word_of_a_transaction_that_failed_is_not_remembered(store):
    """Its number may go to another word afterwards."""

    def fail():
        with store.writing() as book:
            book.usage.keep(1, ["rule:taken_back"])
            book.usage.keep(2, ["rule:taken_back", "rule:too"])
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with store.writing() as book:
        book.usage.keep(3, ["rule:other"])
        book.usage.keep(4, ["rule:taken_back"])
    assert (words(store, 3), words(store, 4)) == (["rule:other"], ["rule:taken_back"])
    assert words(store, 1) == []


def test_two_stores_agree_on_numbers(store, url):
    other = Store(url)
    for number, each in enumerate((store, other, store, other), 1):
        with each.writing() as book:
            book.usage.keep(number, ["rule:same", f"rule:{number}"])
    other.close()
    assert [words(store, number) for number in range(1, 5)] == [[f"rule:{n}", "rule:same"] for n in range(1, 5)]


def test_processes_that_meet_new_words_at_once_number_each_once(store, url):
    """Four processes, the same hundred words in different order."""
    keep = (
        "import sys, random; from service.store.store import Store\n"
        "store, first = Store(sys.argv[1]), int(sys.argv[2])\n"
        "for n in range(20):\n"
        "    words = [f'rule:{i}' for i in random.sample(range(100), 30)]\n"
        "    with store.writing() as book: book.usage.keep(first + n, words)\n"
        "    print(first + n, *sorted(words))\n"
        "store.close()"
    )
    running = [
        subprocess.Popen([sys.executable, "-c", keep, url, str(start)], stdout=subprocess.PIPE, text=True)
        for start in (1000, 2000, 3000, 4000)
    ]
    lines = [line.split() for process in running for line in process.communicate(timeout=120)[0].splitlines()]
    assert len(lines) == 80
    for serial, *kept in lines:
        assert words(store, int(serial)) == kept


def test_a_word_that_is_too_long_is_cut_alike_when_kept_and_when_asked_for(store):
    with store.writing() as book:
        book.usage.keep(1, ["laboratory:" + "x" * 400])
    assert len(words(store, 1)[0]) == 250


def test_words_of_a_deleted_report_go_with_it(store):
    with store.writing() as book:
        book.usage.keep(1, ["rule:a"])
        book.usage.keep(2, ["rule:a"])
        book.usage.forget(1)
    assert (words(store, 1), words(store, 2)) == ([], ["rule:a"])
