"""A report beside others: earlier samples of the same place, and its neighbours in a batch."""

from collections.abc import Sequence
from typing import NamedTuple

from service.agronomy.bench import Bench
from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.findings import Note, Word
from service.agronomy.measure import Layer, measure
from service.agronomy.sample import Measurement
from service.agronomy.submission import Earlier, Result
from service.agronomy.units import scaled

SEASONAL = frozenset(
    ("NO3-N", "NH4-N", "EC", "Cl", "Na", "SO4", "SO4-S", "HCO3", "CO3", "TDS", "SAR", "moisture", "SP")
)
"""Analytes that water, season and fertilizer move within weeks: a change says nothing about a swapped sample."""
SAME_DEPTH_IN = 0.5
"""Layers whose ends differ by less than this, inches, are compared. A tolerance of sampling by hand."""
SWAPPED_FROM = 2
"""Steady analytes that must differ before a swapped sample is suspected: one alone may be the ground's own doing."""


def check_earlier(bench: Bench) -> None:
    """Every steady analyte against the latest earlier sample by the same method and depth."""
    if not bench.case.submission.earlier:
        return
    relative, pH_points = bench.limit("delta", "relative"), bench.limit("delta", "pH")
    differing = []
    for found in sorted(bench.case.submission.earlier, key=lambda e: e.taken_on, reverse=True)[:1]:
        before = _read(bench, found)
        for now in bench.case.soil:
            old = before.get((now.analyte, now.method))
            if old is None or old.value is None or now.value is None or now.index in bench.voids:
                continue
            change = abs(now.value - old.value)
            allowed = pH_points if now.analyte == "pH" else relative * max(abs(now.value), abs(old.value))
            figures = {
                "analyte": Word("analyte", now.analyte),
                "before": old.value,
                "now": now.value,
                "taken_on": found.taken_on,
            }
            good = scaled(change) <= scaled(allowed)
            bench.compare("delta", good, figures)
            if not good:
                differing.append(now.analyte)
        if len(differing) >= SWAPPED_FROM:
            values = {"analytes": tuple(Word("analyte", name) for name in differing), "taken_on": found.taken_on}
            bench.reason("differs_from_earlier", "warning", None, values)


def _read(bench: Bench, earlier: Earlier) -> dict[tuple[str, str], Measurement]:
    """The comparable results of an earlier sample: same layer, not seasonal, convertible, possible."""
    found: dict[tuple[str, str], Measurement] = {}
    for index, result in enumerate(earlier.results):
        entry = bench.vocabulary.soil(result.analyte, result.method)
        if entry is None or entry.canonical in SEASONAL or not _same_layer(bench, earlier, result):
            continue
        measured, doubt = measure(entry, bench.vocabulary.units, result, index, Layer("", None, None, False))
        if doubt is None or doubt.usable:
            found.setdefault((measured.analyte, measured.method), measured)
    return found


def _same_layer(bench: Bench, earlier: Earlier, result: Result) -> bool:
    depth = result.depth or earlier.depth
    main = bench.case.depth_in
    if depth is None or main is None:
        return depth is None and main is None
    try:
        ends = [bench.vocabulary.units.convert(x, depth.unit, "in") for x in (depth.top, depth.bottom)]
    except (UnknownUnit, UnitMismatch):
        return False
    return abs(ends[0] - main[0]) < SAME_DEPTH_IN and abs(ends[1] - main[1]) < SAME_DEPTH_IN


class SlippedRows(NamedTuple):
    """Rows ``first`` to ``last`` (positions) whose reported figures belong ``shift`` rows away."""

    first: int
    last: int
    shift: int
    message: Note


def neighbours(
    expected: Sequence[float | None], reported: Sequence[float | None], relative: float, least: int
) -> tuple[SlippedRows, ...]:
    """Runs of a batch whose reported column slipped by one row against what the same rows lead one to expect.

    Args:
        expected: per row in laboratory order, a figure worked out from other columns (SAR from its cations, ten times
            the EC for the sum of cations) or known from an earlier sample.
        reported: the column under suspicion, same rows.
        relative: relative difference up to which two figures agree.
        least: rows in a row that must fit shifted and misfit in place before it is called a slip.

    Returns one entry for each run; nothing where rows agree in place, are missing, or agree both ways.
    """
    found: list[SlippedRows] = []
    for shift in (-1, 1):
        run: list[int] = []
        for row in range(len(expected) + 1):
            if row < len(expected) and _slipped(expected, reported, row, shift, relative):
                run.append(row)
                continue
            if len(run) >= least:
                values = {"first": run[0] + 1, "last": run[-1] + 1, "shift": shift}
                found.append(SlippedRows(run[0], run[-1], shift, Note("check.neighbours.fail", values)))
            run = []
    return tuple(sorted(found))


def _slipped(
    expected: Sequence[float | None], reported: Sequence[float | None], row: int, shift: int, relative: float
) -> bool:
    """Whether the figure that belongs to this row stands in the shifted row instead."""
    there = row + shift
    if not 0 <= there < len(reported):
        return False
    wanted, here, away = expected[row], reported[row], reported[there]
    if wanted is None or here is None or away is None:
        return False
    return not _agree(wanted, here, relative) and _agree(wanted, away, relative)


def _agree(one: float, other: float, relative: float) -> bool:
    return scaled(abs(one - other)) <= scaled(relative * max(abs(one), abs(other)))
