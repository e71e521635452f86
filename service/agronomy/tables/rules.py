"""Rows of the rules: formulas, working figures, caps, safety levels, cautions, faults, release."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from service.agronomy.tables.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaRow(Row):
    """One equation: what it says, its symbols and units, where it holds, its published coefficients."""

    formula: str
    topic: str
    expression: str
    symbols: str = ""
    valid_range: str = ""
    accuracy: str = ""
    coefficients: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorRow(Row):
    """A single named figure that a rule needs (a convention, a default, a working line), with its unit."""

    factor: str
    value: float
    unit: str
    meaning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow(Row):
    """A cap on one dose or on a year's total. The check cannot be switched off; only its figure is data.

    ``subject``: N, S, gypsum, B ... ``uses``: kinds or groups of target it holds for (blank: all).
    ``per``: application, year, once. ``hard``: an amount above it becomes a hold, never a recommendation.
    ``when`` is a condition word the core knows (``heat``, ``sand``, ``slope``, ``saline``, ``seed_row`` ...).
    """

    limit: str
    subject: str
    uses: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    when: str = ""
    per: str
    maximum: float
    unit: str
    hard: bool = False
    action: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyLevelRow(Row):
    """A dated level of a regulated figure. ``region`` is blank for federal, else an ISO code.

    ``caution`` is the code of the caution it triggers, ``outcome`` is blank or ``hold``.
    ``replaced_on``: the day a newer row took over; such a row is only named for comparison.
    """

    level: str
    analyte: str
    matrix: str
    methods: tuple[str, ...]
    operator: str
    value: float
    upper: float | None = None
    unit: str
    region: str = ""
    when: str = ""
    in_force_from: date
    replaced_on: date | None = None
    severity: str
    caution: str
    consult: tuple[str, ...] = ()
    outcome: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionRow(Row):
    """A caution of the house: trigger word known to the core, severity, whom to consult."""

    caution: str
    subject: str
    trigger: str
    value: float | None = None
    upper: float | None = None
    unit: str = ""
    severity: str
    consult: tuple[str, ...] = ()
    do_not: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow(Row):
    """A fault of sampling or handling.

    ``effect``: void (not rated), provisional (rated, no rate rests on it), weaken (rated with a caution), note.

    ``trigger`` is ``field:word`` of the submission (``container:galvanized``) or a rule word the core knows.
    """

    fault: str
    trigger: str
    value: float | None = None
    unit: str = ""
    analytes: tuple[str, ...]
    direction: str = ""
    effect: str
    ask: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLimitRow(Row):
    """One tolerance of one check of laboratory figures."""

    check: str
    limit: str
    value: float
    unit: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlwaysPersonRow(Row):
    """A case no rule may release unread, with the limit at which it begins."""

    rule: str
    subject: str
    operator: str = ""
    value: float | None = None
    unit: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseRuleRow(Row):
    """One reason code of the release decision: its severity, who owns it and what a reader looks at."""

    code: str
    severity: str
    owner_en: str
    owner_es: str
    to_do_en: str = ""
    to_do_es: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingRow(Row):
    """How one guide samples one use for one purpose.

    ``main``: the guide that a plan follows; each use has one. ``read_in_print``: which of depth, cores, area and amount
    the source prints; the rest is common practice, whatever the row's mark. ``area_max_acres`` is blank where one
    sample serves one uniform area of any size.
    """

    use: str
    purpose: str
    main: bool = False
    depth_from_in: float
    depth_to_in: float
    cores_low: int
    cores_high: int
    area_max_acres: float | None = None
    amount_cups: float | None = None
    read_in_print: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RetentionRow(Row):
    """How many years one kind of record is kept, counted from ``since``, in words."""

    kind: str
    years: float
    since: str
