"""
Likely fittings found without a click, to be offered and never added: the person at the photo decides.

Patches of one tone are looked for on a reduced copy; those that are about elliptical or rectangular are then snapped
in the full picture, which most of what isn't a fitting fails.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.rectangles import RectangleSnap, snap_rectangle
from digitizer.imaging.rims import RimSnap, snap_rim
from digitizer.job.model import FittingShape

FloatArray = NDArray[np.float64]
Region = tuple[float, float, float, float]

REDUCED_PX = 1600
"""Longer side of the copy that is searched."""
_WINDOWS = (31, 81)
_STEP_LEVELS = 6
_SMALLEST_PX, _LARGEST = 9.0, 0.2
"""Least breadth of a patch, in reduced pixels; most of its length, over the longer side of the region."""
_SLIMMEST = 0.25
_MOST_TRIED, _MOST_OFFERED = 100, 24
_ROUND_FILL, _ROUND_MOMENT = (0.74, 0.83), 0.975
_SQUARE_FILL = 0.88
_LEAST_COVERAGE = 0.7
_SMALL_PX = 20.0
"""Diameter in the full picture that halves the score: small round things are seldom fittings."""
_ALIKE, _CROWD = 0.25, 5
"""So many patches of one size (natural logarithm) close together are a pattern: a printed board, a vent's slots."""


@dataclass(frozen=True, eq=False)
class Suggestion:
    """
    What may be a fitting.

    Parameters
    ----------
    shape
    centre : (2,), px
    size : (2,), px
        Larger and smaller diameter, or the sides of a rectangle.
    score
        0 to 1, for ordering.
    snap
        Its edge as measured; good enough to be taken over if the person says so.
    """

    shape: FittingShape
    centre: FloatArray
    size: FloatArray
    score: float
    snap: RimSnap | RectangleSnap


@dataclass(frozen=True, eq=False)
class _Patch:
    """A patch of one tone in the full picture: centre (2,), box corners (4, 2), px; how well it is of its shape."""

    shape: FittingShape
    corners: FloatArray
    likeness: float

    @property
    def centre(self) -> FloatArray:
        return np.asarray(self.corners.mean(axis=0))

    @property
    def breadth(self) -> float:
        return float(np.sqrt(np.prod(self.sides)))

    @property
    def sides(self) -> FloatArray:
        return np.asarray(np.hypot(*(self.corners[:2] - self.corners[1:3]).T))


def fitting_suggestions(picture: NDArray[np.uint8], region: Region | None = None) -> tuple[Suggestion, ...]:
    """
    Likely fittings, likeliest first.

    Parameters
    ----------
    picture : (rows, columns) or (rows, columns, 3)
        In colour, fittings are found that are as bright as the hull.
    region : px
        x0, y0, x1, y1 of the transom; the whole photo if left out.
    """
    channels = [picture] if picture.ndim == 2 else [cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), *cv2.split(picture)]
    patches = _without_patterns(_patches(picture, _box(picture, region)))
    patches.sort(key=lambda patch: -patch.likeness)
    found: list[Suggestion] = []
    # The large ones first: a photo is full of small round things.
    for patch in sorted(_apart(patches), key=lambda patch: -patch.breadth)[:_MOST_TRIED]:
        snapped = _round if patch.shape is FittingShape.CIRCLE else _rectangle
        suggestion = next((one for one in (snapped(channel, patch) for channel in channels) if one is not None), None)
        if suggestion is not None:
            found.append(suggestion)
    return tuple(_each_once(found)[:_MOST_OFFERED])


def _box(picture: NDArray[np.uint8], region: Region | None) -> tuple[int, int, int, int]:
    rows, columns = picture.shape[:2]
    x0, y0, x1, y1 = (0.0, 0.0, float(columns), float(rows)) if region is None else region
    return max(int(x0), 0), max(int(y0), 0), min(int(np.ceil(x1)), columns), min(int(np.ceil(y1)), rows)


def _patches(picture: NDArray[np.uint8], box: tuple[int, int, int, int]) -> list[_Patch]:
    """Patches of one tone, elliptical or rectangular, in any channel of the picture."""
    x0, y0, x1, y1 = box
    part = picture[y0:y1, x0:x1]
    if min(part.shape[:2]) < 2 * _WINDOWS[0]:
        return []
    factor = max(max(part.shape[:2]) / REDUCED_PX, 1.0)
    small = cv2.resize(part, None, fx=1 / factor, fy=1 / factor, interpolation=cv2.INTER_AREA)
    scale = np.array(part.shape[1::-1]) / np.array(small.shape[1::-1])
    found = []
    for contour in _contours(small):
        patch = _patch(contour, _LARGEST * max(small.shape[:2]))
        if patch is not None:
            corners = (patch.corners + 0.5) * scale - 0.5 + (x0, y0)
            found.append(_Patch(patch.shape, corners, patch.likeness))
    return found


def _contours(small: NDArray[np.uint8]) -> Iterator[NDArray[np.int32]]:
    """Outlines of what is darker or lighter than its surroundings."""
    channels = [small] if small.ndim == 2 else list(cv2.split(cv2.cvtColor(small, cv2.COLOR_RGB2LAB)))
    for channel in channels:
        calm = cv2.medianBlur(channel, 3)
        for window in _WINDOWS:
            mean = cv2.boxFilter(calm, cv2.CV_32F, (window, window))
            for sign in (-1, 1):
                mask = (sign * (calm - mean) > _STEP_LEVELS).astype(np.uint8)
                yield from cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]


def _patch(contour: NDArray[np.int32], longest: float) -> _Patch | None:
    """A contour as a patch in the reduced picture, if it is about an ellipse or a rectangle."""
    if len(contour) < 3 * _SMALLEST_PX:
        return None
    rectangle = cv2.minAreaRect(contour)
    # A contour runs through the middles of the outermost pixels.
    width, height = (side + 1.0 for side in rectangle[1])
    if min(width, height) < max(_SMALLEST_PX, _SLIMMEST * max(width, height)) or max(width, height) > longest:
        return None
    area = cv2.contourArea(contour) + len(contour) / 2 + 1.0
    fill = area / (width * height)
    corners = np.asarray(cv2.boxPoints((rectangle[0], (width, height), rectangle[2])), dtype=np.float64)
    if fill >= _SQUARE_FILL:
        return _Patch(FittingShape.RECTANGLE, corners, fill)
    m = cv2.moments(contour)
    determinant = m["mu20"] * m["mu02"] - m["mu11"] ** 2
    # Of an ellipse, the area is 4π times the root of the determinant of its second moments over its area.
    likeness = m["m00"] ** 2 / (4 * np.pi * np.sqrt(determinant)) if determinant > 0 else 0.0
    if _ROUND_FILL[0] < fill < _ROUND_FILL[1] and likeness > _ROUND_MOMENT:
        return _Patch(FittingShape.CIRCLE, corners, min(float(likeness), 1.0))
    return None


def _without_patterns(patches: list[_Patch]) -> list[_Patch]:
    """Patches that don't stand in a crowd of their like."""
    if not patches:
        return []
    centres, sizes = np.array([p.centre for p in patches]), np.log([p.breadth for p in patches])
    kept = []
    for patch, centre, size in zip(patches, centres, sizes, strict=True):
        near = np.hypot(*(centres - centre).T)
        alike = (np.abs(sizes - size) < _ALIKE) & (near < 4 * np.exp(size))
        # The same patch is found in several channels: only those at places of their own count.
        places = np.unique(np.rint(centres[alike] / (0.5 * np.exp(size))), axis=0)
        if len(places) < _CROWD:
            kept.append(patch)
    return kept


def _apart(patches: list[_Patch]) -> list[_Patch]:
    """Patches at different places or of different sizes."""
    kept: list[_Patch] = []
    for patch in patches:
        if not any(
            np.hypot(*(patch.centre - other.centre)) < 0.3 * other.breadth
            and abs(np.log(patch.breadth / other.breadth)) < _ALIKE
            for other in kept
        ):
            kept.append(patch)
    return kept


def _round(gray: NDArray[np.uint8], patch: _Patch) -> Suggestion | None:
    snap = snap_rim(gray, patch.centre)
    if not isinstance(snap, RimSnap) or snap.coverage < _LEAST_COVERAGE:
        return None
    size = 2 * snap.semi_axes
    if np.hypot(*(snap.centre - patch.centre)) > 0.25 * patch.breadth or not 0.7 < size[0] / patch.sides.max() < 4.0:
        return None
    score = snap.coverage**2 * abs(snap.contrast) / (abs(snap.contrast) + 30.0) * size[0] / (size[0] + _SMALL_PX)
    return Suggestion(FittingShape.CIRCLE, snap.centre, size, float(score), snap)


def _rectangle(gray: NDArray[np.uint8], patch: _Patch) -> Suggestion | None:
    snap = snap_rectangle(gray, patch.corners)
    if not isinstance(snap, RectangleSnap):
        return None
    if np.hypot(*(snap.points - patch.corners).T).max() > 0.2 * patch.breadth + 4.0:
        return None
    sides = np.hypot(*(snap.points - np.roll(snap.points, -1, axis=0)).T)
    size = (sides[:2] + sides[2:]) / 2
    contrast = min(abs(side.contrast) for side in snap.sides)
    support = min(side.support for side in snap.sides)
    score = 0.8 * support**2 * contrast / (contrast + 30.0)
    return Suggestion(FittingShape.RECTANGLE, snap.points.mean(axis=0), size, float(score), snap)


def _each_once(found: list[Suggestion]) -> list[Suggestion]:
    """Suggestions best first; of two about one place, the better."""
    kept: list[Suggestion] = []
    for one in sorted(found, key=lambda suggestion: -suggestion.score):
        if not any(
            np.hypot(*(one.centre - other.centre)) < 0.5 * min(other.size.max(), one.size.max()) for other in kept
        ):
            kept.append(one)
    return kept
