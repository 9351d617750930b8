"""
What is known of points on a boat, as observation equations: lengths, straight lines, circles, mirror pairs,
angles, level and plumb.

All in the datum system D: x roughly to starboard, y up along the face, z aft out of it. Residuals are
adjusted − observed, whitened by the row's u.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import NamedTuple

import numpy as np

from digitizer.adjustment.observations import FloatArray, IntArray, Row
from digitizer.adjustment.points import FIXED, PointTable


def _u(rows: Sequence[Row]) -> FloatArray:
    return np.array([row.u for row in rows])


def _indices(values: Sequence[int]) -> IntArray:
    return np.asarray(values, dtype=np.intp)


class Lengths:
    """
    Lengths between points, straight through (chord) or along the surface (girth).

    |b − a| = reading · (1 + scale) + zero, where scale and zero belong to the instrument or the object and may
    be shared by several readings.

    Parameters
    ----------
    points
    first, second : (m,)
        Points at the ends.
    readings : (m,), mm
    scale, zero : (m,)
        Parameter columns, or `FIXED` for none.
    rows : (m,)
    girth : (m,), optional
        Whether a length was taken along the surface.
    """

    def __init__(
        self,
        points: PointTable,
        first: Sequence[int],
        second: Sequence[int],
        readings: Sequence[float],
        scale: Sequence[int],
        zero: Sequence[int],
        rows: Sequence[Row],
        girth: Sequence[bool] = (),
    ) -> None:
        self.rows, self.u = list(rows), _u(rows)
        self.girth = np.asarray(girth if len(girth) else [False] * len(self.rows), dtype=bool)
        self.first, self.second = points.linked(_indices(first)), points.linked(_indices(second))
        self.scale, self.zero = _indices(scale), _indices(zero)
        self.readings = np.asarray(readings, dtype=float)

    def read(self, readings: FloatArray, u: FloatArray) -> Lengths:
        """The same lengths read otherwise, mm; their rows keep the old descriptions."""
        out = copy(self)
        out.readings, out.u = readings, u
        return out

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write residuals; see `Block.fill`."""
        between = self.second.at(x) - self.first.at(x)
        if np.any(self.girth):
            along = self.second.chart(x) - self.first.chart(x)
            between = np.where(self.girth[:, None], along, between)
        length = np.sqrt(np.einsum("ij,ij->i", between, between))
        scale = np.where(self.scale == FIXED, 0.0, x[self.scale])
        zero = np.where(self.zero == FIXED, 0.0, x[self.zero])
        residuals[:] = (length - self.readings * (1.0 + scale) - zero) / self.u
        if jacobian is None:
            return
        direction = between / np.maximum(length, 1e-9)[:, None] / self.u[:, None]
        through = np.where(self.girth[:, None], 0.0, direction)
        self.second.chain(x, through, jacobian)
        self.first.chain(x, -through, jacobian)
        if np.any(self.girth):
            self.second.chain_chart(direction - through, jacobian)
            self.first.chain_chart(through - direction, jacobian)
        for columns, derivative in ((self.scale, -self.readings / self.u), (self.zero, -1.0 / self.u)):
            rows = np.flatnonzero(columns != FIXED)
            jacobian[rows, columns[rows]] += derivative[rows]


class LinePoints:
    """
    Points on straight lines in the face: −x sin φ + y cos φ = c.

    `lines` (m,) are the columns of φ; c follows in the next column.
    """

    def __init__(self, points: PointTable, which: Sequence[int], lines: Sequence[int], rows: Sequence[Row]) -> None:
        self.rows, self.u = list(rows), _u(rows)
        self.which, self.lines = points.linked(_indices(which)), _indices(lines)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write distances from the line; see `Block.fill`."""
        place = self.which.chart(x)
        sin, cos = np.sin(x[self.lines]), np.cos(x[self.lines])
        residuals[:] = (-sin * place[:, 0] + cos * place[:, 1] - x[self.lines + 1]) / self.u
        if jacobian is None:
            return
        normal = np.column_stack([-sin, cos, np.zeros_like(sin)]) / self.u[:, None]
        self.which.chain_chart(normal, jacobian)
        m = np.arange(len(place))
        jacobian[m, self.lines] -= (cos * place[:, 0] + sin * place[:, 1]) / self.u
        jacobian[m, self.lines + 1] -= 1.0 / self.u


class CirclePoints:
    """
    Points on circles in planes parallel to the face.

    `circles` (m,) are the columns of the centre's x; y and the radius follow.
    """

    def __init__(self, points: PointTable, which: Sequence[int], circles: Sequence[int], rows: Sequence[Row]) -> None:
        self.rows, self.u = list(rows), _u(rows)
        self.which, self.circles = points.linked(_indices(which)), _indices(circles)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write radial distances from the rim; see `Block.fill`."""
        place = self.which.chart(x)
        centre = np.column_stack([x[self.circles], x[self.circles + 1]])
        out = place[:, :2] - centre
        distance = np.maximum(np.hypot(out[:, 0], out[:, 1]), 1e-9)
        residuals[:] = (distance - x[self.circles + 2]) / self.u
        if jacobian is None:
            return
        direction = out / distance[:, None] / self.u[:, None]
        self.which.chain_chart(np.column_stack([direction, np.zeros(len(out))]), jacobian)
        m = np.arange(len(out))
        jacobian[m, self.circles] -= direction[:, 0]
        jacobian[m, self.circles + 1] -= direction[:, 1]
        jacobian[m, self.circles + 2] -= 1.0 / self.u


class MirrorPairs:
    """
    Pairs that lie as each other's mirror image about an axis in the face.

    The axis is x cos α + y sin α = c, columns (α, c). Two rows a pair: the sum of the two distances from the
    axis (twice the midpoint's), and the step between them along the axis; a point paired with itself has only
    the first. Row u is that of the discrepancy between a point and the mirror image of its twin.
    """

    def __init__(
        self,
        points: PointTable,
        port: Sequence[int],
        starboard: Sequence[int],
        axis: int,
        along: Sequence[bool],
        rows: Sequence[Row],
    ) -> None:
        self.rows, self.u, self.axis = list(rows), _u(rows), axis
        self.port, self.starboard = points.linked(_indices(port)), points.linked(_indices(starboard))
        self.along = np.asarray(along, dtype=bool)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write mirror discrepancies; see `Block.fill`."""
        a, c = x[self.axis], x[self.axis + 1]
        normal, axis = np.array([np.cos(a), np.sin(a), 0.0]), np.array([-np.sin(a), np.cos(a), 0.0])
        port, starboard = self.port.chart(x), self.starboard.chart(x)
        across = (port + starboard) @ normal - 2.0 * c
        step = (starboard - port) @ axis
        residuals[:] = np.where(self.along, step, across) / self.u
        if jacobian is None:
            return
        along = self.along[:, None]
        to_starboard = np.where(along, axis, normal) / self.u[:, None]
        self.starboard.chain_chart(to_starboard, jacobian)
        self.port.chain_chart(np.where(along, -to_starboard, to_starboard), jacobian)
        by_angle = np.where(self.along, -((starboard - port) @ normal), (port + starboard) @ axis)
        jacobian[:, self.axis] += by_angle / self.u
        jacobian[:, self.axis + 1] += np.where(self.along, 0.0, -2.0) / self.u


class RightAngles:
    """The cosine between two directions in space is zero; `corners` (m, 4) are points a→b and c→d."""

    def __init__(self, points: PointTable, corners: Sequence[tuple[int, int, int, int]], rows: Sequence[Row]) -> None:
        self.rows, self.u = list(rows), _u(rows)
        indices = _indices([i for corner in corners for i in corner]).reshape(-1, 4)
        self.ends = [points.linked(column) for column in indices.T]

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write cosines, radians; see `Block.fill`."""
        a, b, c, d = self.ends
        first, first_length = _unit(b.at(x) - a.at(x))
        second, second_length = _unit(d.at(x) - c.at(x))
        cosine = np.einsum("ij,ij->i", first, second)
        residuals[:] = cosine / self.u
        if jacobian is None:
            return
        by_first = (second - cosine[:, None] * first) / (first_length * self.u)[:, None]
        by_second = (first - cosine[:, None] * second) / (second_length * self.u)[:, None]
        for which, derivative in ((b, by_first), (a, -by_first), (d, by_second), (c, -by_second)):
            which.chain(x, derivative, jacobian)


class FaceAngles:
    """
    Angle in the face from a→b to c→d, anticlockwise from astern, minus the stated one.

    Where `undirected`, the angle counts modulo half a turn (parallel lines).
    """

    def __init__(
        self,
        points: PointTable,
        corners: Sequence[tuple[int, int, int, int]],
        values: Sequence[float],
        undirected: Sequence[bool],
        rows: Sequence[Row],
    ) -> None:
        self.rows, self.u = list(rows), _u(rows)
        indices = _indices([i for corner in corners for i in corner]).reshape(-1, 4)
        self.ends = [points.linked(column) for column in indices.T]
        self.values = np.asarray(values, dtype=float)
        self.period = np.where(np.asarray(undirected, dtype=bool), np.pi, 2.0 * np.pi)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write angle differences, radians; see `Block.fill`."""
        a, b, c, d = self.ends
        first = b.chart(x) - a.chart(x)
        second = d.chart(x) - c.chart(x)
        angle = np.arctan2(second[:, 1], second[:, 0]) - np.arctan2(first[:, 1], first[:, 0]) - self.values
        residuals[:] = (angle - self.period * np.round(angle / self.period)) / self.u
        if jacobian is None:
            return
        for which, other, vector, sign in ((d, c, second, 1.0), (b, a, first, -1.0)):
            square = np.maximum(vector[:, 0] ** 2 + vector[:, 1] ** 2, 1e-9)
            derivative = np.column_stack([-vector[:, 1], vector[:, 0], np.zeros(len(vector))])
            derivative *= (sign / (square * self.u))[:, None]
            which.chain_chart(derivative, jacobian)
            other.chain_chart(-derivative, jacobian)


class GravityColumns(NamedTuple):
    """Columns of the upward direction (roll, 1, −lean): `lean` positive when the face leans aft at its top."""

    roll: int
    lean: int


class LevelLines:
    """Lines that are level: their direction is square to the upward one. One row each, radians."""

    def __init__(
        self, points: PointTable, first: Sequence[int], second: Sequence[int], up: GravityColumns, rows: Sequence[Row]
    ) -> None:
        self.rows, self.u, self.up = list(rows), _u(rows), up
        self.first, self.second = points.linked(_indices(first)), points.linked(_indices(second))

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write slopes against level; see `Block.fill`."""
        up = np.array([x[self.up.roll], 1.0, -x[self.up.lean]])
        norm = float(np.linalg.norm(up))
        direction, length = _unit(self.second.at(x) - self.first.at(x))
        sine = direction @ up / norm
        residuals[:] = sine / self.u
        if jacobian is None:
            return
        by_end = (up / norm - sine[:, None] * direction) / (length * self.u)[:, None]
        self.second.chain(x, by_end, jacobian)
        self.first.chain(x, -by_end, jacobian)
        by_up = (direction - sine[:, None] * up / norm) / norm / self.u[:, None]
        jacobian[:, self.up.roll] += by_up[:, 0]
        jacobian[:, self.up.lean] -= by_up[:, 2]


class PlumbLines:
    """
    Lines that hang plumb: their direction is the upward one.

    Two rows each, radians: dx/dy = roll and −dz/dy = lean along the line; the first and second half of the
    rows belong to those.
    """

    def __init__(
        self, points: PointTable, first: Sequence[int], second: Sequence[int], up: GravityColumns, rows: Sequence[Row]
    ) -> None:
        self.rows, self.u, self.up = list(rows), _u(rows), up
        self.first, self.second = points.linked(_indices(first)), points.linked(_indices(second))

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write slopes against plumb; see `Block.fill`."""
        n = len(self.rows) // 2
        between = self.second.at(x) - self.first.at(x)
        rise = np.where(np.abs(between[:, 1]) < 1e-6, 1e-6, between[:, 1])
        residuals[:n] = (between[:, 0] / rise - x[self.up.roll]) / self.u[:n]
        residuals[n:] = (-between[:, 2] / rise - x[self.up.lean]) / self.u[n:]
        if jacobian is None:
            return
        zero = np.zeros(n)
        across = np.column_stack([1.0 / rise, -between[:, 0] / rise**2, zero]) / self.u[:n, None]
        aft = np.column_stack([zero, between[:, 2] / rise**2, -1.0 / rise]) / self.u[n:, None]
        for derivative, rows in ((across, slice(0, n)), (aft, slice(n, 2 * n))):
            self.second.chain(x, derivative, jacobian[rows])
            self.first.chain(x, -derivative, jacobian[rows])
        jacobian[:n, self.up.roll] -= 1.0 / self.u[:n]
        jacobian[n:, self.up.lean] -= 1.0 / self.u[n:]


class Gaps:
    """
    Gaps between a straightedge and a bowed face: the sagitta over the straightedge's span.

    `spans` (m,) and `gaps` (m,) in mm; `curvature` is the column of κ.
    """

    def __init__(self, spans: Sequence[float], gaps: Sequence[float], curvature: int, rows: Sequence[Row]) -> None:
        self.rows, self.u, self.curvature = list(rows), _u(rows), curvature
        self.half, self.gaps = np.asarray(spans, dtype=float) / 2.0, np.asarray(gaps, dtype=float)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write sagitta − gap; see `Block.fill`."""
        k = float(x[self.curvature])
        root = np.sqrt(np.maximum(1.0 - (k * self.half) ** 2, 1e-6))
        residuals[:] = (k * self.half**2 / (1.0 + root) - self.gaps) / self.u
        if jacobian is not None:
            jacobian[:, self.curvature] = self.half**2 / (root * (1.0 + root)) / self.u


class Coincidences:
    """
    A marked point that is the centre of a circle: two rows each, x then y.

    `circles` (m,) as in `CirclePoints`.
    """

    def __init__(self, points: PointTable, which: Sequence[int], circles: Sequence[int], rows: Sequence[Row]) -> None:
        self.rows, self.u = list(rows), _u(rows)
        self.which, self.circles = points.linked(_indices(which)), _indices(circles)

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        """Write distances between point and centre; see `Block.fill`."""
        place = self.which.chart(x)
        for axis in range(2):
            rows = slice(axis, None, 2)
            residuals[rows] = (place[:, axis] - x[self.circles + axis]) / self.u[rows]
            if jacobian is not None:
                derivative = np.zeros((len(place), 3))
                derivative[:, axis] = 1.0 / self.u[rows]
                self.which.chain_chart(derivative, jacobian[rows])
                jacobian[rows][np.arange(len(place)), self.circles + axis] -= 1.0 / self.u[rows]


def _unit(vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    length = np.maximum(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)), 1e-9)
    return vectors / length[:, None], length
