"""
A transom's outline from a few clicks along it: points to a fraction of a pixel, corners kept.

Between the clicks the way is found by least cost, then refined across. Where the edge isn't seen there are no points.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.lines import fitted_line
from digitizer.imaging.medians import median
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.outline_corners import BLURRED_PX, MeasuredEdge, corners_of
from digitizer.imaging.outline_path import STEP_PX, tracked
from digitizer.imaging.steps import fitted_edges

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SPACING_PX = 24.0
"""Distance of the points handed out; each is the mean of what lies between."""
_NEAREST_PX = 8.0
_LEAST_SEEN = 0.3
_REACH_PX = 4.0
_CLICK_PX = 10.0
"""How far a click may lie from the edge it means."""
_OUTLYING = 3.5
_SHARED = 1.2
"""How much worse the mean of profiles two pixels apart is than if they shared no noise; measured on renders."""
_FEWEST = 4


@dataclass(frozen=True, eq=False)
class OutlineSnap:
    """
    An outline found in a photo.

    Parameters
    ----------
    points : (n, 2), px
        In the order of the clicks; corners among them.
    u : (n,), px
        Standard uncertainty across the outline; of a corner, in one coordinate.
    normals : (n, 2)
        Unit vectors across; of a corner, halfway between those of its sides.
    is_corner : (n,)
    contested : (n,)
        Whether another edge as clear runs beside it here: a shadow, a reflection, a rubbing strake.
    seen
        Share of the way along which an edge was seen.
    """

    points: FloatArray
    u: FloatArray
    normals: FloatArray
    is_corner: BoolArray
    contested: BoolArray
    seen: float


class _Point(NamedTuple):
    """One point of an outline."""

    s: float
    point: FloatArray
    u: float
    normal: FloatArray
    is_corner: bool
    contested: bool


def trace_outline(
    picture: NDArray[np.uint8], clicks: FloatArray, *, spacing_px: float = SPACING_PX
) -> OutlineSnap | NotFound:
    """
    Outline through some clicks.

    Parameters
    ----------
    picture : (rows, columns) or (rows, columns, 3)
        Grey or colour.
    clicks : (n, 2), px
        Two or more in order along the outline, best on its corners; the first again at the end where it is closed.
    spacing_px : px
        Distance of the points wanted.

    Returns
    -------
    OutlineSnap or NotFound

    Raises
    ------
    ValueError
        If the clicks are no (n, 2) of at least two.
    """
    clicks = np.asarray(clicks, dtype=np.float64)
    if clicks.ndim != 2 or clicks.shape[1] != 2 or len(clicks) < 2:
        raise ValueError(f"clicks are (n, 2) with n at least 2, got {clicks.shape}")
    if not np.all((clicks >= -0.5) & (clicks <= np.array(picture.shape[1::-1]) - 0.5)):
        return NotFound("A click lies outside the photo: click along the outline within it.")
    if np.hypot(*np.diff(clicks, axis=0).T).min() < _NEAREST_PX:
        return NotFound(f"Two clicks lie within {_NEAREST_PX:.0f} pixels: leave one of them out.")
    edge, seen = _measured(picture, clicks)
    if seen < _LEAST_SEEN or len(edge.s) < _FEWEST or _clicks_on(edge, clicks) < 0.5:
        return NotFound("No edge runs along the clicks: click nearer the outline and more often, or mark it by hand.")
    corners = corners_of(edge)
    stretches = _stretches(edge, sorted(corner.s for corner in corners), spacing_px)
    points = [mean for mean in map(_mean, stretches) if mean is not None]
    points += [_Point(c.s, c.point, c.u, c.normal, True, False) for c in corners]
    points.sort(key=lambda point: point.s)
    if not points:
        return NotFound("The edge along the clicks is too broken to measure: mark it by hand.")
    return OutlineSnap(
        points=np.array([p.point for p in points]),
        u=np.array([p.u for p in points]),
        normals=np.array([p.normal for p in points]),
        is_corner=np.array([p.is_corner for p in points]),
        contested=np.array([p.contested for p in points]),
        seen=seen,
    )


def _measured(picture: NDArray[np.uint8], clicks: FloatArray) -> tuple[MeasuredEdge, float]:
    """Edge points along the clicks, and the share of the way on which there are any."""
    track = tracked(picture, clicks)
    fits = fitted_edges(track.profiles, np.nan_to_num(track.offsets), _REACH_PX)
    found = fits.found & np.isfinite(track.offsets)
    points = track.points + np.where(found, fits.centre, 0.0)[:, None] * track.normals
    s = STEP_PX * np.arange(len(points), dtype=np.float64)
    edge = MeasuredEdge(
        s[found], points[found], track.normals[found], fits.u_noise[found], fits.u_common[found], track.contested[found]
    )
    return edge, float(found.mean())


def _clicks_on(edge: MeasuredEdge, clicks: FloatArray) -> float:
    """Share of the clicks that have the edge near: one far off was found on a detour."""
    nearest = [float(np.hypot(*(edge.points - click).T).min()) for click in clicks]
    return float(np.mean(np.array(nearest) < _CLICK_PX))


def _stretches(edge: MeasuredEdge, corners: list[float], spacing_px: float) -> Iterator[MeasuredEdge]:
    """Parts of an edge about `spacing_px` long, none of them across a corner or in its blur."""
    bounds = [edge.s[0] - 2 * BLURRED_PX, *corners, edge.s[-1] + 2 * BLURRED_PX]
    for low, high in pairwise(bounds):
        low, high = low + BLURRED_PX, high - BLURRED_PX
        count = max(round((high - low) / spacing_px), 1)
        for a, b in pairwise(np.linspace(low, high, count + 1).tolist()):
            yield edge.between(a, b)


def _mean(part: MeasuredEdge) -> _Point | None:
    """The point in the middle of a stretch, from the parabola through it; nothing where too little of it is seen."""
    if len(part.s) < _FEWEST:
        return None
    chord = fitted_line(part.points)
    along, across = (part.points - chord.point) @ chord.direction, chord.distances(part.points)
    A = np.vander(along / max(float(np.ptp(along)), 1e-9), 3)
    keep = np.ones(len(across), dtype=bool)
    for _ in range(3):
        w = 1.0 / part.u[keep]
        solution = np.linalg.lstsq(w[:, None] * A[keep], w * across[keep], rcond=None)[0]
        v = np.abs(across - A @ solution) / part.u
        kept = v < _OUTLYING * max(1.0, median(v[keep]) / 0.6745)
        if kept.sum() < _FEWEST or np.array_equal(kept, keep):
            break
        keep = kept
    N = (A[keep] / part.u[keep, None] ** 2).T @ A[keep]
    factor = max(1.0, float(np.sum(v[keep] ** 2)) / max(keep.sum() - 3, 1))
    at = median(along) / max(float(np.ptp(along)), 1e-9)
    row = np.array([at**2, at, 1.0])
    u = float(np.sqrt(_SHARED**2 * factor * row @ np.linalg.inv(N) @ row + median(part.common) ** 2))
    place = chord.point + median(along) * chord.direction + float(row @ solution) * chord.normal
    return _Point(median(part.s), place, u, chord.normal, False, bool(part.contested.mean() > 0.5))
