"""Closed polygons and polylines in the plane: area, centroid, order, and the distance of a point."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


def signed_area(corners: FloatArray) -> float:
    """Area of the polygon with corners (n, 2) in order, positive when they turn from x to y."""
    x, y = (corners - corners[0]).T  # from a corner, so that a polygon far from the origin keeps its digits
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def area(corners: FloatArray) -> float:
    """Area of the polygon with corners (n, 2) in order."""
    return abs(signed_area(corners))


def centroid(corners: FloatArray) -> FloatArray:
    """
    Centre of area (2,) of the polygon with corners (n, 2) in order.

    Raises
    ------
    ValueError
        If the polygon encloses no area.
    """
    from_first = corners - corners[0]
    following = np.roll(from_first, -1, axis=0)
    cross = from_first[:, 0] * following[:, 1] - following[:, 0] * from_first[:, 1]
    doubled = float(cross.sum())
    if abs(doubled) <= 1e-15 * float(np.abs(cross).sum()):
        raise ValueError("a polygon without area has no centre of area")
    return np.asarray(corners[0] + cross @ (from_first + following) / (3.0 * doubled))


def order_round_centroid(points: FloatArray) -> IntArray:
    """
    Indices (n,) that put points (n, 2) in order of their direction from their mean, turning from x to y.

    Starts with the direction just past −x. Right for outlines that every ray from the mean meets once.
    """
    x, y = (points - points.mean(axis=0)).T
    return np.argsort(np.arctan2(y, x), kind="stable")


def distance_to_segment(point: FloatArray, a: FloatArray, b: FloatArray) -> float:
    """Distance of `point` (2,) from the nearest place between the ends `a` and `b` (2,), both included."""
    along = b - a
    square = float(along @ along)
    part = 0.0 if square == 0.0 else min(max(float((point - a) @ along) / square, 0.0), 1.0)
    return float(np.hypot(*(point - (a + part * along))))


def crosses_itself(corners: FloatArray) -> bool:
    """Whether the closed outline through corners (n, 2) in order crosses or touches itself."""
    from shapely.geometry import LinearRing  # a tenth of a second that only jobs with outlines pay

    return not LinearRing(corners).is_simple
