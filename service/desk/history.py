"""Earlier reports of the same place: the same analyte, method and depth, and whether a change is more than noise.

Two results of one method differ by chance alone by up to the reproducibility limit, 1.96 times the root of the sum of
both variances (ISO 5725-6:1994, 4.1.4); the standard deviation is that of the table of methods.
"""

from collections.abc import Iterator
from datetime import date
from math import hypot
from typing import Any, NamedTuple

from service.agronomy.earlier import SAME_DEPTH_IN, SEASONAL
from service.agronomy.errors import AgronomyError
from service.agronomy.measure import Layer, measure
from service.agronomy.sample import Measurement
from service.agronomy.submission import Depth, Result, Submission
from service.agronomy.tables import Library
from service.agronomy.vocabulary import Vocabulary
from service.contract.json_body import read_json
from service.contract.problem import ProblemError
from service.contract.submission import load_submission
from service.desk import records
from service.desk.callers import Caller
from service.desk.office import Office
from service.store.records import Record
from service.store.statistics import Earlier

Z = 1.96
"""Of the normal distribution: two-sided 95 %."""
MOST = 50
"""Earlier reports that are read, the newest ones."""


class Point(NamedTuple):
    """One earlier or present result; ``value`` is None where it is censored, then ``qualifier`` says how."""

    interpretation: str
    number: str
    day: str
    value: float | None
    qualifier: str | None


class Line(NamedTuple):
    """One analyte by one method at one depth over the years, oldest first, and the step to the newest.

    ``change`` is the newest minus the one before; ``noise`` what two results may differ by chance; ``verdict`` is
    noise, rise, fall, or unknown where a value is censored or the method has no known uncertainty. ``seasonal``: water
    and season move it, so that a change says little of the soil.
    """

    analyte: str
    method: str
    unit: str
    depth_in: tuple[float, float] | None
    points: tuple[Point, ...]
    change: float | None
    noise: float | None
    verdict: str
    seasonal: bool


class Read(NamedTuple):
    """One result of one report, ready to be compared."""

    measured: Measurement
    depth_in: tuple[float, float] | None
    point: Point


def history(caller: Caller, office: Office, id: str) -> list[Line]:  # noqa: A002
    """What the results of a report look like beside those of the same place before. Raises ProblemError 404."""
    record = records.find(caller, office, id)
    return history_of(office, record)


def history_of(office: Office, record: Record) -> list[Line]:
    """The same of a record; nothing where the sample names no place."""
    if record.place is None:
        return []
    library = office.library(office.now().date())
    with office.records.reading() as reading:
        kept = reading.statistics.of_place(record.organization, record.place, record.id, MOST)
    found = [(row, _submission(row.submission, library, office.now().date())) for row in kept]
    told = [(row, submission) for row, submission in found if submission is not None]
    told.sort(key=lambda pair: _day(*pair))
    return _lines(told, record.id, library)


def _submission(body: bytes, library: Library, today: date) -> Submission | None:
    try:
        return load_submission(read_json(body), library, today)
    except (ProblemError, AgronomyError):
        return None


def _day(row: Earlier, submission: Submission) -> str:
    taken = submission.sample.taken_on
    return taken.isoformat() if taken else row.issued_on


def _lines(told: list[tuple[Earlier, Submission]], present: str, library: Library) -> list[Line]:
    vocabulary = library.index(Vocabulary.of)
    groups: list[list[Read]] = []
    now = next((pair for pair in told if pair[0].id == present), None)
    if now is None:
        return []
    groups = [[read] for read in _results(*now, vocabulary)]
    for row, submission in reversed(told):
        if row.id == present or _day(row, submission) > _day(*now):
            continue
        for read in _results(row, submission, vocabulary):
            mine = next((group for group in groups if _comparable(group[0], read)), None)
            if mine is not None and read.point.interpretation not in {one.point.interpretation for one in mine}:
                mine.append(read)
    return [_line(list(reversed(group))) for group in groups if len(group) > 1]


def _results(row: Earlier, submission: Submission, vocabulary: Vocabulary) -> Iterator[Read]:
    """Every figure of a report in its canonical unit, but those that cannot be true."""
    for index, result in enumerate(submission.results):
        entry = vocabulary.soil(result.analyte, result.method)
        if entry is None or entry.word_only or result.value is None or result.method == "water_sample":
            continue
        measured, doubt = measure(entry, vocabulary.units, result, index, Layer("", None, None, False))
        if doubt is None or doubt.usable:
            point = Point(row.id, row.number, _day(row, submission), measured.value, result.qualifier)
            yield Read(measured, _inches(result, submission, vocabulary), point)


def _inches(result: Result, submission: Submission, vocabulary: Vocabulary) -> tuple[float, float] | None:
    depth: Depth | None = result.depth or submission.sample.depth
    if depth is None:
        return None
    top, bottom = (vocabulary.units.convert(end, depth.unit, "in") for end in (depth.top, depth.bottom))
    return top, bottom


def _comparable(one: Read, other: Read) -> bool:
    same = (one.measured.analyte, one.measured.method) == (other.measured.analyte, other.measured.method)
    if not same or one.depth_in is None or other.depth_in is None:
        return same and one.depth_in == other.depth_in
    return all(abs(a - b) < SAME_DEPTH_IN for a, b in zip(one.depth_in, other.depth_in, strict=True))


def _line(group: list[Read]) -> Line:
    before, now = group[-2].measured, group[-1].measured
    change, noise, verdict = step(before, now)
    return Line(
        now.analyte,
        now.method,
        now.unit,
        group[-1].depth_in,
        tuple(read.point for read in group),
        change,
        noise,
        verdict,
        now.analyte in SEASONAL,
    )


def step(before: Measurement, now: Measurement) -> tuple[float | None, float | None, str]:
    """Change, noise and verdict between two results of one method, in its canonical unit.

    noise = 1.96 sqrt(u1^2 + u2^2), u one standard deviation of the method (ISO 5725-6:1994, 4.1.4).
    """
    if before.value is None or now.value is None:
        return None, None, "unknown"
    change = now.value - before.value
    if before.spec is None or before.spec.uncertainty is None:
        return change, None, "unknown"
    noise = Z * hypot(before.uncertainty, now.uncertainty)
    if abs(change) <= noise:
        return change, noise, "noise"
    return change, noise, "rise" if change > 0 else "fall"


def shown(line: Line) -> dict[str, Any]:
    """A line as the answer has it."""
    return {**line._asdict(), "points": [point._asdict() for point in line.points]}
