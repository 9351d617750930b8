"""From the markers of one target to its corners: saddle corners of a ChArUco board, or the markers' own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.corner_fit import (
    BoolArray,
    FloatArray,
    blur,
    consistent,
    gradient_uncertainty,
    mapped,
    noise,
    refined,
)
from digitizer.imaging.marker_edges import U_UNMEASURED_PX, corners_from_sides
from digitizer.imaging.marker_search import agreeing, dictionary_named, marker_window, narrow_side
from digitizer.imaging.target_layout import (
    cells_round,
    corners_of_cell,
    is_black,
    marker_cells,
    marker_outlines,
    object_points,
    square_mm,
)
from digitizer.imaging.targets import Detection
from digitizer.job.model import Target, TargetKind

FEWEST_SADDLES = 4
U_SADDLE_PX = 0.05
"""Of saddle corners at their best (common experience with printed boards)."""

# Found by simulation: blur draws a marker's corner inwards by this times its square, and where the window is narrow
# the pattern beside a saddle corner disturbs it by this over the room left.
_BLUR_PER_PX = 0.065
_NARROW_PX = 0.08

# The refinement uses gradients less well than the least-squares bound; found by simulation over noise and blur.
_BOUND_FACTOR = 2.0
# Tones opposite across a corner differ at least by this, in grey levels and as a share of the board's usual contrast.
_LEAST_CONTRAST = 8.0
_LEAST_SHARE = 0.2


def charuco_detection(gray: NDArray[np.uint8], target: Target, found: Mapping[int, FloatArray]) -> Detection | None:
    """A ChArUco board by its markers, in the current layout or else the legacy one; None where it isn't seen."""
    layouts = {legacy: agreeing(marker_outlines(target, legacy), found) for legacy in (False, True)}
    legacy = len(layouts[True]) > len(layouts[False])
    markers = layouts[legacy]
    if len(markers) < 2:
        return None
    expected = _expected_saddles(target, legacy, markers)
    ids = np.array(sorted(expected), dtype=int)
    start = np.array([expected[number] for number in ids])
    H, _ = cv2.findHomography(*_marker_pairs(target, legacy, markers), 0)
    px_per_mm = min(narrow_side(corners) for corners in markers.values()) / target.marker_mm
    margin_px = px_per_mm * (square_mm(target) - target.marker_mm) / 2
    half_window = int(np.clip(margin_px, 2, 8))
    points = refined(gray, start, half_window, smoothing=min(margin_px / 5, 1.2))
    good = _shows_saddle(gray, target, legacy, ids, points, H)
    return _judged(gray, target, ids[good], points[good], half_window, legacy)


def marker_detection(gray: NDArray[np.uint8], target: Target, found: Mapping[int, FloatArray]) -> Detection | None:
    """A single marker, or a grid by at least two of its markers; None where it isn't seen."""
    outlines = marker_outlines(target)
    markers = agreeing(outlines, found)
    if len(markers) < min(2, len(outlines)):
        return None
    bits = dictionary_named(target.dictionary).markerSize
    ids = np.array([4 * number + k for number in markers for k in range(4)])
    points = np.concatenate(list(markers.values()))
    half_window = min(marker_window(corners, bits) for corners in markers.values())
    measured = corners_from_sides(gray, points.reshape(-1, 4, 2), bits + 2)
    if measured is None:
        return _judged(gray, target, ids, points, half_window, False)
    good = np.isfinite(measured[1]).ravel()
    places, u = measured[0].reshape(-1, 2)[good], measured[1].ravel()[good]
    return _judged(gray, target, ids[good], places, half_window, False, u)


def _judged(
    gray: NDArray[np.uint8],
    target: Target,
    ids: NDArray[np.int_],
    points: FloatArray,
    half_window: int,
    legacy: bool,
    u: FloatArray | None = None,
) -> Detection | None:
    """
    Corners that fit together, with their uncertainty; None where too few are left or they lie on one line.

    Where `u` (n,), px, is not known it follows from the gradients round each corner.
    """
    plane = object_points(target, ids)
    if len(ids) < FEWEST_SADDLES or np.linalg.matrix_rank(plane - plane.mean(axis=0), tol=1e-3) < 2:
        return None
    keep, spread = consistent(plane, points, slack=0.4 if target.kind is TargetKind.CHARUCO else 1.5)
    ids, points = ids[keep], points[keep]
    if u is not None:
        u = np.maximum(u[keep], spread)
        return Detection(target.id, tuple(int(number) for number in ids), points, u, legacy)
    if target.kind is TargetKind.CHARUCO:
        best = float(np.hypot(U_SADDLE_PX, _NARROW_PX / (half_window - 1)))
    else:
        best = max(U_UNMEASURED_PX, _BLUR_PER_PX * blur(gray, points, 2 * half_window) ** 2)
    bound = _BOUND_FACTOR * gradient_uncertainty(gray, points, half_window, noise(gray, points))
    u = np.maximum(np.hypot(best, bound), spread)
    return Detection(target.id, tuple(int(number) for number in ids), points, u, legacy)


def _marker_pairs(target: Target, legacy: bool, markers: Mapping[int, FloatArray]) -> tuple[FloatArray, FloatArray]:
    outlines = marker_outlines(target, legacy)
    return np.concatenate([outlines[number] for number in markers]), np.concatenate(list(markers.values()))


def _expected_saddles(target: Target, legacy: bool, markers: Mapping[int, FloatArray]) -> dict[int, FloatArray]:
    """Where each inner corner should be, from the markers beside it; near enough for any lens to start from."""
    outlines = marker_outlines(target, legacy)
    cells = marker_cells(target, legacy)
    guesses: dict[int, list[FloatArray]] = defaultdict(list)
    for number, corners in markers.items():
        H = cv2.getPerspectiveTransform(outlines[number].astype(np.float32), corners.astype(np.float32))
        beside = list(corners_of_cell(target, cells[number - target.first_id]))
        for corner, place in zip(beside, mapped(H, object_points(target, beside)), strict=True):
            guesses[corner].append(place)
    return {corner: np.mean(places, axis=0) for corner, places in guesses.items()}


def _shows_saddle(
    gray: NDArray[np.uint8], target: Target, legacy: bool, ids: NDArray[np.int_], points: FloatArray, H: FloatArray
) -> BoolArray:
    """Whether the four squares at each corner have their tones: not so where something hides it, or it slipped."""
    plane = object_points(target, ids)
    reach = (square_mm(target) - target.marker_mm) / 4
    beside = reach * np.array([(-1, 1), (1, 1), (1, -1), (-1, -1)])
    around = mapped(H, (plane[:, None, :] + beside).reshape(-1, 2)).reshape(-1, 4, 2) - mapped(H, plane)[:, None, :]
    places = (points[:, None, :] + around).astype(np.float32)
    tones = cv2.remap(gray, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    tones = tones.astype(np.float64)
    black = np.array([[is_black(target, cell, legacy) for cell in cells_round(target, number)] for number in ids])
    lightest_black = np.max(np.where(black, tones, -np.inf), axis=1)
    darkest_white = np.min(np.where(black, np.inf, tones), axis=1)
    contrast = darkest_white - lightest_black
    return np.asarray(contrast > max(_LEAST_CONTRAST, _LEAST_SHARE * float(np.median(contrast))))
