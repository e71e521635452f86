"""Class tables made ready for a page: one strip for each publisher, rivals for the same test on the same axis."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.agronomy.tables import Band, Row
from service.pages.bands import Axis, Span, Strip, axis_of, strip
from service.render.words import Words


class Warrant(NamedTuple):
    """How far a row can be trusted: its sources, the place in them, the mark, a note."""

    sources: tuple[str, ...]
    place: str
    verification: str
    note: str


class Line(NamedTuple):
    """One class in words: colour class, our word, its range, the publisher's word where it is another."""

    tone: str
    word: str
    range: str
    in_source: str


class Drawing(NamedTuple):
    """One publisher's classes for one group of crops. ``first``: used unless region or choice says otherwise."""

    calibration: str
    name: str
    group: str
    first: bool
    strip: Strip
    lines: tuple[Line, ...]
    warrants: tuple[Warrant, ...]


class Test(NamedTuple):
    """One analyte by methods whose figures can be compared, in one unit."""

    methods: str
    unit: str
    stretched: bool
    drawings: tuple[Drawing, ...]


class Subject(NamedTuple):
    """All tests of one analyte."""

    analyte: str
    name: str
    tests: tuple[Test, ...]


class _Rungs(NamedTuple):
    calibration: str
    group: str
    bands: tuple[Band, ...]
    methods: tuple[str, ...]
    first: bool


def subjects(bands: Iterable[Band], order: Sequence[str] | None, words: Words) -> tuple[Subject, ...]:
    """The classes of a crop by analyte and test; in each the first calibration of ``order`` is the one that judges.

    With ``order`` None the bands are those of a shared table, whose groups of crops are kept apart.
    """
    found: dict[str, dict[tuple[tuple[str, ...], str], list[_Rungs]]] = {}
    for rungs in _alike(_grouped(bands, order)):
        top = rungs.bands[0]
        found.setdefault(top.analyte, {}).setdefault((rungs.methods, top.unit), []).append(rungs)
    return tuple(
        Subject(
            analyte, words.word("analyte", analyte), tuple(_test(*key, rungs, words) for key, rungs in tests.items())
        )
        for analyte, tests in found.items()
    )


def _grouped(bands: Iterable[Band], order: Sequence[str] | None) -> list[_Rungs]:
    """One entry per calibration, group, analyte and method, preferred calibrations first."""
    ladders: dict[tuple[str, ...], list[Band]] = {}
    for band in bands:
        group = band.group if order is None else ""
        ladders.setdefault((band.analyte, band.method, band.calibration, group, band.unit), []).append(band)
    rank = {name: place for place, name in enumerate(order or ())}
    keys = sorted(ladders, key=lambda key: rank.get(key[2], len(rank)))
    leaders: dict[tuple[str, ...], str] = {}
    for key in keys:
        leaders.setdefault(key[:2], key[2])
    return [_rungs(key, ladders[key], order is not None and leaders[key[:2]] == key[2]) for key in keys]


def _rungs(key: tuple[str, ...], bands: Iterable[Band], first: bool) -> _Rungs:
    return _Rungs(key[2], key[3], _sorted(bands), (key[1],), first)


def _sorted(bands: Iterable[Band]) -> tuple[Band, ...]:
    """From the lowest class upwards; an open lower end comes first."""
    return tuple(sorted(bands, key=lambda band: float("-inf") if band.lower is None else band.lower))


def _alike(ladders: Iterable[_Rungs]) -> list[_Rungs]:
    """Classes that a publisher uses for several methods alike are drawn once."""
    found: dict[object, _Rungs] = {}
    for rungs in ladders:
        top = rungs.bands[0]
        same = (rungs.calibration, rungs.group, top.analyte, top.unit, rungs.first)
        key = (
            *same,
            tuple((band.rating, band.rating_in_source, *_limits(band), warrant(band)) for band in rungs.bands),
        )
        known = found.get(key)
        found[key] = known._replace(methods=(*known.methods, *rungs.methods)) if known else rungs
    return list(found.values())


def _test(methods: tuple[str, ...], unit: str, ladders: Sequence[_Rungs], words: Words) -> Test:
    axis = axis_of(span for rungs in ladders for span in _spans(rungs.bands, words))
    named = words.listing(tuple(words.word("method", method) for method in methods))
    return Test(named, words.unit(unit), axis.stretched, tuple(_drawing(rungs, axis, words) for rungs in ladders))


def _drawing(rungs: _Rungs, axis: Axis, words: Words) -> Drawing:
    return Drawing(
        rungs.calibration,
        said(words, "calibration", rungs.calibration),
        rungs.group.replace("_", " "),
        rungs.first,
        strip(_spans(rungs.bands, words), axis, words.number, words.text("page.library.gap")),
        tuple(_line(band, words) for band in rungs.bands),
        warrants(rungs.bands),
    )


def _spans(bands: Iterable[Band], words: Words) -> list[Span]:
    return [Span(band.rating, words.word("rating", band.rating), band.lower, band.upper) for band in bands]


def _line(band: Band, words: Words) -> Line:
    word = words.word("rating", band.rating)
    own = band.rating_in_source
    return Line(
        band.rating,
        word,
        range_text(words, *_limits(band)),
        "" if own in (word, band.rating.replace("_", " ")) else own,
    )


def _limits(band: Band) -> tuple[float | None, float | None, bool, bool]:
    return band.lower, band.upper, band.lower_inclusive, band.upper_inclusive


def range_text(
    words: Words, lower: float | None, upper: float | None, with_lower: bool = True, with_upper: bool = False
) -> str:
    """A range in words, saying which side a limit belongs to."""
    low = "" if lower is None else "from" if with_lower else "above"
    high = "" if upper is None else "upto" if with_upper else "below"
    code = "_".join(part for part in (low, high) if part)
    return words.text(f"page.library.range.{code or 'any'}", {"lower": lower, "upper": upper})


def warrant(row: Row) -> Warrant:
    """What a row rests on."""
    return Warrant(row.sources, row.place, row.verification, row.note)


def warrants(rows: Iterable[Row]) -> tuple[Warrant, ...]:
    """What rows rest on, each said once."""
    return tuple(dict.fromkeys(warrant(row) for row in rows))


def said(words: Words, kind: str, word: str) -> str:
    """A word of a list; a word that nobody translated (from a folder of one's own) as it stands."""
    return words.word(kind, word) if words.has(f"word.{kind}.{word}") else word.replace("_", " ")
