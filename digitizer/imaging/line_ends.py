"""
Where a string, a tape or a rule ends: its place along the line, from the step of brightness there.

The line itself is measured first; then profiles along it, within its breadth (or beside an edge, on either side),
show where it stops.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.lines import Line, fitted_line
from digitizer.imaging.lines import LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.profiles import edge_candidates, normal_profiles
from digitizer.imaging.steps import StepFits, fitted_edges

FloatArray = NDArray[np.float64]

_PAST_PX = 12.0
"""How far to either side of the stroke's end the line's end is sought."""
_BESIDE_PX = (1.5, 2.5, 3.5, 4.5)
"""Beside an edge, where its surface is looked at; nearer, its blur is."""
_REACH_PX = 4.0
_LEAST_STRENGTH = 6.0
_SQUARE_PX = 0.5
"""An end cut askew moves by so much along the line from one side to the other; an estimate."""
_NO_END = NotFound(
    "The line is seen, but not where it ends: draw the stroke past the end by a few pixels, or mark it by hand."
)


@dataclass(frozen=True, eq=False)
class LineEnd:
    """
    The end of a line.

    Parameters
    ----------
    point : (2,), px
        On the line's middle (a string) or on its edge.
    covariance : (2, 2), px²
    line
        The line as measured.
    score
        0 to 1: the line's own, times how clearly it ends here rather than elsewhere near.
    """

    point: FloatArray
    covariance: FloatArray
    line: LineSnap
    score: float

    @property
    def u(self) -> float:
        """Standard uncertainty in one coordinate, mean of all directions, px."""
        return float(np.sqrt(np.trace(self.covariance) / 2))


def snap_line_end(
    gray: NDArray[np.generic],
    stroke: FloatArray,
    *,
    colours: NDArray[np.generic] | None = None,
    kind: LineKind | None = None,
) -> tuple[LineEnd, ...] | NotFound:
    """
    Ends that a stroke may mean, the likeliest first.

    Parameters
    ----------
    gray : (rows, columns)
    stroke : (n, 2), px
        Along the line; its last place is the end, to about ten pixels.
    colours, kind
        As `snap_line` takes them.

    Raises
    ------
    ValueError
        If the stroke is not (n, 2) of at least two places.
    """
    found = snap_line(gray, stroke, colours=colours, kind=kind)
    if isinstance(found, NotFound):
        return found
    ends = [end for snap in found for end in _ends(gray, snap, np.asarray(stroke, dtype=np.float64)[-1])]
    return tuple(sorted(ends, key=lambda end: -end.score)) or _NO_END


def _ends(gray: NDArray[np.generic], snap: LineSnap, near: FloatArray) -> list[LineEnd]:
    """Ends of one line near a place: the clearest step along it, and others nearly as clear."""
    line = _outward(snap, near)
    foot = line.point + float((near - line.point) @ line.direction) * line.direction
    best: list[tuple[float, StepFits, float]] = []
    for offsets in _tracks(snap):
        places = foot + offsets[:, None] * line.normal
        along = np.broadcast_to(line.direction, places.shape)
        profile = np.nanmean(normal_profiles(gray, places, along, _PAST_PX + _REACH_PX), axis=0, keepdims=True)
        seen = edge_candidates(profile, least_strength=_LEAST_STRENGTH)
        for position, strength in zip(seen.position, seen.strength, strict=True):
            fit = fitted_edges(profile, np.array([position]), _REACH_PX)
            if fit.found[0] and abs(fit.centre[0]) <= _PAST_PX:
                best.append((float(strength), fit, float(np.exp(-0.5 * (fit.centre[0] / (_PAST_PX / 2)) ** 2))))
    top = max((strength for strength, _, _ in best), default=1.0)
    return [_end(snap, line, foot, fit, (strength / top) ** 0.5 * nearness) for strength, fit, nearness in best]


def _outward(snap: LineSnap, near: FloatArray) -> Line:
    """Straight line through the half of the points nearer a place, directed towards it."""
    order = np.sort(np.argsort(np.hypot(*(snap.points - near).T))[: max(len(snap.points) // 2, 4)])
    line = fitted_line(snap.points[order], 1.0 / snap.u[order] ** 2)
    outward = float((near - snap.points.mean(axis=0)) @ line.direction) >= 0
    return line if outward else Line(line.point, -line.direction)


def _tracks(snap: LineSnap) -> list[FloatArray]:
    """Offsets from the line at which profiles run along it: within a string, or on one side of an edge."""
    if snap.kind is LineKind.RIDGE:
        half = max(snap.width / 2 - snap.spread, 0.25)
        return [np.linspace(-half, half, 5)]
    beside = np.array(_BESIDE_PX)
    return [beside, -beside]


def _end(snap: LineSnap, line: Line, foot: FloatArray, fit: StepFits, clarity: float) -> LineEnd:
    u_along = float(np.hypot(fit.u[0], _SQUARE_PX / np.sqrt(12.0)))
    u_across = float(np.median(snap.u))
    axes = np.column_stack([line.direction, line.normal])
    covariance = axes @ np.diag([u_along**2, u_across**2]) @ axes.T
    return LineEnd(foot + float(fit.centre[0]) * line.direction, covariance, snap, snap.score * clarity)
