"""Can the figures be believed? Laboratory figures against each other, the way the sample was taken, earlier samples.

Each fault takes out or weakens the analytes it touches, never the whole report; nothing is corrected.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.bench import Bench
from service.agronomy.checks_single import check_duplicates, check_single
from service.agronomy.checks_soil import check_soil
from service.agronomy.checks_solution import check_solutions
from service.agronomy.earlier import check_earlier
from service.agronomy.faults import check_sampling
from service.agronomy.findings import Check, Note, Reason, Word
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.vocabulary import OBSERVED


class Quality(NamedTuple):
    """The checks made, what follows for the outcome, and the results not to be used or to be used with care."""

    checks: tuple[Check, ...]
    reasons: tuple[Reason, ...]
    voids: Mapping[int, Note]
    weakened: Mapping[int, Note]


def check(case: Case) -> Quality:
    """Every check that the submission allows.

    ``voids`` and ``weakened`` are by index of the soil result and hold the door's doubts too. A check that lacks a
    figure says ``not_possible`` only when the rest of it was given. When nothing usable is left the reason is a
    ``refuse``.
    """
    bench = Bench(case)
    check_sampling(bench)
    if case.weakened:
        check_single(bench)
    if case.voids:
        check_duplicates(bench)
    check_solutions(bench)
    check_soil(bench)
    check_earlier(bench)
    _doubt_when_all_is_below(bench)
    _set_observations_apart(bench)
    _refuse_when_nothing_is_left(bench)
    return Quality(tuple(bench.checks), tuple(bench.reasons), bench.voids, bench.weakened)


def _set_observations_apart(bench: Bench) -> None:
    """Home kits and probes are read for what they are worth, never as a basis; beside a laboratory figure they rest."""
    for measurement in bench.case.soil:
        if measurement.method not in OBSERVED or measurement.index in bench.voids:
            continue
        values = {"analyte": Word("analyte", measurement.analyte)}
        bench.void((measurement,), f"{measurement.method}", values)
        measured = bench.case.by_analyte.get(measurement.analyte, ())
        beside = any(m.method not in OBSERVED and m.index not in bench.voids for m in measured)
        bench.reason(f"{measurement.method}_observed", "info" if beside else "withhold", measurement.analyte, values)


def _doubt_when_all_is_below(bench: Bench) -> None:
    """Every figure but the pH below the laboratory's limit: more likely a lost extract than such a soil."""
    figures = [m for m in bench.case.soil if m.text is None and m.analyte != "pH"]
    least = reference_of(bench.case.library).factor("below_detection_least")
    if len(figures) >= least.value and all(m.reported.qualifier == "<" for m in figures):
        bench.reason("all_below_detection", "withhold", None, {"count": len(figures)})


def _refuse_when_nothing_is_left(bench: Bench) -> None:
    """A report of which every soil figure was taken out here says nothing about the soil."""
    case = bench.case
    if case.water or case.layers or not any(reason.severity == "withhold" for reason in bench.reasons):
        return
    lost = [m for m in case.soil if m.index in bench.voids]
    if len(lost) == len(case.soil) and any(m.method not in OBSERVED and m.index not in case.voids for m in lost):
        bench.reason("nothing_usable", "refuse", None, {})
