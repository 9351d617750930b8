"""
The worked examples of JCGM 100:2008 (GUM), annex H, with `Propagated` and with the adjustment.

Inputs and printed results were read in the documentation and scripts of GTC, published by a national measurement
institute, except where a test says that a figure comes from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from uncertainties import correlated_values, umath

from digitizer.adjustment import propagation as p
from digitizer.adjustment.observations import Priors, Row, System
from digitizer.adjustment.propagation import Number, Propagated
from digitizer.adjustment.solve import Estimate, adjust
from digitizer.adjustment.statistics import student_quantile
from tests.adjustment.networks import linear

VOLT = [5.007, 4.994, 5.005, 4.990, 4.999]
AMPERE = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
RADIAN = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def inputs(values: dict[str, tuple[float, float]]) -> tuple[Estimate, list[Propagated]]:
    """Independent inputs (estimate, u) as an adjustment of direct observations, and as numbers with derivatives."""
    priors = Priors()
    for column, (name, (value, u)) in enumerate(values.items()):
        priors.add(column, value, Row(name, name, "input", name, "", u))
    size = len(values)
    estimate = adjust(System(size, [priors]), np.array([v for v, _ in values.values()]), np.ones(size, dtype=bool))
    return estimate, [Propagated(float(x), row) for x, row in zip(estimate.x, np.eye(size), strict=True)]


class TestEndGauge:
    """H.1: an end gauge of 50 mm compared with a known one (nm, °C)."""

    names = ("standard", "repeat", "random", "systematic", "expansion", "difference of expansion",
             "mean temperature", "cycle", "difference of temperature")  # fmt: skip

    @pytest.fixture
    def length(self) -> tuple[Estimate, Propagated]:
        """The gauge's length from nine inputs."""
        root2, root3 = math.sqrt(2), math.sqrt(3)  # half-widths of arcsine and rectangular distributions
        u = [25.0, 5.8, 3.9, 6.7, 2e-6 / root3, 1e-6 / root3, 0.2, 0.5 / root2, 0.05 / root3]
        x = [50_000_623.0, 215.0, 0.0, 0.0, 11.5e-6, 0.0, -0.1, 0.0, 0.0]
        estimate, numbers = inputs(dict(zip(self.names, zip(x, u, strict=True), strict=True)))
        ls, d0, d1, d2, alpha, d_alpha, mean, cycle, d_theta = numbers
        length = ls + d0 + d1 + d2 - ls * (d_alpha * (mean + cycle) + alpha * d_theta)
        assert isinstance(length, Propagated)
        return estimate, length

    def test_value_and_combined_uncertainty(self, length: tuple[Estimate, Propagated]) -> None:
        """50 000 838 nm, u = 32 nm (31.66; value from memory, reproduced by recomputation from the quoted inputs)."""
        estimate, found = length
        assert found.value == pytest.approx(50_000_838, abs=0.5)
        u = math.sqrt(estimate.covariance_of(found.gradient[None])[0, 0])
        assert u == pytest.approx(31.66, abs=5e-3)

    def test_contributions(self, length: tuple[Estimate, Propagated]) -> None:
        """25, then 5.8, 3.9 and 6.7, nothing for the coefficient, 2.887 and 16.599."""
        estimate, found = length
        parts = np.abs(estimate.influence(found.gradient[None])[0])
        assert parts == pytest.approx([25, 5.8, 3.9, 6.7, 0, 2.88679, 0, 0, 16.599], abs=5e-4)

    def test_expanded_uncertainty(self, length: tuple[Estimate, Propagated]) -> None:
        """
        Effective degrees of freedom 16.7, t₉₉(16) = 2.92, U₉₉ = 93 nm (values from memory, reproduced by recomputation
        from the quoted inputs).
        """
        estimate, found = length
        parts = np.abs(estimate.influence(found.gradient[None])[0])
        u = math.sqrt(np.sum(parts**2))
        freedom = np.array([18, 24, 5, 8, np.inf, 50, np.inf, np.inf, 2])
        effective = u**4 / np.sum(parts**4 / freedom)
        assert effective == pytest.approx(16.7, abs=0.1)  # with the three parts of d kept apart
        assert student_quantile(0.995, 16) == pytest.approx(2.92, abs=5e-3)
        assert student_quantile(0.995, 16) * round(u) == pytest.approx(93, abs=0.5)

    def test_second_order_terms_are_what_first_order_leaves_out(self, length: tuple[Estimate, Propagated]) -> None:
        """11.7 and 1.7 nm make 34 nm of 32: products of two quantities that are near zero."""
        estimate, found = length
        u_first = math.sqrt(estimate.covariance_of(found.gradient[None])[0, 0])
        ls, u_theta = 50_000_623.0, math.hypot(0.2, 0.5 / math.sqrt(2))
        terms = ls * 1e-6 / math.sqrt(3) * u_theta, ls * 2e-6 / math.sqrt(3) * 0.05 / math.sqrt(3)
        assert terms == pytest.approx((11.7, 1.7), abs=0.05)
        assert math.hypot(u_first, *terms) == pytest.approx(33.8, abs=0.05)


class TestResistance:
    """
    H.2: resistance and reactance from five simultaneous readings, correlated.

    The readings and results come from memory and were reproduced by recomputation from the quoted inputs; the means,
    uncertainties and correlations of the inputs were read.
    """

    @pytest.fixture
    def means(self) -> Estimate:
        """Means of five readings, adjusted with the covariance of the mean that the readings themselves show."""
        readings = np.array([VOLT, AMPERE, RADIAN])
        whitener = np.linalg.inv(np.linalg.cholesky(np.cov(readings) / 5))
        block = linear(whitener, whitener @ readings.mean(axis=1))
        return adjust(System(3, [block]), np.array([5.0, 0.02, 1.0]), np.ones(3, dtype=bool))

    def impedances(self, estimate: Estimate) -> list[Number]:
        V, I, phi = (Propagated(float(x), row) for x, row in zip(estimate.x, np.eye(3), strict=True))  # noqa: E741
        return [V * p.cos(phi) / I, V * p.sin(phi) / I, V / I]

    def test_inputs(self, means: Estimate) -> None:
        """Means 4.9990, 19.6610 mA, 1.04446; u and correlations as printed."""
        assert means.x == pytest.approx([4.9990, 19.6610e-3, 1.04446], rel=1e-9)
        u = np.sqrt(np.diag(means.covariance))
        assert u == pytest.approx([0.0032094, 0.0094710e-3, 0.00075206], rel=2e-5)
        correlation = means.covariance / np.outer(u, u)
        assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.35531, 0.85762, -0.64511], abs=5e-6)

    def test_results(self, means: Estimate) -> None:
        """R 127.732(71), X 219.847(295), Z 254.260(236), and how they hang together."""
        found = self.impedances(means)
        assert [float(f) for f in found] == pytest.approx([127.73217, 219.84651, 254.25970], abs=5e-6)
        covariance = means.covariance_of(p.gradients(found, 3))
        u = np.sqrt(np.diag(covariance))
        assert u == pytest.approx([0.071071, 0.29558, 0.23634], rel=2e-5)
        correlation = covariance / np.outer(u, u)
        assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.58843, -0.48526, 0.99251], abs=5e-6)

    def test_another_library_agrees(self, means: Estimate) -> None:
        """First-order propagation with correlations by `uncertainties`."""
        V, I, phi = correlated_values(means.x, means.covariance)  # noqa: E741
        second = [V * umath.cos(phi) / I, V * umath.sin(phi) / I, V / I]
        found = self.impedances(means)
        u = np.sqrt(np.diag(means.covariance_of(p.gradients(found, 3))))
        assert [float(f) for f in found] == pytest.approx([s.nominal_value for s in second], rel=1e-12)
        assert u == pytest.approx([s.std_dev for s in second], rel=1e-8)

    def test_second_approach(self) -> None:
        """Averaging the five R, X and Z: 127.73163(7127), 219.84689(29549), 254.26005(23625)."""
        V, I, phi = np.array(VOLT), np.array(AMPERE), np.array(RADIAN)  # noqa: E741
        rows = np.array([V * np.cos(phi) / I, V * np.sin(phi) / I, V / I])
        for row, mean, u in zip(rows, (127.73163, 219.84689, 254.26005), (0.07127, 0.29549, 0.23625), strict=True):
            estimate = adjust(System(1, [linear(np.ones((5, 1)), row)]), np.zeros(1), np.ones(1, dtype=bool))
            assert estimate.x[0] == pytest.approx(mean, abs=5e-6)
            # Weights are relative here, so the variance factor is the readings' variance.
            assert math.sqrt(estimate.variance_factor * estimate.covariance[0, 0]) == pytest.approx(u, abs=5e-6)

    def test_rounded_inputs_move_the_result(self) -> None:
        """With the printed, rounded u and r one gets u(R) = 0.0700: rounding inputs costs 2 %."""
        u = np.array([0.0032, 0.0095e-3, 0.00075])
        correlation = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
        whitener = np.linalg.inv(np.linalg.cholesky(correlation * np.outer(u, u)))
        block = linear(whitener, whitener @ np.array([4.9990, 19.6610e-3, 1.04446]))
        estimate = adjust(System(3, [block]), np.array([5.0, 0.02, 1.0]), np.ones(3, dtype=bool))
        found = math.sqrt(estimate.covariance_of(p.gradients(self.impedances(estimate), 3))[0, 0])
        assert found == pytest.approx(0.0700, abs=5e-5)


class TestThermometer:
    """H.3: calibration of a thermometer, a line of corrections over temperature."""

    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])

    @pytest.fixture
    def line(self) -> Estimate:
        """Intercept at 20 °C and slope, equal weights."""
        A = np.column_stack((np.ones(11), self.t - 20.0))
        return adjust(System(2, [linear(A, self.b)]), np.zeros(2), np.ones(2, dtype=bool))

    def test_line(self, line: Estimate) -> None:
        """−0.1712(29) and 0.00218(67), r = −0.930, s = 0.0035."""
        assert line.x == pytest.approx([-0.17120379, 0.00218270], abs=5e-9)
        assert line.weighted_square_sum == pytest.approx(0.000110096583109, rel=1e-9)
        assert math.sqrt(line.variance_factor) == pytest.approx(0.00349756, abs=5e-9)
        covariance = line.variance_factor * line.covariance
        u = np.sqrt(np.diag(covariance))
        assert u == pytest.approx([0.00287760, 0.00066794], abs=5e-9)
        assert covariance[0, 1] / u[0] / u[1] == pytest.approx(-0.93043, abs=5e-6)

    def test_correction_at_thirty_degrees(self, line: Estimate) -> None:
        """b(30) = −0.1494(41), where the correlation matters."""
        gradient = np.array([[1.0, 10.0]])
        assert float(gradient[0] @ line.x) == pytest.approx(-0.14937681, abs=5e-9)
        u = math.sqrt(line.variance_factor * line.covariance_of(gradient)[0, 0])
        assert u == pytest.approx(0.00413860, abs=5e-9)
