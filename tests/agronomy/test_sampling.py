"""Cores needed against Student's t of a handbook and Cochran's rule."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy.errors import OutOfRange
from service.agronomy.sampling import cores_needed, probability_within, student_t

CASES = yaml.safe_load(Path(__file__).with_name("references").joinpath("methods.yaml").read_text("utf-8"))


@pytest.mark.parametrize("case", CASES["student_t"], ids=lambda case: str(case["freedom"]))
def test_student_t(case: dict[str, Any]) -> None:
    """Printed critical values, three decimals."""
    assert student_t(0.95, case["freedom"]) == pytest.approx(case["t"], abs=0.0006)
    assert probability_within(case["t"], case["freedom"]) == pytest.approx(0.95, abs=1e-4)


@pytest.mark.parametrize("case", CASES["cores"], ids=lambda case: case["id"])
def test_cores(case: dict[str, Any]) -> None:
    """CV 50 %, error 25 %, 95 %: 18 with Student's t, 16 with 1.96."""
    found = cores_needed(case["cv"], case["error"], case["confidence"])
    assert found.cores == case["cores"]
    assert found.t == pytest.approx(2.110, abs=0.001)  # 17 degrees of freedom
    assert found.steps[0].formula == "cores_needed"
    assert found.steps[0].value == case["cores"]


@pytest.mark.parametrize("case", CASES["core_error"], ids=lambda case: case["id"])
def test_error_shrinks_with_the_root(case: dict[str, Any]) -> None:
    """The published field found 25 % with five cores where the root gives 22 %: it had its own spread."""
    assert case["error_1"] / case["cores"] ** 0.5 == pytest.approx(case["expected"], abs=0.1)


@given(cv=st.floats(1, 200), error=st.floats(5, 60), confidence=st.floats(60, 99))
def test_smallest_number_that_is_enough(cv: float, error: float, confidence: float) -> None:
    """Cochran: n is enough when n >= (t CV / E)^2 with t at n - 1, and one fewer is not."""
    cores = cores_needed(cv, error, confidence).cores

    def enough(n: int) -> bool:
        return n >= (student_t(confidence / 100, n - 1) * cv / error) ** 2

    assert enough(cores)
    assert cores == 2 or not enough(cores - 1)


def test_many_cores_use_the_normal_deviate() -> None:
    """Above a thousand Student's t is 1.96 to three figures."""
    assert student_t(0.95, 5000) == pytest.approx(1.960, abs=0.001)
    assert student_t(0.95, 1000) == pytest.approx(1.962, abs=0.001)
    assert cores_needed(1000, 30, 95).cores == pytest.approx((1.96 * 1000 / 30) ** 2, rel=0.001)


@pytest.mark.parametrize(("cv", "error", "confidence"), [(1000, 1000, 50), (1, 1, 99.9)])
def test_the_ends_of_the_range(cv: float, error: float, confidence: float) -> None:
    """The ends themselves are computed."""
    assert cores_needed(cv, error, confidence).cores >= 2


@pytest.mark.parametrize(("cv", "error", "confidence"), [(0, 10, 95), (1001, 10, 95), (50, 0, 95), (50, 10, 100),
                                                         (50, 10, 40), (50, 1001, 95)])  # fmt: skip
def test_out_of_range(cv: float, error: float, confidence: float) -> None:
    """What makes no sampling plan is refused by name."""
    with pytest.raises(OutOfRange):
        cores_needed(cv, error, confidence)
