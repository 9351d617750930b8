"""Drawing from an estimate, and the interval of the draws."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.adjustment.montecarlo import coverage_interval, sampled, sampled_deviations
from digitizer.adjustment.observations import System
from digitizer.adjustment.solve import Estimate, adjust
from tests.adjustment.networks import linear

DRAWS = 20_000


@pytest.fixture(scope="module")
def estimate() -> Estimate:
    """Three parameters hanging together, and one held."""
    random = np.random.default_rng(2)
    A = np.column_stack((random.normal(size=(8, 3)), np.ones(8)))
    system = System(4, [linear(A, random.normal(size=8), 0.2)])
    return adjust(system, np.array([0.0, 0.0, 0.0, 5.0]), np.array([True, True, True, False]))


def test_draws_have_the_covariance_of_the_estimate(estimate: Estimate) -> None:
    """All parameters, correlations included, the held one unmoved."""
    draws = sampled(estimate, lambda x: x, DRAWS, seed=1)
    assert draws.shape == (DRAWS, 4)
    assert np.all(draws[:, 3] == 5.0)
    scatter = np.cov(draws[:, :3].T)
    u = np.sqrt(np.diag(estimate.covariance))
    assert scatter / np.outer(u, u) == pytest.approx(estimate.covariance / np.outer(u, u), abs=0.03)  # 3/√draws
    assert draws[:, :3].mean(axis=0) == pytest.approx(estimate.x[:3], abs=0.03 * u.max())


def test_deviations_have_the_covariance_of_the_quantities(estimate: Estimate) -> None:
    """Without computing the quantities anew."""
    gradients = np.array([[1.0, 2.0, 0.0, 9.0], [0.0, -1.0, 1.0, 9.0]])
    scatter = np.cov(sampled_deviations(estimate, gradients, DRAWS, seed=3).T)
    expected = estimate.covariance_of(gradients)
    size = np.sqrt(np.diag(expected))
    assert scatter / np.outer(size, size) == pytest.approx(expected / np.outer(size, size), abs=0.03)


def test_same_seed_same_draws(estimate: Estimate) -> None:
    """Same job, same report."""
    first, second, other = (sampled(estimate, lambda x: x[0] ** 2, 50, seed) for seed in (1, 1, 2))
    assert first.shape == (50,)
    assert first.tolist() == second.tolist()
    assert first.tolist() != other.tolist()


def test_interval_of_counted_values() -> None:
    """Of 0 … 99, 95 steps in the middle (JCGM 101:2008, 7.7.2: from the third to the 98th)."""
    assert coverage_interval(np.arange(100.0)[::-1], shortest=False) == (2.0, 97.0)


def test_shortest_interval_of_a_skewed_distribution_starts_at_its_peak() -> None:
    """Of the exponential distribution it runs from zero to −ln 0.05."""
    values = -np.log1p(-(np.arange(DRAWS) + 0.5) / DRAWS)
    low, high = coverage_interval(values)
    assert low == pytest.approx(0.0, abs=1e-4)
    assert high == pytest.approx(-np.log(0.05), abs=2e-3)
    equal_low, equal_high = coverage_interval(values, shortest=False)
    assert (equal_low, equal_high) == pytest.approx((-np.log(0.975), -np.log(0.025)), abs=2e-3)


@pytest.mark.parametrize(("count", "level"), [(1, 0.95), (5, 0.95), (100, 0.0), (100, 0.999)])
def test_too_few_draws_are_refused(count: int, level: float) -> None:
    """No interval beyond the draws is made up."""
    with pytest.raises(ValueError, match=f"{count} draws are too few"):
        coverage_interval(np.zeros(count), level)
