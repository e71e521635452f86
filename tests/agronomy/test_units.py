"""Units and forms against published conversions, pint and molmass, and the properties every conversion must have."""

from pathlib import Path
from typing import Any

import molmass
import pint
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.errors import OutOfRange, UnitMismatch, UnknownUnit
from service.agronomy.submission import Quantity
from service.agronomy.tables import AnalyteRow, Library, MethodRow, UnitRow
from service.agronomy.units import ATOMIC_MASS, ClientUnits, Soil, Units, scaled, significant

CASES = yaml.safe_load(Path(__file__).with_name("references").joinpath("methods.yaml").read_text("utf-8"))
FIGURES = st.floats(min_value=1e-6, max_value=1e6)

PINT_NAMES = {
    "cm": "centimeter",
    "mm": "millimeter",
    "in": "inch",
    "ft": "foot",
    "yd": "yard",
    "mi": "mile",
    "ha": "hectare",
    "ft2": "foot**2",
    "yd2": "yard**2",
    "acre": "43560 * foot**2",
    "kg": "kilogram",
    "lb": "pound",
    "oz": "ounce",
    "ton": "US_ton",
    "L": "liter",
    "gal": "gallon",
    "ft3": "foot**3",
    "yd3": "yard**3",
    "acre-in": "43560 * foot**2 * inch",
    "lb/1000 ft2": "pound / (1000 * foot**2)",
    "lb/acre": "pound / (43560 * foot**2)",
    "kg/ha": "kilogram / hectare",
    "ton/acre": "US_ton / (43560 * foot**2)",
    "g/m2": "gram / meter**2",
    "uS/cm": "microsiemens / centimeter",
    "mS/m": "millisiemens / meter",
    "mmho/cm": "millisiemens / centimeter",
    "dS/m": "decisiemens / meter",
}
"""Our spelling -> pint's. pint's own acre is the survey acre of 1893, 4 millionths larger than the table's."""
BASES = {
    "length": "meter",
    "area": "meter**2",
    "mass": "gram",
    "volume": "liter",
    "areal_rate": "gram / meter**2",
    "conductivity": "decisiemens / meter",
}


@pytest.fixture(scope="module")
def units(library: Library) -> Units:
    return library.index(Units.of)


def by_id(group: str) -> Any:
    return pytest.mark.parametrize("case", CASES[group], ids=lambda case: case.get("id", ""))


def spec(library: Library, analyte: str, method: str) -> MethodRow:
    return next(m for m in library.rows("methods", MethodRow) if (m.analyte, m.method) == (analyte, method))


def analyte(library: Library, name: str) -> AnalyteRow:
    return next(a for a in library.rows("analytes", AnalyteRow) if a.analyte == name)


@by_id("units")
def test_published_conversions(units: Units, case: dict[str, Any]) -> None:
    """Figures printed by the named source; a rounded print is met within its rounding and ours is the exact one."""
    soil = None
    if "depth_in" in case:
        # "2,000,000 lb per acre" stands for the bulk density at which 6 in of an acre weigh that.
        density = case.get("bulk_density") or case["slice_lb"] * 453.59237 / (4046.8564224 * 0.1524) / 1e6
        soil = Soil(case["depth_in"], density)
    found = units.express(case["value"], case["from"], case["to"], "soil", case["analyte"], case["analyte"], soil)
    assert found == pytest.approx(case["expected"], abs=case["tolerance"])


@by_id("forms")
def test_forms(units: Units, case: dict[str, Any]) -> None:
    """Oxides and ions by mass, to the three decimals that leaflets print."""
    assert round(units.form_factor(case["of"], case["as"]), 3) == case["expected"]


@pytest.mark.parametrize("element", sorted(ATOMIC_MASS))
def test_atomic_masses_against_molmass(element: str) -> None:
    """molmass 2026 carries the IUPAC 2021 abridged weights; its figures may differ in the fifth digit."""
    assert ATOMIC_MASS[element] == pytest.approx(molmass.Formula(element).mass, rel=2e-4)


FORMULAE = {
    "NO3": "NO3", "NH4": "NH4", "SO4": "SO4", "HCO3": "HCO3", "CO3": "CO3", "P2O5": "P2O5", "K2O": "K2O",
    "MgO": "MgO", "CaO": "CaO", "PO4": "PO4", "Ca": "Ca", "Mg": "Mg", "Na": "Na", "K": "K", "Cl": "Cl", "B": "B",
    "Zn": "Zn", "Pb": "Pb", "As": "As", "Cd": "Cd", "Se": "Se", "Mo": "Mo", "alkalinity": "CaCO3",
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(FORMULAE))
def test_molar_masses_against_molmass(library: Library, name: str) -> None:
    """Molar masses of the analytes table against the library's formula parser."""
    assert analyte(library, name).molar_mass_g == pytest.approx(molmass.Formula(FORMULAE[name]).mass, rel=2e-4)


CHARGES = {"Na": 1, "Ca": 2, "Mg": 2, "K": 1, "Cl": 1, "SO4": 2, "HCO3": 1, "CO3": 2, "NO3": 1, "NH4": 1, "SO4-S": 2}


@pytest.mark.parametrize("name", sorted(CHARGES))
def test_equivalent_weight_is_molar_mass_over_charge(library: Library, name: str) -> None:
    """By definition of the equivalent."""
    row = analyte(library, name)
    assert row.molar_mass_g is not None
    assert row.equivalent_weight_g == pytest.approx(row.molar_mass_g / CHARGES[name], rel=1e-6)


@pytest.mark.parametrize("spelling", sorted(PINT_NAMES))
def test_factors_against_pint(library: Library, spelling: str) -> None:
    """Factor of the table to the base unit of its dimension, to ten digits."""
    registry: Any = pint.UnitRegistry()
    row = next(u for u in library.rows("units", UnitRow) if u.spelling == spelling)
    wanted = registry(PINT_NAMES[spelling]).to(BASES[row.dimension]).magnitude
    assert row.factor == pytest.approx(wanted, rel=1e-10)


def test_fahrenheit_against_pint(units: Units) -> None:
    """67 F is the base of the hydrometer rule."""
    registry: Any = pint.UnitRegistry()
    wanted = registry.Quantity(67, "degF").to("degC").magnitude
    assert units.convert(67, "degF", "Cel") == pytest.approx(wanted, abs=1e-9)


SAME_DIMENSION = ("mg/kg", "g/kg"), ("dS/m", "uS/cm"), ("lb/1000 ft2", "kg/ha"), ("degF", "Cel"), ("acre", "m2")


@given(value=FIGURES, pair=st.sampled_from(SAME_DIMENSION))
def test_there_and_back(library: Library, value: float, pair: tuple[str, str]) -> None:
    """A conversion and its reverse give the figure again."""
    units = library.index(Units.of)
    there = units.convert(value, *pair)
    assert units.convert(there, pair[1], pair[0]) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(value=FIGURES, ion=st.sampled_from(["Na", "Ca", "Mg", "K"]))
def test_meq_and_mg_there_and_back(library: Library, value: float, ion: str) -> None:
    """meq/100 g to mg/kg and back, and the charge does not change with the form of nitrate."""
    units = library.index(Units.of)
    mass = units.express(value, "meq/100 g", "mg/kg", "soil", ion, ion)
    assert units.express(mass, "mg/kg", "meq/100 g", "soil", ion, ion) == pytest.approx(value, rel=1e-9)
    nitrate = units.express(value, "meq/L", "meq/L", "water", "NO3", "NO3-N")
    assert nitrate == pytest.approx(value, rel=1e-6)


@given(value=FIGURES, depth=st.floats(1, 60), density=st.floats(0.5, 2.2))
def test_areal_there_and_back(library: Library, value: float, depth: float, density: float) -> None:
    """lb/acre needs a layer and comes back through the same layer."""
    units = library.index(Units.of)
    soil = Soil(depth, density)
    rate = units.express(value, "mg/kg", "lb/acre", "soil", "P", "P", soil)
    assert rate == pytest.approx(0.2266135 * density * depth * value, rel=1e-6)
    assert units.express(rate, "lb/acre", "mg/kg", "soil", "P", "P", soil) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "to", "matrix", "name"),
    [
        ("lb/acre", "mg/kg", "soil", "P"),
        ("mg/L", "mg/kg", "soil", "P"),
        ("meq/100 g", "mg/kg", "soil", "P"),
        ("dS/m", "mg/kg", "soil", "P"),
        ("%", "dS/m", "extract", "EC"),
        ("meq/L", "mg/L", "extract", "B"),
        ("mg/kg", "meq/L", "extract", "Na"),
    ],
)
def test_what_does_not_convert_is_refused(units: Units, unit: str, to: str, matrix: str, name: str) -> None:
    """No depth, no charge, another phase: never a guess."""
    with pytest.raises(UnitMismatch):
        units.express(5, unit, to, matrix, name, name)


def test_unknown_unit(units: Units) -> None:
    """A spelling outside the table is refused, in a conversion and as a question."""
    assert not units.known("stone/rood")
    for to in ("lb/acre", "stone/rood"):
        with pytest.raises(UnknownUnit):
            units.convert(1, "stone/rood", to)
    with pytest.raises(UnknownUnit):
        units.dimension("stone/rood")


def test_ucum_codes_are_spellings_too(units: Units) -> None:
    """UCUM code in, UCUM code out."""
    assert units.ucum("lb/acre") == "[lb_av]/[acr_us]"
    assert units.convert(2, "[in_i]", "cm") == pytest.approx(5.08)


def test_unrelated_forms(units: Units) -> None:
    """P is no form of K."""
    with pytest.raises(UnitMismatch):
        units.form_factor("P2O5", "K")


def test_ppm_follows_the_matrix(units: Units) -> None:
    """ppm is mg/kg in soil and mg/L in an extract (common practice)."""
    assert units.express(30, "ppm", "mg/kg", "soil", "P", "P") == 30
    assert units.express(229.897693, "ppm", "meq/L", "extract", "Na", "Na") == pytest.approx(10, rel=1e-6)


def test_to_canonical_needs_depth_and_density(library: Library, units: Units) -> None:
    """lb/acre of K2O as mg/kg of K: 6 in at the density of 2,000,000 lb per acre is half the figure times 0.830."""
    row, oxide = spec(library, "K", "ammonium_acetate"), analyte(library, "K2O")
    density = 2e6 * 453.59237 / (4046.8564224 * 0.1524) / 1e6
    found = units.to_canonical(row, oxide, 400, "lb/acre", (0, 6), density)
    assert found == pytest.approx(400 / 2 * 0.8301513, rel=1e-6)
    for depth, stated in ((None, density), ((0.0, 6.0), None)):
        with pytest.raises(UnitMismatch):
            units.to_canonical(row, oxide, 400, "lb/acre", depth, stated)
    with pytest.raises(OutOfRange):
        units.to_canonical(row, oxide, 400, "lb/acre", (6, 6), density)


def test_percent_and_mg_kg(library: Library, units: Units) -> None:
    """1 % is 10,000 mg/kg by definition."""
    organic = spec(library, "OM", "loss_on_ignition")
    assert units.to_canonical(organic, analyte(library, "OM"), 31_000, "mg/kg", None, None) == pytest.approx(3.1)


@given(value=st.floats(min_value=0, max_value=1e6))
def test_scaled_never_splits_equal_figures(value: float) -> None:
    """A figure and itself through another unit fall on the same side of any limit."""
    assert scaled(value * 1000 / 1000) == scaled(value)


def test_client_units() -> None:
    """One pound on 1000 ft2 is 4.88 g/m2, 43.6 lb/acre and 48.8 kg/ha (exact definitions of 1959)."""
    one = 453.59237 / 92.90304
    assert ClientUnits("us_garden").rate(one) == Quantity(1.0, "lb/1000 ft2")
    assert ClientUnits("us_field").rate(one) == Quantity(43.6, "lb/acre")
    assert ClientUnits("metric", 900).rate(one) == Quantity(4.88, "g/m2")
    assert ClientUnits("metric", 1000).rate(one).unit == "g/m2"
    assert ClientUnits("metric", 1001).rate(one) == Quantity(48.8, "kg/ha")


def test_client_totals() -> None:
    """Totals follow the area; without an area there is none, which is not zero."""
    garden = ClientUnits("us_garden", 3200 * 0.09290304)
    assert garden.total(453.59237 / 92.90304) == Quantity(3.2, "lb")
    assert ClientUnits("us_garden").total(5.0) is None
    assert ClientUnits("metric", 100).total(5.0) == Quantity(0.5, "kg")
    assert ClientUnits("metric").per_tree(250) == Quantity(250, "g/tree")
    assert ClientUnits("us_garden").per_tree(453.59237) == Quantity(1.0, "lb/tree")


def test_client_depths_and_water() -> None:
    """One inch is 2.54 cm; an inch of water on 1000 ft2 is 623 US gallons (UCUM definitions)."""
    assert ClientUnits("metric").depth(4) == Quantity(10.2, "cm")
    assert ClientUnits("us_garden").depth(4) == Quantity(4, "in")
    assert ClientUnits("us_garden").water(25.4) == Quantity(1, "in")
    assert ClientUnits("metric").water(25.4) == Quantity(25.4, "mm")
    assert ClientUnits("us_garden", 92.90304).volume(25.4) == Quantity(623, "gal")
    assert ClientUnits("metric", 10).volume(12) == Quantity(120, "L")
    acre = 4046.8564224
    assert ClientUnits("us_field", acre).volume(25.4 * 11) == Quantity(11, "acre-in")
    assert ClientUnits("us_field", 72 * acre).volume(25.4 * 2.5) == Quantity(15, "acre-ft")
    assert ClientUnits("metric").volume(12) is None


@given(g_m2=st.floats(0.01, 1e4), area=st.floats(1, 1e6), factor=st.sampled_from([2.0, 10.0]))
def test_area_scales_linearly(g_m2: float, area: float, factor: float) -> None:
    """Ten times the area takes ten times the amount, within the rounding to three digits."""
    small, large = ClientUnits("us_garden", area).total(g_m2), ClientUnits("us_garden", area * factor).total(g_m2)
    assert small is not None
    assert large is not None
    assert large.value == pytest.approx(small.value * factor, rel=0.011)


def test_lengths_and_areas(units: Units) -> None:
    """Exact definitions: inch, foot, acre."""
    assert units.inches(Quantity(10, "cm")) == pytest.approx(3.937007874)
    assert units.inches(Quantity(12, "in")) == 12
    assert units.feet(Quantity(1, "yd")) == pytest.approx(3)
    assert units.square_metres(Quantity(1, "acre")) == pytest.approx(4046.8564224)
    assert units.areal(Quantity(1, "lb/1000 ft2")) == pytest.approx(4.882427636)
    with pytest.raises(UnitMismatch):
        units.inches(Quantity(1, "lb"))


@pytest.mark.parametrize(("value", "expected"), [(0.91234, 0.912), (0, 0), (12345, 12300), (-0.04567, -0.0457)])
def test_significant(value: float, expected: float) -> None:
    """Three digits for people."""
    assert significant(value) == expected
