"""The shape of every table: one dataclass per kind of row, and the `Library` that holds them.

The dataclass *is* the schema. A CSV file has exactly the columns of its row class (bookkeeping fields excepted),
and `service.catalog` refuses anything else, naming file, row and column. A blank cell is ``None``.
Every row says where its figures come from and how far they were checked.

Class bounds mean ``lower <= x < upper`` unless the row says otherwise.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar

from service.agronomy.findings import EditionRef

T = TypeVar("T")

VERIFICATION_ORDER = ("read", "computed", "practice", "memory")


def weakest(marks: "tuple[str, ...] | list[str] | set[str]") -> str | None:
    """The weakest of several verification marks (``read`` > ``computed`` > ``practice`` > ``memory``)."""
    known = [VERIFICATION_ORDER.index(mark) for mark in marks if mark]
    return VERIFICATION_ORDER[max(known)] if known else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row carries. ``table`` and ``line`` are filled in by the loader, not by the file."""

    sources: tuple[str, ...]
    place: str = ""
    verification: str
    note: str = ""
    table: EditionRef = EditionRef("", "", "")
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyteRow(Row):
    """An analyte of the vocabulary.

    ``canonical`` is the analyte it is understood as (``NO3`` -> ``NO3-N``, ``P2O5`` -> ``P``), blank for itself.
    ``equivalent_weight_g`` turns meq into mg, ``molar_mass_g`` mmol into mg; blank where that makes no sense.
    ``method_required``: the value means nothing without its method. ``unit_optional``: pH and the like.
    """

    analyte: str
    name_en: str
    name_es: str
    kind: str
    canonical: str | None = None
    factor: float | None = None
    equivalent_weight_g: float | None = None
    molar_mass_g: float | None = None
    method_required: bool = True
    unit_optional: bool = False
    text_words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodRow(Row):
    """One analyte by one method: canonical unit, plausible and possible range, reporting limit, uncertainty.

    ``matrix``: ``soil`` (per mass of soil), ``extract`` (per litre of extract), ``water`` or ``none``.
    ``uncertainty`` is one standard deviation, relative (fraction) or absolute (canonical unit) by ``uncertainty_kind``.
    """

    analyte: str
    method: str
    name_en: str
    name_es: str
    matrix: str
    unit: str
    procedure: str = ""
    reporting_limit: float | None = None
    plausible_min: float | None = None
    plausible_max: float | None = None
    possible_min: float | None = None
    possible_max: float | None = None
    uncertainty_kind: str | None = None
    uncertainty: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRow(Row):
    """One accepted spelling of a unit. ``value in base unit = factor * value + offset``.

    ``dimension`` groups what converts into each other without knowing more: ``mass_fraction`` (mg/kg),
    ``charge_fraction`` (meq/100 g), ``mass_concentration`` (mg/L), ``charge_concentration`` (meq/L),
    ``molar_concentration`` (mmol/L), ``conductivity`` (dS/m), ``percent`` (%), ``ratio`` (1), ``pH``, ``length`` (m),
    ``area`` (m2), ``mass`` (g), ``volume`` (L), ``areal_rate`` (g/m2), ``per_tree`` (g/tree), ``temperature`` (Cel),
    ``parts`` (ppm: mg/kg in soil, mg/L in an extract or water), ``areal_soil`` (lb/acre as a *soil test* unit) ...
    """

    spelling: str
    ucum: str
    dimension: str
    factor: float
    offset: float = 0.0
    name_en: str = ""
    name_es: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WordRow(Row):
    """One word of a closed list (container, tool, stage, symptoms ...), with its label in both languages."""

    list: str
    word: str
    label_en: str
    label_es: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationRow(Row):
    """One publisher's set of tables for a region. ``regions`` are ISO codes such as ``US-UT``; blank: no region."""

    calibration: str
    name_en: str
    name_es: str
    publisher: str
    regions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Band(Row):
    """One class of one rating table.

    ``rating`` is our word, ``rating_in_source`` the publisher's own.
    In a crop's ``sufficiency.csv`` a row with ``use_table`` (and ``use_group``) and blank bounds stands for all rows
    of that shared table with the same analyte and method.
    """

    calibration: str
    group: str = ""
    analyte: str
    method: str
    unit: str = ""
    rating: str = ""
    rating_in_source: str = ""
    lower: float | None = None
    upper: float | None = None
    lower_inclusive: bool = True
    upper_inclusive: bool = False
    use_table: str = ""
    use_group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AmountRow(Row):
    """A rate of one nutrient, by soil test class, stage and upkeep, or by a named equation.

    ``nutrient``: N, P2O5, K2O, S, Zn, Fe, Mn, Cu, B. ``rate_low`` .. ``rate_high`` in ``rate_unit``.
    ``per``: year, season, application, three_years, planting, yield_unit (rate is per unit of ``yield_unit``).
    ``equation`` names a function of the core, ``coefficients`` its published figures.
    ``stages``, ``maintenance``, ``uses`` restrict the row when not blank. ``schedule`` names the timing.
    ``use_table``/``use_group`` point to a shared amounts table, as in `Band`.
    """

    calibration: str
    group: str = ""
    nutrient: str
    stages: tuple[str, ...] = ()
    maintenance: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    basis_analyte: str | None = None
    basis_method: str | None = None
    basis_unit: str = ""
    lower: float | None = None
    upper: float | None = None
    lower_inclusive: bool = True
    upper_inclusive: bool = False
    rate_low: float | None = None
    rate_high: float | None = None
    rate_unit: str = ""
    per: str = ""
    equation: str = ""
    coefficients: Mapping[str, float] = field(default_factory=dict)
    yield_unit: str = ""
    schedule: str = ""
    placement: str = ""
    use_table: str = ""
    use_group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltToleranceRow(Row):
    """Response of one crop to salt: threshold ECe (dS/m), slope (% per dS/m), rating S, MS, MT, T.

    A blank threshold means that only the rating was published.
    """

    crop: str
    scientific_name: str = ""
    basis: str = ""
    threshold_dS_m: float | None = None
    slope_pct_per_dS_m: float | None = None
    rating: str = ""
    survival_limit_dS_m: float | None = None
    alternative: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BoronToleranceRow(Row):
    """Boron in soil water, mg/L, at which growth or yield begins to fall."""

    crop: str
    scientific_name: str = ""
    tolerance_class: str
    threshold_low_mg_L: float | None = None
    threshold_high_mg_L: float | None = None
    slope_pct_per_mg_L: float | None = None
    basis: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChlorideToleranceRow(Row):
    """Chloride in the saturation extract, meq/L, at which yield begins to fall."""

    crop: str
    basis: str = ""
    threshold_meq_L: float | None = None
    slope_pct_per_meq_L: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRow(Row):
    """One class of a one-figure ladder (salinity, sodium, chloride, pH words ...), by ``ladder`` and unit."""

    ladder: str
    name: str
    unit: str
    lower: float | None = None
    upper: float | None = None
    lower_inclusive: bool = True
    upper_inclusive: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DilutionRow(Row):
    """ECe = slope * EC + intercept for one dilution and texture group. ``preferred``: the line the estimate uses."""

    method: str
    texture: str
    slope: float
    intercept_dS_m: float = 0.0
    preferred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterGuidelineRow(Row):
    """Restriction on use of irrigation water for one problem.

    With ``worse`` = ``higher``: none below ``none_limit``, severe above ``severe_limit``; ``lower`` the other way round.
    ``sar_lower``/``sar_upper`` select the infiltration row.
    """

    problem: str
    parameter: str
    unit: str
    worse: str
    none_limit: float | None = None
    severe_limit: float | None = None
    sar_lower: float | None = None
    sar_upper: float | None = None
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeachingRow(Row):
    """Reclamation coefficient k in (C/C0)(dL/dS) = k."""

    solute: str
    water: str
    soil: str
    k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EquivalentRow(Row):
    """Mass of an amendment that does the work of one mass of pure gypsum."""

    amendment: str
    mass_per_mass_gypsum: float
    needs_lime: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LimeRateRow(Row):
    """Lime requirement by buffer pH and target pH, US ton of 100-score lime per acre for ``depth_in`` inches."""

    buffer_method: str
    buffer_pH: float
    target_pH: float
    rate_ton_acre: float
    depth_in: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SulfurRateRow(Row):
    """Elemental sulfur, lb/acre per 6 in of lime-free soil, from ``pH_now`` to ``pH_wanted`` by texture group."""

    pH_now: float
    pH_wanted: float
    texture: str
    rate_lb_acre: float
    depth_in: float


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
    """A fault of sampling or handling. ``effect``: void (not rated), weaken (rated with a caution), note.

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
class ValidityRow(Row):
    """Where a method may be used: ``verdict`` preferred, accept, caution, reject.

    ``when``: blank or ``calcareous``, ``gypsic``, ``saline``; ``pH_lower``/``pH_upper`` bound the soil pH of the verdict.
    """

    analyte: str
    method: str
    verdict: str
    pH_lower: float | None = None
    pH_upper: float | None = None
    when: str = ""
    order_instead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TextureRow(Row):
    """One linear inequality of one alternative of a texture class: sum(coefficient * fraction) operator bound."""

    texture: str
    alternative: int
    sand: float = 0.0
    silt: float = 0.0
    clay: float = 0.0
    operator: str
    bound: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TexturePropertyRow(Row):
    """Working figures for one texture class; ``group`` is coarse, medium or fine."""

    texture: str
    group: str
    saturation_pct_low: float
    saturation_pct_high: float
    available_water_low_in_per_ft: float
    available_water_high_in_per_ft: float
    infiltration_low_in_per_h: float | None = None
    infiltration_high_in_per_h: float | None = None
    bulk_density_low_g_cm3: float
    bulk_density_high_g_cm3: float
    root_limit_low_g_cm3: float | None = None
    root_limit_high_g_cm3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelRow(Row):
    """Texture by feel or jar: the words a gardener answers and the classes they fit."""

    test: str
    answers: tuple[str, ...]
    textures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KTableRow(Row):
    """A printed or recomputed figure of the hydrometer method by temperature (and particle density)."""

    quantity: str
    temperature_C: float
    particle_density_g_cm3: float | None = None
    value: float
    printed: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleRow(Row):
    """One window of a nitrogen (or other) schedule: when, what share, for which zones and stages.

    Dates are month-day in the northern hemisphere; ``when`` is the code of the window's name.
    """

    schedule: str
    order: int
    when: str
    from_month: int
    from_day: int
    to_month: int
    to_day: int
    share: float
    zones: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    condition: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CreditRow(Row):
    """A nitrogen or other credit: legume, manure, compost, organic matter, water. ``when`` is a condition word."""

    credit: str
    subject: str
    when: str = ""
    value: float
    upper: float | None = None
    unit: str
    calibration: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganicRow(Row):
    """One property of manure, compost or another organic material."""

    material: str
    property: str
    value: float
    upper: float | None = None
    unit: str
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
    """One reason code of the release decision: its severity and who owns it."""

    code: str
    severity: str
    owner_en: str
    owner_es: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialRow(Row):
    """A generic material: analysis, salt index, acidity, density. Percentages by mass; blank means not stated."""

    material: str
    name_en: str
    name_es: str
    category: str
    formula: str = ""
    N_pct: float | None = None
    P2O5_pct: float | None = None
    K2O_pct: float | None = None
    S_pct: float | None = None
    Ca_pct: float | None = None
    Mg_pct: float | None = None
    Zn_pct: float | None = None
    Fe_pct: float | None = None
    Mn_pct: float | None = None
    Cu_pct: float | None = None
    B_pct: float | None = None
    release: str = ""
    salt_index: float | None = None
    acidity_lb_CaCO3_per_100_lb: float | None = None
    chloride: bool | None = None
    solubility_g_per_100_mL: float | None = None
    bulk_density_kg_L: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictRow(Row):
    """Where publishers disagree, and what follows."""

    conflict: str
    subject: str
    one_side: str
    other_side: str
    consequence: str


ROW_KINDS: Mapping[str, type[Row]] = {
    "analyte": AnalyteRow,
    "method": MethodRow,
    "unit": UnitRow,
    "word": WordRow,
    "calibration": CalibrationRow,
    "band": Band,
    "amount": AmountRow,
    "salt_tolerance": SaltToleranceRow,
    "boron_tolerance": BoronToleranceRow,
    "chloride_tolerance": ChlorideToleranceRow,
    "class": ClassRow,
    "dilution": DilutionRow,
    "water_guideline": WaterGuidelineRow,
    "leaching": LeachingRow,
    "equivalent": EquivalentRow,
    "lime_rate": LimeRateRow,
    "sulfur_rate": SulfurRateRow,
    "formula": FormulaRow,
    "factor": FactorRow,
    "limit": LimitRow,
    "safety_level": SafetyLevelRow,
    "caution": CautionRow,
    "fault": FaultRow,
    "check_limit": CheckLimitRow,
    "validity": ValidityRow,
    "texture": TextureRow,
    "texture_property": TexturePropertyRow,
    "feel": FeelRow,
    "k_table": KTableRow,
    "schedule": ScheduleRow,
    "credit": CreditRow,
    "organic": OrganicRow,
    "always_person": AlwaysPersonRow,
    "release_rule": ReleaseRuleRow,
    "material": MaterialRow,
    "conflict": ConflictRow,
}


@dataclass(frozen=True, slots=True)
class Source:
    """One cited work. Grade C sources are never cited by the service."""

    id: str
    citation: str
    url: str | None
    grade: str


@dataclass(frozen=True, slots=True)
class CropCaution:
    """A caution that belongs to one crop."""

    code: str
    severity: str
    sources: tuple[str, ...]
    verification: str


@dataclass(frozen=True, slots=True)
class Crop:
    """One target of the library, at one edition, with its pointers already followed.

    ``depth_in`` is the sampling depth (top, bottom) in inches. ``pH_range`` is where it grows without trouble.
    ``traits`` are words the rules know: ``lime_intolerant``, ``iron_inefficient``, ``chloride_sensitive``,
    ``boron_sensitive``, ``legume``, ``edible``, ``leafy``, ``root_crop``, ``perennial``, ``woody``, ``cool_season``,
    ``warm_season``, ``forage`` ...
    ``calibrations`` is the default order of preference; the region of the site may choose another.
    """

    id: str
    edition: EditionRef
    names: Mapping[str, tuple[str, ...]]
    scientific_name: str
    kind: str
    group: str
    depth_in: tuple[float, float]
    pH_range: tuple[float, float] | None
    pH_source: Row | None
    traits: frozenset[str]
    calibrations: tuple[str, ...]
    sufficiency: tuple[Band, ...]
    amounts: tuple[AmountRow, ...]
    salt: SaltToleranceRow | None
    salt_rivals: tuple[SaltToleranceRow, ...]
    boron: BoronToleranceRow | None
    chloride: ChlorideToleranceRow | None
    cautions: tuple[CropCaution, ...]
    alternatives: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class Library:
    """All tables in force on one day, immutable, shared by every request of that day.

    ``index(build)`` gives each module of the core a place to keep what it has prepared from the rows:
    the builder runs once per library and its result is kept.
    """

    __slots__ = ("_indexes", "crops", "editions", "sources", "tables")

    def __init__(
        self,
        tables: Mapping[str, tuple[Row, ...]],
        editions: Mapping[str, EditionRef],
        sources: Mapping[str, Source],
        crops: Mapping[str, Crop],
    ) -> None:
        self.tables = tables
        self.editions = editions
        self.sources = sources
        self.crops = crops
        self._indexes: dict[Callable[["Library"], Any], Any] = {}

    def rows(self, table: str, kind: type[T]) -> tuple[T, ...]:
        """The rows of a shared table, typed. Raises KeyError for a table that was never shipped."""
        return self.tables[table]  # type: ignore[return-value]

    def index(self, build: Callable[["Library"], T]) -> T:
        """What ``build`` makes of this library, built on first use."""
        found = self._indexes.get(build)
        if found is None:
            found = self._indexes[build] = build(self)
        return found  # type: ignore[no-any-return]
