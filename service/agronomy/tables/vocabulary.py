"""Rows of the vocabularies: analytes, methods, units, closed word lists, calibrations, where a method is valid."""

from dataclasses import dataclass

from service.agronomy.tables.row import Row


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
class ValidityRow(Row):
    """Where a method may be used: ``verdict`` preferred, accept, caution, reject.

    ``when``: blank or ``calcareous``, ``gypsic``, ``saline``; ``pH_lower``/``pH_upper`` bound the soil pH it is about.
    """

    analyte: str
    method: str
    verdict: str
    pH_lower: float | None = None
    pH_upper: float | None = None
    when: str = ""
    order_instead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictRow(Row):
    """Where publishers disagree, and what follows."""

    conflict: str
    subject: str
    one_side: str
    other_side: str
    consequence: str
