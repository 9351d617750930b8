"""Corners of an outline: places where two straight arms meet at an angle, found from the arms and not from the blur."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.lines import Line, fitted_line, intersection

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

ARM_PX, BLURRED_PX = 32.0, 5.0
"""A corner's arms are looked at from where it is blurred or rounded, to so far from it."""
_LEAST_TURN = np.radians(20.0)
_STRAIGHT_PX = 0.6
_FEWEST = 5


@dataclass(frozen=True, eq=False)
class MeasuredEdge:
    """
    Edge points (n, 2), px, with their distance along the outline `s` (n,) and unit normals (n, 2).

    Parameters
    ----------
    u, common : (n,), px
        Standard uncertainty across, independent from point to point, and what neighbours share.
    contested : (n,)
        Whether another edge as clear lies beside it.
    """

    s: FloatArray
    points: FloatArray
    normals: FloatArray
    u: FloatArray
    common: FloatArray
    contested: BoolArray

    def between(self, low: float, high: float) -> MeasuredEdge:
        """The part with `s` from `low` up to `high`."""
        some = (self.s >= low) & (self.s < high)
        return MeasuredEdge(*(values[some] for values in vars(self).values()))


@dataclass(frozen=True, eq=False)
class Corner:
    """A corner at `s` (px) along an outline: its point (2,), u in one coordinate, normal halfway between its arms."""

    s: float
    point: FloatArray
    u: float
    normal: FloatArray


def corners_of(edge: MeasuredEdge) -> list[Corner]:
    """Corners of an edge, sharpest first."""
    turns = _turns(edge)
    corners: list[Corner] = []
    for i in np.argsort(-turns):
        if turns[i] < _LEAST_TURN:
            break
        if all(abs(edge.s[i] - corner.s) > ARM_PX / 2 for corner in corners):
            corner = _corner_near(edge, float(edge.s[i]))
            corners += [] if corner is None else [corner]
    return corners


def _turns(edge: MeasuredEdge) -> FloatArray:
    """Change of direction (n,), rad, from half an arm before each point to half an arm behind."""
    reach = ARM_PX / 2
    before, after = (
        np.column_stack([np.interp(edge.s + side * reach, edge.s, edge.points[:, axis]) for axis in (0, 1)])
        for side in (-1, 1)
    )
    (ax, ay), (bx, by) = (edge.points - before).T, (after - edge.points).T
    turns = np.abs(np.arctan2(ax * by - ay * bx, ax * bx + ay * by))
    turns[(edge.s - edge.s[0] < reach) | (edge.s[-1] - edge.s < reach)] = 0.0
    return np.asarray(turns)


@dataclass(frozen=True, eq=False)
class _Arm:
    """A straight stretch of an edge."""

    line: Line
    part: MeasuredEdge
    scatter: float

    @classmethod
    def of(cls, part: MeasuredEdge) -> _Arm | None:
        if len(part.s) < _FEWEST:
            return None
        line = fitted_line(part.points, 1.0 / part.u**2)
        scatter = float(np.sqrt(np.mean(line.distances(part.points) ** 2)))
        return cls(line, part, scatter) if scatter < _STRAIGHT_PX else None

    def u_at(self, place: FloatArray) -> float:
        """Standard uncertainty across the arm's line at a place on it, px."""
        u = np.maximum(self.part.u, self.scatter)
        w = 1.0 / u**2
        along = (self.part.points - self.line.point) @ self.line.direction
        at = float((place - self.line.point) @ self.line.direction)
        return float(np.sqrt(1.0 / w.sum() + at**2 / (w @ along**2) + np.median(self.part.common) ** 2))


def _corner_near(edge: MeasuredEdge, s: float) -> Corner | None:
    """The corner at a place along the edge where its two sides are straight and meet there."""
    before = _Arm.of(edge.between(s - ARM_PX, s - BLURRED_PX))
    after = _Arm.of(edge.between(s + BLURRED_PX, s + ARM_PX))
    if before is None or after is None:
        return None
    place = intersection(before.line, after.line)
    near = edge.points[int(np.argmin(np.abs(edge.s - s)))]
    if place is None or np.hypot(*(place - near)) > 2 * BLURRED_PX:
        return None
    normals = np.array([before.line.normal, after.line.normal])
    if abs(float(normals[0] @ after.line.direction)) < np.sin(_LEAST_TURN):
        return None
    inverse = np.linalg.inv(normals)
    C = inverse @ np.diag([before.u_at(place) ** 2, after.u_at(place) ** 2]) @ inverse.T
    return Corner(s, place, float(np.sqrt(np.trace(C) / 2)), normals.sum(axis=0) / np.hypot(*normals.sum(axis=0)))
