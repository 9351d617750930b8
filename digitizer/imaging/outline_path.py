"""The way along an edge between a few clicks: by least cost on a reduced picture, then along the clearest edge."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.profiles import Candidates, edge_candidates, normal_profiles

FloatArray = NDArray[np.float64]

STEP_PX = 2.0
"""Distance of the places along an outline at which it is looked at."""
_REDUCED_PX = 220
"""Longer side of the reduced neighbourhood of two clicks: the search costs by the pixel."""
_MARGIN_PX, _MARGIN = 16.0, 0.35
"""How far beside the two clicks the edge may run, and that over their distance."""
_HALF_SEEN = 20.0
_BENDS = np.arange(-1, 2)
_BEND_COST = 0.08
_BIN_PX = 0.75
_EDGE_LEVELS = (16, 60)
_STEEPEST = 30.0
"""Grey levels per pixel of the reduced picture, from which on an edge can't be clearer."""
_BESIDE_PX, _BESIDE = 5.0, 0.07
"""How far beside the straight way between two clicks an edge is as likely as not: in reduced pixels, and of the way."""


@dataclass(frozen=True, eq=False)
class Track:
    """
    Places along an edge, about `STEP_PX` apart, with the unit normals (n, 2) and the profiles across.

    Parameters
    ----------
    offsets : (n,), px
        Where the edge crosses each profile; NaN where none is seen.
    contested : (n,)
        Whether another edge as clear lies beside it.
    """

    points: FloatArray
    normals: FloatArray
    profiles: FloatArray
    offsets: FloatArray
    contested: NDArray[np.bool_]


def tracked(picture: NDArray[np.uint8], clicks: FloatArray) -> Track:
    """
    Edge through some clicks.

    Parameters
    ----------
    picture : (rows, columns) or (rows, columns, 3)
        In colour, the colour that shows the edge most clearly is followed.
    clicks : (n, 2), px
        In order along the edge.
    """
    legs = [_cheapest(picture, a, b) for a, b in pairwise(clicks)]
    reduction = max(factor for _, factor in legs)
    chain = np.concatenate([leg for leg, _ in legs])
    track = _along(picture, _smoothed(chain, 2.0 * reduction), 3.0 + 2.5 * reduction)
    seen = np.isfinite(track.offsets)
    if seen.sum() < 4:
        return track
    # Once more from there: nearer the edge the profiles are short and lie square to it.
    offsets = np.interp(np.arange(len(seen)), np.flatnonzero(seen), track.offsets[seen])
    return _along(picture, _smoothed(track.points + offsets[:, None] * track.normals, 3.0), 6.0)


def _cheapest(picture: NDArray[np.uint8], a: FloatArray, b: FloatArray) -> tuple[FloatArray, int]:
    """
    Places (n, 2), px, of the cheapest way from `a` to `b` along edges, and by how much the picture was reduced for it.

    E. N. Mortensen and W. A. Barrett, Interactive segmentation with intelligent scissors, Graphical Models and Image
    Processing 60 (1998) 349.
    """
    margin = _MARGIN_PX + _MARGIN * float(np.hypot(*(b - a)))
    size = np.array(picture.shape[1::-1])
    low = np.clip(np.floor(np.minimum(a, b) - margin).astype(int), 0, size - 1)
    high = np.clip(np.ceil(np.maximum(a, b) + margin).astype(int) + 1, low + 1, size)
    part = np.ascontiguousarray(picture[low[1] : high[1], low[0] : high[0]])
    factor = max(int(np.ceil(max(part.shape[:2]) / _REDUCED_PX)), 1)
    if factor > 1:
        part = cv2.resize(part, (part.shape[1] // factor, part.shape[0] // factor), interpolation=cv2.INTER_AREA)
    scale = (high - low) / np.array(part.shape[1::-1])
    start, end = (np.clip((place - low + 0.5) / scale - 0.5, 0, np.array(part.shape[1::-1]) - 1) for place in (a, b))
    scissors = cv2.segmentation.IntelligentScissorsMB()
    scissors.applyImageFeatures(*_features(part, start, end))
    scissors.buildMap(np.rint(start).astype(int).tolist())
    way = scissors.getContour(np.rint(end).astype(int).tolist()).reshape(-1, 2)
    return (way + 0.5) * scale - 0.5 + low, factor


def _features(
    part: NDArray[np.uint8], start: FloatArray, end: FloatArray
) -> tuple[NDArray[np.uint8], NDArray[np.float32], NDArray[np.float32]]:
    """Where there is no edge, the edges' direction and their strength, weaker the farther beside the two clicks."""
    gx, gy = (cv2.Sobel(part, cv2.CV_32F, *order, scale=0.25) for order in ((1, 0), (0, 1)))
    edges = cv2.Canny(part, *_EDGE_LEVELS)
    size = np.hypot(gx, gy)
    if part.ndim == 3:
        strongest = size.argmax(axis=2)[..., None]
        gx, gy, size = (np.take_along_axis(values, strongest, axis=2)[..., 0] for values in (gx, gy, size))
    y, x = np.indices(size.shape, dtype=np.float32)
    (ax, ay), (bx, by) = start, end
    chord = float(np.hypot(bx - ax, by - ay))
    beside = ((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / max(chord, 1.0)
    nearness = np.exp(-0.5 * (beside / (_BESIDE_PX + _BESIDE * chord)) ** 2)
    direction = np.dstack([gx, gy]) / np.maximum(size, 1e-6)[..., None]
    no_edge = ((edges == 0) | (nearness < 0.3)).astype(np.uint8)
    strength = np.minimum(size / _STEEPEST, 1.0) * nearness
    return no_edge, direction.astype(np.float32), strength.astype(np.float32)


def _smoothed(chain: FloatArray, sigma: float) -> FloatArray:
    """Chain at even distances, its steps smoothed away."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain, axis=0).T))])
    keep = np.concatenate([[True], np.diff(along) > 1e-9])
    even = np.linspace(0.0, along[-1], max(int(along[-1] / STEP_PX), 2) + 1)
    places = np.column_stack([np.interp(even, along[keep], chain[keep, axis]) for axis in (0, 1)])
    reach = int(np.ceil(3 * sigma / STEP_PX))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * STEP_PX / sigma) ** 2)
    kernel /= kernel.sum()
    # Mirrored through the ends, so that these stay where they are.
    before, after = (2 * end - places[np.clip(i, 0, len(places) - 1)] for end, i in _mirrors(places, reach))
    padded = np.concatenate([before, places, after])
    return np.column_stack([np.convolve(padded[:, axis], kernel, mode="valid") for axis in (0, 1)])


def _mirrors(places: FloatArray, reach: int) -> tuple[tuple[FloatArray, NDArray[np.intp]], ...]:
    last = len(places) - 1
    return (places[0], np.arange(reach, 0, -1)), (places[-1], last - np.arange(1, reach + 1))


def _along(picture: NDArray[np.uint8], points: FloatArray, half_width_px: float) -> Track:
    """The clearest edge along a path, in the clearest colour."""
    tangents = np.gradient(points, axis=0)
    tangents /= np.maximum(np.hypot(*tangents.T), 1e-9)[:, None]
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    profiles = normal_profiles(picture, points, normals, half_width_px)
    channels = [profiles] if profiles.ndim == 2 else [profiles.mean(axis=2), *np.moveaxis(profiles, 2, 0)]
    best: tuple[float, Track] | None = None
    for channel in channels:
        clarity, offsets, contested = _clearest(edge_candidates(channel), len(points), half_width_px)
        # A colour must be clearer by a tenth than the brightness, which is sharper in a JPEG.
        if best is None or clarity > 1.1 * best[0]:
            best = clarity, Track(points, normals, channel, offsets, contested)
    assert best is not None
    return best[1]


def _clearest(seen: Candidates, count: int, half_width_px: float) -> tuple[float, FloatArray, NDArray[np.bool_]]:
    """Summed clarity of the best smooth course through the edges seen, its offsets (n,), and where it is contested."""
    width = 2 * int(half_width_px / _BIN_PX) + 1
    column = np.rint(seen.position / _BIN_PX).astype(int) + width // 2
    clarity = np.abs(seen.contrast) / (np.abs(seen.contrast) + _HALF_SEEN)
    inside = (column >= 0) & (column < width)
    gains = np.zeros((count, width))
    np.maximum.at(gains, (seen.profile[inside], column[inside]), clarity[inside])
    course = _course(gains)
    offsets, contested = np.full(count, np.nan), np.zeros(count, dtype=bool)
    off = np.abs(column - course[seen.profile])
    own = np.flatnonzero(inside & (off <= 1))
    offsets[seen.profile[own]] = seen.position[own]
    strongest = np.zeros(count)
    strongest[seen.profile[own]] = clarity[own]
    contested[seen.profile[(off > 2) & (clarity > strongest[seen.profile])]] = True
    return float(gains[np.arange(count), course].sum()), offsets, contested


def _course(gains: FloatArray) -> NDArray[np.intp]:
    """Columns (n,) of the course with the highest sum of gains, bending by a column a row at most."""
    count, width = gains.shape
    cost = (_BEND_COST * np.abs(_BENDS))[:, None]
    padded = np.full(width + 2, -1e9)
    options = np.lib.stride_tricks.sliding_window_view(padded, width)
    came = np.empty((count, width), dtype=np.intp)
    columns, total = np.arange(width), gains[0]
    for i in range(1, count):
        padded[1:-1] = total
        sums = options - cost
        came[i] = sums.argmax(axis=0)
        total = sums[came[i], columns] + gains[i]
    course = np.empty(count, dtype=np.intp)
    course[-1] = int(np.argmax(total))
    for i in range(count - 1, 0, -1):
        course[i - 1] = course[i] + came[i, course[i]] - 1
    return course
