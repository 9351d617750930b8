"""Adjusting again from a neighbouring solution, beside adjusting from the beginning."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.adjustment.observations import REJECTED_WEIGHT, System
from digitizer.adjustment.solve import Estimate, adjust
from digitizer.adjustment.warm import TooFarError, readjusted, warmed
from tests.adjustment.networks import NIEMEIER, Curve, FloatArray, linear

TIMES = np.linspace(0.0, 2.0, 15)


def decay(observed: FloatArray) -> System:
    """Observations of a·exp(−b·t): both parameters nonlinear enough to need steps."""

    def value(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] * np.exp(-x[1] * TIMES))

    def derivatives(x: FloatArray) -> FloatArray:
        falling = np.exp(-x[1] * TIMES)
        return np.column_stack([falling, -x[0] * TIMES * falling])

    return System(2, [Curve(value, derivatives, observed, np.full(len(TIMES), 0.01))])


TRUE = 3.0 * np.exp(-1.2 * TIMES)
NOISE = 0.01 * np.random.default_rng(7).standard_normal(len(TIMES))


def from_the_beginning(system: System) -> Estimate:
    return adjust(system, np.array([2.5, 1.0]), np.ones(2, dtype=bool))


@given(st.lists(st.floats(-0.05, 0.05), min_size=len(TIMES), max_size=len(TIMES)))
def test_the_same_solution_as_from_the_beginning(by: list[float]) -> None:
    """Observations moved by up to five times their u give the parameters and covariance of a full adjustment."""
    near = warmed(decay(TRUE + NOISE), from_the_beginning(decay(TRUE + NOISE)))
    moved = decay(TRUE + NOISE + np.array(by))
    found, full = readjusted(moved, near), from_the_beginning(moved)
    u = np.sqrt(np.diag(full.covariance))
    assert found.x == pytest.approx(full.x, abs=1e-3 * u.min())
    assert found.covariance_of(np.eye(2)) == pytest.approx(full.covariance, rel=2e-3)
    assert found.weighted_square_sum == pytest.approx(full.weighted_square_sum, rel=1e-4, abs=1e-4)


def test_influences_carry_the_covariance() -> None:
    """G C Jᵀ is the one of the orthogonal factorisation, and its square the covariance of the quantities."""
    system = NIEMEIER.system()
    full = NIEMEIER.adjusted()
    near = warmed(system, full)
    gradients = np.random.default_rng(3).standard_normal((4, len(full.x)))
    assert near.influence(gradients) == pytest.approx(full.influence(gradients), abs=1e-12)
    assert near.covariance_of(gradients) == pytest.approx(full.covariance_of(gradients), abs=1e-12)
    assert near.solved(gradients) @ near.solved(gradients).T == pytest.approx(full.covariance_of(gradients), abs=1e-12)


def test_rows_set_aside_stay_aside() -> None:
    """A rejected observation keeps its reduced weight."""
    A, observed = np.ones((4, 1)), np.array([1.0, 1.1, 0.9, 50.0])
    rejected = np.array([False, False, False, True])
    full = adjust(System(1, [linear(A, observed)]), np.zeros(1), np.ones(1, dtype=bool), rejected)
    found = readjusted(System(1, [linear(A, observed + 0.5)]), warmed(System(1, [linear(A, observed)]), full))
    assert found.x == pytest.approx([1.5], abs=1e-6)
    assert found.weights[3] == REJECTED_WEIGHT


def test_held_parameters_are_held() -> None:
    """A parameter that isn't adjusted keeps its value, and has no part in the covariance."""
    A = np.array([[1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    free = np.array([True, False])
    full = adjust(System(2, [linear(A, np.array([1.0, 3.0, 2.0]))]), np.array([0.0, 2.0]), free)
    system = System(2, [linear(A, np.array([1.2, 3.2, 5.0]))])
    found = readjusted(system, warmed(System(2, [linear(A, np.array([1.0, 3.0, 2.0]))]), full))
    assert found.x == pytest.approx([1.2, 2.0])
    assert found.covariance_of(np.array([[0.0, 1.0]])) == pytest.approx(0.0)


def test_a_neighbour_too_far_off_is_refused() -> None:
    """Where the steps don't settle, nothing is returned as if they had."""
    near = warmed(decay(TRUE), from_the_beginning(decay(TRUE)))
    with pytest.raises(TooFarError):
        readjusted(decay(-40.0 * np.cos(9.0 * TIMES)), near)


@pytest.mark.parametrize("apart", [1e-7, 1e-9], ids=["all but alike", "alike"])
def test_columns_that_nothing_tells_apart_are_refused(apart: float) -> None:
    """Normal equations too near to singular are left to the orthogonal factorisation."""
    A = np.array([[1.0, 1.0], [1.0, 1.0 + apart], [1.0, 1.0 - apart]])
    system = System(2, [linear(A, np.zeros(3))])
    plain = System(2, [linear(np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]), np.zeros(3))])
    solution = adjust(plain, np.zeros(2), np.ones(2, dtype=bool))
    with pytest.raises(TooFarError):
        warmed(system, solution)


def test_derivatives_that_vanish_by_chance_are_in_the_pattern() -> None:
    """A derivative that is zero at the solution alone is still followed."""
    bend: Callable[[FloatArray], FloatArray] = lambda x: np.array([x[0], x[1], x[0] * x[1]])  # noqa: E731
    slope: Callable[[FloatArray], FloatArray] = lambda x: np.array([[1.0, 0.0], [0.0, 1.0], [x[1], x[0]]])  # noqa: E731

    def system(observed: list[float]) -> System:
        return System(2, [Curve(bend, slope, np.array(observed), np.full(3, 0.1))])

    free = np.ones(2, dtype=bool)
    start = adjust(system([0.0, 1.0, 0.0]), np.array([0.0, 1.0]), free)
    moved = system([0.4, 1.1, 0.5])
    full = adjust(moved, np.array([0.3, 1.0]), free)
    assert readjusted(moved, warmed(system([0.0, 1.0, 0.0]), start)).x == pytest.approx(full.x, abs=1e-4)
