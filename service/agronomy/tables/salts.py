"""Rows about salts, sodium, boron, chloride, lime and acidity."""

from dataclasses import dataclass

from service.agronomy.tables.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltToleranceRow(Row):
    """Response of one crop to salt: threshold ECe (dS/m), slope (% per dS/m), rating S, MS, MT, T.

    A blank threshold means that only the rating was published. ``seedling_tender``: the source says that the seedling
    stands less than the grown plant; ``seedling_limit_dS_m`` is the ECe it stands then, the lower end of a range.
    """

    crop: str
    scientific_name: str = ""
    basis: str = ""
    threshold_dS_m: float | None = None
    slope_pct_per_dS_m: float | None = None
    rating: str = ""
    survival_limit_dS_m: float | None = None
    seedling_limit_dS_m: float | None = None
    seedling_tender: bool = False
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
    """One class of a one-figure ladder (salinity, sodium, chloride, pH words ...), by ``ladder`` and unit.

    ``words``: results reported as a word (acid fizz) that fall in this class.
    """

    ladder: str
    name: str
    unit: str
    lower: float | None = None
    upper: float | None = None
    lower_inclusive: bool = True
    upper_inclusive: bool = False
    words: tuple[str, ...] = ()


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

    With ``worse`` = ``higher``: none below ``none_limit``, severe above ``severe_limit``; ``lower`` reverses it.
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
