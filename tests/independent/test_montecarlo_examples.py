"""
The examples of JCGM 101:2008, clause 9, against the coverage intervals drawn here.

Inputs and printed results come from memory and were reproduced from the quoted inputs, exactly where a formula exists.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from digitizer.adjustment.montecarlo import coverage_interval, sampled
from digitizer.adjustment.observations import System
from digitizer.adjustment.solve import Estimate, adjust
from tests.adjustment.networks import linear

DRAWS = 400_000
RANDOM = np.random.default_rng(101)


def rectangular(low: float, high: float) -> np.ndarray:
    return RANDOM.uniform(low, high, DRAWS)


def test_sum_of_normals() -> None:
    """9.2.2: u = 2.0, [−3.92, 3.92]."""
    y = RANDOM.standard_normal((4, DRAWS)).sum(axis=0)
    assert np.std(y) == pytest.approx(2.0, abs=0.005)
    assert coverage_interval(y, shortest=False) == pytest.approx((-3.92, 3.92), abs=0.02)  # four times its scatter


def test_sum_of_rectangles() -> None:
    """9.2.3: u = 2.0, [−3.88, 3.88], exactly 2·√3·(2 − 0.6^¼) = 3.8794."""
    root3 = math.sqrt(3)
    y = sum(rectangular(-root3, root3) for _ in range(4))
    assert np.std(y) == pytest.approx(2.0, abs=0.005)
    exact = 2 * root3 * (2 - 0.6**0.25)
    assert coverage_interval(y, shortest=False) == pytest.approx((-exact, exact), abs=0.02)


def test_one_dominating_rectangle() -> None:
    """9.2.4: u = 10.1, [−17.0, 17.0], where k = 2 would say ±20."""
    root3 = math.sqrt(3)
    y = sum(rectangular(-root3, root3) for _ in range(3)) + rectangular(-10 * root3, 10 * root3)
    assert np.std(y) == pytest.approx(10.1489, abs=0.02)
    assert coverage_interval(y, shortest=False) == pytest.approx((-17.01, 17.01), abs=0.04)


def test_mass_calibration() -> None:
    """9.3: 1.2341 mg, u 0.0754, shortest interval [1.0834, 1.3825]; first order has u 0.0539."""
    reference, difference = RANDOM.normal(100_000.0, 0.050, DRAWS), RANDOM.normal(1.234, 0.020, DRAWS)
    air, weight, standard = rectangular(1.10, 1.30), rectangular(7000, 9000), rectangular(7950, 8050)
    y = (reference + difference) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000.0
    assert np.mean(y) == pytest.approx(1.2341, abs=4e-4)
    assert np.std(y) == pytest.approx(0.0754793, abs=3e-4)
    low, high = coverage_interval(y)
    assert (low, high) == pytest.approx((1.0834, 1.3825), abs=3e-3)  # the optimum is flat
    assert high - low == pytest.approx(1.3825 - 1.0834, abs=1e-3)


def two_lengths(x1: float, correlation: float) -> Estimate:
    """Two lengths of u = 0.005 about x1 and zero, correlated."""
    covariance = 0.005**2 * np.array([[1.0, correlation], [correlation, 1.0]])
    whitener = np.linalg.inv(np.linalg.cholesky(covariance))
    block = linear(whitener, whitener @ [x1, 0.0])
    return adjust(System(2, [block]), np.array([x1, 0.0]), np.ones(2, dtype=bool))


@pytest.mark.parametrize(
    ("x1", "mean", "u", "interval"),
    [
        pytest.param(0.0, 50.0, 50.0, (0.0, 149.79), id="at-zero"),
        pytest.param(0.010, 150.0, 111.80, (0.0, 366.0), id="near-zero"),
        pytest.param(0.050, 2550.0, 502.49, (1593.6, 3548.6), id="far-from-zero"),
    ],
)
def test_square_sum_near_zero(x1: float, mean: float, u: float, interval: tuple[float, float]) -> None:
    """
    9.4: Y = X1² + X2², millionths; where first order says 0 ± 0, or 100 ± 100.

    The case of a rise, or of a distance from the centreline, near zero.
    """
    y = 1e6 * sampled(two_lengths(x1, 0.0), lambda x: x @ x, 100_000, seed=94)
    assert np.mean(y) == pytest.approx(mean, abs=4 * u / 316)
    assert np.std(y) == pytest.approx(u, rel=0.02)
    low, high = coverage_interval(y)
    assert (low, high) == pytest.approx(interval, abs=0.09 * u)  # ends of the shortest interval scatter most
    assert high - low == pytest.approx(interval[1] - interval[0], rel=0.01)


@pytest.mark.parametrize(("x1", "mean", "u"), [(0.0, 50, 67.27), (0.010, 150, 120.52), (0.050, 2550, 504.50)])
def test_square_sum_of_correlated_lengths(x1: float, mean: float, u: float) -> None:
    """9.4 with r = 0.9: u² = 4·x1²·u² + 4·u⁴·(1 + r²)."""
    y = 1e6 * sampled(two_lengths(x1, 0.9), lambda x: x @ x, 100_000, seed=95)
    assert np.mean(y) == pytest.approx(mean, abs=4 * u / 316)
    assert np.std(y) == pytest.approx(u, rel=0.02)


def test_gauge_block() -> None:
    """9.5: 838 nm, u 36, 99 % [745, 932]; the printed line was read, the inputs come from memory."""

    def student(value: float, scale: float, freedom: int) -> np.ndarray:
        return value + scale * RANDOM.standard_t(freedom, DRAWS)

    def trapezoid(half: float, uncertain: float) -> np.ndarray:
        width = half + rectangular(-uncertain, uncertain)
        return width * RANDOM.uniform(-1, 1, DRAWS)

    standard = student(50_000_623.0, 25.0, 18)
    difference = student(215.0, 6.0, 24) + student(0.0, 4.0, 5) + student(0.0, 7.0, 8)
    expansion = rectangular(9.5e-6, 13.5e-6)
    temperature = RANDOM.normal(-0.1, 0.2, DRAWS) + 0.5 * np.sin(rectangular(-math.pi, math.pi))
    d_expansion, d_temperature = trapezoid(1e-6, 0.1e-6), trapezoid(0.050, 0.025)
    y = standard + difference - standard * (d_expansion * temperature + expansion * d_temperature) - 50_000_000.0
    assert np.mean(y) == pytest.approx(838.0, abs=0.3)
    assert np.std(y) == pytest.approx(35.8, abs=0.3)
    assert coverage_interval(y, 0.99, shortest=False) == pytest.approx((745, 932), abs=1.5)
