"""Proving the trail: every chain from its first row, every stored interpretation against its row.

An export is proved from its bytes alone; tests/trail/verify_export.py does the same without this code.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from service.desk.trail import DELETED, HEAD, ISSUED
from service.store.areas import Areas
from service.store.records import sealed
from service.store.trail import START, Entry, Head, canonical, hash_of


class Broken(NamedTuple):
    """Something that is not as it was written."""

    organization: str
    sequence: int
    what: str


class Proof(NamedTuple):
    """What was looked at, and what is wrong with it."""

    rows: int
    records: int
    heads: tuple[Head, ...]
    broken: tuple[Broken, ...]


def prove_database(reading: Areas, known: Iterable[Head] = ()) -> Proof:
    """All chains of a database, the heads as published (``known`` from outside), and every stored interpretation."""
    outside = list(known)
    broken: list[Broken] = []
    rows, heads, seals = 0, list[Head](), Seals()
    ends = {head.organization: head for head in reading.trail.heads()}
    for organization in sorted({*reading.trail.organizations(), *ends, *(head.organization for head in outside)}):
        told = [head for head in outside if head.organization == organization]
        chain = Chain(organization, (*published(reading, organization), *told))
        for entry in reading.trail.entries(organization):
            broken += chain.take(entry)
            seals.note(entry)
            rows += 1
        broken += chain.close(ends.get(organization))
        heads.append(chain.last)
    records = 0
    for record in reading.trail.sealed_records():
        records += 1
        broken += seals.compare(record)
    return Proof(rows, records, tuple(heads), (*broken, *seals.left()))


def published(reading: Areas, organization: str) -> list[Head]:
    """Heads that were told outside so far, as the notices have them."""
    found, after = list[Head](), 0
    while notices := reading.trail.notices(organization, after, 500, HEAD):
        for notice in notices:
            told = _object(notice.detail)
            found.append(Head(organization, told.get("sequence", 0), told.get("hash", "")))
        after = notices[-1].serial
    return found


class Chain:
    """One chain, taken row by row."""

    def __init__(self, organization: str, known: Iterable[Head] = (), start: Head | None = None) -> None:
        self.last = start or Head(organization, 0, START)
        self._known: dict[int, set[str]] = {}
        for head in known:
            self._known.setdefault(head.sequence, set()).add(head.hash)

    def take(self, entry: Entry) -> Iterator[Broken]:
        """What is wrong with the next row."""
        before, organization = self.last, self.last.organization
        self.last = Head(organization, entry.sequence, entry.hash)
        if entry.organization != organization:
            yield Broken(organization, entry.sequence, "stands in another organization's chain")
        if entry.sequence != before.sequence + 1:
            yield Broken(organization, entry.sequence, f"follows {before.sequence}: rows are missing or out of order")
        if entry.previous != before.hash:
            yield Broken(organization, entry.sequence, "does not continue the row before it")
        if entry.hash != hash_of(entry._asdict()):
            yield Broken(organization, entry.sequence, "was changed: its hash is another")
        if self._known.pop(entry.sequence, set()) - {entry.hash}:
            yield Broken(organization, entry.sequence, "is not the row whose hash was published")

    def close(self, head: Head | None) -> Iterator[Broken]:
        """What is wrong with the end: rows removed from it, or a head that was changed."""
        if head != self.last:
            yield Broken(self.last.organization, self.last.sequence, "is the last row, but the head is another")
        for sequence in self._known:
            yield Broken(self.last.organization, sequence, "was published as a head and is missing")


class Seals:
    """What the trail says of every interpretation, against what is stored."""

    def __init__(self) -> None:
        self._issued: dict[str, tuple[str, int, str, str]] = {}

    def note(self, entry: Entry) -> None:
        """Remember what a row seals, until it says that the record was deleted."""
        if entry.action == ISSUED:
            seal = str(_object(entry.detail).get("record_sha256"))
            self._issued[entry.object_id] = (entry.organization, entry.sequence, entry.content_sha256, seal)
        elif entry.action == DELETED:
            self._issued.pop(entry.object_id, None)

    def compare(self, record: Mapping[str, Any]) -> Iterator[Broken]:
        """What is wrong with one stored interpretation."""
        said = self._issued.pop(record["id"], None)
        if said is None:
            yield Broken(str(record["organization"]), 0, f"interpretation {record['id']} is not in the trail")
            return
        organization, sequence, content, seal = said
        if hashlib.sha256(record["answer"]).hexdigest() != content:
            yield Broken(organization, sequence, f"the answer of interpretation {record['id']} was changed")
        elif sealed(record) != seal:
            yield Broken(organization, sequence, f"the record of interpretation {record['id']} was changed")

    def left(self) -> Iterator[Broken]:
        """Interpretations that the trail knows and nobody has."""
        for name, (organization, sequence, *_) in self._issued.items():
            yield Broken(organization, sequence, f"interpretation {name} is missing")


def _object(text: str) -> dict[str, Any]:
    """A stored JSON object; nothing where somebody spoiled it, which its hash tells anyway."""
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def prove_export(lines: Iterable[bytes], known: Iterable[Head] = ()) -> Proof:
    """An export: rows, answers behind the rows that issued them, the head last. Every byte of it counts."""
    export = _Export(list(known))
    for number, line in enumerate(lines, 1):
        export.take(number, line)
    return export.close()


class _Export:
    def __init__(self, known: list[Head]) -> None:
        self.known = known
        self.chain: Chain | None = None
        self.row: Entry | None = None
        self.head: Head | None = None
        self.rows = self.records = 0
        self.broken: list[Broken] = []

    def take(self, number: int, line: bytes) -> None:
        """One line."""
        found = _line(line)
        if self.head is not None or not (self._row(found) or self._answer(found) or self._head(found)):
            self.broken.append(Broken("", 0, f"line {number} is not as it was written"))

    def _row(self, found: dict[str, Any]) -> bool:
        if found.keys() != set(Entry._fields):
            return False
        self.row = Entry(**found)
        if self.chain is None:
            self.chain = Chain(self.row.organization, self.known, self._start(self.row))
        self.broken += self.chain.take(self.row)
        self.rows += 1
        return True

    @staticmethod
    def _start(first: Entry) -> Head | None:
        """An export may begin later than the chain; then its first row says what came before."""
        if first.sequence.__class__ is not int or first.sequence <= 1:
            return None
        return Head(first.organization, first.sequence - 1, first.previous)

    def _answer(self, found: dict[str, Any]) -> bool:
        if found.keys() != {"answer"} or self.row is None or self.row.action != ISSUED:
            return False
        self.records += 1
        if hashlib.sha256(str(found["answer"]).encode()).hexdigest() != self.row.content_sha256:
            what = f"the answer of interpretation {self.row.object_id} was changed"
            self.broken.append(Broken(self.row.organization, self.row.sequence, what))
        self.row = None
        return True

    def _head(self, found: dict[str, Any]) -> bool:
        if found.keys() != set(Head._fields):
            return False
        self.head = Head(**found)
        chain = self.chain or Chain(self.head.organization, self.known)
        self.broken += chain.close(self.head)
        return True

    def close(self) -> Proof:
        """The proof, once every line was taken."""
        if self.head is None:
            self.broken.append(Broken("", 0, "the export was cut short: its last line, the head, is missing"))
        return Proof(self.rows, self.records, (self.head,) if self.head else (), tuple(self.broken))


def _line(line: bytes) -> dict[str, Any]:
    """The object of a line that is written exactly as we write it, else nothing."""
    try:
        text = line.decode()
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) and f"{canonical(found)}\n" == text else {}
