"""Faults of sampling and handling: what spoils which analytes, from the table ``sample-faults``.

A row's trigger is ``field:word`` of the submission (``container:galvanized``) or one of the rules below. ``void`` takes
the named analytes out, ``provisional`` rates them and lets no rate of a nutrient rest on them, ``weaken`` keeps them
with a caution, ``note`` only says so.
"""

from collections.abc import Callable, Mapping
from datetime import date

from service.agronomy.bench import Bench
from service.agronomy.errors import TableError
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import FaultRow, Library
from service.agronomy.units import scaled

ALL = "all"
LAWN = "lawn"
SEVERITY = {"void": "withhold", "provisional": "withhold", "weaken": "warning", "note": "info"}
PROVISIONAL = "provisional"
NO = frozenset(("no", "none", "false", ""))
"""Answers to an observation that deny it."""

type_of_rule = Callable[[Case, FaultRow], bool]


def _cores_below(case: Case, row: FaultRow) -> bool:
    cores = case.submission.sample.cores
    return cores is not None and row.value is not None and cores < row.value


def _fertilized_within(case: Case, row: FaultRow) -> bool:
    days = case.submission.sample.fertilized_within_days
    return days is not None and row.value is not None and days <= row.value


def _amended_within(case: Case, row: FaultRow) -> bool:
    """An application of the material in the days before the sample was taken, whatever its amount."""
    taken = case.submission.sample.taken_on or case.as_of
    _, _, word = row.trigger.partition(":")
    return any(
        _recent(taken, amended.on, row.value)
        for amended in case.submission.site.amended
        if amended.material == word or amended.material.endswith(f"_{word}")
    )


def _recent(taken: date, on: date | None, days: float | None) -> bool:
    return on is not None and days is not None and 0 <= (taken - on).days <= days


def _days_kept(case: Case, row: FaultRow, handlings: tuple[str, ...]) -> bool:
    sample = case.submission.sample
    if sample.handling not in handlings or sample.taken_on is None or sample.received_on is None:
        return False
    return row.value is not None and (sample.received_on - sample.taken_on).days > row.value


def _days_refrigerated(case: Case, row: FaultRow) -> bool:
    return _days_kept(case, row, ("refrigerated",))


def _days_moist(case: Case, row: FaultRow) -> bool:
    return _days_kept(case, row, ("moist_cool", "moist_warm"))


def _lawn_depth_over(case: Case, row: FaultRow) -> bool:
    """Deeper than lawn tables are made for, and deeper than this lawn's own tables ask (a new one is dug deeper)."""
    crop, depth = case.crop, case.depth_in
    if crop is None or crop.kind != LAWN or depth is None or row.value is None:
        return False
    return scaled(depth[1]) > scaled(max(row.value, crop.depth_in[1]))


def _depth_bottom_below(case: Case, row: FaultRow) -> bool:
    depth = case.depth_in
    return depth is not None and row.value is not None and scaled(depth[1]) < scaled(row.value)


def _depth_missing(case: Case, _: FaultRow) -> bool:
    return case.depth_in is None


def _gravel_over(case: Case, row: FaultRow) -> bool:
    gravel = case.find("gravel")
    return gravel is not None and row.value is not None and scaled(gravel.low) > scaled(row.value)


RULES: Mapping[str, type_of_rule] = {
    "cores_below": _cores_below,
    "fertilized_within": _fertilized_within,
    "days_refrigerated": _days_refrigerated,
    "days_moist": _days_moist,
    "lawn_depth_over": _lawn_depth_over,
    "depth_bottom_below": _depth_bottom_below,
    "depth_missing": _depth_missing,
    "gravel_over": _gravel_over,
}
WORDS = ("container", "tool", "handling", "material")


class Faults:
    """The table, prepared once: ``library.index(Faults.of)``."""

    __slots__ = ("amended", "by_word", "observed", "provisional", "ruled")

    def __init__(
        self,
        amended: list[FaultRow],
        by_word: Mapping[str, list[FaultRow]],
        observed: Mapping[str, list[FaultRow]],
        ruled: list[tuple[FaultRow, type_of_rule]],
        provisional: frozenset[str],
    ) -> None:
        self.amended = amended
        self.provisional = provisional
        self.by_word = by_word
        self.observed = observed
        self.ruled = ruled

    @classmethod
    def of(cls, library: Library) -> "Faults":
        """Prepare ``sample-faults``. Raises TableError for a trigger nobody knows."""
        amended: list[FaultRow] = []
        by_word: dict[str, list[FaultRow]] = {}
        observed: dict[str, list[FaultRow]] = {}
        ruled: list[tuple[FaultRow, type_of_rule]] = []
        rows = library.rows("sample-faults", FaultRow)
        for row in rows:
            name, _, word = row.trigger.partition(":")
            if name in (*WORDS, "mixed_areas"):
                by_word.setdefault(row.trigger, []).append(row)
            elif name == "observations":
                observed.setdefault(word, []).append(row)
            elif name == "amended_within":
                amended.append(row)
            elif name in RULES:
                ruled.append((row, RULES[name]))
            else:
                raise TableError(f"sample-faults line {row.line}: nobody knows the trigger {row.trigger}")
        provisional = frozenset(f"weak.{row.fault}" for row in rows if row.effect == PROVISIONAL)
        return cls(amended, by_word, observed, ruled, provisional)


def check_sampling(bench: Bench) -> None:
    """Apply every fault that the submission tells of to the analytes it touches."""
    faults = bench.case.library.index(Faults.of)
    found = [*_stated(bench.case, faults), *_observed(bench.case, faults)]
    if bench.case.submission.site.amended:
        found += [row for row in faults.amended if _amended_within(bench.case, row)]
    found += [row for row, rule in faults.ruled if rule(bench.case, row)]
    for row in found:
        _apply(bench, row)


def _stated(case: Case, faults: Faults) -> list[FaultRow]:
    """Faults that a word of the sample names."""
    sample = case.submission.sample
    said = (sample.container, sample.tool, sample.handling, sample.material)
    found: list[FaultRow] = []
    for field, word in zip(WORDS, said, strict=True):
        if word is not None:
            found += faults.by_word.get(f"{field}:{word}", ())
    if sample.mixed_areas:
        found += faults.by_word.get("mixed_areas:true", ())
    return found


def _observed(case: Case, faults: Faults) -> list[FaultRow]:
    """Faults that an observation tells of."""
    answers = case.submission.site.observations
    return [row for name, answer in answers.items() if answer not in NO for row in faults.observed.get(name, ())]


def _apply(bench: Bench, row: FaultRow) -> None:
    """Void or weaken the analytes of the row that were reported; say nothing where none was."""
    touched = _touched(bench.case, row)
    if not touched:
        return
    analytes = tuple(dict.fromkeys(Word("analyte", m.analyte) for m in touched))
    values = {"analytes": analytes}
    if row.effect == "void":
        bench.void(touched, row.fault, values)
    elif row.effect in ("weaken", PROVISIONAL):
        bench.weaken(touched, row.fault, values)
    one = touched[0].analyte if len(analytes) == 1 else None
    ask = Note(f"ask.{row.ask}") if row.ask else None
    bench.reasons.append(Reason(row.fault, SEVERITY[row.effect], one, values, ask))


def _touched(case: Case, row: FaultRow) -> tuple[Measurement, ...]:
    if ALL in row.analytes:
        return case.soil
    return tuple(m for analyte in row.analytes for m in case.by_analyte.get(analyte, ()))
