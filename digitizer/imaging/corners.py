"""
Corners as the meeting of two edges: keel point, chine, ends of a rule, corners of a plate.

A corner itself is blurred and often rounded; its two edges are neither, a little way off. So each is measured as a
line and the lines are intersected, which also says how well the place is known in every direction.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.lines import Line, fitted_line, intersection
from digitizer.imaging.line_fit import Map
from digitizer.imaging.lines import SHORTEST_PX, LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.profiles import noise_of

FloatArray = NDArray[np.float64]

REACH_PX = 40.0
"""How far from a click its two edges are followed."""
_CLEAR_PX = 4.0
"""Nearer the corner than this the edges are rounded by blur, and not looked at."""
_LEAST_ANGLE = np.radians(12.0)
"""Between two edges found by themselves, so that one edge is not taken for two."""
_LEAST_MEETING = np.radians(3.0)
_MOST_ARMS = 4
_ARM_HALF_WIDTH_PX = 5.0
_CLICK_PX = 6.0
"""An arm passes the click within this; a careless click's error."""
_LEAST_POINTS = 4


@dataclass(frozen=True, eq=False)
class CornerSnap:
    """
    Where two edges meet.

    Parameters
    ----------
    point : (2,), px
    covariance : (2, 2), px²
    edges
        The two lines it was made of.
    angle : rad
        Between the edges, as seen from the corner, 0 to π.
    away : px
        Distance from the click.
    score
        0 to 1, for comparing the corners near one click; no probability.
    """

    point: FloatArray
    covariance: FloatArray
    edges: tuple[LineSnap, LineSnap]
    angle: float
    away: float
    score: float

    @property
    def u(self) -> float:
        """Standard uncertainty in one coordinate, mean of all directions, px."""
        return float(np.sqrt(np.trace(self.covariance) / 2))


def snap_corner(
    gray: NDArray[np.generic], click: FloatArray, *, reach_px: float = REACH_PX, kind: LineKind | None = LineKind.EDGE
) -> tuple[CornerSnap, ...] | NotFound:
    """
    Corners that a click may mean, the likeliest first, with their edges found round the click.

    Parameters
    ----------
    gray : (rows, columns)
        Photo.
    click : (2,), px
    reach_px : px
        How far the edges are followed from the click.
    kind
        What the corner is made of: edges, drawn lines, or either (None).
    """
    click = np.asarray(click, dtype=np.float64)
    if not np.all(np.isfinite(click)) or np.any(click < 0) or np.any(click > np.subtract(gray.shape[1::-1], 1)):
        return NotFound("The click lies outside the picture.")
    arms = list(_arms(gray, click, reach_px, kind))
    corners = [
        corner
        for (a, end_a), (b, end_b) in combinations(arms, 2)
        for corner in _met(a, b, click, reach_px, (end_a, end_b))
    ]
    if not corners:
        return NotFound("No two edges meet near the click: stroke along the two edges, or mark the corner by hand.")
    return tuple(sorted(corners, key=lambda corner: -corner.score))


def snap_meeting(
    gray: NDArray[np.generic],
    first: FloatArray,
    second: FloatArray,
    *,
    straighten: tuple[Map, Map] | None = None,
    kind: LineKind | None = None,
) -> CornerSnap | NotFound:
    """
    Meeting of two edges that were each stroked: the keel point from the two bottom edges.

    Parameters
    ----------
    first, second : (n, 2), px
        Strokes as `snap_line` takes them.
    straighten
        The lens; where an edge must be followed a long way to the corner it matters.
    """
    lines = [snap_line(gray, stroke, straighten=straighten, kind=kind) for stroke in (first, second)]
    for found in lines:
        if isinstance(found, NotFound):
            return found
    a, b = (found[0] for found in lines if not isinstance(found, NotFound))
    return meeting(a, b, straighten)


def meeting(a: LineSnap, b: LineSnap, straighten: tuple[Map, Map] | None = None) -> CornerSnap | NotFound:
    """
    Where two snapped lines meet, straight on from their points.

    Without the lens only the halves of the lines nearer the meeting are used, so that a lens's bend matters less.

    Notes
    -----
    With lines nᵢ · x = cᵢ, x = N⁻¹ c; the covariance is N⁻¹ diag(u²ᵢ) N⁻ᵀ with uᵢ that of line i's place at the
    meeting, what its points share included.
    """
    fits = [_local(snap, straighten) for snap in (a, b)]
    if straighten is None:
        place = _crossing(*fits)
        if place is None:
            return _parallel()
        fits = [_local(snap, None, near=place) for snap in (a, b)]
    place = _crossing(*fits)
    if place is None:
        return _parallel()
    N = np.array([fit.line.normal for fit in fits])
    inverse = np.linalg.inv(N)
    C = inverse @ np.diag([fit.u_at(place) ** 2 for fit in fits]) @ inverse.T
    if straighten is not None:
        place, C = _carried_back(straighten[1], place, C)
    arms = [_outward(snap, place) for snap in (a, b)]
    angle = float(np.arccos(np.clip(arms[0] @ arms[1], -1.0, 1.0)))
    return CornerSnap(place, C, (a, b), angle, 0.0, float(np.sqrt(a.score * b.score)))


def _outward(snap: LineSnap, place: FloatArray) -> FloatArray:
    """Unit vector from a place towards the middle of a line's points."""
    away = snap.points.mean(axis=0) - place
    return np.asarray(away / max(float(np.hypot(*away)), 1e-9))


def _parallel() -> NotFound:
    return NotFound("The two edges are nearly parallel and meet nowhere near: mark the corner by hand.")


@dataclass(frozen=True, eq=False)
class _Straight:
    """A fitted line with what is needed for its u at any place."""

    line: Line
    weights: float
    spread: float
    u_common: float

    def u_at(self, place: FloatArray) -> float:
        """Standard uncertainty across the line at a place on it, px."""
        along = float((place - self.line.point) @ self.line.direction)
        return float(np.sqrt(1.0 / self.weights + along**2 / self.spread + self.u_common**2))


def _local(snap: LineSnap, straighten: tuple[Map, Map] | None, near: FloatArray | None = None) -> _Straight:
    """Straight line of a snap's points; of the half nearer a place where that is given."""
    points, u = snap.points, np.sqrt(np.maximum(snap.u**2 - snap.u_common**2, 1e-6))
    if near is not None and len(points) >= 4 * _LEAST_POINTS:
        order = np.sort(np.argsort(np.hypot(*(points - near).T))[: len(points) // 2])
        points, u = points[order], u[order]
    size = 1.0
    if straighten is not None:
        straight = straighten[0](points)
        # The lens may also scale: everything is carried over in the undistorted picture's own unit.
        size = float(np.hypot(*(straight[-1] - straight[0])) / np.hypot(*(points[-1] - points[0])))
        points = straight
    w = 1.0 / (u * size) ** 2
    line = fitted_line(points, w)
    along = (points - line.point) @ line.direction
    return _Straight(line, float(w.sum()), float(w @ along**2), snap.u_common * size)


def _crossing(a: _Straight, b: _Straight) -> FloatArray | None:
    if abs(float(a.line.direction @ b.line.normal)) < np.sin(_LEAST_MEETING):
        return None
    return intersection(a.line, b.line)


def _carried_back(back: Map, place: FloatArray, C: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A place and its covariance from the undistorted picture to the photo."""
    around = back(place + np.array([[0.0, 0.0], [0.5, 0.0], [-0.5, 0.0], [0.0, 0.5], [0.0, -0.5]]))
    J = np.column_stack([around[1] - around[2], around[3] - around[4]])
    return around[0], np.asarray(J @ C @ J.T)


def _met(
    a: LineSnap, b: LineSnap, click: FloatArray, reach_px: float, ends: tuple[float, float]
) -> Iterator[CornerSnap]:
    """The corner of two arms where it lies near the click and the arms aren't one and the same edge."""
    corner = meeting(a, b)
    if isinstance(corner, NotFound):
        return
    away = float(np.hypot(*(corner.point - click)))
    if away > reach_px / 2 or corner.angle > np.pi - _LEAST_ANGLE:
        return
    near = float(np.exp(-0.5 * (away / _CLICK_PX) ** 2))
    yield CornerSnap(corner.point, corner.covariance, (a, b), corner.angle, away, corner.score * near * min(ends))


def _arms(
    gray: NDArray[np.generic], click: FloatArray, reach_px: float, kind: LineKind | None
) -> Iterator[tuple[LineSnap, float]]:
    """Edges that leave the click's neighbourhood, measured, with how strong each is against the strongest."""
    directions = _directions(gray, click, reach_px)
    top = max((weight for _, weight in directions), default=1.0)
    for direction, weight in directions:
        ray = np.array([np.cos(direction), np.sin(direction)])
        stroke = click + np.linspace(_CLEAR_PX, max(reach_px, _CLEAR_PX + SHORTEST_PX + 1), 3)[:, None] * ray
        found = snap_line(gray, stroke, kind=kind, half_width_px=_ARM_HALF_WIDTH_PX)
        if not isinstance(found, NotFound):
            yield found[0], (weight / top) ** 0.5


def _directions(gray: NDArray[np.generic], click: FloatArray, reach_px: float) -> list[tuple[float, float]]:
    """
    Directions (rad) in which an edge leaves a click, with their weight, the strongest first.

    Each pixel with a gradient above the noise votes for the direction it lies in, if the edge through it passes the
    click.
    """
    low = np.maximum(np.floor(click - reach_px), 0).astype(int)
    high = np.ceil(click + reach_px).astype(int) + 1
    part = gray[low[1] : high[1], low[0] : high[0]].astype(np.float64)
    if min(part.shape) < 8:
        return []
    gy, gx = np.gradient(np.nan_to_num(part))
    size = np.hypot(gx, gy)
    y, x = np.indices(part.shape)
    dx, dy = x + low[0] - click[0], y + low[1] - click[1]
    r = np.hypot(dx, dy)
    passes = np.abs(dx * gx + dy * gy) / np.maximum(size, 1e-9)
    votes = (size > 5 * noise_of(part, 1.0)) & (r > _CLEAR_PX) & (r < reach_px) & (passes < _CLICK_PX)
    # A pixel's direction is the edge's own, from its gradient, turned to point away from the click.
    theta = np.arctan2(gx, -gy)[votes]
    outward = np.cos(theta) * dx[votes] + np.sin(theta) * dy[votes] >= 0
    theta = np.where(outward, theta, theta + np.pi)
    return _peaks(theta, np.minimum(size[votes], 40.0))


def _peaks(theta: FloatArray, weight: FloatArray) -> list[tuple[float, float]]:
    """Directions about which votes gather, each with its share."""
    turn = np.radians(2.0)
    grid = np.arange(0.0, 2 * np.pi, turn)
    histogram = np.histogram(theta % (2 * np.pi), bins=len(grid), range=(0, 2 * np.pi), weights=weight)[0]
    kernel = np.array([0.5, 1.0, 1.0, 1.0, 0.5])
    padded = np.concatenate([histogram[-2:], histogram, histogram[:2]])
    smooth = np.convolve(padded, kernel, mode="valid")
    found: list[tuple[float, float]] = []
    apart = int(_LEAST_ANGLE / turn)
    while len(found) < _MOST_ARMS and smooth.max() > 0:
        best = int(np.argmax(smooth))
        if found and smooth[best] < 0.15 * found[0][1]:
            break
        found.append(((best + 0.5) * turn, float(smooth[best])))
        smooth[np.arange(best - apart, best + apart + 1) % len(smooth)] = 0.0
    return found
