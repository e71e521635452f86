"""Class tables as strips of ground on a numeric axis: geometry here, markup in ``bands.html``.

A strip is as wide as its column; everything on it stands at a share of that width, so text keeps its size on a phone.
A word is written into its class only where it fits; the list below the strip says every class in words.
"""

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

NARROW, WIDE = 320.0, 880.0
"""Widths in px that the words and figures must fit: a strip on a phone, and one on a desk."""
LETTER = 6.9
"""Usual width of a letter of a strip, px."""
ROOM = 1.22
"""How far the axis goes on beyond the last limit, for the class without an upper end."""
STRETCH_FROM = 12.0
"""Largest limit over smallest from which narrow low classes would vanish on an even axis."""
EDGE = 1.5
"""Margin left and right of the axis, %."""
ROWS = 2
"""Rows of figures below a strip."""
type_of_number = Callable[[float], str]


class Span(NamedTuple):
    """One class to be drawn: its colour class, its word, its ends (``None`` is open)."""

    tone: str
    word: str
    lower: float | None
    upper: float | None


class Part(NamedTuple):
    """One class as drawn, in % of the width. ``fits``: always, wide, never."""

    tone: str
    word: str
    x: str
    width: str
    middle: str
    fits: str


class Tick(NamedTuple):
    """A limit and its figure. ``row`` below the strip; ``fits`` as in `Part`."""

    x: str
    text: str
    row: int
    fits: str


class Strip(NamedTuple):
    """What ``bands.html`` draws."""

    parts: tuple[Part, ...]
    ticks: tuple[Tick, ...]

    @property
    def second_row(self) -> bool:
        """Whether any figure stands in the second row."""
        return any(tick.row for tick in self.ticks)


class Axis(NamedTuple):
    """From ``low`` to ``high``; ``stretched`` runs with the square root, so that low classes can be seen."""

    low: float
    high: float
    stretched: bool = False

    def at(self, value: float) -> float:
        """Place of a value, % of the width."""
        share = min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)
        return EDGE + (100 - 2 * EDGE) * (sqrt(share) if self.stretched else share)


def axis_of(spans: Iterable[Span]) -> Axis:
    """An axis from zero that shows every limit of these classes, shared by tables that can be compared."""
    limits = [limit for span in spans for limit in (span.lower, span.upper) if limit is not None]
    positive = [limit for limit in limits if limit > 0] or [1.0]
    stretched = max(positive) / min(positive) >= STRETCH_FROM
    return Axis(min(0.0, *limits, 0.0), max(positive) * (ROOM**2 if stretched else ROOM), stretched)


def strip(spans: Sequence[Span], axis: Axis, number: type_of_number, gap: str) -> Strip:
    """The classes, lowest first, on an axis. Where the table has no class a part of tone ``gap`` stands."""
    whole = _with_gaps(spans, axis, gap)
    limits = sorted({limit for span in spans for limit in (span.lower, span.upper) if limit is not None})
    return Strip(tuple(_part(span, axis) for span in whole), tuple(_ticks(limits, axis, number)))


def _with_gaps(spans: Sequence[Span], axis: Axis, word: str) -> list[Span]:
    """The classes with the stretches between, before and after them that have none."""
    if not spans:
        return []
    found: list[Span] = []
    if spans[0].lower is not None and spans[0].lower > axis.low:
        found.append(Span("gap", word, None, spans[0].lower))
    for span, following in pairwise(spans):
        found.append(span)
        if span.upper is not None and following.lower is not None and following.lower > span.upper:
            found.append(Span("gap", word, span.upper, following.lower))
    found.append(spans[-1])
    if spans[-1].upper is not None:
        found.append(Span("gap", word, spans[-1].upper, None))
    return found


def _part(span: Span, axis: Axis) -> Part:
    left = axis.at(axis.low if span.lower is None else span.lower)
    right = axis.at(axis.high if span.upper is None else span.upper)
    need = (len(span.word) + 1.6) * LETTER
    share = (right - left) / 100
    fits = "always" if share * NARROW >= need else "wide" if share * WIDE >= need else "never"
    return Part(span.tone, span.word, _pct(left), _pct(right - left), _pct((left + right) / 2), fits)


def _ticks(limits: Iterable[float], axis: Axis, number: type_of_number) -> Iterable[Tick]:
    """Figures that would run into each other go to a second row, or are left to wide strips, or to the list."""
    ends = {width: [0.0] * ROWS for width in (NARROW, WIDE)}
    for limit in limits:
        text, x = number(limit), axis.at(limit)
        fits, place = "never", 0
        for width, name in ((WIDE, "wide"), (NARROW, "always")):
            half = (len(text) + 0.8) * LETTER / 2
            free = [row for row in range(ROWS) if ends[width][row] <= x / 100 * width - half]
            if name == "wide" and free:
                fits, place = name, free[0]
            elif fits == "wide" and place in free:
                fits = name
            else:
                continue
            ends[width][place] = x / 100 * width + half
        yield Tick(_pct(x), text, place, fits)


def _pct(share: float) -> str:
    return f"{share:.1f}%"
