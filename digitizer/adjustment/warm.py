"""
Adjusting again, near a solution that is already known: for figures that follow the pointer.

Each row touches few unknowns, and which ones doesn't change while a mark is moved: the normal equations are formed
over that fixed pattern and factorised as a sparse matrix, in an order chosen once. They square the condition of the
observations, which columns scaled to unit length keep near a thousand for the jobs at hand; a factorisation that
shows pivots further apart than `WORST_PIVOT` is refused, and the caller starts anew with the orthogonal one.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from digitizer.adjustment.observations import FloatArray, IntArray, System
from digitizer.adjustment.solve import Estimate
from digitizer.errors import AdjustmentError

WORST_PIVOT = 1e-11
"""Smallest over largest pivot of the normal equations below which their rounding would show in an uncertainty."""
MAX_STEPS = 5
SETTLED = 0.01
"""
Steps end with one that moves the whitened residuals by less than the root of this, and so no figure by more than a
tenth of its u; what the next one would still move is the square of that or less.
"""
NUDGE = 1e-4
"""Parameters are moved by this part of themselves to see which derivatives are zero only by chance."""


class TooFarError(AdjustmentError):
    """The known solution is of no use for this system; it has to be adjusted from the beginning."""


@dataclass(frozen=True)
class Pattern:
    """Which unknowns each row touches, columns scaled and ordered for a sparse factorisation."""

    free: IntArray
    """Adjusted parameters (p,), in the order of the factorisation."""
    scale: FloatArray
    """Of the columns (p,), in the same order."""
    rows: IntArray
    """Row (e,) of each entry."""
    columns: IntArray
    """Column (e,) of each entry among the adjusted ones."""
    starts: IntArray
    """First entry (m + 1,) of each row."""

    @classmethod
    def of(cls, system: System, estimate: Estimate) -> Pattern:
        """Pattern of a system near an estimate of it."""
        signs = np.where(np.arange(len(estimate.x)) % 2 == 0, NUDGE, -NUDGE)
        _, jacobian = system.linearised(estimate.x)
        _, nearby = system.linearised(estimate.x * (1.0 + signs) + signs)
        touched = (jacobian != 0.0) | (nearby != 0.0)
        free = estimate.free[_order(sparse.csr_matrix(touched[:, estimate.free], dtype=float))]
        chosen = sparse.csr_matrix(touched[:, free])
        rows = np.repeat(np.arange(len(jacobian)), np.diff(chosen.indptr))
        norms = np.linalg.norm(jacobian[:, free] * estimate.weights[:, None], axis=0)
        scale = 1.0 / np.where(norms > 0.0, norms, 1.0)
        return cls(free, scale, rows, chosen.indices, chosen.indptr)

    def matrix(self, jacobian: FloatArray, weights: FloatArray) -> sparse.csr_matrix:
        """Weighted and scaled derivatives (m, p), from the dense ones (m, n)."""
        entries = jacobian[self.rows, self.free[self.columns]] * self.scale[self.columns] * weights[self.rows]
        return sparse.csr_matrix((entries, self.columns, self.starts), (len(weights), len(self.free)))


def _order(touched: sparse.csr_matrix) -> IntArray:
    """An order of the columns that keeps the factor of the normal equations sparse."""
    size = touched.shape[1]
    normal = (touched.T @ touched + sparse.identity(size) * touched.shape[0]).tocsc()
    return np.argsort(splu(normal, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).perm_c)


@dataclass(frozen=True)
class WarmEstimate:
    """
    An adjusted parameter vector with the factorised normal equations; see `solve.Estimate`.

    ``residuals`` (m,) are whitened, rejected rows at their reduced weight.
    """

    system: System
    """The observations, as weighed here."""
    x: FloatArray
    residuals: FloatArray
    weights: FloatArray
    pattern: Pattern
    jacobian: sparse.csr_matrix
    factor: SuperLU
    iterations: int

    @property
    def weighted_square_sum(self) -> float:
        """vᵀPv of the rows in use."""
        return float(np.sum(self.residuals[self.weights == 1.0] ** 2))

    def influence(self, gradients: FloatArray) -> FloatArray:
        """Change (k, m) of quantities per whitened unit of each observation, G C Jᵀ."""
        scaled = gradients[:, self.pattern.free] * self.pattern.scale
        return np.asarray((self.jacobian @ self.factor.solve(np.ascontiguousarray(scaled.T))).T)

    def solved(self, gradients: FloatArray) -> FloatArray:
        """Rows z with z·zᵀ = G C Gᵀ: the influences, since whitened observations have unit covariance."""
        return self.influence(gradients)

    def covariance_of(self, gradients: FloatArray) -> FloatArray:
        """Covariance (k, k) of quantities with the given derivatives (k, n)."""
        z = self.influence(gradients)
        return z @ z.T

    def step(self, residuals: FloatArray) -> FloatArray:
        """Gauss–Newton step (p,) in scaled unknowns."""
        return np.asarray(-self.factor.solve(self.jacobian.T @ residuals))

    def ahead(self, step: FloatArray) -> FloatArray:
        """Parameters (n,) after a step."""
        out = self.x.copy()
        out[self.pattern.free] += step * self.pattern.scale
        return out


def warmed(system: System, estimate: Estimate) -> WarmEstimate:
    """A full adjustment made ready to be followed."""
    pattern = Pattern.of(system, estimate)
    _, jacobian = system.linearised(estimate.x)
    matrix = pattern.matrix(jacobian, estimate.weights)
    return WarmEstimate(
        system, estimate.x, estimate.residuals, estimate.weights, pattern, matrix, _factorised(matrix), 0
    )


def readjusted(system: System, near: WarmEstimate) -> WarmEstimate:
    """
    Adjust from a solution of nearly the same observations.

    The first step takes the neighbour's derivatives; those that follow, at least one, take their own.

    Parameters
    ----------
    system
        Observations with the neighbour's rows and unknowns. Blocks whose values differ are other objects.
    near

    Raises
    ------
    TooFarError
        When the steps don't settle or the normal equations are too near to singular.
    """
    weights, pattern = near.weights, near.pattern
    x = near.ahead(near.step(_residuals(system, near)))
    system = system.exchanged([copy(block) for block in system.blocks])  # blocks weigh themselves: `near` keeps its own
    system.reweigh(x)
    for count in range(1, MAX_STEPS + 1):
        residuals, jacobian = system.linearised(x)
        residuals *= weights
        matrix = pattern.matrix(jacobian, weights)
        here = WarmEstimate(system, x, residuals, weights, pattern, matrix, _factorised(matrix), count)
        step = here.step(residuals)
        x, moved = here.ahead(step), matrix @ step
        if moved @ moved < SETTLED:
            return replace(here, x=x, residuals=residuals + moved)
    raise TooFarError("the solution lies too far from the one before")


def _residuals(system: System, near: WarmEstimate) -> FloatArray:
    """Weighted residuals (m,) at the neighbour's parameters; those of blocks that are the neighbour's own are known."""
    out = near.residuals.copy()
    for block, own, rows in zip(system.blocks, near.system.blocks, system.slices, strict=True):
        if block is not own:
            block.fill(near.x, out[rows], None)
            out[rows] *= near.weights[rows]
    return out


def _factorised(matrix: sparse.csr_matrix) -> SuperLU:
    try:
        factor = splu(
            (matrix.T @ matrix).tocsc(), permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
    except RuntimeError as singular:
        raise TooFarError("the normal equations are singular") from singular
    pivots = np.abs(factor.U.diagonal())
    if pivots.min() < WORST_PIVOT * pivots.max():
        raise TooFarError("the normal equations are too near to singular")
    return factor
