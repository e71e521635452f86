"""Response of crops to salt, against the printed tolerance table and by properties."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.conductivity import (
    dissolved_salts,
    ec_from_dissolved_salts,
    ece_by_line,
    ece_by_saturation,
    ece_range,
    nitrogen_in_water,
    osmotic_pressure,
    salt_load,
)
from service.agronomy.errors import OutOfRange
from service.agronomy.reference import reference_of
from service.agronomy.tables import Library, SaltToleranceRow
from service.agronomy.tolerance import (
    ece_for_yield,
    ece_on_curve,
    relative_yield,
    s_curve,
    s_curve_of,
    steep_s_curve,
)

REFERENCES = Path(__file__).parent / "references"
COLUMNS = {"ece_100pct_dS_m": 100, "ece_90pct_dS_m": 90, "ece_75pct_dS_m": 75, "ece_50pct_dS_m": 50, "ece_0pct_dS_m": 0}
with (REFERENCES / "fao29_table4.csv").open(encoding="utf-8", newline="") as file:
    TABLE_4 = list(csv.DictReader(file))

EC = st.floats(0, 60, allow_nan=False)
THRESHOLD = st.floats(0.5, 12)
SLOPE = st.floats(1, 40)


def _printed(value: float) -> float:
    """How FAO29 rounds its columns: one decimal below 10, whole from there. Half a unit, plus a last-digit quirk."""
    return 0.06 if value < 10 else 0.6


@pytest.mark.parametrize("row", [r for r in TABLE_4 if r["agrees_within_rounding"] == "yes"], ids=lambda r: r["crop"])
def test_fao29_table_4(row: dict[str, str]) -> None:
    """FAO29 table 4: ECe at 100, 90, 75, 50 and 0 % follows from threshold and slope within its rounding."""
    threshold, slope = float(row["threshold_used_dS_m"]), float(row["slope_used_pct_per_dS_m"])
    for column, percent in COLUMNS.items():
        if not row[column]:
            continue
        printed = float(row[column])
        # Slopes are printed with two figures, so far down the line the print and the line part by a few per cent.
        slack = _printed(printed) + (0.12 if percent == 100 else (100 - percent) / slope * 0.06)
        assert ece_for_yield(percent, threshold, slope) == pytest.approx(printed, abs=slack)


def test_shared_rows_agree_with_fao29(library: Library) -> None:
    """MAAS1990 and FAO29 descend from one compilation: same threshold and slope within print rounding.

    Rows of later compilations (broccoli 1.3 / 15.8) are rivals and left out here.
    """
    rows = {
        row.crop: row
        for row in library.rows("salt-tolerance", SaltToleranceRow)
        if row.slope_pct_per_dS_m and "MAAS1990" in row.sources
    }
    common = [row for row in TABLE_4 if row["crop"] in rows]
    assert len(common) >= 25
    for row in common:
        ours = rows[row["crop"]]
        assert ours.threshold_dS_m == pytest.approx(float(row["threshold_used_dS_m"]), abs=0.15)
        assert ours.slope_pct_per_dS_m == pytest.approx(float(row["slope_used_pct_per_dS_m"]), rel=0.06)


@given(EC, EC, THRESHOLD, SLOPE)
def test_more_salt_never_helps(one: float, other: float, threshold: float, slope: float) -> None:
    """Relative yield falls or stays as salt rises, and stays between 0 and 100."""
    low, high = sorted((one, other))
    best, worst = relative_yield(low, threshold, slope), relative_yield(high, threshold, slope)
    assert 0 <= worst <= best <= 100


@given(st.floats(0.5, 99.5), THRESHOLD, SLOPE)
def test_line_reads_both_ways(percent: float, threshold: float, slope: float) -> None:
    """The ECe for a yield gives that yield back."""
    assert relative_yield(ece_for_yield(percent, threshold, slope), threshold, slope) == pytest.approx(percent)


@pytest.mark.parametrize(
    ("ece", "expected"), [(1.699999, 100), (1.7, 100), (1.7 + 1e-6, 100 - 12e-6), (10.0333, 0.0004), (10.04, 0)]
)
def test_edges_of_the_line(ece: float, expected: float) -> None:
    """Corn (threshold 1.7, slope 12): at, below and above both ends of the line (FAO29 table 4)."""
    assert relative_yield(ece, 1.7, 12) == pytest.approx(expected, abs=1e-3)


@given(EC, st.floats(1, 30), st.floats(1.5, 6))
def test_s_curve_halves_at_c50(ece: float, C50: float, p: float) -> None:
    """The S-curve gives 50 % at C50 (VG1993) and never leaves 0 to 100."""
    assert s_curve(C50, C50, p) == pytest.approx(50)
    assert 0 <= s_curve(ece, C50, p) <= 100


@given(st.floats(0, 500), st.floats(0, 50), st.floats(1, 100))
def test_steep_curves_stay_finite(ece: float, threshold: float, slope: float) -> None:
    """However steep: from 0 to 100, and half at C50 (van Genuchten and Gupta 1993, J. Indian Soc. Soil Sci. 41:730)."""
    curve = s_curve_of(threshold, slope, c50_factor=0.988, c50_offset=-0.252, s_factor=1.52)
    assert 0 <= steep_s_curve(ece, curve) <= 100
    assert steep_s_curve(ece_on_curve(50, curve), curve) == 50
    if ece > 2 * curve.C50:
        assert steep_s_curve(ece, curve) < 50 < steep_s_curve(curve.C50 / 2, curve)


@pytest.mark.parametrize(("ece", "left"), [(30.0, 0.0), (600.0, 0.0), (0.0, 100.0), (1e-300, 100.0)])
def test_the_ends_of_a_curve_that_falls_like_a_cliff(ece: float, left: float) -> None:
    """Threshold 10, slope 40: the exponent is above 700, and a power of it no float can hold."""
    curve = s_curve_of(10, 40, c50_factor=0.988, c50_offset=-0.252, s_factor=1.52)
    assert steep_s_curve(ece, curve) == pytest.approx(left, abs=1e-12)


def test_the_two_forms_agree_in_the_middle(library: Library) -> None:
    """STEPPUHN2005 fitted the S-curve to the same trials: near half yield both forms say about the same (barley)."""
    figures = reference_of(library).formula("steppuhn").coefficients
    curve = s_curve_of(8, 5, c50_factor=figures["c"], c50_offset=figures["d"], s_factor=figures["s"])
    assert steep_s_curve(curve.C50, curve) == pytest.approx(50)
    assert relative_yield(curve.C50, 8, 5) == pytest.approx(50, abs=5)


@given(EC, st.floats(1, 25), st.floats(-1.5, 1))
def test_estimate_is_never_below_the_reading(ec: float, slope: float, intercept: float) -> None:
    """The saturated paste is the least diluted extract: no line may take its EC below the reading."""
    assert ece_by_line(ec, slope, intercept) >= ec
    low, high = ece_range(ec, [(slope, intercept), (2.0, 0.0)], 0.15)
    assert ec <= low <= high


@given(EC)
def test_dissolved_salts_both_ways(ec: float) -> None:
    """EC from TDS gives the EC back, except in the jump of the factor at 5 dS/m (UNITS2004: 640 then 800)."""
    tds = dissolved_salts(ec, low=640, high=800, ec_limit=5)
    back = ec_from_dissolved_salts(tds, low=640, high=800, ec_limit=5)
    assert back == pytest.approx(ec, rel=1e-9)


@pytest.mark.parametrize(("tds", "ec"), [(3200, 5.0), (3201, 5.0), (4000, 5.0), (4008, 5.01)])
def test_dissolved_salts_in_the_jump(tds: float, ec: float) -> None:
    """Between 3,200 and 4,000 mg/L both factors meet at 5 dS/m."""
    assert ec_from_dissolved_salts(tds, low=640, high=800, ec_limit=5) == pytest.approx(ec)


@pytest.mark.parametrize(
    "call",
    [
        lambda: relative_yield(-0.1, 1, 10),
        lambda: relative_yield(1, 1, 0),
        lambda: ece_for_yield(101, 1, 10),
        lambda: ece_for_yield(50, 1, 0),
        lambda: s_curve(1, 0, 3),
        lambda: s_curve_of(1, 0, c50_factor=1, c50_offset=0, s_factor=1),
        lambda: ece_by_line(-1, 2),
        lambda: ece_by_saturation(-1, 30, base=2, per_theta=3),
        lambda: ece_by_saturation(1, 0, base=2, per_theta=3),
        lambda: dissolved_salts(-1, low=640, high=800, ec_limit=5),
        lambda: ec_from_dissolved_salts(-1, low=640, high=800, ec_limit=5),
        lambda: osmotic_pressure(-1, bar_per_ec=0.36),
        lambda: salt_load(-1, 10),
        lambda: nitrogen_in_water(10, -1),
    ],
)
def test_outside_the_range(call: object) -> None:
    """A figure outside the range of an equation is refused, not extrapolated."""
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
