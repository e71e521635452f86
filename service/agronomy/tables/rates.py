"""Rows that rate a result and dose a nutrient: classes, rates, schedules, credits, organic inputs, materials."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.agronomy.tables.row import Row


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
    ``when``: condition word (``calcareous``, ``poor_growth``, ``overseeded`` ...); the row applies only if known true.
    ``use_table``/``use_group`` point to a shared amounts table, as in `Band`.
    """

    calibration: str
    group: str = ""
    nutrient: str
    stages: tuple[str, ...] = ()
    maintenance: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    when: str = ""
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
class MaterialRow(Row):
    """A generic material: analysis, salt index, acidity, density, form, use. Percentages by mass; blank: not stated.

    ``form``: dry, solution, gas, bulk. ``use``: spread, dissolve, inject, foliar. ``sold``: home, farm, both.
    ``properties``: words that the rows of ``material-rules`` select by, such as ``chloride``, ``urea``, ``manure``.
    ``slow_N_pct``: share of the N that is released slowly; a product's own label goes before it.
    ``density_range_pct``: how far a measured volume is off its mass either way, by packing and moisture.
    ``limits``: ids of the rows of ``application-limits`` that cap the material itself.
    ``national_list``: allowed, restricted, prohibited, not_listed, unknown under 7 CFR part 205, for soil use, with the
    place and a mark of its own. The other ``*_verification`` are marks of one figure where ``verification`` is the
    weakest of all; a blank one means that there is no such figure.
    ``cautions``: words of the messages ``material.caution.<word>``.
    """

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
    analysis_verification: str = ""
    release: str = ""
    slow_N_pct: float | None = None
    slow_N_verification: str = ""
    salt_index: float | None = None
    salt_index_verification: str = ""
    acidity_lb_CaCO3_per_100_lb: float | None = None
    acidity_verification: str = ""
    chloride: bool | None = None
    solubility_g_per_100_mL: float | None = None
    bulk_density_kg_L: float | None = None
    density_range_pct: float | None = None
    density_verification: str = ""
    form: str = ""
    use: tuple[str, ...] = ()
    sold: str = ""
    properties: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    national_list: str = ""
    national_list_place: str = ""
    national_list_verification: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialRuleRow(Row):
    """One rule on which materials may be used, and how. The figures and conditions are data; Python only compares.

    When it holds: every word of ``when`` is known to be true (blank: always). With ``limit`` the figure that the first
    word stands for must be at least ``limit`` (``saline`` ECe dS/m, ``sodic`` SAR, ``alkaline`` pH, ``slope`` %); a
    figure nobody sent never makes a rule hold. Words: saline, sodic, alkaline, limy, not_limy, chloride_sensitive,
    sandy, slope, near_water, organic_only, home, farm, container, edible, p_none_needed, hot_season, seedling, lawn,
    sheep, paving.

    What it is about: a material that fits every filled column, and in a column any of its words: ``material`` ids,
    ``category``, ``property`` (of ``MaterialRow.properties``), ``supplies`` (nutrients it holds), ``form``, ``sold``,
    ``national_list``, ``salt_index_from`` (a published salt index of at least this; none published never fits).
    ``nutrient``: the rule only counts where the material is chosen for this need (blank: for any).

    What follows (``action``): ``exclude`` it may not be used; ``water_in`` at least ``value`` inches of water in one go
    soon after; ``slow_share`` at least the share ``value`` (0-1) of all N is released slowly (about the plan, no
    columns filled); ``prefer`` for the ``nutrient`` before others of its category, where they may be used at all;
    ``split`` no more than ``value`` of N at once; ``say`` the sentence only; ``apart`` never mixed nor
    chosen beside a material that has one of ``other`` as its id or property.
    No setting of a client lifts a rule. The sentence is ``material.rule.<rule>``.
    """

    rule: str
    when: tuple[str, ...] = ()
    limit: float | None = None
    limit_unit: str = ""
    material: tuple[str, ...] = ()
    category: tuple[str, ...] = ()
    property: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()
    form: tuple[str, ...] = ()
    sold: tuple[str, ...] = ()
    national_list: tuple[str, ...] = ()
    salt_index_from: float | None = None
    nutrient: str = ""
    action: str
    value: float | None = None
    value_unit: str = ""
    other: tuple[str, ...] = ()
