"""
Corners of printed markers as the meetings of their four sides.

A marker's corner is blurred, and the pattern inside it pulls at any window laid over it. Its sides are straight, dark
within and white without: each is measured along most of its length and two neighbours are intersected, which also
says how well the corner is known.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.lines import Line, fitted_line, intersection
from digitizer.imaging.medians import median
from digitizer.imaging.profiles import normal_profiles
from digitizer.imaging.steps import StepFits, fitted_edges

FloatArray = NDArray[np.float64]
Side: TypeAlias = tuple[Line, FloatArray, FloatArray, float]
"""A side's line, the points on it, their u, and the u they share."""

U_UNMEASURED_PX = 0.6
"""Of corners of markers too small for their sides to be measured (found by simulation)."""
U_PRINT_PX = 0.03
"""What remains at its best: sides not quite straight, ink not quite even (found on drawn pictures; an estimate)."""
_INSET = 0.12
"""Share of a side at either end where the next side's blur reaches."""
_BINS, _ROWS = 8, 3
"""Places along a side, and profiles averaged in each."""
_SHARE_OF_MODULE, _SHARE_OF_LARGE = 0.9, 0.4
_LEAST_REACH_PX, _USUAL_REACH_PX, _MOST_REACH_PX = 1.8, 4.0, 10.0
_FARTHEST_PX = 4.0
"""How far a corner may lie from where it was looked for; blur draws what is found first inwards."""
_FEWEST = 5
_OUTLYING = 3.5


def corners_from_sides(
    gray: NDArray[np.uint8], corners: FloatArray, modules: int
) -> tuple[FloatArray, FloatArray] | None:
    """
    Corners of markers to a few hundredths of a pixel.

    Parameters
    ----------
    gray : (rows, columns)
    corners : (n, 4, 2), px
        Of each marker in order round it, to about a pixel.
    modules
        Squares along a marker's side, its black rim included: the sides are looked at no farther than the rim is wide.

    Returns
    -------
    points : (n, 4, 2), px
    u : (n, 4), px
        Standard uncertainty in one coordinate. NaN, as the points, where the sides at a corner aren't both seen: then
        glare or something before the marker may have moved the corner along the other. None where the modules are too
        small to look at sides at all.

    Notes
    -----
    With sides nᵢ · x = cᵢ known across to uᵢ at the corner, C = N⁻¹ diag(u²ᵢ) N⁻ᵀ.
    """
    sides = np.roll(corners, -1, axis=1) - corners
    lengths = np.hypot(sides[..., 0], sides[..., 1])
    module = float(lengths.min()) / modules
    usual = min(_SHARE_OF_MODULE * module, _USUAL_REACH_PX)
    reach = max(usual, min(_SHARE_OF_LARGE * module, _MOST_REACH_PX))
    if reach < _LEAST_REACH_PX:
        return None
    fits, places, normals = _fitted(gray, corners, sides, lengths, reach)
    points, u = np.full(corners.shape, np.nan), np.full(corners.shape[:2], np.nan)
    for number in range(len(corners)):
        lines = [_side(fits, places, normals, (number * 4 + side) * _BINS) for side in range(4)]
        for k in range(4):
            a, b = lines[k - 1], lines[k]
            if a is not None and b is not None:
                points[number, k], u[number, k] = _meeting(a, b, corners[number, k])
    return points, u


def _fitted(
    gray: NDArray[np.uint8], corners: FloatArray, sides: FloatArray, lengths: FloatArray, reach: float
) -> tuple[StepFits, FloatArray, FloatArray]:
    """Edges at all places along all sides, fitted together since one camera took them: (n · 4 · bins) of them."""
    along = np.linspace(_INSET, 1.0 - _INSET, _BINS * _ROWS)
    places = (corners[:, :, None] + along[:, None] * sides[:, :, None]).reshape(-1, 2)
    across = np.stack([sides[..., 1], -sides[..., 0]], axis=-1) / lengths[..., None]
    normals = np.repeat(across.reshape(-1, 2), _BINS * _ROWS, axis=0)
    profiles = normal_profiles(gray, places, normals, reach + 1.0)
    binned = profiles.reshape(-1, _ROWS, profiles.shape[1]).mean(axis=1)
    middle = places.reshape(-1, _ROWS, 2).mean(axis=1)
    return fitted_edges(binned, np.zeros(len(binned)), reach), middle, normals[::_ROWS]


def _side(fits: StepFits, places: FloatArray, normals: FloatArray, first: int) -> Side | None:
    """One side: its line, the points on it, their u, and the u they share; None where too few agree."""
    mine = slice(first, first + _BINS)
    # Outward along the normal it gets brighter, at a printed marker.
    good = fits.found[mine] & (fits.contrasts[mine, 0] > 0)
    points = places[mine] + fits.centre[mine, None] * normals[mine]
    u, common = fits.u_noise[mine], fits.u_common[mine]
    for _ in range(3):
        if good.sum() < _FEWEST:
            return None
        line = fitted_line(points[good], 1.0 / u[good] ** 2)
        off = np.abs(line.distances(points)) / u
        kept = good & (off < _OUTLYING * max(1.0, 1.4826 * median(off[good])))
        if np.array_equal(kept, good):
            break
        good = kept
    factor = max(1.0, float(np.sqrt(np.sum(off[good] ** 2) / max(good.sum() - 2, 1))))
    return line, points[good], factor * u[good], median(common[good])


def _meeting(a: Side, b: Side, near: FloatArray) -> tuple[FloatArray, float]:
    place = intersection(a[0], b[0])
    inverse = np.linalg.inv(np.array([a[0].normal, b[0].normal]))
    variances = [_variance_at(side, place) for side in (a, b)]
    covariance = inverse @ np.diag(variances) @ inverse.T
    if np.hypot(*(place - near)) > _FARTHEST_PX:
        return np.full(2, np.nan), np.nan
    return place, float(np.sqrt(np.trace(covariance) / 2 + U_PRINT_PX**2))


def _variance_at(side: Side, place: FloatArray) -> float:
    """Variance across a side at a place on it, px²."""
    line, points, u, common = side
    weights = 1.0 / u**2
    along = (points - line.point) @ line.direction
    away = float((place - line.point) @ line.direction)
    return float(1.0 / weights.sum() + away**2 / (weights @ along**2) + common**2)
