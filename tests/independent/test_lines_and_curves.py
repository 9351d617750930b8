"""Published fits of lines and curves, by the adjustment and by the geometry room."""

from __future__ import annotations

import math

import numpy as np
import pytest
from odrpack import odr_fit

from digitizer.adjustment.observations import System
from digitizer.adjustment.solve import Estimate, adjust
from digitizer.geometry.lines import fitted_line
from tests.adjustment.networks import Curve, linear

NORRIS_X = """
0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1 995.8
887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5
"""
NORRIS_Y = """
0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3 998.0
888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2
"""
MISRA_X = [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
MISRA_Y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
PEARSON_X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
YORK_WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
YORK_WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def test_norris() -> None:
    """NIST StRD Norris, 36 points, certified values; read in the test files of GSL and scipy."""
    x, y = np.array(NORRIS_X.split(), float), np.array(NORRIS_Y.split(), float)
    estimate = adjust(System(2, [linear(np.column_stack((np.ones(36), x)), y)]), np.zeros(2), np.ones(2, dtype=bool))
    assert estimate.x == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert estimate.weighted_square_sum == pytest.approx(26.6173985294224, rel=1e-12)
    errors = np.sqrt(estimate.variance_factor * np.diag(estimate.covariance))
    assert errors == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-9)


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)], ids=["far-start", "near-start"])
def test_misra1a(start: tuple[float, float]) -> None:
    """NIST StRD Misra1a, b₁(1 − exp(−b₂x)), from both certified starts; read in lmfit's copy of the data sets."""
    x, y = np.array(MISRA_X), np.array(MISRA_Y)
    curve = Curve(
        lambda b: b[0] * (1 - np.exp(-b[1] * x)),
        lambda b: np.column_stack((1 - np.exp(-b[1] * x), b[0] * x * np.exp(-b[1] * x))),
        y,
        np.full(14, 0.1),  # about the scatter, so that convergence is judged in units of it
    )
    estimate = adjust(System(2, [curve]), np.array(start), np.ones(2, dtype=bool))
    assert estimate.x == pytest.approx([238.94212918, 5.5015643181e-4], rel=1e-6)  # a ten-thousandth of their u
    errors = np.sqrt(estimate.variance_factor * np.diag(estimate.covariance))
    assert errors == pytest.approx([2.7070075241, 7.2668688436e-6], rel=1e-5)
    assert 0.1 * math.sqrt(estimate.variance_factor) == pytest.approx(0.1018787633, rel=1e-7)


class TestErrorsInBoth:
    """
    Pearson's points with York's weights, errors in x and y.

    K. Pearson, Phil. Mag. 2 (1901) 559; D. York, Can. J. Phys. 44 (1966) 1079. Data read; results from memory,
    reproduced by recomputation from the quoted inputs.
    """

    @pytest.fixture
    def estimate(self) -> Estimate:
        """Line and the ten true abscissae as parameters; twenty observations."""

        def derivatives(p: np.ndarray) -> np.ndarray:
            by = np.zeros((20, 12))
            by[:10, 2:] = np.eye(10)
            by[10:, 0], by[10:, 1], by[10:, 2:] = 1.0, p[2:], p[1] * np.eye(10)
            return by

        observations = Curve(
            lambda p: np.concatenate((p[2:], p[0] + p[1] * p[2:])),
            derivatives,
            np.concatenate((PEARSON_X, PEARSON_Y)),
            np.concatenate((YORK_WX, YORK_WY)) ** -0.5,
        )
        return adjust(System(12, [observations]), np.array([6.0, -0.5, *PEARSON_X]), np.ones(12, dtype=bool))

    def test_line(self, estimate: Estimate) -> None:
        """5.47991022 − 0.480533407·x, S = 11.8663532."""
        assert estimate.x[:2] == pytest.approx([5.47991022, -0.480533407], abs=2e-6)  # u are 0.3 and 0.06
        assert estimate.weighted_square_sum == pytest.approx(11.8663532, abs=1e-7)
        assert estimate.redundancy == pytest.approx(8.0)
        assert estimate.variance_factor == pytest.approx(1.4833, abs=5e-5)

    def test_standard_errors(self, estimate: Estimate) -> None:
        """0.295 and 0.058, scaled by s₀ 0.359 and 0.0706."""
        errors = np.sqrt(np.diag(estimate.covariance))[:2]
        # The published ones are taken at the observed instead of the adjusted points: half a per cent apart.
        assert errors == pytest.approx([0.29497, 0.05799], rel=0.006)
        assert errors * math.sqrt(estimate.variance_factor) == pytest.approx([0.35925, 0.07062], rel=0.006)

    def test_another_program_agrees(self, estimate: Estimate) -> None:
        """Orthogonal distance regression by odrpack, given exact derivatives and tight tolerances."""
        second = odr_fit(
            lambda x, beta: beta[0] + beta[1] * x, PEARSON_X, PEARSON_Y, beta0=np.array([6.0, -0.5]),
            weight_x=YORK_WX, weight_y=YORK_WY, sstol=1e-15, partol=1e-15, maxit=500,
            jac_beta=lambda x, beta: np.array([np.ones_like(x), x]), jac_x=lambda x, beta: np.full_like(x, beta[1]),
        )  # fmt: skip
        assert estimate.x[:2] == pytest.approx(second.beta, abs=2e-6)
        assert estimate.weighted_square_sum == pytest.approx(second.sum_square, rel=1e-7)


def test_unweighted_lines_of_pearsons_points() -> None:
    """Orthogonal 5.784 − 0.54556·x as Pearson printed it; ordinary 5.76119 − 0.53958·x."""
    line = fitted_line(np.column_stack((PEARSON_X, PEARSON_Y)))
    slope = line.direction[1] / line.direction[0]
    assert (line.point[1] - slope * line.point[0], slope) == pytest.approx((5.784, -0.54556), abs=5e-4)
    A = np.column_stack((np.ones(10), PEARSON_X))
    ordinary = adjust(System(2, [linear(A, PEARSON_Y)]), np.zeros(2), np.ones(2, dtype=bool))
    assert ordinary.x == pytest.approx([5.76119, -0.53958], abs=6e-6)
