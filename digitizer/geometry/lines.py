"""Straight lines in the plane: fitted orthogonally, intersected, and the distances from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PARALLEL = 1e-12
"""Sine of the angle between two lines below which they have no intersection."""


@dataclass(frozen=True, eq=False)
class Line:
    """A line through `point` (2,) along the unit vector `direction` (2,)."""

    point: FloatArray
    direction: FloatArray

    @property
    def normal(self) -> FloatArray:
        """Unit vector (2,), a quarter turn from x to y ahead of the direction."""
        return np.array([-self.direction[1], self.direction[0]])

    def distances(self, points: FloatArray) -> FloatArray:
        """Signed distances (n,) of points (n, 2), positive on the side of the normal."""
        return np.asarray((points - self.point) @ self.normal)


def line_through(a: FloatArray, b: FloatArray) -> Line:
    """
    Line through two points (2,), directed from `a` to `b`.

    Raises
    ------
    ValueError
        If the points coincide.
    """
    length = float(np.hypot(*(b - a)))
    if length == 0.0:
        raise ValueError(f"a line needs two different points, got {a} twice")
    return Line(np.asarray(a, dtype=float), (b - a) / length)


def fitted_line(points: FloatArray, weights: FloatArray | None = None) -> Line:
    """
    Line with the least (weighted) square sum of orthogonal distances.

    Parameters
    ----------
    points : (n, 2)
    weights : (n,), optional
        Proportional to 1/u² of each point; equal if left out.

    Returns
    -------
    Line
        Through the weighted centroid, along the largest principal axis, directed from the first point to the last.

    Raises
    ------
    ValueError
        With fewer than two points, or where all coincide.

    References
    ----------
    K. Pearson, On lines and planes of closest fit to systems of points in space, Phil. Mag. 2 (1901) 559.
    """
    if len(points) < 2:
        raise ValueError(f"a line needs two points, got {len(points)}")
    w = np.ones(len(points)) if weights is None else weights
    centroid = np.asarray(w @ points / w.sum())
    centred = points - centroid
    _, singular, axes = np.linalg.svd(np.sqrt(w)[:, None] * centred, full_matrices=False)
    if singular[0] == 0.0:
        raise ValueError(f"a line needs two different points, got {points[0]} {len(points)} times")
    forward = 1.0 if axes[0] @ (points[-1] - points[0]) >= 0.0 else -1.0
    return Line(centroid, forward * axes[0])


def intersection(a: Line, b: Line) -> FloatArray:
    """
    Point (2,) common to two lines.

    Raises
    ------
    ValueError
        If the lines are parallel.
    """
    sine = float(a.direction @ b.normal)
    if abs(sine) < PARALLEL:
        raise ValueError("parallel lines have no intersection")
    return np.asarray(a.point + a.direction * (float((b.point - a.point) @ b.normal) / sine))
