"""Critical values as printed in tables."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from digitizer.adjustment.statistics import (
    DELTA_0,
    W_CRITICAL,
    chi_square_band,
    chi_square_quantile,
    normal_quantile,
    student_quantile,
    tau_critical,
)

CHI_SQUARE_PERCENT = (0.5, 2.5, 5.0, 95.0, 97.5, 99.0, 99.5, 99.9)
CHI_SQUARE = {
    1: (0.0000, 0.0010, 0.0039, 3.8415, 5.0239, 6.6349, 7.8794, 10.8276),
    2: (0.0100, 0.0506, 0.1026, 5.9915, 7.3778, 9.2103, 10.5966, 13.8155),
    3: (0.0717, 0.2158, 0.3518, 7.8147, 9.3484, 11.3449, 12.8382, 16.2662),
    5: (0.4117, 0.8312, 1.1455, 11.0705, 12.8325, 15.0863, 16.7496, 20.5150),
    10: (2.1559, 3.2470, 3.9403, 18.3070, 20.4832, 23.2093, 25.1882, 29.5883),
    20: (7.4338, 9.5908, 10.8508, 31.4104, 34.1696, 37.5662, 39.9968, 45.3147),
    30: (13.7867, 16.7908, 18.4927, 43.7730, 46.9792, 50.8922, 53.6720, 59.7031),
}
STUDENT_975 = {1: 12.706, 2: 4.303, 3: 3.182, 5: 2.571, 10: 2.228, 16: 2.120, 20: 2.086, 50: 2.009}
TAU_FREEDOM = (2, 3, 4, 5, 10, 15, 20, 30, 50, 100)
TAU = {
    0.05: (1.4099, 1.6454, 1.7567, 1.8143, 1.9039, 1.9261, 1.9358, 1.9447, 1.9512, 1.9557),
    0.01: (1.4140, 1.7147, 1.9175, 2.0509, 2.3236, 2.4113, 2.4539, 2.4956, 2.5282, 2.5522),
    0.001: (1.4142, 1.7303, 1.9823, 2.1781, 2.6786, 2.8735, 2.9749, 3.0785, 3.1626, 3.2263),
}


@pytest.mark.parametrize("f", CHI_SQUARE)
def test_chi_square_table(f: int) -> None:
    """Four decimals, as statistical tables print them; computed by another library."""
    found = [chi_square_quantile(percent / 100, f) for percent in CHI_SQUARE_PERCENT]
    assert found == pytest.approx(CHI_SQUARE[f], abs=5.1e-5)


@pytest.mark.parametrize("f", STUDENT_975)
def test_student_table(f: int) -> None:
    """Three decimals at 97.5 %."""
    assert student_quantile(0.975, f) == pytest.approx(STUDENT_975[f], abs=5.1e-4)


@pytest.mark.parametrize("level", TAU, ids=lambda level: f"{100 * level:g}%")
def test_tau_table(level: float) -> None:
    """Pope's tau (NOAA Technical Report NOS 65 NGS 1, 1976), formula from memory, table computed from it."""
    assert [tau_critical(f, level) for f in TAU_FREEDOM] == pytest.approx(TAU[level], abs=5.1e-5)


def test_baardas_critical_value_and_shift() -> None:
    """3.29 and 4.13 at 0.1 % and 80 % (Baarda 1968); from memory, reproduced with the normal distribution."""
    found = {"critical": W_CRITICAL, "shift": DELTA_0, "noncentrality": DELTA_0**2}
    assert found == pytest.approx({"critical": 3.2905, "shift": 4.1321, "noncentrality": 17.0746}, abs=1e-3)
    assert found["shift"] == pytest.approx(4.1321, abs=5.1e-5)


@pytest.mark.parametrize(
    ("level", "power", "noncentrality"),
    [(0.01, 0.80, 11.679), (0.05, 0.80, 7.849), (0.001, 0.90, 20.904), (0.01, 0.90, 14.879)],
    ids=["1%-80%", "5%-80%", "0.1%-90%", "1%-90%"],
)
def test_shift_from_two_quantiles_is_the_noncentrality(level: float, power: float, noncentrality: float) -> None:
    """Sum of two normal quantiles, squared, against the exact noncentral chi-square distribution."""
    shift = normal_quantile(1 - level / 2) + normal_quantile(power)
    assert shift**2 == pytest.approx(noncentrality, abs=6e-3)  # the other tail, which the sum leaves out
    exact = stats.ncx2.sf(stats.chi2.isf(level, 1), 1, noncentrality)
    assert exact == pytest.approx(power, abs=1e-4)


def test_level_net_band() -> None:
    """The 95 % band of s₀² with three degrees of freedom (Ghilani 2010, Ex. 12.6): 0.2158 … 9.3484."""
    low, high = chi_square_band(3)
    assert (low, high) == pytest.approx((0.2158, 9.3484), abs=5e-5)
    assert (math.sqrt(low / 3), math.sqrt(high / 3)) == pytest.approx((0.268, 1.765), abs=5e-4)
