"""
Survey networks of textbooks: adjusted values, residuals, redundancy numbers, tests.

Ghilani: Adjustment Computations, 5th ed., 2010. Strang and Borre: Linear Algebra, Geodesy, and GPS, 1997. Niemeier:
Ausgleichungsrechnung, 2nd ed., 2008. Inputs and adjusted values were read in the test files of GNU Gama and reproduced
by recomputation; redundancy numbers, w and minimal detectable errors were computed from them by other programs.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm

from digitizer.adjustment.observations import System
from digitizer.adjustment.reliability import minimal_detectable_errors, standardised_residuals
from digitizer.adjustment.solve import Estimate, adjust, minimised
from digitizer.adjustment.statistics import chi_square_quantile, student_quantile
from tests.adjustment.networks import NIEMEIER, Distances, LevelNet, residuals_in_units, rows_named

LEVELS = LevelNet(
    [
        ("A", "B", 10.509, 0.006),
        ("B", "C", 5.360, 0.004),
        ("C", "D", -8.523, 0.005),
        ("D", "A", -7.348, 0.003),
        ("B", "D", -3.167, 0.004),
        ("A", "C", 15.881, 0.012),
    ],
    ("A", 437.596),
)


class TestLevelNet:
    """Ghilani, Ex. 12.6: heights B, C and D over A = 437.596 m, weights from 3 to 12 mm."""

    @pytest.fixture
    def estimate(self) -> Estimate:
        return LEVELS.adjusted()

    def test_heights(self, estimate: Estimate) -> None:
        """As printed to tenths of micrometres."""
        assert estimate.x[1:] == pytest.approx([448.1087117, 453.4684678, 444.9436053], abs=1e-7)

    def test_residuals(self, estimate: Estimate) -> None:
        """Adjusted minus observed, mm."""
        v = 1e3 * residuals_in_units(LEVELS.system(), estimate)
        assert v == pytest.approx([3.712, -0.244, -1.862, 0.395, 1.894, -8.532], abs=6e-4)

    def test_standard_deviations(self, estimate: Estimate) -> None:
        """A priori and, with s₀ = 0.6512, a posteriori, mm."""
        a_priori = 1e3 * np.sqrt(np.diag(estimate.covariance))
        assert a_priori == pytest.approx([3.5249, 4.0484, 2.7038], abs=6e-5)
        assert estimate.weighted_square_sum == pytest.approx(1.2721228, abs=5e-8)
        assert math.sqrt(estimate.variance_factor) == pytest.approx(0.6511843, abs=5e-8)
        assert a_priori * math.sqrt(estimate.variance_factor) == pytest.approx([2.2953, 2.6363, 1.7607], abs=6e-5)
        assert student_quantile(0.975, 3) == pytest.approx(3.1824, abs=6e-5)

    def test_reliability(self, estimate: Estimate) -> None:
        """Redundancy numbers, w, tau and minimal detectable errors of the six lines."""
        r = [0.65487, 0.32945, 0.50917, 0.18770, 0.43262, 0.88618]
        assert estimate.redundancy_numbers == pytest.approx(r, abs=6e-6)
        assert estimate.redundancy == pytest.approx(3.0)
        w = standardised_residuals(estimate)
        assert w == pytest.approx([0.7645, -0.1063, -0.5220, 0.3037, 0.7197, -0.7553], abs=6e-5)
        tau = np.abs(w) / math.sqrt(estimate.variance_factor)
        assert tau == pytest.approx([1.174, 0.163, 0.802, 0.466, 1.105, 1.160], abs=6e-4)
        u = np.array([row.u for row in LEVELS.system().rows])
        errors = 1e3 * minimal_detectable_errors(estimate) * u
        assert errors == pytest.approx([30.63, 28.79, 28.95, 28.61, 25.13, 52.67], abs=0.01)  # with 4.132 for 4.1321


class TestTrilateration:
    """Strang and Borre, Ex. 10.1: one point by three distances of 10 mm."""

    start = np.array([170.71, 170.71, 170.71, 270.71, 100.0, 100.0, 241.42, 100.0])
    free = np.array([True, True] + 6 * [False])

    @pytest.fixture
    def system(self) -> System:
        ends = np.array([[0, 1], [0, 2], [0, 3]])
        rows = rows_named(["1", "2", "3"], [0.010] * 3)
        return System(8, [Distances(ends, np.array([100.01, 100.02, 100.03]), rows)])

    def test_first_step(self, system: System) -> None:
        """(−0.00707, +0.01336), the step that the book works out."""
        r, J = system.linearised(self.start)
        step = np.linalg.lstsq(J[:, :2], -r)[0]
        assert step == pytest.approx([-0.00707, 0.01336], abs=6e-6)
        x, _ = minimised(system, self.start, self.free, np.ones(3))
        assert x[:2] - self.start[:2] == pytest.approx(step, abs=1e-5)

    def test_result(self, system: System) -> None:
        """Place, residuals in mm, s₀ = 33.03 mm with one degree of freedom."""
        estimate = adjust(system, self.start, self.free)
        assert estimate.x[:2] == pytest.approx([170.7029254, 170.7233566], abs=1e-6)
        assert 1e3 * residuals_in_units(system, estimate) == pytest.approx([-23.356, -16.516, -16.512], abs=2e-3)
        assert 10.0 * math.sqrt(estimate.variance_factor) == pytest.approx(33.0293, abs=1e-3)
        assert estimate.redundancy_numbers == pytest.approx([0.50005, 0.25004, 0.24992], abs=1e-5)

    def test_misfit_shows_and_nobody_is_to_blame(self, system: System) -> None:
        """s₀ fails its test (3.303 > 2.241), and with one degree of freedom every |tau| is one."""
        estimate = adjust(system, self.start, self.free)
        limit = math.sqrt(chi_square_quantile(0.975, 1))
        assert limit == pytest.approx(2.241, abs=6e-4)
        assert math.sqrt(estimate.variance_factor) == pytest.approx(3.303, abs=6e-4)
        assert math.sqrt(estimate.variance_factor) > limit
        tau = standardised_residuals(estimate) / math.sqrt(estimate.variance_factor)
        assert np.abs(tau) == pytest.approx([1.0, 1.0, 1.0], abs=1e-4)


class TestFeet:
    """Ghilani, Ex. 14.5: two stations by five distances, in feet, coordinates in the millions."""

    # Campus, Wisconsin, Badger, Bucky
    start = np.array(
        [2416892.670, 387603.450, 2415776.819, 391043.461, 2410000.000, 390000.000, 2411820.000, 386881.222]
    )
    ends = np.array([[2, 1], [2, 0], [1, 0], [1, 3], [0, 3]])
    lengths = np.array([5870.302, 7297.588, 3616.434, 5742.878, 5123.760])

    @pytest.fixture
    def system(self) -> System:
        return System(8, [Distances(self.ends, self.lengths, rows_named(list("12345"), [1.0] * 5))])

    def test_result(self, system: System) -> None:
        """Coordinates, residuals, s₀, standard deviations and redundancy numbers, ft."""
        estimate = adjust(system, self.start, np.array(4 * [True] + 4 * [False]))
        expected = [2416892.69552, 387603.25513, 2415776.90438, 391043.29449]
        assert estimate.x[:4] == pytest.approx(expected, abs=2e-5, rel=0)
        v = residuals_in_units(system, estimate)
        assert v == pytest.approx([0.05468, -0.07901, 0.03675, -0.06164, 0.06393], abs=1e-5)
        assert math.sqrt(estimate.variance_factor) == pytest.approx(0.135905, abs=1e-6)
        deviations = np.sqrt(estimate.variance_factor * np.diag(estimate.covariance))
        assert deviations == pytest.approx([0.1038, 0.2705, 0.1488, 0.2206], abs=6e-5)
        r = [0.16190, 0.33798, 0.07312, 0.20574, 0.22125]
        assert estimate.redundancy_numbers == pytest.approx(r, abs=6e-6)


class TestMisfit:
    """Niemeier, pp. 153 ff.: a net with a clear error, weights by length."""

    def test_heights_and_deviations(self) -> None:
        """m and, a posteriori, mm."""
        estimate = NIEMEIER.adjusted()
        assert estimate.x[:5] == pytest.approx([68.9235, 60.7153, 63.1938, 56.2838, 44.3226], abs=6e-5)
        s0 = math.sqrt(estimate.variance_factor)
        assert s0 == pytest.approx(3.3942, abs=6e-5)
        deviations = 1e3 * s0 * np.sqrt(np.diag(estimate.covariance))
        assert deviations == pytest.approx([3.12, 2.60, 1.97, 2.63, 2.30], abs=6e-3)

    def test_residuals_and_reliability(self) -> None:
        """v in mm, r and w of the nine lines; both lines of station 1 have the same |w|."""
        estimate = NIEMEIER.adjusted()
        v = 1e3 * residuals_in_units(NIEMEIER.system(), estimate)
        assert v == pytest.approx([-2.21, 4.30, -2.49, 1.57, -0.94, 0.79, -0.76, 0.73, 1.45], abs=6e-3)
        r = [0.2869, 0.5566, 0.3656, 0.4629, 0.6190, 0.6346, 0.2368, 0.3896, 0.4480]
        assert estimate.redundancy_numbers == pytest.approx(r, abs=6e-5)
        w = [-5.25, 5.25, -6.13, 2.58, -1.20, 0.94, -2.37, 1.38, 2.37]
        assert standardised_residuals(estimate) == pytest.approx(w, abs=6e-3)


@pytest.mark.parametrize("net", [LEVELS, NIEMEIER], ids=["Ghilani", "Niemeier"])
def test_another_library_finds_the_same_reliability(net: LevelNet) -> None:
    """
    Ordinary least squares of statsmodels on the whitened rows: leverage, studentised residuals and test of outliers.

    Its residuals are observed − adjusted, the opposite of ours.
    """
    system, free = net.system(), net.free()
    minus_l, J = system.linearised(np.where(free, 0.0, net.known[1]))
    influence = sm.OLS(-minus_l, J[:, free]).fit().get_influence()
    estimate = net.adjusted()
    assert 1.0 - influence.hat_matrix_diag == pytest.approx(estimate.redundancy_numbers, abs=1e-9)
    tau = standardised_residuals(estimate) / math.sqrt(estimate.variance_factor)
    assert -influence.resid_studentized_internal == pytest.approx(tau, abs=1e-6)
    f = estimate.redundancy
    t = tau * np.sqrt((f - 1) / (f - tau**2))  # the test with the suspect left out of s₀
    assert -influence.resid_studentized_external == pytest.approx(t, abs=1e-5)
