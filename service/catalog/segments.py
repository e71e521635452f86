"""Two ladders of classes laid over each other: which figures fall in another class."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from service.agronomy.tables import Band, ClassRow
from service.agronomy.units import SCALE, scaled

LOWEST, HIGHEST = -(2**62), 2**62
Class = Band | ClassRow


class Segment(NamedTuple):
    """Figures from ``low`` up to ``high`` (open ends None; equal ends: that figure alone), and their two classes."""

    low: float | None
    high: float | None
    before: str | None
    after: str | None


class _Step(NamedTuple):
    first: int
    last: int
    word: str


def differing(before: Iterable[Class], after: Iterable[Class]) -> Iterator[Segment]:
    """The stretches whose class is another one, from the lowest upwards, neighbours with the same change joined."""
    old, new = [_step(row) for row in before if _limited(row)], [_step(row) for row in after if _limited(row)]
    ends = {LOWEST, HIGHEST} | {end for step in (*old, *new) for end in (step.first, step.last + 1)}
    run: list[tuple[int, int, str | None, str | None]] = []
    for first, beyond in pairwise(sorted(end for end in ends if LOWEST <= end <= HIGHEST)):
        one, other = _word_at(old, first), _word_at(new, first)
        if run and run[-1][1:] == (first, one, other):
            run[-1] = (run[-1][0], beyond, one, other)
        else:
            run.append((first, beyond, one, other))
    yield from (_segment(*part) for part in run if part[2] != part[3])


def _limited(row: Class) -> bool:
    return row.lower is not None or row.upper is not None


def _step(row: Class) -> _Step:
    """First and last whole millionth of a class."""
    first = LOWEST if row.lower is None else scaled(row.lower) + (not row.lower_inclusive)
    last = HIGHEST - 1 if row.upper is None else scaled(row.upper) - (not row.upper_inclusive)
    return _Step(first, last, row.rating if isinstance(row, Band) else row.name)


def _word_at(steps: Sequence[_Step], value: int) -> str | None:
    return next((step.word for step in steps if step.first <= value <= step.last), None)


def _segment(first: int, beyond: int, before: str | None, after: str | None) -> Segment:
    """Limits as printed: a limit that belongs to the class below shows as the same figure."""
    low = None if first == LOWEST else first // 10 * 10 / SCALE
    high = None if beyond == HIGHEST else (first if beyond == first + 1 else beyond // 10 * 10) / SCALE
    return Segment(low, high, before, after)
