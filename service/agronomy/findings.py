"""What the core answers: codes, values, steps and citations, never sentences.

Small values are named tuples because hundreds of them are made for one interpretation.
Rates and amounts are in the units the client asked for, rounded once, at the end.
"""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from service.agronomy.notes import NOTHING as NOTHING
from service.agronomy.notes import Note as Note
from service.agronomy.notes import Step as Step
from service.agronomy.notes import Values as Values
from service.agronomy.notes import Word as Word
from service.agronomy.submission import Quantity


class Reason(NamedTuple):
    """Why the outcome is what it is. Severity: info, warning, withhold, hold, refuse."""

    code: str
    severity: str
    analyte: str | None = None
    values: Values = NOTHING
    ask: Note | None = None
    pointer: str | None = None


class EditionRef(NamedTuple):
    """One edition of one table, crops included."""

    id: str
    edition: str
    sha256: str


class Borderline(NamedTuple):
    """The neighbouring class and the chance that the true value lies in it (0-1)."""

    other_rating: str
    probability: float


class BandRef(NamedTuple):
    """The class a value fell in. ``None`` is an open end."""

    lower: float | None
    upper: float | None
    unit: str
    rule: str


class Rival(NamedTuple):
    """What another publisher's table says of the same value."""

    calibration: str
    rating: str
    table: EditionRef
    sources: tuple[str, ...]


@dataclass(slots=True)
class Finding:
    """What one result means: a rating by one named table, or why it cannot be rated."""

    analyte: str
    method: str | None
    reported: Quantity | str | None
    qualifier: str | None
    understood: Quantity | str | None
    rating: str | None
    status: str
    why: Note
    rating_in_source: str | None = None
    band: BandRef | None = None
    borderline: Borderline | None = None
    calibration: str | None = None
    table: EditionRef | None = None
    sources: tuple[str, ...] = ()
    verification: str | None = None
    rivals: tuple[Rival, ...] = ()
    index: int | None = None
    depth: tuple[float, float] | None = None


class EceEstimate(NamedTuple):
    """Electrical conductivity of the saturation extract, dS/m, measured or estimated with a range."""

    value: float
    estimated: bool
    low: float
    high: float
    how: str


class Alternative(NamedTuple):
    """A crop that would do better at this ECe.

    Where only salt ratings are published (most turf) there is no yield, and ``rating`` says what the crop stands.
    """

    crop: str
    relative_yield_pct: float | None
    rating: str | None = None


class Leaching(NamedTuple):
    """Water to leach with, its depth in the client's units, and the conditions that come first."""

    kind: str
    depth: Quantity
    volume: Quantity | None
    fraction: float | None
    conditions: tuple[Note, ...]


@dataclass(slots=True)
class Salinity:
    """Salts: ECe, its class and what it costs the target."""

    ece: EceEstimate | None
    salinity_class: str
    relative_yield_pct: float | None = None
    relative_yield_range: tuple[float, float] | None = None
    leaching: Leaching | None = None
    alternatives: tuple[Alternative, ...] = ()
    notes: tuple[Note, ...] = ()
    steps: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None


class Esp(NamedTuple):
    """Exchangeable sodium percentage and how it was had: ``measured``, ``from_SAR``, ``from_exchangeable``."""

    value: float
    how: str


@dataclass(slots=True)
class Sodium:
    """Sodium hazard and, when it is safe to say, the gypsum it takes."""

    sar: float | None
    esp: Esp | None
    sodium_class: str
    soil_class: str
    sar_adjusted: float | None = None
    gypsum: "Recommendation | None" = None
    notes: tuple[Note, ...] = ()
    steps: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None


@dataclass(slots=True)
class Texture:
    """Texture class, where it came from and what goes with it."""

    texture_class: str
    group: str
    how: str
    sand_pct: float | None = None
    silt_pct: float | None = None
    clay_pct: float | None = None
    near: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None


@dataclass(slots=True)
class Water:
    """Irrigation water: one hazard row per problem."""

    hazards: tuple["WaterHazard", ...]
    sar: float | None = None
    sar_adjusted: float | None = None
    rsc_meq_L: float | None = None
    notes: tuple[Note, ...] = ()
    steps: tuple[Step, ...] = ()


class WaterHazard(NamedTuple):
    """One problem of irrigation water. ``restriction``: none, slight_to_moderate, severe."""

    problem: str
    restriction: str
    value: Quantity
    sources: tuple[str, ...]
    verification: str


class Application(NamedTuple):
    """One dose: when, how much, the limit it keeps, and what goes with it (water)."""

    when: Note
    rate: Quantity
    limit: Note | None = None
    from_date: date | None = None
    to_date: date | None = None
    how: tuple[Note, ...] = ()


@dataclass(slots=True)
class Recommendation:
    """Something to do, or firmly not to do.

    ``kind``: nutrient, amendment, water, practice, none_needed, do_not, not_suited.
    ``base_rate`` is the rate in the canonical unit of its dimension (g/m2, g/tree, mm), unrounded; it never leaves
    the core and lets caps and the decision compare without converting back.
    ``reason`` says why nothing could be said although it was asked for; it belongs to the outcome's reasons.
    ``base_doses``: the same for each of the applications, before they were rounded for people.
    ``in_full``: the sentence itself belongs on the lay page, because the figures alone would mislead (wait; part of
    the season is over).
    """

    kind: str
    subject: str
    text: Note
    rate: Quantity | None = None
    for_area: Quantity | None = None
    applications: tuple[Application, ...] = ()
    because: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None
    calibration: str | None = None
    table: EditionRef | None = None
    base_rate: float | None = None
    reason: Reason | None = None
    in_full: bool = False
    base_doses: tuple[float, ...] = ()


class MaterialDose(NamedTuple):
    """One dose of a material: when, how much for the whole ground (or one tree), and per area."""

    when: Note
    amount: Quantity | None
    rate: Quantity
    household: Note | None = None
    from_date: date | None = None
    to_date: date | None = None


@dataclass(frozen=True, slots=True)
class Bags:
    """What to buy, in bags of one size, and what is left over."""

    count: int
    size: Quantity
    left_over: Quantity


@dataclass(slots=True)
class MaterialUse:
    """A material that brings what a recommendation asks for, weighed out for this ground.

    Attributes:
        subject: the recommendation it serves first; ``serves`` are all of them.
        material: id of the table ``materials``, or the client's own id of a product.
        name: what people call it. grade: as on the bag, such as ``21-0-0-24S``.
        amount: for the whole area; for one tree; per area where no area was sent.
        rate: all doses together, per area or per tree.
        supplies: what it brings of ``subject``, per area or per tree.
        also_supplies: everything it brings beside ``subject``, per area or per tree.
        base_rate: ``rate`` in g/m2 or g/tree, unrounded; it never leaves the core.
        how: what to mind in spreading it. why: why this one.
    """

    subject: str
    material: str
    name: Word | str
    grade: str
    amount: Quantity
    rate: Quantity
    why: Note
    serves: tuple[str, ...] = ()
    per_application: tuple[MaterialDose, ...] = ()
    household: Note | None = None
    also_supplies: tuple[tuple[str, Quantity], ...] = ()
    bags: Bags | None = None
    how: tuple[Note, ...] = ()
    because: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None
    base_rate: float | None = None
    supplies: Quantity | None = None


class SupplyNote(NamedTuple):
    """What there is to say of the choice of materials as a whole. Kind: short, nearest, left_out, advice."""

    kind: str
    text: Note
    materials: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None


class Caution(NamedTuple):
    """A safety or damage warning. Severity: notice, caution, warning, danger."""

    code: str
    severity: str
    values: Values
    consult: tuple[str, ...]
    sources: tuple[str, ...]
    verification: str


class NotAssessed(NamedTuple):
    """A subject nobody can judge from what was sent, and what to order."""

    subject: str
    why: Note
    ask: Note


class Check(NamedTuple):
    """One check of the laboratory's figures. Status: pass, warn, fail, not_possible."""

    check: str
    status: str
    figures: Values
    message: Note


@dataclass(slots=True)
class Summary:
    """The lay page in codes: one verdict, three to five actions in order, what not to do, when to retest."""

    verdict: Note
    actions: tuple[Note, ...]
    do_not: tuple[Note, ...]
    retest: str | None
    contact: Note


class Edited(NamedTuple):
    """What a person changed: the rate of the draft and the rate that goes out, None for no amount; and why."""

    subject: str
    was: Quantity | None
    now: Quantity | None
    reason: str


@dataclass(slots=True)
class Interpretation:
    """The whole answer to one submission, before numbering, storing and wording.

    ``by_rules`` is the outcome of the rules alone, whoever read the case and whatever stands against its release.
    """

    outcome: str
    reasons: tuple[Reason, ...]
    summary: Summary | None
    findings: tuple[Finding, ...]
    salinity: Salinity | None
    sodium: Sodium | None
    texture: Texture | None
    water: Water | None
    recommendations: tuple[Recommendation, ...]
    cautions: tuple[Caution, ...]
    not_assessed: tuple[NotAssessed, ...]
    quality_checks: tuple[Check, ...]
    editions: tuple[EditionRef, ...]
    sources: tuple[str, ...]
    crop: str | None
    as_of: date
    edited: tuple[Edited, ...] = ()
    by_rules: str = "released"
    materials: tuple[MaterialUse, ...] = ()
    supply: tuple[SupplyNote, ...] = ()
