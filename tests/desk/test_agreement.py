"""The upper bound of an error rate, against the rule of three and exact sums.

Rule of three: Hanley and Lippman-Hand, JAMA 249:1743-1745 (1983): no event in n gives about 3/n. Clopper and Pearson's
bound is a quantile of the beta distribution; it is checked here by summing the
binomial chances in exact fractions.
"""

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.desk.agreement import upper_bound


@pytest.mark.parametrize("cases", [30, 100, 500, 5000])
def test_no_error_in_n_is_the_rule_of_three(cases: int) -> None:
    assert upper_bound(0, cases) == pytest.approx(3 / cases, rel=0.06)
    assert upper_bound(0, cases) == pytest.approx(1 - 0.05 ** (1 / cases), rel=1e-9)


@given(cases=st.integers(1, 120), data=st.data())
def test_at_the_bound_so_few_errors_have_five_chances_in_a_hundred(cases: int, data: st.DataObject) -> None:
    errors = data.draw(st.integers(0, cases - 1))
    rate = Fraction(upper_bound(errors, cases))
    chance = sum(comb(cases, k) * rate**k * (1 - rate) ** (cases - k) for k in range(errors + 1))
    assert float(chance) == pytest.approx(0.05, rel=1e-6)


@pytest.mark.parametrize(("errors", "cases"), [(0, 0), (3, 3)])
def test_nothing_read_or_nothing_right_is_no_assurance(errors: int, cases: int) -> None:
    assert upper_bound(errors, cases) == 1.0
