"""
How good a photo is where it matters: sharpness, shake, contrast, noise, clipping.

Measured on the edges that the picture has, in numbers with a small classification; the sentences are made elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.profiles import QUANTISATION, normal_profiles
from digitizer.imaging.steps import StepFits, fitted_edges

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RADIUS_PX = 24
_SHARP_PX, _SOFT_PX = 1.3, 2.5
"""Edge spread up to which a picture is sharp, and from which on it is blurred (common practice at full resolution)."""
_SHAKEN_PX, _SHAKEN_SHARE = 1.0, 0.5
_FAINT_LEVELS = 12.0
_CLIPPED_SHARE = 0.10
_MOST_EDGES, _LEAST_EDGES = 80, 8
_REACH_PX = 7.0
_TILES = 6


class Sharpness(StrEnum):
    """Classes of edge spread."""

    SHARP = "sharp"
    SOFT = "soft"
    BLURRED = "blurred"
    UNKNOWN = "unknown"
    """There is no edge to tell it by."""


@dataclass(frozen=True)
class PhotoQuality:
    """
    The picture round a mark, or as a whole.

    Parameters
    ----------
    spread_px
        Standard deviation of the blur of its edges, median; NaN without edges.
    sharpest_px
        Spread across the direction in which the picture is sharpest.
    shake_px, shake_rad
        Blur that one direction has beyond the others, and that direction (0 along x, towards y, 0 to π); 0 where none
        can be told.
    contrast : grey levels
        Median height of the edges; NaN without edges.
    noise : grey levels
    dark_share, bright_share
        Parts of the pixels that are black or white without tones.
    edges
        How many edge places it rests on.
    """

    spread_px: float
    sharpest_px: float
    shake_px: float
    shake_rad: float
    contrast: float
    noise: float
    dark_share: float
    bright_share: float
    edges: int

    @property
    def sharpness(self) -> Sharpness:
        """Class of the spread."""
        if not np.isfinite(self.spread_px):
            return Sharpness.UNKNOWN
        if self.spread_px <= _SHARP_PX:
            return Sharpness.SHARP
        return Sharpness.SOFT if self.spread_px <= _SOFT_PX else Sharpness.BLURRED

    @property
    def is_shaken(self) -> bool:
        """Whether one direction is clearly more blurred than the other."""
        return self.shake_px > max(_SHAKEN_PX, _SHAKEN_SHARE * self.sharpest_px)

    @property
    def is_clipped(self) -> bool:
        """Whether a good part of it is black or white without tones."""
        return max(self.dark_share, self.bright_share) > _CLIPPED_SHARE

    @property
    def is_faint(self) -> bool:
        """Whether its edges hardly stand out."""
        return not self.contrast >= _FAINT_LEVELS


def mark_quality(gray: NDArray[np.generic], point: FloatArray, radius_px: int = RADIUS_PX) -> PhotoQuality:
    """
    Quality of the picture within `radius_px` of a place.

    Parameters
    ----------
    gray : (rows, columns), 0 to 255
    point : (2,), px
        May lie at the border or outside, where less or nothing is seen.
    """
    part = _window(gray, point, radius_px)
    return _quality([part]) if min(part.shape) >= 8 else _unseen()


def photo_quality(gray: NDArray[np.generic], points: FloatArray | None = None) -> PhotoQuality:
    """
    Quality of a whole photo, from tiles spread over it or round the places that matter.

    Parameters
    ----------
    points : (n, 2), px, optional
        Such as the marks of the transom, so that a blurred background doesn't count.
    """
    if points is None:
        height, width = gray.shape
        x, y = ((np.arange(_TILES) + 0.5) / _TILES * size for size in (width, height))
        points = np.array(np.meshgrid(x, y)).reshape(2, -1).T
    parts = [part for part in (_window(gray, point, 2 * RADIUS_PX) for point in points) if min(part.shape) >= 8]
    return _quality(parts) if parts else _unseen()


def _window(gray: NDArray[np.generic], point: FloatArray, radius: int) -> NDArray[np.float32]:
    if not np.all(np.isfinite(point)):
        return np.empty((0, 0), dtype=np.float32)
    column, row = (int(v) for v in np.clip(np.rint(point), -1e6, 1e6))
    part = gray[max(row - radius, 0) : max(row + radius + 1, 0), max(column - radius, 0) : max(column + radius + 1, 0)]
    return np.nan_to_num(part.astype(np.float32))


def _unseen() -> PhotoQuality:
    return PhotoQuality(np.nan, np.nan, 0.0, 0.0, np.nan, np.nan, 0.0, 0.0, 0)


def _quality(parts: list[NDArray[np.float32]]) -> PhotoQuality:
    noise = max(float(np.median([_noise(part) for part in parts])), QUANTISATION)
    each = max(_MOST_EDGES // len(parts), 4)
    measured = [_edge_spreads(part, noise, each) for part in parts]
    theta, spread, contrast = (np.concatenate([m[i] for m in measured]) for i in range(3))
    pixels = np.concatenate([part.ravel() for part in parts])
    shares = (float(np.mean(pixels <= 0.5)), float(np.mean(pixels >= 254.5)))
    if len(spread) < _LEAST_EDGES:
        return PhotoQuality(np.nan, np.nan, 0.0, 0.0, np.nan, noise, *shares, len(spread))
    sharpest, shake, direction = _shake(theta, spread)
    middle = float(np.median(spread))
    return PhotoQuality(middle, sharpest, shake, direction, float(np.median(contrast)), noise, *shares, len(spread))


def _noise(part: NDArray[np.float32]) -> float:
    """
    Standard deviation of the pixel noise, grey levels.

    J. Immerkær, Fast noise variance estimation, Comput. Vis. Image Underst. 64 (1996) 300-302, by the median.
    """
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32)
    return float(np.median(np.abs(cv2.filter2D(part, -1, mask)))) / (0.6745 * 6.0)


def _edge_spreads(part: NDArray[np.float32], noise: float, count: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Directions across (rad), spreads (px) and heights (grey levels) of the clearest edges of a window."""
    smooth = cv2.GaussianBlur(part, (0, 0), 1.2)
    gx, gy = (cv2.Sobel(smooth, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (1, 0))
    size = np.hypot(gx, gy)
    size[:2], size[-2:], size[:, :2], size[:, -2:] = 0, 0, 0, 0
    crest = (size >= 0.999 * cv2.dilate(size, np.ones((3, 3), np.uint8))) & (size > 3 * noise)
    row, column = np.nonzero(crest)
    best = np.argsort(-size[row, column])[:count]
    row, column = row[best], column[best]
    theta = np.arctan2(gy[row, column], gx[row, column]).astype(np.float64)
    points = np.column_stack([column, row]).astype(np.float64)
    normals = np.column_stack([np.cos(theta), np.sin(theta)])
    fits = fitted_edges(
        normal_profiles(part, points, normals, _REACH_PX), np.zeros(len(points)), _REACH_PX, alike=False
    )
    good = _plain(fits)
    return theta[good], fits.spread[good], np.abs(fits.contrasts[good, 0])


def _plain(fits: StepFits) -> BoolArray:
    """Single steps that fit the model; strings and double edges would tell of a blur that is none."""
    return fits.found & (fits.noise < 0.1 * np.abs(fits.contrasts[:, 0])) & ~fits.clipped


def _shake(theta: FloatArray, spread: FloatArray) -> tuple[float, float, float]:
    """
    Spread across the sharpest direction, and additional blur of the most blurred one with its direction.

    A shake of standard deviation m along φ adds m² cos²(θ − φ) to the squared spread of an edge with normal θ.
    """
    A = np.column_stack([np.ones_like(theta), np.cos(2 * theta), np.sin(2 * theta)])
    w = np.ones_like(spread)
    p = np.zeros(3)
    for _ in range(5):
        N = (A.T * w) @ A + np.diag([0.0, 0.5, 0.5])  # edges of one direction only tell no shake
        p = np.linalg.solve(N, (A.T * w) @ spread**2)
        away = np.abs(A @ p - spread**2)
        w = 1.0 / np.maximum(away, 0.5 * float(np.median(away)) + 1e-6)
        w /= w.max()
    half = float(np.hypot(p[1], p[2]))
    sharpest = float(np.sqrt(max(p[0] - half, 0.0)))
    return sharpest, float(np.sqrt(2 * half)), float(np.arctan2(p[2], p[1]) / 2 % np.pi)
