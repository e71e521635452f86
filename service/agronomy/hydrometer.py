"""Particle size from hydrometer readings: the two-reading form and Stokes' law.

A 152H hydrometer reads grams of soil per litre. ``dry_mass_g`` is the oven-dry mass in one litre. Coefficients are
rows of ``formulas``; K and the temperature corrections are rows of ``hydrometer``.
The 2-hour reading sees about 5 um at 20 C, so the clay of the two-reading form is an upper bound.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from math import log, sqrt
from typing import NamedTuple

from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Note, Step
from service.agronomy.tables import FactorRow, FormulaRow, KTableRow, Library

SAND_UM = 50.0
"""Lower size limit of sand in the USDA system, micrometres, by definition."""
CLAY_UM = 2.0
"""Upper size limit of clay, micrometres, by definition."""


class Reading(NamedTuple):
    """One reading: minutes since the end of stirring, g/L, temperature of the suspension."""

    minutes: float
    reading_g_per_L: float
    temperature_C: float


class Fraction(NamedTuple):
    """Share of the soil finer than a diameter."""

    diameter_um: float
    finer_pct: float


class ParticleSizes(NamedTuple):
    """Sand, silt and clay, percent of the dry mass, what each reading saw, and what to beware of."""

    sand_pct: float
    silt_pct: float
    clay_pct: float
    fractions: tuple[Fraction, ...]
    warnings: tuple[Note, ...]
    steps: tuple[Step, ...]


class Curves:
    """The hydrometer tables, prepared once: ``library.index(Curves.of)``."""

    __slots__ = ("corrections", "density", "formulas", "k")

    def __init__(
        self,
        k: Mapping[float, Sequence[tuple[float, float]]],
        corrections: Sequence[tuple[float, float]],
        formulas: Mapping[str, FormulaRow],
        density: float,
    ) -> None:
        self.density = density
        self.k = k
        self.corrections = corrections
        self.formulas = formulas

    @classmethod
    def of(cls, library: Library) -> "Curves":
        """Prepare the tables ``hydrometer``, ``formulas`` and the usual density of solids of ``factors``."""
        by_density: dict[float, list[tuple[float, float]]] = {}
        corrections: list[tuple[float, float]] = []
        for row in library.rows("hydrometer", KTableRow):
            if row.quantity == "K" and row.particle_density_g_cm3 is not None:
                by_density.setdefault(row.particle_density_g_cm3, []).append((row.temperature_C, row.value))
            elif row.quantity == "temperature_correction":
                corrections.append((row.temperature_C, row.value))
        formulas = {row.formula: row for row in library.rows("formulas", FormulaRow)}
        factors = {row.factor: row.value for row in library.rows("factors", FactorRow)}
        tables = {gs: sorted(by_density[gs]) for gs in sorted(by_density)}
        return cls(tables, sorted(corrections), formulas, factors["particle_density_default"])

    def coefficient(self, formula: str, name: str) -> float:
        """One published coefficient."""
        return self.formulas[formula].coefficients[name]

    def effective_depth_cm(self, reading_g_per_L: float) -> float:
        """Depth the 152H bulb sees, cm: L1 - slope * R + (bulb length - bulb volume / cylinder area) / 2."""
        c = self.formulas["effective_depth"].coefficients
        return c["L1"] - c["slope"] * reading_g_per_L + (c["bulb_length"] - c["bulb_volume"] / c["cylinder_area"]) / 2

    def k_at(self, temperature_C: float, particle_density: float) -> float:
        """Stokes' K, mm (min/cm)^0.5, between the rows of the table. Raises OutOfRange outside them."""
        densities = list(self.k)
        if not densities[0] <= particle_density <= densities[-1]:
            raise OutOfRange("particle_density_g_cm3", f"{densities[0]} <= x <= {densities[-1]}")
        upper = min(bisect_right(densities, particle_density), len(densities) - 1)
        below, above = densities[upper - 1], densities[upper]
        ends = [(gs, between(self.k[gs], temperature_C, "temperature_C")) for gs in (below, above)]
        return between(ends, particle_density, "particle_density_g_cm3")

    def correction(self, temperature_C: float, calibration_C: float) -> float:
        """Reading correction, g/L, by the table used with the standard (0 at 20 C); not linear."""
        at = between(self.corrections, temperature_C, "temperature_C")
        return at - between(self.corrections, calibration_C, "calibration_temperature_C")


def between(points: Sequence[tuple[float, float]], x: float, field: str) -> float:
    """Straight-line interpolation in sorted points. Raises OutOfRange outside them."""
    if not points[0][0] <= x <= points[-1][0]:
        raise OutOfRange(field, f"{points[0][0]} <= x <= {points[-1][0]}")
    upper = min(bisect_right([p[0] for p in points], x), len(points) - 1)
    (x0, y0), (x1, y1) = points[upper - 1], points[upper]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def particle_sizes(
    curves: Curves,
    procedure: str,
    dry_mass_g: float,
    readings: Sequence[Reading],
    blank: float | None = None,
    calibration_temperature_C: float | None = None,
    particle_density_g_cm3: float | None = None,
) -> ParticleSizes:
    """Sand, silt and clay, percent, from hydrometer readings.

    Args:
        procedure: ``two_reading`` (Bouyoucos: an early reading for sand, a late one for clay) or ``stokes``.
        dry_mass_g: oven-dry soil in one litre, g, above 0 up to 200.
        readings: two for ``two_reading``, at least two for ``stokes``; reported back in this order.
        blank: reading in the dispersant alone, g/L.
        calibration_temperature_C: temperature at which the scale needs no correction; None: no correction made.
        particle_density_g_cm3: density of the solids; the usual one (``particle_density_default``) when None.

    Raises OutOfRange for a figure outside its range or outside the tables.
    """
    if not 0 < dry_mass_g <= 200:
        raise OutOfRange("dry_mass_g", "0 < x <= 200")
    density = curves.density if particle_density_g_cm3 is None else particle_density_g_cm3
    if procedure == "two_reading":
        found = _two_reading(curves, dry_mass_g, readings, blank, calibration_temperature_C, density)
    elif procedure == "stokes":
        found = _stokes(curves, dry_mass_g, readings, blank, calibration_temperature_C, density)
    else:
        raise OutOfRange("procedure", "two_reading or stokes")
    if blank is not None and calibration_temperature_C is not None:
        found = found._replace(warnings=(Note("texture.blank_and_temperature"), *found.warnings))
    return found


def _two_reading(
    curves: Curves,
    dry_mass_g: float,
    readings: Sequence[Reading],
    blank: float | None,
    calibration_C: float | None,
    density: float,
) -> ParticleSizes:
    """sand % = 100 - 100 * early / W; clay % = 100 * late / W; silt is the rest (two_reading: DRMS-BOUY, BOUY62)."""
    if len(readings) != 2:
        raise OutOfRange("readings", "two readings")
    _check_readings(readings)
    per_degree = curves.coefficient("hydrometer_temperature_linear", "k")
    corrected = [_linear(r, blank, calibration_C, per_degree) for r in readings]
    early, late = (0, 1) if readings[0].minutes < readings[1].minutes else (1, 0)
    sizes = shares(dry_mass_g, corrected[early], corrected[late])
    fractions = tuple(
        Fraction(diameter_um(curves, r, rc, density), 100 * rc / dry_mass_g)
        for r, rc in zip(readings, corrected, strict=True)
    )
    warnings = [Note("texture.clay_upper_bound", {"diameter_um": fractions[late].diameter_um})]
    return ParticleSizes(
        *sizes,
        fractions,
        tuple(warnings) if fractions[late].diameter_um > CLAY_UM else (),
        _steps(curves, "two_reading", dry_mass_g, corrected, sizes),
    )


def shares(dry_mass_g: float, early_g_per_L: float, late_g_per_L: float) -> tuple[float, float, float]:
    """Sand, silt and clay, percent, from corrected readings and the dry mass per litre. Raises OutOfRange."""
    if not 0 <= late_g_per_L <= early_g_per_L <= dry_mass_g:
        raise OutOfRange("readings", "0 <= late <= early <= dry mass, after correction")
    sand = 100 - 100 * early_g_per_L / dry_mass_g
    clay = 100 * late_g_per_L / dry_mass_g
    return sand, 100 - sand - clay, clay


def _stokes(
    curves: Curves,
    dry_mass_g: float,
    readings: Sequence[Reading],
    blank: float | None,
    calibration_C: float | None,
    density: float,
) -> ParticleSizes:
    """D = K * sqrt(L / t), finer % = 100 * Rc * a / W; 50 and 2 um by straight lines in the logarithm of size."""
    if len(readings) < 2:
        raise OutOfRange("readings", "at least two readings")
    _check_readings(readings)
    corrected = [_by_table(curves, r, blank, calibration_C) for r in readings]
    factor = curves.coefficient("hydrometer_density", "a") + curves.coefficient("hydrometer_density", "b") * density
    fractions = tuple(
        Fraction(diameter_um(curves, r, rc, density), 100 * rc * factor / dry_mass_g)
        for r, rc in zip(readings, corrected, strict=True)
    )
    line = sorted(fractions)
    sand, clay = 100 - _finer_than(SAND_UM, line), _finer_than(CLAY_UM, line)
    if not 0 <= clay <= 100 - sand <= 100:
        raise OutOfRange("readings", "falling with time, between 0 and the dry mass after correction")
    sizes = (sand, 100 - sand - clay, clay)
    steps = _steps(curves, "hydrometer_finer", dry_mass_g, corrected, sizes)
    return ParticleSizes(*sizes, fractions, _extended(line), steps)


def _extended(line: Sequence[Fraction]) -> tuple[Note, ...]:
    notes = []
    if line[0].diameter_um > CLAY_UM:
        notes.append(Note("texture.clay_extended", {"diameter_um": line[0].diameter_um}))
    if line[-1].diameter_um < SAND_UM:
        notes.append(Note("texture.sand_extended", {"diameter_um": line[-1].diameter_um}))
    return tuple(notes)


def diameter_um(curves: Curves, reading: Reading, corrected_g_per_L: float, density: float) -> float:
    """Largest size still in suspension at the bulb, micrometres: K * sqrt(L / t), L = 16.295 - 0.164 R in cm.

    R is the corrected reading, as in the published worked readings (ENVALYSIS); taking the reading as it stands
    moves a diameter by about 1 percent.
    """
    depth_cm = curves.effective_depth_cm(corrected_g_per_L)
    if depth_cm <= 0:
        raise OutOfRange("readings", "a corrected reading on the scale of the 152H")
    return 1000 * curves.k_at(reading.temperature_C, density) * sqrt(depth_cm / reading.minutes)


def clay_from_24_hours(curves: Curves, finer_24h_pct: float, finer_90min_pct: float) -> float:
    """Share finer than 2 um from readings at 24 h and 1.5 h: (P24 + 0.876 * P1.5) / 2 (GEE79).

    Raises OutOfRange outside the clay contents it was fitted for.
    """
    row = curves.formulas["clay_2um_mean"].coefficients
    clay = (finer_24h_pct + row["k"] * finer_90min_pct) / 2
    if not row["low"] <= clay <= row["high"]:
        raise OutOfRange("finer_pct", f"{row['low']:g} <= clay <= {row['high']:g}")
    return clay


def _linear(reading: Reading, blank: float | None, calibration_C: float | None, per_degree: float) -> float:
    warmth = 0.0 if calibration_C is None else per_degree * (reading.temperature_C - calibration_C)
    return reading.reading_g_per_L - (blank or 0.0) + warmth


def _by_table(curves: Curves, reading: Reading, blank: float | None, calibration_C: float | None) -> float:
    warmth = 0.0 if calibration_C is None else curves.correction(reading.temperature_C, calibration_C)
    return reading.reading_g_per_L - (blank or 0.0) + warmth


def _check_readings(readings: Sequence[Reading]) -> None:
    if any(not 0 < r.minutes <= 10_000 for r in readings):
        raise OutOfRange("minutes", "0 < x <= 10000")
    if any(not -5 <= r.reading_g_per_L <= 60 for r in readings):
        raise OutOfRange("reading_g_per_L", "-5 <= x <= 60, the scale of the 152H")
    if len({r.minutes for r in readings}) != len(readings):
        raise OutOfRange("minutes", "each reading at a time of its own")


def _finer_than(diameter: float, line: Sequence[Fraction]) -> float:
    """Finer share at a diameter by a straight line in log size, extended from the nearest two readings."""
    upper = min(max(bisect_right([f.diameter_um for f in line], diameter), 1), len(line) - 1)
    (d0, p0), (d1, p1) = line[upper - 1], line[upper]
    if d0 == d1:
        raise OutOfRange("readings", "readings that see different sizes")
    return p0 + (p1 - p0) * log(diameter / d0) / log(d1 / d0)


def _steps(
    curves: Curves, formula: str, dry_mass_g: float, corrected: Sequence[float], sizes: tuple[float, float, float]
) -> tuple[Step, ...]:
    inputs = {"W": dry_mass_g, "Rc": tuple(corrected)}
    sources = curves.formulas[formula].sources if formula in curves.formulas else ()
    names = ("sand", "silt", "clay")
    return tuple(Step(name, formula, inputs, size, "%", sources) for name, size in zip(names, sizes, strict=True))
