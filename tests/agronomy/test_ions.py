"""Charge balance against worked figures and against a solution that is balanced by construction."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.errors import OutOfRange
from service.agronomy.ions import balance_verdict, ion_balance
from service.agronomy.quality_limits import Limits
from service.agronomy.sodicity import sar
from service.agronomy.tables import Library

CASES = yaml.safe_load(Path(__file__).with_name("references").joinpath("methods.yaml").read_text("utf-8"))
ION = st.floats(0.01, 500)


@pytest.fixture(scope="module")
def limits(library: Library) -> Limits:
    return library.index(Limits.of)


@pytest.mark.parametrize("case", CASES["ion_balance"], ids=lambda case: case["id"])
def test_worked_balance(limits: Limits, case: dict[str, Any]) -> None:
    """Sums, difference and ratio to the EC of the worked extract; with the EC in uS/cm the ratio gives it away."""
    found = ion_balance(limits, case["cations"], case["anions"], case["ec"])
    expected = case["expected"]
    assert found.cation_sum_meq_L == pytest.approx(expected["cations"])
    assert found.anion_sum_meq_L == pytest.approx(expected["anions"])
    assert found.difference_pct == pytest.approx(expected["difference"], abs=0.01)
    assert found.cations_per_10_ec == pytest.approx(expected["ratio"], rel=0.01)
    assert found.verdict == expected["verdict"]
    ions = case["cations"]
    assert sar(ions["Na"], ions["Ca"], ions["Mg"]) == pytest.approx(expected["sar"], abs=0.01)


@given(calcium=ION, magnesium=ION, sodium=ION)
def test_equal_charges_balance(library: Library, calcium: float, magnesium: float, sodium: float) -> None:
    """Dissolved CaSO4, MgCl2 and NaHCO3: cations and anions are the same charge by construction."""
    cations = {"Ca": calcium, "Mg": magnesium, "Na": sodium}
    found = ion_balance(library.index(Limits.of), cations, {"SO4": calcium, "Cl": magnesium, "HCO3": sodium})
    assert found.difference_pct == pytest.approx(0, abs=1e-9)
    assert found.verdict == "good"


@pytest.mark.parametrize(
    ("plus", "minus", "verdict"),
    [
        (105.0, 95.0, "good"),
        (105.1, 94.9, "caution"),
        (110.0, 90.0, "caution"),
        (110.1, 89.9, "failed"),
        (90.0, 110.0, "caution"),
        (1.2, 1.0, "good"),
        (1.3, 1.0, "failed"),
    ],
)
def test_verdict_at_its_limits(limits: Limits, plus: float, minus: float, verdict: str) -> None:
    """5 and 10 % (customary; Standard Methods 1030 E judges the plain difference of 0.2 meq/L in dilute water)."""
    assert balance_verdict(limits, plus, minus) == verdict


def test_what_was_not_measured_is_not_zero(limits: Limits) -> None:
    """Without sulfate the balance is incomplete and names the sulfate that would close it."""
    found = ion_balance(limits, {"Ca": 8, "Mg": 4, "Na": 12}, {"Cl": 9, "HCO3": 3.5})
    assert found.verdict == "incomplete"
    assert found.sulfate_by_difference == pytest.approx(11.5)
    assert found.cations_per_10_ec is None
    without_sodium = ion_balance(limits, {"Ca": 8, "Mg": 4}, {"Cl": 5, "HCO3": 3, "SO4": 4})
    assert without_sodium.verdict == "incomplete"
    assert without_sodium.sulfate_by_difference is None


@pytest.mark.parametrize(("cations", "anions"), [({"Ca": -1.0}, {"Cl": 1.0}), ({"Ca": 0.0}, {"Cl": 0.0}),
                                                 ({"Ca": float("nan")}, {"Cl": 1.0})])  # fmt: skip
def test_impossible_ions(limits: Limits, cations: dict[str, float], anions: dict[str, float]) -> None:
    """Negative, empty and not-a-number are refused."""
    with pytest.raises(OutOfRange):
        ion_balance(limits, cations, anions)


def test_sar_needs_calcium_or_magnesium() -> None:
    """Handbook 60: undefined without divalent cations."""
    with pytest.raises(OutOfRange):
        sar(10, 0, 0)
