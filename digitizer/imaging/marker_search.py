"""Square markers in a photo: found on a reduced copy, placed on the full one."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.errors import JobFileError
from digitizer.imaging.corner_fit import FloatArray, mapped, refined

SEARCH_PX = 2400
"""Longer side of the copy that is searched first: finding markers costs by the pixel."""

SHARE_FOUND = 0.8
"""Where the reduced copy shows fewer of the markers asked for, the full picture is searched too."""

_OFF_AT_MOST = 0.2
"""A board's marker lies where it should within this share of its side."""


def found_markers(gray: NDArray[np.uint8], dictionary: str, wanted: Set[int]) -> dict[int, FloatArray]:
    """
    Corners of the wanted markers of one dictionary, (4, 2) each, px, refined; a number seen twice is left out.

    Raises
    ------
    JobFileError
        If there is no dictionary of that name.
    """
    table = dictionary_named(dictionary)
    step = -(-max(gray.shape) // SEARCH_PX)
    found = _search(gray, table, step, wanted)
    if step > 1 and len(found) < SHARE_FOUND * len(wanted):
        found = {**found, **_search(gray, table, 1, wanted)}
    return {number: _placed(gray, corners, table.markerSize) for number, corners in found.items()}


def dictionary_named(name: str) -> Any:
    """OpenCV's table of marker bits."""
    value = getattr(cv2.aruco, name, None)
    if not name.startswith("DICT_") or value is None:
        raise JobFileError(f"There is no marker dictionary {name!r}: copy it from the sheet, such as DICT_5X5_100.")
    return cv2.aruco.getPredefinedDictionary(value)


def marker_modules(dictionary: str, number: int) -> NDArray[np.bool_]:
    """Modules of a marker as printed, its black rim included, (bits + 2, bits + 2); true is black."""
    table = dictionary_named(dictionary)
    return np.asarray(cv2.aruco.generateImageMarker(table, number, table.markerSize + 2) < 128)


def narrow_side(corners: FloatArray) -> float:
    """Side of a marker in the picture, in the direction in which it looks narrower; px."""
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    return float(min(sides[0] + sides[2], sides[1] + sides[3])) / 2


def marker_window(corners: FloatArray, bits: int) -> int:
    """Half window for a marker's corner that sees its black rim only, not the bits inside."""
    return int(np.clip(0.8 * narrow_side(corners) / (bits + 2), 2, 8))


def _search(gray: NDArray[np.uint8], table: Any, step: int, wanted: Set[int]) -> dict[int, FloatArray]:
    rows, columns = gray.shape
    reduced = gray if step == 1 else cv2.resize(gray, (columns // step, rows // step), interpolation=cv2.INTER_AREA)
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.01
    corners, numbers, _ = cv2.aruco.ArucoDetector(table, parameters).detectMarkers(reduced)
    scale = np.array([columns / reduced.shape[1], rows / reduced.shape[0]])
    found: dict[int, list[FloatArray]] = {}
    for number, quad in zip(np.ravel(numbers if numbers is not None else []), corners, strict=True):
        # Pixel centres are whole numbers, so the corner of the first pixel, not its centre, is the fixed point.
        found.setdefault(int(number), []).append((quad.reshape(4, 2).astype(np.float64) + 0.5) * scale - 0.5)
    return {number: quads[0] for number, quads in found.items() if len(quads) == 1 and number in wanted}


def _placed(gray: NDArray[np.uint8], corners: FloatArray, bits: int) -> FloatArray:
    return refined(gray, corners, marker_window(corners, bits))


def agreeing(outlines: Mapping[int, FloatArray], found: Mapping[int, FloatArray]) -> dict[int, FloatArray]:
    """
    Markers that lie on one board: on one homography, or where their neighbours on it say.

    A stray reading of a number that belongs to the board, or another board's marker, falls out here. The neighbours
    help where a lens bends the board more than any homography does.
    """
    numbers = sorted(outlines.keys() & found.keys())
    if len(numbers) < 2:
        return {number: found[number] for number in numbers}
    plane = np.concatenate([outlines[number] for number in numbers])
    image = np.concatenate([found[number] for number in numbers])
    cv2.setRNGSeed(1)
    H, inside = cv2.findHomography(plane, image, cv2.RANSAC, max(_OFF_AT_MOST * _side(image), 3.0))
    if H is None:
        return {}
    whole = inside.reshape(-1, 4).all(axis=1)
    kept = {number for number, fits in zip(numbers, whole, strict=True) if fits}
    while kept and (more := {n for n in numbers if n not in kept and _beside(n, kept, outlines, found)}):
        kept |= more
    return {number: found[number] for number in sorted(kept)}


def _side(corners: FloatArray) -> float:
    """Usual length of the upper sides of markers, (4 n, 2)."""
    return float(np.median(np.hypot(*(corners[0::4] - corners[1::4]).T)))


def _beside(number: int, kept: Set[int], outlines: Mapping[int, FloatArray], found: Mapping[int, FloatArray]) -> bool:
    """Whether a marker is where its nearest neighbour among those kept, itself seen in perspective, puts it."""
    middle = outlines[number].mean(axis=0)
    nearest = min(sorted(kept), key=lambda other: float(np.hypot(*(outlines[other].mean(axis=0) - middle))))
    H = cv2.getPerspectiveTransform(outlines[nearest].astype(np.float32), found[nearest].astype(np.float32))
    off = np.hypot(*(mapped(H, outlines[number]) - found[number]).T)
    return bool(off.max() < max(1.5 * _OFF_AT_MOST * _side(found[number]), 3.0))
