"""Critical values, against another library; published tables are compared among the independent tests."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from digitizer.adjustment.statistics import (
    chi_square_band,
    chi_square_quantile,
    normal_quantile,
    student_quantile,
    tau_critical,
)

probabilities = st.floats(1e-4, 1 - 1e-4)
freedoms = st.integers(1, 300)


@given(probabilities, freedoms)
def test_quantiles_agree_with_the_distributions(p: float, f: int) -> None:
    """Every quantile is where its distribution function reaches p."""
    assert stats.norm.cdf(normal_quantile(p)) == pytest.approx(p, rel=1e-10)
    assert stats.chi2.cdf(chi_square_quantile(p, f), f) == pytest.approx(p, rel=1e-8)
    assert stats.t.cdf(student_quantile(p, f), f) == pytest.approx(p, rel=1e-8)


@given(freedoms, st.floats(0.5, 0.999))
def test_band_leaves_equal_tails(f: int, level: float) -> None:
    """As often too small as too large."""
    low, high = chi_square_band(f, level)
    assert stats.chi2.cdf(low, f) == pytest.approx((1 - level) / 2, rel=1e-6)
    assert stats.chi2.sf(high, f) == pytest.approx((1 - level) / 2, rel=1e-6)


@given(st.integers(2, 500), st.floats(1e-4, 0.2))
def test_tau_is_bounded_and_tends_to_the_normal_value(f: int, level: float) -> None:
    """It never exceeds √f, and with many observations it is the normal value."""
    assert tau_critical(f, level) <= math.sqrt(f)
    assert tau_critical(10**7, level) == pytest.approx(normal_quantile(1 - level / 2), rel=1e-5)


def test_one_degree_of_freedom_has_no_tau() -> None:
    """Then every |tau| is one."""
    with pytest.raises(ValueError, match="at least 2 degrees of freedom, got 1"):
        tau_critical(1, 0.05)
