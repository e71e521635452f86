"""Particle size from readings against published readings, the printed table of K, and Stokes' law itself."""

from math import sqrt
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.errors import OutOfRange
from service.agronomy.hydrometer import (
    Curves,
    Reading,
    clay_from_24_hours,
    diameter_um,
    particle_sizes,
    shares,
)
from service.agronomy.tables import KTableRow, Library
from service.agronomy.triangle import Triangle

CASES = yaml.safe_load(Path(__file__).with_name("references").joinpath("methods.yaml").read_text("utf-8"))
READINGS = [Reading(0.6667, 25, 22), Reading(120, 15, 23)]


@pytest.fixture(scope="module")
def curves(library: Library) -> Curves:
    return library.index(Curves.of)


def by_id(group: str) -> Any:
    return pytest.mark.parametrize("case", CASES[group], ids=lambda case: case["id"])


@by_id("two_reading")
def test_two_readings(library: Library, curves: Curves, case: dict[str, Any]) -> None:
    """Worked two-reading examples: 0.36 g/L per degree above the base that the source states."""
    readings = [Reading(*reading) for reading in case["readings"]]
    found = particle_sizes(curves, "two_reading", case["dry_mass_g"], readings, None, case["base_C"])
    tolerance = case["tolerance"]
    assert found.sand_pct == pytest.approx(case["sand"], abs=tolerance)
    assert found.silt_pct == pytest.approx(case["silt"], abs=tolerance)
    assert found.clay_pct == pytest.approx(case["clay"], abs=tolerance)
    assert library.index(Triangle.of).classify(found.sand_pct, found.silt_pct, found.clay_pct) == case["class"]


@by_id("stokes")
def test_published_readings(curves: Curves, case: dict[str, Any]) -> None:
    """Seven readings printed with their sizes and shares finer: to 0.00002 mm and 0.1 percent."""
    readings = [Reading(t, r, case["temperature_C"]) for t, r in zip(case["minutes"], case["readings"], strict=True)]
    found = particle_sizes(curves, "stokes", case["dry_mass_g"], readings, case["blank"], case["calibration_C"])
    for fraction, size, finer in zip(found.fractions, case["diameters_mm"], case["finer_pct"], strict=True):
        assert fraction.diameter_um / 1000 == pytest.approx(size, abs=0.00002)
        assert fraction.finer_pct == pytest.approx(finer, abs=0.1)


def test_fractions_of_the_published_readings(curves: Curves) -> None:
    """The last reading stops at 3.6 um: clay is extended on the log of size, and that is said."""
    case = CASES["stokes"][0]
    readings = [Reading(t, r, case["temperature_C"]) for t, r in zip(case["minutes"], case["readings"], strict=True)]
    found = particle_sizes(curves, "stokes", 50, readings, 2, 20)
    assert found.sand_pct + found.silt_pct + found.clay_pct == pytest.approx(100)
    # Straight lines in log size through the printed points: 50 um between the first two, 2 um beyond the last two.
    assert found.sand_pct == pytest.approx(25.3, abs=0.3)
    assert found.clay_pct == pytest.approx(29.0, abs=0.3)
    codes = [warning.code for warning in found.warnings]
    assert codes == ["texture.blank_and_temperature", "texture.clay_extended"]


@by_id("misprinted_k")
def test_misprinted_k_is_not_used(curves: Curves, case: dict[str, Any]) -> None:
    """Three printed figures are wrong by arithmetic: our answer is the recomputed one."""
    assert curves.k_at(case["temperature_C"], case["density"]) == pytest.approx(case["k"], abs=0.00005)
    assert case["k"] != pytest.approx(case["prints"], rel=0.005)


def test_k_between_rows(curves: Curves) -> None:
    """Half way between four printed figures (0.01365, 0.01344 at 20 C; 0.01348, 0.01328 at 21 C) lies their mean."""
    assert curves.k_at(20.5, 2.675) == pytest.approx((0.01365 + 0.01344 + 0.01348 + 0.01328) / 4, abs=1e-7)
    assert curves.k_at(30, 2.85) < curves.k_at(30, 2.80) < curves.k_at(16, 2.80)


def test_k_against_stokes_law(library: Library) -> None:
    """Every K against Stokes' law with the viscosity (Kestin 1978) and density (Kell 1975) of water: within 0.4 %."""
    rows = [row for row in library.rows("hydrometer", KTableRow) if row.quantity == "K"]
    assert len(rows) == 135
    for row in rows:
        t, solids = row.temperature_C, row.particle_density_g_cm3
        assert solids is not None
        log_ratio = (20 - t) / (t + 96) * (1.2364 - 1.37e-3 * (20 - t) + 5.7e-6 * (20 - t) ** 2)
        viscosity = 1.002e-3 * 10**log_ratio
        density = 999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3 + 105.56302e-9 * t**4
        density = (density - 280.54253e-12 * t**5) / (1 + 16.879850e-3 * t)
        stokes = 1000 * sqrt(18 * viscosity * 0.01 / (60 * 9.80665 * (solids * 1000 - density)))
        assert row.value == pytest.approx(stokes, rel=0.004)


@by_id("sizes_seen")
def test_sizes_seen(curves: Curves, case: dict[str, Any]) -> None:
    """What the customary readings really see at 20 C: the 2-hour reading sees fine silt."""
    reading = Reading(case["minutes"], case["reading"], 20)
    size = diameter_um(curves, reading, reading.reading_g_per_L, 2.65) / 1000
    assert size == pytest.approx(case["diameter_mm"], abs=case["tolerance"])


@by_id("clay_from_24_hours")
def test_clay_from_24_hours(curves: Curves, case: dict[str, Any]) -> None:
    """(P24 + 0.876 P1.5) / 2, for 5 to 60 % clay only."""
    assert clay_from_24_hours(curves, case["p_24h"], case["p_90min"]) == pytest.approx(case["clay"], abs=0.01)
    for p in (2.0, 90.0):
        with pytest.raises(OutOfRange):
            clay_from_24_hours(curves, p, p)


def test_two_hour_clay_is_an_upper_bound(curves: Curves) -> None:
    """The 2-hour reading warns, one of a day does not."""
    late = particle_sizes(curves, "two_reading", 50, READINGS, None, 19.4)
    assert [w.code for w in late.warnings] == ["texture.clay_upper_bound"]
    assert late.warnings[0].values["diameter_um"] == pytest.approx(4.5, abs=0.3)
    day = [READINGS[0], Reading(1440, 12, 23)]
    assert particle_sizes(curves, "two_reading", 50, day, None, 19.4).warnings == ()


def test_readings_come_back_in_their_order(curves: Curves) -> None:
    """The late reading may be given first; sizes answer in the order given."""
    turned = particle_sizes(curves, "two_reading", 50, READINGS[::-1], None, 19.4)
    straight = particle_sizes(curves, "two_reading", 50, READINGS, None, 19.4)
    assert turned[:3] == straight[:3]
    assert turned.fractions == straight.fractions[::-1]
    assert [fraction.finer_pct for fraction in straight.fractions] == pytest.approx([51.872, 32.592])


def test_blank_without_temperature(curves: Curves) -> None:
    """A blank read beside the sample holds the temperature term: only it is subtracted."""
    found = particle_sizes(curves, "two_reading", 50, READINGS, 2, None)
    assert found.sand_pct == pytest.approx(100 - 2 * 23)
    assert found.clay_pct == pytest.approx(2 * 13)
    both = particle_sizes(curves, "two_reading", 50, READINGS, 2, 19.4)
    assert both.warnings[0].code == "texture.blank_and_temperature"


def test_heavier_solids(curves: Curves) -> None:
    """Denser particles settle faster: the same reading sees a finer size and counts for less (a = 1.53 - 0.2 Gs)."""
    readings = [Reading(1, 30, 20), Reading(60, 20, 20), Reading(1440, 10, 20)]
    usual = particle_sizes(curves, "stokes", 50, readings, 0, None)
    dense = particle_sizes(curves, "stokes", 50, readings, 0, None, 2.80)
    assert dense.fractions[0].diameter_um < usual.fractions[0].diameter_um
    assert dense.fractions[0].finer_pct == pytest.approx(usual.fractions[0].finer_pct * 0.97, rel=1e-9)


@given(early=st.floats(0, 50), late=st.floats(0, 50))
def test_shares_add_up(early: float, late: float) -> None:
    """Sand, silt and clay are parts of one whole, or the readings are refused."""
    if late > early:
        with pytest.raises(OutOfRange):
            shares(50, early, late)
        return
    sizes = shares(50, early, late)
    assert sum(sizes) == pytest.approx(100)
    assert all(-1e-9 <= size <= 100 + 1e-9 for size in sizes)


REFUSED: list[dict[str, Any]] = [
    {"procedure": "guess"},
    {"dry_mass_g": 0},
    {"dry_mass_g": 201},
    {"readings": READINGS[:1]},
    {"readings": [*READINGS, Reading(240, 10, 22)]},
    {"readings": [Reading(0, 25, 22), READINGS[1]]},
    {"readings": [Reading(120, 25, 22), READINGS[1]]},
    {"readings": [Reading(1, 61, 22), READINGS[1]]},
    {"readings": [Reading(1, 25, 12), READINGS[1]]},
    {"readings": [Reading(1, 25, 34), READINGS[1]]},
    {"particle_density_g_cm3": 2.2},
    {"particle_density_g_cm3": 3.1},
    {"procedure": "stokes", "readings": READINGS[:1]},
    {"procedure": "stokes", "calibration_temperature_C": 50},
    {"procedure": "stokes", "blank": -80, "calibration_temperature_C": None},
]


@pytest.mark.parametrize("change", REFUSED)
def test_out_of_range(curves: Curves, change: dict[str, Any]) -> None:
    """Outside the scale of the instrument or the printed tables nothing is computed."""
    usual: dict[str, Any] = {
        "procedure": "two_reading",
        "dry_mass_g": 50,
        "readings": READINGS,
        "blank": None,
        "calibration_temperature_C": 19.4,
        "particle_density_g_cm3": None,
    }
    with pytest.raises(OutOfRange):
        particle_sizes(curves, **{**usual, **change})


def test_steps(curves: Curves) -> None:
    """Each share comes with the formula, what went in and its source."""
    steps = particle_sizes(curves, "two_reading", 50, READINGS, None, 19.4).steps
    assert [step.step for step in steps] == ["sand", "silt", "clay"]
    assert steps[0].formula == "two_reading"
    assert steps[0].inputs["W"] == 50
    assert "DRMS-BOUY" in steps[0].sources


def test_temperature_correction_is_the_printed_one(curves: Curves) -> None:
    """Printed with ASTM D422: 0 at 20 C, +0.7 at 23 C, +1.3 at 25 C, +3.8 at 30 C, -1.1 at 15 C; not linear."""
    for temperature, printed in ((20, 0), (23, 0.7), (25, 1.3), (30, 3.8), (15, -1.1)):
        assert curves.correction(temperature, 20) == pytest.approx(printed)
    assert curves.correction(24.5, 20) == pytest.approx(1.15)
