"""Points that agree on one straight line, or on the slow bend that a lens makes of one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.medians import median

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Map = Callable[[FloatArray], FloatArray]

_ROUNDS = 5
_TUKEY = 4.685
_OUTLIER = 3.5


@dataclass(frozen=True, eq=False)
class Agreement:
    """
    Which of n points lie on the line, and how well.

    Parameters
    ----------
    keep : (n,)
        Those that do.
    residuals : (n,), px
        Of all, across the line.
    factor
        By how much those kept scatter more than their u says; 1 where they scatter less.
    """

    keep: BoolArray
    residuals: FloatArray
    factor: float

    @property
    def scatter(self) -> float:
        """Root mean square residual of those kept, px."""
        return float(np.sqrt(np.mean(self.residuals[self.keep] ** 2)))


def agreement(points: FloatArray, u: FloatArray, usable: BoolArray, there: Map | None = None) -> Agreement:
    """
    Points on one line.

    Parameters
    ----------
    points : (n, 2), px
    u : (n,), px
        Of each across the line, as the noise leaves it.
    usable : (n,)
        Points that may count; at least three.
    there
        Map to the undistorted picture, where the line is straight; without it a cubic is fitted, which holds the bend
        that lenses make of a line.

    Notes
    -----
    Iteratively reweighted least squares with Tukey's biweight, its scale from the median of the residuals (P. J.
    Huber, Robust Statistics, 1981; tuning constants from memory).
    """
    x, y, px = _in_frame(points, usable, there)
    order = 3 if there is None and usable.sum() >= 12 else 1
    A = np.vander(x, order + 1)
    w = usable / u**2
    weight = w
    for _ in range(_ROUNDS):
        weighted = A.T * w
        r = (y - A @ np.linalg.solve(weighted @ A, weighted @ y)) * px
        scale = np.maximum(1.4826 * median(np.abs(r[usable])), u)
        w = weight * np.maximum(1.0 - (r / (_TUKEY * scale)) ** 2, 1e-5) ** 2
    keep = usable & (np.abs(r) < _OUTLIER * scale)
    freedom = max(int(keep.sum()) - order - 1, 1)
    # Cutting the tails off at 3.5 takes next to nothing from the variance.
    return Agreement(keep, r, max(float(np.sqrt(np.sum((r[keep] / u[keep]) ** 2) / freedom)), 1.0))


def _in_frame(points: FloatArray, usable: BoolArray, there: Map | None) -> tuple[FloatArray, FloatArray, float]:
    """Places along and across the line, along from −1 to 1, and px per unit across."""
    straight = points if there is None else there(points)
    first, last = np.flatnonzero(usable)[[0, -1]]
    along = (straight[last] - straight[first]) / 2
    half = float(np.hypot(*along))
    away = straight - (straight[last] + straight[first]) / 2
    x, y = away @ along / half**2, (away[:, 1] * along[0] - away[:, 0] * along[1]) / half
    px = float(np.hypot(*(points[last] - points[first]))) / (2 * half)
    return x, y, px
