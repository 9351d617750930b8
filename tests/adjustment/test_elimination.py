"""Elimination against the plain factorisation of the whole: the same numbers, whatever was taken out first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.adjustment.elimination import planned
from digitizer.adjustment.observations import FloatArray, Row, System
from digitizer.adjustment.solve import Estimate, RankDefect, adjust


class Linear:
    """Rows v = A x − b, with zeros of A never written."""

    def __init__(self, matrix: FloatArray, values: FloatArray) -> None:
        self.matrix, self.values = matrix, values

    @property
    def rows(self) -> Sequence[Row]:
        """One row for each equation."""
        return [Row(f"row {i}", f"row {i}", "row", "row", "", 1.0) for i in range(len(self.values))]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write A x − b and A."""
        residuals[:] = self.matrix @ x - self.values
        if jacobian is not None:
            places = np.nonzero(self.matrix)
            jacobian[places] += self.matrix[places]


def bundle(seed: int, photos: int = 3, points: int = 12) -> Linear:
    """Points of two unknowns seen in some photos of three unknowns, one length between points, one shared unknown."""
    rng = np.random.default_rng(seed)
    n = 1 + 3 * photos + 2 * points
    rows = []
    for point in range(points):
        for photo in range(photos):
            if rng.random() < 0.7 or photo == point % photos:
                for _ in range(2):
                    row = np.zeros(n)
                    first = 1 + 3 * photos + 2 * point
                    row[[0, *range(1 + 3 * photo, 4 + 3 * photo), first, first + 1]] = rng.normal(size=6)
                    rows.append(row)
    length = np.zeros(n)
    length[-4:] = rng.normal(size=4)
    matrix = np.array([*rows, length, *np.eye(n)[: 1 + 3 * photos]])
    return Linear(matrix, rng.normal(size=len(matrix)))


def solved(block: Linear) -> tuple[Estimate, FloatArray]:
    """The estimate, and the matrix behind it."""
    n = block.matrix.shape[1]
    return adjust(System(n, [block]), np.zeros(n), np.ones(n, dtype=bool)), block.matrix


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_estimate_and_covariance_are_those_of_the_whole(seed: int) -> None:
    """Unknowns, covariance, redundancy and influence agree with dense algebra on the same matrix."""
    block = bundle(seed)
    estimate, matrix = solved(block)
    x = np.linalg.lstsq(matrix, block.values, rcond=None)[0]
    covariance = np.linalg.inv(matrix.T @ matrix)
    assert estimate.x == pytest.approx(x, rel=1e-6, abs=1e-8)
    assert estimate.residuals == pytest.approx(matrix @ x - block.values, abs=1e-8)
    assert estimate.covariance == pytest.approx(covariance, rel=1e-6, abs=1e-8)
    hat = matrix @ covariance @ matrix.T
    assert estimate.leverages == pytest.approx(np.diag(hat), abs=1e-9)
    assert estimate.likeness(np.arange(len(matrix)), 3) == pytest.approx(hat[3], abs=1e-9)
    gradients = np.random.default_rng(seed).normal(size=(4, len(x)))
    assert estimate.influence(gradients) == pytest.approx(gradients @ covariance @ matrix.T, rel=1e-6, abs=1e-8)


def test_points_are_taken_out_and_cameras_stay() -> None:
    """Every point but those that a length ties to another is eliminated; of those two, one."""
    block = bundle(1)
    n = block.matrix.shape[1]
    plan, _ = planned(System(n, [block]), np.zeros(n), np.arange(n))
    assert set(range(10)) <= set(plan.shared.tolist())
    assert len(plan.shared) == 10 + 2


def test_groups_never_share_a_row() -> None:
    """Each row speaks of one eliminated group at most."""
    block = bundle(2)
    n = block.matrix.shape[1]
    plan, _ = planned(System(n, [block]), np.zeros(n), np.arange(n))
    for batch in plan.batches:
        for columns in batch.columns:
            rows = np.flatnonzero(np.any(block.matrix[:, columns] != 0.0, axis=1))
            assert len(set(plan.owner[rows].tolist())) == 1


def test_a_point_that_its_own_rows_do_not_settle_is_named() -> None:
    """A point that its rows see from one direction only leaves its group, and the whole names what is open."""
    block = bundle(3)
    block.matrix[:, -5] = 2.0 * block.matrix[:, -6]
    with pytest.raises(RankDefect) as refused:
        solved(block)
    (direction,) = refused.value.null_space.T
    n = block.matrix.shape[1]
    assert abs(direction[n - 6] / direction[n - 5]) == pytest.approx(2.0)
    assert block.matrix @ direction == pytest.approx(np.zeros(len(block.matrix)), abs=1e-9)


class Weighed(Linear):
    """Two rows that are apart until weights couple them."""

    def reweigh(self, x: FloatArray) -> None:
        """Turn the two rows against each other."""
        turn = np.array([[0.6, 0.8], [-0.8, 0.6]])
        self.matrix, self.values = turn @ self.matrix, turn @ self.values


def test_pattern_knows_what_weights_couple() -> None:
    """Derivatives that are zero before weighing and not after it belong to the pattern, found before any weighing."""
    block = Weighed(np.diag([2.0, 3.0]), np.array([4.0, 9.0]))
    system = System(2, [block])
    assert len(system.pattern(np.ones(2))[0]) == 4
    assert block.matrix.tolist() == [[2.0, 0.0], [0.0, 3.0]]  # looking weighed nothing
    assert adjust(system, np.ones(2), np.ones(2, dtype=bool)).x == pytest.approx([2.0, 3.0])
