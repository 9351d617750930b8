"""
Which lines a rough stroke may mean: found coarsely, before they are measured.

Candidates from profiles across the stroke vote for lines; each further line is sought among the candidates that the
earlier ones leave over. Gaps, occlusions and stray edges cost votes and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.line_fit import Map
from digitizer.imaging.medians import median
from digitizer.imaging.profiles import Candidates, edge_candidates, noise_of, normal_profiles

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

STATION_PX = 4.0
"""Distance of the profiles where the stroke is not too long for it."""
_MOST_STATIONS = 120
_LEAST_STATIONS = 6
_MOST_LINES = 6
_VOTE_PX, _NEAR_PX = 1.3, 1.0
_LEAST_SUPPORT = 0.3
_SMOOTHING_PX, _MORE_SMOOTHING_PX = 0.8, 2.0
_BLURRED_PX, _WEAK, _CALMED, _WELL_SEEN = 1.4, 20.0, 1.8, 0.6
"""A clearest line more spread, or less strong, is sought again with more smoothing, as noise may split it; that counts
if it makes it so much stronger, and no line so well supported is lost: edges close together would be merged."""
_USUAL_BEND_PX = (np.inf, np.inf, 4.0, 2.0)
"""u of a curve's coefficients: place and direction open, bends as small as lenses and a hand's stroke leave them."""


@dataclass(frozen=True, eq=False)
class Path:
    """
    A smooth path through the picture, and the directions across it.

    Parameters
    ----------
    t : (n,)
        From −1 at its beginning to 1 at its end.
    points, normals : (n, 2), px
    length : px
    """

    t: FloatArray
    points: FloatArray
    normals: FloatArray
    length: float

    def beside(self, offsets: FloatArray) -> Path:
        """The path `offsets` (n,) px along the normals from this one."""
        return path_through(self.points + offsets[:, None] * self.normals, self.t)

    def every(self, spacing_px: float) -> Path:
        """The same path with points about `spacing_px` apart."""
        count = max(int(np.ceil(self.length / spacing_px)) + 1, 2)
        t = np.linspace(-1.0, 1.0, count)
        points = np.column_stack([np.interp(t, self.t, self.points[:, axis]) for axis in (0, 1)])
        return path_through(points, t)


def path_through(points: FloatArray, t: FloatArray) -> Path:
    """Path along points (n, 2) that lie smoothly."""
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)[:, None]
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    return Path(t, points, np.column_stack([-along[:, 1], along[:, 0]]), length)


@dataclass(frozen=True, eq=False)
class CoarseLine:
    """
    A line near the stroke, to about half a pixel.

    Parameters
    ----------
    curve : (4,), px
        Offset from the stroke's path, as a polynomial in the path's t, constant first.
    support
        Share of the profiles that have an edge there.
    contrast : grey levels
        Median, signed along the normal.
    width : px
        Median spread.
    strength
        Median of how far the steepness stands out of the noise.
    noise : grey levels
        Of a pixel.
    """

    curve: FloatArray
    support: float
    contrast: float
    width: float
    strength: float
    noise: float

    def offsets(self, t: FloatArray) -> FloatArray:
        """Offsets (n,) from the path, px."""
        return np.asarray(np.polynomial.polynomial.polyval(t, self.curve))


def smooth_path(stroke: FloatArray, maps: tuple[Map, Map] | None = None) -> tuple[Path, float]:
    """
    Path that a hand meant by a rough stroke along something straight, and how far the stroke strays from it (px).

    Straight in the undistorted picture where the lens is given by its two maps (to there, and back); otherwise the
    parabola through the stroke, or the straight line where it has fewer than five points.
    """
    there, back = maps if maps is not None else (_unchanged, _unchanged)
    points = there(stroke)
    origin, along = points[0], points[-1] - points[0]
    frame = np.array([along, [-along[1], along[0]]]) / np.hypot(*along)
    x, y = frame @ (points - origin).T
    curve = np.polynomial.Polynomial.fit(x, y, 2 if maps is None and len(points) >= 5 else 1)
    t = np.linspace(-1.0, 1.0, _stations(float(np.hypot(*(stroke[-1] - stroke[0])))))
    places = (1 + t) / 2 * np.ptp(x) + x.min()
    smooth = np.column_stack([places, curve(places)]) @ frame + origin
    pixels = np.hypot(*(stroke[-1] - stroke[0])) / np.hypot(*along)
    return path_through(back(smooth), t), float(np.abs(y - curve(x)).max() * pixels)


def _unchanged(points: FloatArray) -> FloatArray:
    return points


def _stations(length: float) -> int:
    return int(np.clip(length / STATION_PX, 2 * _LEAST_STATIONS, _MOST_STATIONS)) + 1


def coarse_lines(gray: NDArray[np.generic], path: Path, half_width_px: float) -> tuple[list[CoarseLine], int]:
    """Lines within `half_width_px` of a path, the best supported first, and how many profiles lie in the picture."""
    profiles = normal_profiles(gray, path.points, path.normals, half_width_px + 3.0)
    seen = np.isfinite(profiles).sum(axis=1) >= profiles.shape[1] / 2
    if seen.sum() < _LEAST_STATIONS:
        return [], int(seen.sum())
    profiles, t = profiles[seen], path.t[seen]
    lines = _lines(profiles, t, half_width_px, _SMOOTHING_PX)
    first = _clearest(lines)
    if first is None or first.width > _BLURRED_PX or first.strength < _WEAK:
        smoothed = _lines(profiles, t, half_width_px, _MORE_SMOOTHING_PX)
        second = _clearest(smoothed)
        calmed = second is not None and (first is None or second.strength > _CALMED * first.strength)
        lines = smoothed if calmed and _well_seen(smoothed) >= _well_seen(lines) else lines
    return lines, int(seen.sum())


def _well_seen(lines: list[CoarseLine]) -> int:
    return sum(line.support > _WELL_SEEN for line in lines)


def _clearest(lines: list[CoarseLine]) -> CoarseLine | None:
    return max(lines, key=lambda line: line.support * abs(line.contrast), default=None)


def _lines(profiles: FloatArray, t: FloatArray, half_width_px: float, smoothing: float) -> list[CoarseLine]:
    """Lines that the candidates of some profiles agree on, the best supported first."""
    noise = noise_of(profiles)
    found = edge_candidates(profiles, smoothing=smoothing, noise=noise)
    lines: list[CoarseLine] = []
    left = np.abs(found.position) <= half_width_px + 1.0
    while len(lines) < _MOST_LINES and left.sum() >= _LEAST_STATIONS:
        curve = _refined(_voted(t[found.profile], found, left, half_width_px), t[found.profile], found, left)
        line, mine = _line(curve, t, found, left, noise)
        if line.support < _wanted_support(left, len(t), half_width_px):
            break
        lines.append(line)
        left &= ~mine
    return lines


def _voted(t: FloatArray, found: Candidates, left: BoolArray, half_width: float) -> FloatArray:
    """Offsets at both ends of the straight line that most candidates lie near, as a curve (4,)."""
    ends = np.arange(-np.floor(half_width), half_width + 0.5)
    first, last = (grid.ravel() for grid in np.meshgrid(ends, ends))
    t, position, weight = t[left].astype(np.float32), found.position[left].astype(np.float32), _weights(found)[left]
    away = (
        (first + last)[:, None].astype(np.float32) / 2 + np.outer((last - first).astype(np.float32) / 2, t) - position
    )
    votes = np.maximum(1.0 - np.abs(away) / _VOTE_PX, 0.0) @ weight
    # Between equals, the line nearer the stroke: a hand's strokes are a few pixels off.
    votes *= 1.0 - 0.3 * (np.hypot(first, last) / (np.sqrt(2) * half_width)) ** 2
    best = int(np.argmax(votes))
    return np.array([(first[best] + last[best]) / 2, (last[best] - first[best]) / 2, 0.0, 0.0])


def _weights(found: Candidates) -> NDArray[np.float32]:
    """A strong edge counts more than a faint one, but many faint ones more than a few strong."""
    return (found.strength / (found.strength + 15.0)).astype(np.float32)


def _refined(curve: FloatArray, t: FloatArray, found: Candidates, left: BoolArray) -> FloatArray:
    """Cubic through the candidates near a curve, with those farther off left out as it comes to fit the others."""
    A = np.column_stack([np.ones_like(t), t, t**2, t**3])
    usual = np.diag(np.array(_USUAL_BEND_PX) ** -2.0) + 1e-9 * np.eye(4)
    weights = np.where(left, _weights(found), 0.0)
    for reach in (2.0, 1.6, 1.3, 1.2):
        away = np.abs(A @ curve - found.position)
        w = weights * np.maximum(1.0 - (away / reach) ** 2, 0.0)
        if np.count_nonzero(w) < _LEAST_STATIONS:
            break
        weighted = A.T * w
        curve = np.asarray(np.linalg.solve(weighted @ A + usual, weighted @ found.position))
    return curve


def _line(
    curve: FloatArray, t: FloatArray, found: Candidates, left: BoolArray, noise: float
) -> tuple[CoarseLine, BoolArray]:
    away = np.abs(np.polynomial.polynomial.polyval(t[found.profile], curve) - found.position)
    mine = left & (away <= _NEAR_PX)
    support = len(np.unique(found.profile[mine])) / len(t)
    if not mine.any():
        return CoarseLine(curve, 0.0, 0.0, 0.0, 0.0, noise), mine
    contrast, width, strength = (median(v[mine]) for v in (found.contrast, found.width, found.strength))
    return CoarseLine(curve, support, contrast, width, strength, noise), mine


def _wanted_support(left: BoolArray, stations: int, half_width: float) -> float:
    """Share of profiles that a line needs so that it is none of chance among as many stray edges."""
    stray = 1.0 - np.exp(-2 * _NEAR_PX * left.sum() / (stations * 2 * half_width))
    return float(max(_LEAST_SUPPORT, min(stray + 4.0 * np.sqrt(stray * (1 - stray) / stations), 0.9)))
