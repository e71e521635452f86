"""Calling reports back: everything that used a value, a rule, a row, a table, a batch; withdrawing, issuing anew.

A recall first only lists. `hold` shows its reports as withdrawn, `reissue` interprets each with the tables of today,
`lift` lets those stand that were withdrawn for nothing.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from math import inf
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.agronomy.errors import AgronomyError
from service.agronomy.measure import Layer, measure
from service.agronomy.submission import Result
from service.agronomy.tables import Library
from service.agronomy.vocabulary import Entry, Vocabulary
from service.contract.json_body import read_json
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.submission import load_submission
from service.desk.callers import Caller
from service.desk.drafting import Circumstances, draft, issue_of
from service.desk.intake import Received
from service.desk.keeping import Owner, Ties, keep
from service.desk.keys import folded
from service.desk.office import SAFETY, Office
from service.desk.release import gate_of, group_of
from service.desk.sample_states import follow
from service.desk.times import utc
from service.store.recalls import HELD, LIFTED, LISTED, REISSUED, Called, Recall, Search
from service.store.records import Record, Sight
from service.store.store import Book

RECALLED, RESTORED = "interpretation.recalled", "interpretation.restored"
MADE = "recall.made"
WORDS = {
    "rule": "rule:",
    "caution": "caution:",
    "check": "check:",
    "formula": "formula:",
    "source": "source:",
    "crop": "crop:",
    "row": "row:",
}
Span = tuple[float, float]
"""Both ends of what a figure may be; equal for a plain one."""
ANYWHERE = Layer("", None, None, False)
MOST_AT_ONCE = 200
"""Reports issued anew in one request; the answer says how many are left."""


class Criteria(NamedTuple):
    """What the form of a recall asks for, checked; ``value`` is analyte, method, low, high, unit."""

    words: dict[str, str]
    table: tuple[str, str | None] | None = None
    laboratory: str | None = None
    lab_numbers: tuple[str, ...] = ()
    first_day: str | None = None
    last_day: str | None = None
    county: str | None = None
    value: dict[str, Any] | None = None


class Shown(NamedTuple):
    """A recall and how many of its reports stand where: by organization, outcome and state."""

    recall: Recall
    counts: list[tuple[str, str, str, int]]


class Redone(NamedTuple):
    """What a round of issuing anew did: reports replaced, those that today's tables cannot read, and the rest."""

    reissued: int
    failed: tuple[str, ...]
    left: int


def make(caller: Caller, office: Office, reason: str, criteria: Criteria) -> Shown:
    """Find and list every report that the criteria name, within the caller's sight. Raises ProblemError 422."""
    serials = list(_found(caller, office, criteria))
    now = utc(office.now())
    asked = orjson.dumps({name: value for name, value in criteria._asdict().items() if value}).decode()
    made = Recall(str(uuid4()), caller.organization, now, caller.actor, reason, asked, len(serials))
    with office.records.writing() as book:
        book.recalls.add(made, serials)
        _note(book, caller, made, MADE, len(serials), now)
        return Shown(made, book.recalls.counts(made.id))


def _found(caller: Caller, office: Office, criteria: Criteria) -> Iterator[int]:
    with office.records.reading() as reading:
        groups: list[tuple[str, ...]] = [(f"{WORDS[kind]}{word}",) for kind, word in criteria.words.items()]
        if criteria.table is not None:
            id, edition = criteria.table  # noqa: A001
            groups.append((f"table:{id}@{edition}",) if edition else tuple(reading.recalls.words(f"table:{id}@")))
        if criteria.laboratory is not None:
            groups.append((f"laboratory:{folded(criteria.laboratory)}",))
        search = Search(
            tuple(groups),
            criteria.first_day,
            criteria.last_day,
            None if caller.sees_all else caller.organization,
            criteria.county,
            criteria.lab_numbers,
        )
        if criteria.value is None:
            yield from (serial for serial, _ in reading.recalls.search(search))
            return
        figure = _Figure(office.library(office.now().date()), criteria.value)
        search = search._replace(groups=(*search.groups, tuple(figure.words(reading.recalls.words))))
        found = reading.recalls.search(search, submissions=True)
        yield from (serial for serial, body in found if figure.stands_in(body))


class _Figure:
    """A range of one analyte, by one method or by any, in the unit given or each method's own."""

    def __init__(self, library: Library, asked: dict[str, Any]) -> None:
        self.vocabulary = library.index(Vocabulary.of)
        named = self.vocabulary.soil(asked["analyte"], asked.get("method"))
        if named is None:
            raise invalid([FieldError("/value/analyte", "unknown_word", "there is no such analyte", "an analyte")])
        self.analyte, self.method = named.canonical, asked.get("method")
        entries = self.vocabulary.entries.items()
        same = [key for key, entry in entries if entry.canonical == self.analyte]
        self.limits = {key: limits for key in same if (limits := self._limits(asked, key[1]))}
        if not self.limits:
            raise invalid(
                [FieldError("/value/unit", "unit_does_not_fit", "the unit does not fit", "the method's unit")]
            )

    def _limits(self, asked: dict[str, Any], method: str | None) -> Span | None:
        """Both ends as the method has them, in the form asked for: NO3 is not NO3-N. None: the unit does not fit."""
        entry = self.vocabulary.soil(asked["analyte"], method)
        if entry is None:
            return None
        unit = asked.get("unit") or (entry.spec.unit if entry.spec else None)
        ends = []
        for name, none in (("low", -inf), ("high", inf)):
            figure = asked.get(name)
            read = (none, none) if figure is None else self._read(entry, figure, unit)
            if read is None:
                return None
            ends.append(read[0])
        return ends[0], ends[1]

    def words(self, known: Callable[[str], list[str]]) -> list[str]:
        """The words of the usage index that reports with such a result have."""
        return [f"value:{self.analyte}:{self.method}"] if self.method else known(f"value:{self.analyte}:")

    def stands_in(self, body: bytes) -> bool:
        """Whether a submission has a result in the range; a censored one counts where it may lie in it."""
        return any(self._within(sent) for sent in orjson.loads(body).get("results") or ())

    def _within(self, sent: dict[str, Any]) -> bool:
        key = (str(sent.get("analyte")), sent.get("method"))
        limits, entry = self.limits.get(key), self.vocabulary.entries.get(key)
        if limits is None or entry is None or self.method not in (None, key[1]):
            return False
        figure = self._read(entry, sent.get("value"), sent.get("unit"), sent.get("qualifier"))
        return figure is not None and figure[0] <= limits[1] and figure[1] >= limits[0]

    def _read(self, entry: Entry, value: Any, unit: str | None, qualifier: str | None = None) -> Span | None:
        if not isinstance(value, (int, float)) or isinstance(value, bool):
            return None
        given = Result(entry.canonical, entry.method, value, unit, qualifier)
        measured, doubt = measure(entry, self.vocabulary.units, given, 0, ANYWHERE)
        unread = doubt is not None and doubt.reason.code.startswith("unit")
        return None if unread else (measured.low, measured.high)


def find(caller: Caller, office: Office, id: str) -> Shown:  # noqa: A002
    """One recall in sight. Raises ProblemError 404, the same for an unknown and a foreign id."""
    with office.records.reading() as reading:
        found = reading.recalls.find(id)
        if found is None or not (caller.sees_all or found.organization == caller.organization):
            raise ProblemError(Problem("not-found", "There is no recall of this id."))
        return Shown(found, reading.recalls.counts(id))


def listed(caller: Caller, office: Office, before: tuple[str, str] | None, limit: int) -> list[Recall]:
    """Recalls in sight, newest first."""
    with office.records.reading() as reading:
        return reading.recalls.page(None if caller.sees_all else caller.organization, before, limit)


def items(caller: Caller, office: Office, id: str, after: int, limit: int) -> list[Called]:  # noqa: A002
    """Reports of a recall, oldest first. Raises ProblemError 404."""
    find(caller, office, id)
    with office.records.reading() as reading:
        return reading.recalls.items(id, after, limit)


def hold(caller: Caller, office: Office, id: str) -> Shown:  # noqa: A002
    """Withdraw every listed report that still stands, and tell whose it is. Raises ProblemError 404."""
    return _move_all(caller, office, id, LISTED, HELD, RECALLED)


def lift(caller: Caller, office: Office, id: str) -> Shown:  # noqa: A002
    """Let the withdrawn reports stand again. Raises ProblemError 404."""
    return _move_all(caller, office, id, HELD, LIFTED, RESTORED)


def _move_all(caller: Caller, office: Office, id: str, before: str, after: str, kind: str) -> Shown:  # noqa: A002
    found, now = find(caller, office, id).recall, utc(office.now())
    with office.records.writing() as book:
        standing = [
            item for item in book.recalls.items(id, 0, None, before) if not item.replaced_by and not item.voided
        ]
        book.recalls.move(id, (item.id for item in standing), after)
        book.recalls.tell(((owner, item.id) for item in standing for owner in _owners(item)), now, kind, id)
        _note(book, caller, found, f"recall.{after}", len(standing), now)
        return Shown(found, book.recalls.counts(id))


def _owners(item: Called) -> set[str]:
    return {item.organization, item.laboratory_organization or item.organization}


def _note(book: Book, caller: Caller, recall: Recall, action: str, reports: int, now: str) -> None:
    detail = {"reports": reports, "reason": recall.reason}
    book.trail.append(recall.organization, now, caller.actor, action, "recall", recall.id, "", detail)


def reissue(caller: Caller, office: Office, id: str) -> Redone:  # noqa: A002
    """Interpret withdrawn reports anew with the tables of today, some at a time; the gate decides as for any report.

    Raises ProblemError 404.
    """
    find(caller, office, id)
    with office.records.reading() as reading:
        held = [item for item in reading.recalls.items(id, 0, None, HELD) if not item.replaced_by and not item.voided]
    failed = [item.id for item in held[:MOST_AT_ONCE] if not _again(caller, office, id, item)]
    with office.records.reading() as reading:
        states = Counter[str]()
        for _, _, state, count in reading.recalls.counts(id):
            states[state] += count
    return Redone(min(len(held), MOST_AT_ONCE) - len(failed), tuple(failed), states[HELD])


def _again(caller: Caller, office: Office, id: str, item: Called) -> bool:  # noqa: A002
    """One report in place of a withdrawn one; False where today's tables cannot read it any more."""
    record = office.records.find(Sight(item.organization), item.id)
    received = _received(office, record) if record else None
    if record is None or received is None:
        return False
    owner = Owner(record.organization, caller.actor, record.sandbox, record.laboratory_organization)
    whose = caller._replace(organization=owner.organization, sandbox=owner.sandbox)
    gate = gate_of(whose, office, group_of(received.library, received.submission.target.crop))
    conflicts = Circumstances.decoded(record.circumstances).conflicts
    drafted = draft(
        received, office, issue_of(received, office, office.now()), Circumstances(gate.mode, conflicts=conflicts)
    )
    with office.records.writing() as book:
        if book.newest(record.id) != record.id:
            return True
        ties = Ties(record.case_key, None, record.content_sha256, record.id, record.sample)
        issued = keep(book, owner, office, drafted, ties, gate)
        sample = book.samples.find(record.sample) if record.sample else None
        if sample is not None:
            follow(book, sample, issued, caller.actor)
        book.recalls.move(id, (record.id,), REISSUED)
    return True


def _received(office: Office, record: Record) -> Received | None:
    """The stored submission with the tables of today, whatever it had pinned."""
    today = office.now().date()
    library = office.library(today, {SAFETY: office.safety_edition(today)})
    try:
        submission = load_submission(read_json(record.submission), library, today)
    except (ProblemError, AgronomyError):
        return None
    return Received(record.submission, submission, library, today)
