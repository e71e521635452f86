"""Units: what a spelling means, what converts into what, and the units the client wants to read.

The unit table gives every accepted spelling its UCUM code, its dimension and its factor to the base unit of that
dimension. Here are only the equations between dimensions, the exact definitions of the customary units and the
atomic masses. Inside the core a rate is g/m2, a dose per tree is g, water is mm, depth is inches, area is m2.
"""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.errors import OutOfRange, UnitMismatch, UnknownUnit
from service.agronomy.submission import Quantity
from service.agronomy.tables import AnalyteRow, Library, MethodRow, UnitRow

SCALE = 1_000_000
BEYOND = 10**300

# Exact by international agreement of 1959 (yard and pound) and by the definition of the US gallon (231 cubic inches).
GRAMS_PER_LB = 453.59237
METRES_PER_FOOT = 0.3048
METRES_PER_INCH = 0.0254
INCHES_PER_FOOT = 12
SQUARE_METRES_PER_1000_FT2 = 1000 * METRES_PER_FOOT**2
SQUARE_METRES_PER_ACRE = 43_560 * METRES_PER_FOOT**2
LITRES_PER_GALLON = 3.785411784
MG_PER_KG_IN_ONE_PERCENT = 10_000.0

ATOMIC_MASS: Mapping[str, float] = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.98976928,
    "Mg": 24.305,
    "Al": 26.9815384,
    "Si": 28.085,
    "P": 30.973762,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.0983,
    "Ca": 40.078,
    "Mn": 54.938043,
    "Fe": 55.845,
    "Cu": 63.546,
    "Zn": 65.38,
    "As": 74.921595,
    "Se": 78.971,
    "Mo": 95.95,
    "Cd": 112.414,
    "Pb": 207.2,
}
"""IUPAC conventional standard atomic weights, g/mol."""

_FRACTIONS = frozenset(("mass_fraction", "charge_fraction", "molar_fraction", "percent"))
_SOLUTIONS = frozenset(("mass_concentration", "charge_concentration", "molar_concentration"))
_AREAL = frozenset(("areal_rate", "areal_soil"))
_BARE = frozenset(("ratio", "pH"))


def scaled(x: float) -> int:
    """A figure as a whole number of millionths: the only way figures are compared with limits.

    A change of unit or a last binary digit can then never move a value across a class limit.
    A quotient too large for a float counts as larger than any limit.
    """
    try:
        return round(x * SCALE)
    except OverflowError:
        return BEYOND if x > 0 else -BEYOND


def significant(x: float, digits: int = 3) -> float:
    """A figure rounded for people to so many significant digits; zero stays zero."""
    return float(f"{x:.{digits}g}")


def difference_pct(one: float, other: float) -> float:
    """Relative difference of two figures, percent of their mean (RPD-USGS); 0 when both are 0."""
    total = abs(one) + abs(other)
    return 200 * abs(one - other) / total if total else 0.0


class Soil(NamedTuple):
    """The layer that an amount per area belongs to: thickness in inches, bulk density in g/cm3."""

    thickness_in: float
    bulk_density: float


class Units:
    """The unit table, prepared once per library: ``library.index(Units.of)``."""

    __slots__ = ("_analytes", "_rows")

    def __init__(self, rows: Mapping[str, UnitRow], analytes: Mapping[str, AnalyteRow]) -> None:
        self._rows = rows
        self._analytes = analytes

    @classmethod
    def of(cls, library: Library) -> "Units":
        """Prepare the tables ``units`` and ``analytes`` of one library."""
        rows: dict[str, UnitRow] = {}
        for row in library.rows("units", UnitRow):
            rows[row.spelling] = row
            rows.setdefault(row.ucum, row)
        return cls(rows, {row.analyte: row for row in library.rows("analytes", AnalyteRow)})

    def known(self, unit: str) -> bool:
        """Whether the table has this spelling."""
        return unit in self._rows

    def dimension(self, unit: str) -> str:
        """The dimension of a spelling. Raises UnknownUnit."""
        return self._row(unit).dimension

    def ucum(self, unit: str) -> str:
        """The UCUM code of a spelling. Raises UnknownUnit."""
        return self._row(unit).ucum

    def convert(self, value: float, unit: str, to: str) -> float:
        """A value in another unit of the same dimension. Raises UnknownUnit, UnitMismatch."""
        if unit == to and unit in self._rows:
            return value
        source, target = self._row(unit), self._row(to)
        if source.dimension != target.dimension:
            raise UnitMismatch(f"{unit} does not convert into {to} without knowing more")
        if source.factor == target.factor and source.offset == target.offset:
            return value
        return (source.factor * value + source.offset - target.offset) / target.factor

    def to_canonical(
        self,
        spec: MethodRow,
        analyte: AnalyteRow,
        value: float,
        unit: str,
        depth_in: tuple[float, float] | None,
        bulk_density: float | None,
    ) -> float:
        """A reported figure in the canonical form and unit of its analyte and method.

        ``analyte`` is the row of the form reported (``NO3``), ``spec`` the row of the canonical one (``NO3-N``).
        A soil result per area (lb/acre) needs the layer and a stated bulk density, g/cm3.
        Raises UnknownUnit, UnitMismatch.
        """
        soil = None
        if spec.matrix == "soil" and self._row(unit).dimension in _AREAL:
            soil = _layer(unit, depth_in, bulk_density)
        return self.express(value, unit, spec.unit, spec.matrix, analyte.analyte, spec.analyte, soil)

    def proportional(self, unit: str, to: str) -> bool:
        """Whether zero stays zero: every unit but the temperatures."""
        return self._row(unit).offset == 0.0 and self._row(to).offset == 0.0

    def areal_unit(self, unit: str) -> bool:
        """Whether a soil result in this unit needs a depth and a bulk density."""
        return self._row(unit).dimension in _AREAL

    def express(
        self,
        value: float,
        unit: str,
        to: str,
        matrix: str,
        analyte: str,
        to_analyte: str,
        soil: Soil | None = None,
    ) -> float:
        """One analyte's figure in another unit and, where asked, another form (NO3 as NO3-N, P as P2O5).

        ``matrix`` says what ppm means: mg/kg in ``soil``, mg/L in ``extract`` and ``water``.
        Raises UnknownUnit, UnitMismatch.
        """
        source, target = self._row(unit), self._row(to)
        form = self.form_factor(analyte, to_analyte)
        if form == 1.0 and source.dimension == target.dimension:
            return self.convert(value, unit, to)
        if source.dimension in _BARE and target.dimension in _BARE:
            return value
        wanted = _resolved(target.dimension, matrix)
        mass = self._as_mass(source.factor * value + source.offset, _resolved(source.dimension, matrix), analyte, soil)
        same_phase = (_phase(source.dimension, matrix), _phase(target.dimension, matrix))
        if mass is None or same_phase[0] != same_phase[1]:
            raise UnitMismatch(f"{unit} does not convert into {to} for {analyte}")
        return self._from_mass(mass * form, wanted, to_analyte, soil, to) / target.factor

    def form_factor(self, analyte: str, to_analyte: str) -> float:
        """Mass of one form per mass of another: 0.2259 for NO3 to NO3-N. Raises UnitMismatch for unrelated forms."""
        if analyte == to_analyte:
            return 1.0
        source, target = self._analytes.get(analyte), self._analytes.get(to_analyte)
        if source is None or target is None:
            raise UnitMismatch(f"{analyte} is not a form of {to_analyte}")
        if (source.canonical or analyte) != (target.canonical or to_analyte):
            raise UnitMismatch(f"{analyte} is not a form of {to_analyte}")
        return _to_parent(source) / _to_parent(target)

    def inches(self, q: Quantity) -> float:
        """A length in inches."""
        return q.value if q.unit == "in" else self._in_base(q, "length") / METRES_PER_INCH

    def feet(self, q: Quantity) -> float:
        """A length in feet."""
        return q.value if q.unit == "ft" else self._in_base(q, "length") / METRES_PER_FOOT

    def square_metres(self, q: Quantity) -> float:
        """An area in m2."""
        return self._in_base(q, "area")

    def areal(self, q: Quantity) -> float:
        """A rate in g/m2."""
        return self._in_base(q, "areal_rate")

    def _in_base(self, q: Quantity, dimension: str) -> float:
        row = self._row(q.unit)
        if row.dimension != dimension:
            raise UnitMismatch(f"{q.unit} is not a unit of {dimension}")
        return row.factor * q.value + row.offset

    def _row(self, unit: str) -> UnitRow:
        row = self._rows.get(unit)
        if row is None:
            raise UnknownUnit(unit)
        return row

    def _as_mass(self, base: float, dimension: str, analyte: str, soil: Soil | None) -> float | None:
        """Any figure as mg/kg of soil or mg/L of solution; None where the dimension has no mass."""
        if dimension in ("mass_fraction", "mass_concentration"):
            return base
        if dimension == "percent":
            return base * MG_PER_KG_IN_ONE_PERCENT
        if dimension == "charge_concentration":
            return base * self._equivalent(analyte)
        if dimension == "charge_fraction":  # meq per 100 g = 10 meq per kg
            return base * self._equivalent(analyte) * 10.0
        if dimension == "molar_concentration":
            return base * self._molar(analyte)
        if dimension in _AREAL and soil is not None:
            return base / _square_metre_mass(soil)
        return None

    def _from_mass(self, mass: float, dimension: str, analyte: str, soil: Soil | None, to: str) -> float:
        if dimension in ("mass_fraction", "mass_concentration"):
            return mass
        if dimension == "percent":
            return mass / MG_PER_KG_IN_ONE_PERCENT
        if dimension == "charge_concentration":
            return mass / self._equivalent(analyte)
        if dimension == "charge_fraction":
            return mass / self._equivalent(analyte) / 10.0
        if dimension == "molar_concentration":
            return mass / self._molar(analyte)
        if dimension in _AREAL and soil is not None:
            return mass * _square_metre_mass(soil)
        raise UnitMismatch(f"{analyte} cannot be expressed in {to}")

    def _equivalent(self, analyte: str) -> float:
        row = self._analytes.get(analyte)
        if row is None or row.equivalent_weight_g is None:
            raise UnitMismatch(f"{analyte} has no equivalent weight")
        return row.equivalent_weight_g

    def _molar(self, analyte: str) -> float:
        row = self._analytes.get(analyte)
        if row is None or row.molar_mass_g is None:
            raise UnitMismatch(f"{analyte} has no molar mass")
        return row.molar_mass_g


def _to_parent(row: AnalyteRow) -> float:
    return 1.0 if row.canonical is None or row.factor is None else row.factor


def _resolved(dimension: str, matrix: str) -> str:
    if dimension == "parts":
        return "mass_fraction" if matrix == "soil" else "mass_concentration"
    return dimension


def _phase(dimension: str, matrix: str) -> str:
    resolved = _resolved(dimension, matrix)
    if resolved in _FRACTIONS or resolved in _AREAL:
        return "solid"
    return "solution" if resolved in _SOLUTIONS else resolved


def _layer(unit: str, depth_in: tuple[float, float] | None, bulk_density: float | None) -> Soil:
    if depth_in is None or bulk_density is None:
        raise UnitMismatch(f"{unit} needs the sampled depth and a stated bulk density")
    return Soil(depth_in[1] - depth_in[0], bulk_density)


def _square_metre_mass(soil: Soil) -> float:
    """Tonnes of dry soil under one square metre, so that g/m2 = mg/kg * this. Bulk density in g/cm3 = t/m3."""
    if soil.thickness_in <= 0 or soil.bulk_density <= 0:
        raise OutOfRange("depth", "0 < thickness and 0 < bulk density")
    return soil.bulk_density * soil.thickness_in * METRES_PER_INCH


class ClientUnits:
    """The units one client reads, rounded once, here. ``system``: us_garden, us_field, metric."""

    __slots__ = ("area_m2", "system")

    def __init__(self, system: str, area_m2: float | None = None) -> None:
        self.system = system
        self.area_m2 = area_m2

    def rate(self, g_m2: float) -> Quantity:
        """A rate: lb/1000 ft2, lb/acre, or g/m2 up to 1,000 m2 and kg/ha above."""
        if self.system == "us_garden":
            return Quantity(significant(g_m2 * SQUARE_METRES_PER_1000_FT2 / GRAMS_PER_LB), "lb/1000 ft2")
        if self.system == "us_field":
            return Quantity(significant(g_m2 * SQUARE_METRES_PER_ACRE / GRAMS_PER_LB), "lb/acre")
        if self.area_m2 is not None and self.area_m2 > 1000:
            return Quantity(significant(g_m2 * 10), "kg/ha")
        return Quantity(significant(g_m2), "g/m2")

    def total(self, g_m2: float) -> Quantity | None:
        """The amount for the whole area, lb or kg; None when no area was given."""
        return None if self.area_m2 is None else self.mass(g_m2 * self.area_m2)

    def mass(self, grams: float) -> Quantity:
        """A mass, lb or kg."""
        if self.system == "metric":
            return Quantity(significant(grams / 1000), "kg")
        return Quantity(significant(grams / GRAMS_PER_LB), "lb")

    def per_tree(self, grams: float) -> Quantity:
        """A dose for one tree, lb/tree or g/tree."""
        if self.system == "metric":
            return Quantity(significant(grams), "g/tree")
        return Quantity(significant(grams / GRAMS_PER_LB), "lb/tree")

    def depth(self, inches: float) -> Quantity:
        """A depth of soil, in or cm."""
        if self.system == "metric":
            return Quantity(significant(inches * METRES_PER_INCH * 100), "cm")
        return Quantity(significant(inches), "in")

    def water(self, mm: float) -> Quantity:
        """A depth of water, in or mm."""
        if self.system == "metric":
            return Quantity(significant(mm), "mm")
        return Quantity(significant(mm / 1000 / METRES_PER_INCH), "in")

    def volume(self, mm: float) -> Quantity | None:
        """The water for the whole area: US gal, on fields acre-inches and from twelve up acre-feet, else L.

        None when no area was given. One mm on one m2 is one litre.
        """
        if self.area_m2 is None:
            return None
        litres = mm * self.area_m2
        if self.system == "metric":
            return Quantity(significant(litres), "L")
        if self.system == "us_garden":
            return Quantity(significant(litres / LITRES_PER_GALLON), "gal")
        acre_inches = mm / 1000 / METRES_PER_INCH * self.area_m2 / SQUARE_METRES_PER_ACRE
        if acre_inches < INCHES_PER_FOOT:
            return Quantity(significant(acre_inches), "acre-in")
        return Quantity(significant(acre_inches / INCHES_PER_FOOT), "acre-ft")
