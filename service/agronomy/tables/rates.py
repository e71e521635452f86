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
