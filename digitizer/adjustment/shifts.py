"""
Whole groups of rows displaced together, such as the corners of a board that slipped between two photos.

No single row of such a group need be suspicious, so the group is tested with the few unknowns of its displacement.

References
----------
P. Teunissen, Testing Theory, Delft 2000, ch. 3: T = êᵀB (Bᵀ Q⊥ B)⁻¹ Bᵀê is chi-square with as many degrees of freedom
as B has columns, and of several alternatives the likeliest has the largest T over its critical value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import REJECTED_WEIGHT, BoolArray, FloatArray, IntArray, System
from digitizer.adjustment.solve import Estimate, adjust
from digitizer.adjustment.statistics import SNOOPING_LEVEL, W_CRITICAL, chi_square_quantile
from digitizer.errors import AdjustmentError

ALIKE = 0.99
"""Two displacements whose test values differ by less than this part can't be told apart."""
ACCEPTABLE = 2.0
"""Variance factor that must be reached without a shift for it to be what was wrong."""
SETTLED = 1e-6
"""Part of a displacement's effect that must show in the residuals for it to be tested."""


@dataclass(frozen=True)
class Shift:
    """Rows (k,) that may have been displaced together, as if the unknowns in `columns` (q,) were others there."""

    rows: IntArray
    columns: IntArray
    subject: str
    photo: str


@dataclass(frozen=True)
class Displaced:
    """A shift with its test value, comparable with an observation's w."""

    shift: Shift
    w: float
    rivals: tuple[Shift, ...] = ()


def likeliest_shift(system: System, estimate: Estimate, shifts: Sequence[Shift]) -> Displaced | None:
    """The shift with the largest test value, the others that explain as much beside it; None where none is tested."""
    found = [d for shift in shifts if (d := _tested(system, estimate, shift)) is not None]
    if not found:
        return None
    best = max(found, key=lambda d: d.w)
    rivals = tuple(d.shift for d in found if d is not best and d.w > ALIKE * best.w)
    return Displaced(best.shift, best.w, rivals)


def shift_that_hinders(system: System, start: FloatArray, free: BoolArray, shifts: Sequence[Shift]) -> Displaced | None:
    """The shift without which what would not settle does, and fits best; its w from the misfit that it leaves."""
    best: tuple[float, Displaced] | None = None
    for shift in shifts:
        rejected = np.zeros(len(system.rows), dtype=bool)
        rejected[shift.rows] = True
        try:
            found = adjust(system, start, free, rejected)
        except AdjustmentError:
            continue
        if found.variance_factor < ACCEPTABLE and (best is None or found.weighted_square_sum < best[0]):
            misfit = found.residuals[shift.rows] / REJECTED_WEIGHT
            critical = chi_square_quantile(1.0 - SNOOPING_LEVEL, len(shift.rows))
            w = W_CRITICAL * math.sqrt(float(misfit @ misfit) / critical)
            best = found.weighted_square_sum, Displaced(shift, w)
    return best[1] if best is not None else None


def _tested(system: System, estimate: Estimate, shift: Shift) -> Displaced | None:
    if not estimate.used[shift.rows].all():
        return None
    B = system.derivatives(estimate.x, shift.rows, shift.columns)
    followed = estimate.factor.rows(shift.rows).T @ B
    shown = B.T @ B - followed.T @ followed
    if np.any(np.diag(shown) < SETTLED * np.einsum("ij,ij->j", B, B)):
        return None
    right = B.T @ estimate.residuals[shift.rows]
    critical = chi_square_quantile(1.0 - SNOOPING_LEVEL, len(shift.columns))
    value = max(float(right @ np.linalg.solve(shown, right)), 0.0)
    return Displaced(shift, W_CRITICAL * math.sqrt(value / critical))
