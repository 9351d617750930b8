"""
Least squares by Levenberg and Marquardt, and the covariance by a rank-revealing factorisation.

What few rows speak of is eliminated first, orthogonally; see `elimination`. Steps use the normal equations of the
rest with scaled columns (fast, and their rounding only costs a step); the covariance uses an orthogonal factorisation
with column pivoting, J·D·Π = Q·R, so that a direction that nothing determines shows up as a vanishing pivot and is
named instead of hidden.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from scipy import linalg

from digitizer.adjustment.elimination import Factor, Plan, Reduced, planned
from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray, FloatArray, IntArray, System
from digitizer.errors import AdjustmentError, NotConvergedError

RANK_TOLERANCE = 1e-9
"""A pivot below this part of the largest, columns scaled to unit length, is a rank defect."""
MAX_ITERATIONS = 60
CONVERGED = 1e-5
"""
A step that lowers the square sum by less than this moved no figure by more than 0.003 of its u; the next one, which
the factorisation gives for nothing, moves none by a noticeable amount.
"""
ROUGHLY_CONVERGED = 1.0
FIRST_DAMPING = 1e-9
MAX_DAMPING = 1e12
ROUNDING = 1e-13
"""Added to a normal matrix of unit columns, whose own rounding is of that order."""
LAST_STEPS = 30
LAST_STEP_CONVERGED = 1e-6
"""Largest decrease, as part of the square sum, that the last and undamped step may still bring."""


class RankDefect(AdjustmentError):  # noqa: N818  (the survey turns it into a RankDeficientError in words)
    """
    Some combination of parameters has no observation.

    Parameters
    ----------
    null_space : (n, d)
        Unit directions, in parameter units, that change no observation.
    columns
        Indices of the free parameters the null space refers to.
    """

    def __init__(self, null_space: FloatArray, columns: IntArray) -> None:
        super().__init__(f"{null_space.shape[1]} combinations of the unknowns have no observation")
        self.null_space = null_space
        self.columns = columns


class Adjusted(Protocol):
    """An adjusted parameter vector `x` (n,) and what its covariance C makes of quantities with derivatives G (k, n)."""

    @property
    def x(self) -> FloatArray:
        """All parameters (n,)."""

    def solved(self, gradients: FloatArray) -> FloatArray:
        """Rows z with z·zᵀ = G C Gᵀ."""

    def covariance_of(self, gradients: FloatArray) -> FloatArray:
        """G C Gᵀ (k, k)."""

    def influence(self, gradients: FloatArray) -> FloatArray:
        """G C Jᵀ (k, m)."""


@dataclass(frozen=True)
class Estimate:
    """
    An adjusted parameter vector with the factorisation that its covariance comes from.

    ``x`` (n,) parameters; ``free`` (p,) indices of the adjusted ones; ``residuals`` (m,) whitened,
    rejected rows at their reduced weight; ``factor`` is J·D = Q·R and ``scale`` (p,) the diagonal of D;
    ``weights`` (m,) is 1 for rows in use.
    """

    x: FloatArray
    free: IntArray
    residuals: FloatArray
    weights: FloatArray
    factor: Factor
    scale: FloatArray
    iterations: int

    @property
    def used(self) -> BoolArray:
        """Rows that take part."""
        return np.asarray(self.weights == 1.0)

    @cached_property
    def redundancy_numbers(self) -> FloatArray:
        """r_i = 1 − (Q Qᵀ)_ii: the part of an error in row i that shows in its own residual."""
        return np.asarray(np.clip(1.0 - self.leverages, 0.0, 1.0))

    @property
    def leverages(self) -> FloatArray:
        """(Q Qᵀ)_ii (m,): the part of an error in row i that the solution follows."""
        return np.asarray(self.factor.leverages)

    def likeness(self, rows: IntArray, row: int) -> FloatArray:
        """(Q Qᵀ)_ij (k,) between some rows and one: how far an error in it shows in theirs."""
        return np.asarray(self.factor.spread(self.factor.rows(np.array([row])))[0, rows])

    @cached_property
    def redundancy(self) -> float:
        """Degrees of freedom: the sum of the redundancy numbers of the rows in use."""
        return float(self.redundancy_numbers[self.used].sum())

    @property
    def square_sum(self) -> float:
        """Weighted square sum of all rows, rejected ones at their reduced weight."""
        return float(self.residuals @ self.residuals)

    @cached_property
    def weighted_square_sum(self) -> float:
        """vᵀPv of the rows in use."""
        return float(np.sum(self.residuals[self.used] ** 2))

    @property
    def variance_factor(self) -> float:
        """A posteriori variance factor s₀²; 1 where there is no redundancy."""
        return self.weighted_square_sum / self.redundancy if self.redundancy > 1e-6 else 1.0

    def solved(self, gradients: FloatArray) -> FloatArray:
        """
        Rows z of G·D·R⁻¹, so that z·zᵀ = G C Gᵀ.

        Parameters
        ----------
        gradients : (k, n)
            Derivatives of k quantities with respect to all parameters.

        Returns
        -------
        (k, p)
        """
        return self.factor.solved(gradients[:, self.free] * self.scale)

    def covariance_of(self, gradients: FloatArray) -> FloatArray:
        """Covariance (k, k) of quantities with the given derivatives (k, n)."""
        z = self.solved(gradients)
        return z @ z.T

    def influence(self, gradients: FloatArray) -> FloatArray:
        """Change (k, m) of the quantities per whitened unit of each observation, G C Jᵀ."""
        return self.factor.spread(self.solved(gradients))

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance (p, p) of the free parameters."""
        identity = np.zeros((len(self.free), len(self.x)))
        identity[np.arange(len(self.free)), self.free] = 1.0
        return self.covariance_of(identity)


def adjust(
    system: System,
    start: FloatArray,
    free: BoolArray,
    rejected: BoolArray | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Estimate:
    """
    Adjust `free` parameters to all observations and factorise for the covariance.

    Parameters
    ----------
    system
        Observations.
    start : (n,)
        Start values; parameters that aren't free keep theirs.
    free : (n,)
        Which parameters are adjusted.
    rejected : (m,), optional
        Rows set aside.
    cancelled
        Asked before each step; true ends the work with ``InterruptedError``.

    Raises
    ------
    RankDefect
        When a combination of parameters has no observation.
    NotConvergedError
        When the steps do not settle.

    References
    ----------
    K. Levenberg, Quart. Appl. Math. 2 (1944) 164; D. Marquardt, SIAM J. Appl. Math. 11 (1963) 431;
    G. Golub and C. Van Loan, Matrix Computations, 4th ed., sect. 5.4 (column pivoting).
    """
    weights = np.ones(len(system.rows))
    if rejected is not None:
        weights[rejected] = REJECTED_WEIGHT
    columns = np.flatnonzero(free)
    system.reweigh(start)
    point = _lowered(system, _Point.at(system, start, weights, columns), ROUGHLY_CONVERGED, cancelled)
    system.reweigh(point.x)
    point = _Point.at(system, point.x, weights, columns, point.iterations)
    for _ in range(LAST_STEPS):
        point = _lowered(system, point, CONVERGED, cancelled)
        estimate = _factorised(point)
        if point.cost - estimate.square_sum < LAST_STEP_CONVERGED * (1.0 + point.cost):
            if rejected is None or not rejected.any():
                return estimate
            # What was set aside holds its own unknowns so weakly that their last step may be long, and sensitivities
            # must be taken where it ends.
            return _factorised(_Point.at(system, estimate.x, weights, columns, point.iterations))
        # A damped step may be small because the damping held a weak combination back: go on from the undamped one.
        point = _Point.at(system, estimate.x, weights, columns, point.iterations + 1)
    raise _not_converged(system, point)


def minimised(
    system: System,
    start: FloatArray,
    free: BoolArray,
    weights: FloatArray,
    tolerance: float = CONVERGED,
    cancelled: Callable[[], bool] | None = None,
    max_iterations: int = MAX_ITERATIONS,
) -> tuple[FloatArray, int]:
    """
    Parameters (n,) that lower the weighted square sum, and the steps taken; see `adjust`.

    Ends with the first step that lowers the square sum by less than `tolerance`.
    """
    point = _Point.at(system, start, weights, np.flatnonzero(free))
    point = _lowered(system, point, tolerance, cancelled, max_iterations)
    return point.x, point.iterations


def factorised(system: System, x: FloatArray, free: BoolArray, weights: FloatArray) -> Estimate:
    """Factorise the observations at `x` and take the last Gauss–Newton step, which that gives; see `adjust`."""
    return _factorised(_Point.at(system, x, weights, np.flatnonzero(free)))


@dataclass(frozen=True)
class _Point:
    """The weighted observations (m,) and their derivatives (e,) at parameters `x`, and how many steps led there."""

    x: FloatArray
    columns: IntArray
    weights: FloatArray
    residuals: FloatArray
    derivatives: FloatArray
    plan: Plan
    cost: float
    iterations: int = 0

    @classmethod
    def at(cls, system: System, x: FloatArray, weights: FloatArray, columns: IntArray, iterations: int = 0) -> _Point:
        plan, used = planned(system, x, columns)
        residuals, derivatives = system.entries(x)
        residuals *= weights
        derivatives = derivatives[used] * weights[plan.row_of]
        return cls(x, columns, weights, residuals, derivatives, plan, float(residuals @ residuals), iterations)

    @cached_property
    def scale(self) -> FloatArray:
        """Factors (p,) that give each column of the derivatives unit length."""
        squares = np.bincount(self.plan.column_of, self.derivatives**2, minlength=len(self.columns))
        return 1.0 / np.sqrt(np.where(squares > 0.0, squares, 1.0))

    @cached_property
    def reduced(self) -> Reduced:
        """The shared unknowns' share, columns scaled; what a group's own rows don't settle is shared too."""
        scaled = self.derivatives * self.scale[self.plan.column_of]
        reduced = self.plan.reduced(scaled, self.residuals)
        while deficient := reduced.deficient():
            reduced = reduced.plan.without(deficient).reduced(scaled, self.residuals)
        return reduced

    def stepped(self, shared: FloatArray, damping: float = 0.0) -> FloatArray:
        """Parameters (n,) after the step whose share for the shared unknowns (s,) is given."""
        x = self.x.copy()
        x[self.columns] -= self.reduced.solution(shared, damping) * self.scale
        return x


def _lowered(
    system: System,
    point: _Point,
    tolerance: float,
    cancelled: Callable[[], bool] | None = None,
    max_iterations: int = MAX_ITERATIONS,
) -> _Point:
    """Levenberg–Marquardt steps from a point until one lowers the square sum by less than `tolerance`."""
    damping = FIRST_DAMPING
    for _ in range(max_iterations):
        if cancelled is not None and cancelled():
            raise InterruptedError
        while True:
            candidate = point.stepped(_step(*point.reduced.normal(damping)), damping)
            ahead = _Point.at(system, candidate, point.weights, point.columns, point.iterations + 1)
            if ahead.cost <= point.cost * (1.0 + 1e-12) + 1e-14:
                break
            damping = max(damping * 10.0, 1e-6)
            if damping > MAX_DAMPING:
                raise _not_converged(system, ahead)
        decrease, point, damping = point.cost - ahead.cost, ahead, damping * 0.1
        if decrease < tolerance + 1e-12 * point.cost:
            return point
    raise _not_converged(system, point)


def _factorised(point: _Point) -> Estimate:
    reduced = point.reduced
    r, pivots = _pivoted(reduced.dense())
    diagonal = np.abs(np.diag(r))
    rank = int(np.sum(diagonal > RANK_TOLERANCE * diagonal[0])) if len(diagonal) else 0
    if rank < len(pivots):
        raise RankDefect(_null_space(reduced, r, pivots, point.scale, rank), point.columns)
    factor = Factor(reduced, r, pivots)
    explained = reduced.right @ factor.left
    last_step = np.empty(len(pivots))
    last_step[pivots] = linalg.solve_triangular(r, explained, check_finite=False)
    residuals = reduced.turned_back(reduced.right - factor.left @ explained)
    x = point.stepped(last_step)
    return Estimate(x, point.columns, residuals, point.weights, factor, point.scale, point.iterations)


def _pivoted(matrix: FloatArray) -> tuple[FloatArray, IntArray]:
    """R and pivots (s,) of a matrix (l, s): pivoting the triangle of a plain factorisation costs much less."""
    count = matrix.shape[1]
    (triangle,) = linalg.qr(matrix, mode="r", check_finite=False)
    square = np.zeros((count, count))
    square[: min(len(triangle), count)] = triangle[:count]
    r, pivots = linalg.qr(square, mode="r", pivoting=True, check_finite=False)
    return r, np.asarray(pivots, dtype=np.intp)


def _step(normal: FloatArray, gradient: FloatArray) -> FloatArray:
    """Step (s,) from the damped normal matrix."""
    damped = np.array(normal, order="F")
    damped[np.diag_indices_from(damped)] += ROUNDING
    factor, indefinite = linalg.lapack.dpotrf(damped, overwrite_a=True)
    if indefinite:
        return np.asarray(np.linalg.lstsq(normal, gradient, rcond=None)[0])
    return np.asarray(linalg.lapack.dpotrs(factor, gradient)[0])


def _null_space(reduced: Reduced, r: FloatArray, pivots: IntArray, scale: FloatArray, rank: int) -> FloatArray:
    """Directions (p, d) with J·direction = 0, from R = [R11 R12; 0 0] and what goes with them."""
    count = len(pivots)
    null = np.zeros((count, count - rank))
    if rank:
        null[pivots[:rank]] = -linalg.solve_triangular(r[:rank, :rank], r[:rank, rank:count])
    null[pivots[rank:], np.arange(count - rank)] = 1.0
    still = reduced.solution(np.zeros(count))
    whole = np.column_stack([still - reduced.solution(direction) for direction in -null.T]) * scale[:, None]
    return np.asarray(whole / np.linalg.norm(whole, axis=0))


def _not_converged(system: System, point: _Point) -> NotConvergedError:
    worst = system.rows[int(np.argmax(np.abs(point.residuals)))].label
    return NotConvergedError(point.iterations, worst, point.cost / len(point.residuals))
