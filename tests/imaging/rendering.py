"""
Pictures of printed targets with known truth, drawn pixel by pixel from their definition.

The detector's own drawing functions are used for the bits of the markers only, so that positions are checked
against an independent source.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.job.model import Target, TargetKind

FINE = 4
"""Samples per pixel in each direction."""


def a_board(columns: int = 8, rows: int = 6, **changes: object) -> Target:
    return Target(
        **{
            "id": "board",
            "kind": TargetKind.CHARUCO,
            "columns": columns,
            "rows": rows,
            "square_mm": 55.0,
            "marker_mm": 41.0,
        }
        | changes
    )


def a_grid(columns: int = 4, rows: int = 3, **changes: object) -> Target:
    return Target(
        **{
            "id": "grid",
            "kind": TargetKind.ARUCO_GRID,
            "columns": columns,
            "rows": rows,
            "marker_mm": 60.0,
            "separation_mm": 20.0,
            "first_id": 40,
        }
        | changes
    )


def a_marker(number: int = 90, **changes: object) -> Target:
    return Target(
        **{"id": f"marker {number}", "kind": TargetKind.ARUCO_MARKER, "marker_mm": 120.0, "first_id": number} | changes
    )


def a_view(scale: float = 1.2, centre: tuple[float, float] = (400.3, 300.7), turn: float = 0.05, tilt: float = 0.0):
    """Homography from target mm (y up) to px (y down): turned in the picture, the right side receding with `tilt`."""
    c, s = np.cos(turn), np.sin(turn)
    plane = np.array([[scale * c, scale * s, 0.0], [scale * s, -scale * c, 0.0], [tilt / 500.0, 0.0, 1.0]])
    return np.array([[1.0, 0.0, centre[0]], [0.0, 1.0, centre[1]], [0.0, 0.0, 1.0]]) @ plane


def seen(H: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (n, 2) mm in the picture, px."""
    x, y, w = H @ np.column_stack([points, np.ones(len(points))]).T
    return np.column_stack([x / w, y / w])


def picture(
    placed: list[tuple[Target, NDArray[np.float64]]],
    size: tuple[int, int] = (800, 600),
    *,
    blur_px: float = 0.8,
    noise: float = 3.0,
    black: float = 40.0,
    white: float = 210.0,
    legacy: bool = False,
    hidden: tuple[int, int, int, int] | None = None,
    seed: int = 1,
) -> NDArray[np.uint8]:
    """Grey picture (rows, columns) of some targets on a mid-grey wall; `hidden` is a box x0, y0, x1, y1 covered up."""
    width, height = size
    places = (np.arange(max(size) * FINE) + 0.5) / FINE - 0.5
    x, y = np.meshgrid(places[: width * FINE], places[: height * FINE])
    fine = np.full(x.shape, 0.55)
    for target, H in placed:
        a, b, w = np.tensordot(np.linalg.inv(H), np.stack([x, y, np.ones_like(x)]), axes=1)
        tones = _tones(target, a / w, b / w, legacy)
        fine = np.where(np.isnan(tones), fine, tones)
    tone = fine.reshape(height, FINE, width, FINE).mean(axis=(1, 3)) * (white - black) + black
    if hidden is not None:
        tone[hidden[1] : hidden[3], hidden[0] : hidden[2]] = 120.0
    if blur_px:
        tone = cv2.GaussianBlur(tone, (0, 0), blur_px)
    tone += np.random.default_rng(seed).normal(0.0, noise, tone.shape) if noise else 0.0
    return np.clip(np.rint(tone), 0, 255).astype(np.uint8)


def _tones(target: Target, x, y, legacy: bool):
    """Printed tone at places on the sheet: 0 black, 1 white, NaN off the sheet."""
    if target.kind is TargetKind.CHARUCO:
        return _board_tones(target, x, y, legacy)
    side, pitch = target.marker_mm, target.marker_mm + (target.separation_mm or target.marker_mm)
    columns, rows = (target.columns, target.rows) if target.kind is TargetKind.ARUCO_GRID else (1, 1)
    u, v = x + ((columns - 1) * pitch + side) / 2, ((rows - 1) * pitch + side) / 2 - y
    edge = side / 4
    inside = (
        (u > -edge) & (u < (columns - 1) * pitch + side + edge) & (v > -edge) & (v < (rows - 1) * pitch + side + edge)
    )
    tones = np.where(inside, 1.0, np.nan)
    for number in range(columns * rows):
        row, column = divmod(number, columns)
        _stamp(tones, target, target.first_id + number, u - column * pitch, v - row * pitch)
    return tones


def _board_tones(target: Target, x, y, legacy: bool):
    square = target.square_mm
    u, v = x / square + target.columns / 2, target.rows / 2 - y / square
    margin = 0.3
    sheet = (u > -margin) & (u < target.columns + margin) & (v > -margin) & (v < target.rows + margin)
    printed = (u >= 0) & (u < target.columns) & (v >= 0) & (v < target.rows)
    first = 1 if legacy and target.rows % 2 == 0 else 0
    black = printed & ((np.floor(u) + np.floor(v)) % 2 == first)
    tones = np.where(sheet, np.where(black, 0.0, 1.0), np.nan)
    white_cells = [(r, c) for r in range(target.rows) for c in range(target.columns) if (r + c) % 2 != first]
    inset = (square - target.marker_mm) / 2
    for number, (row, column) in enumerate(white_cells):
        left, top = column * square + inset, row * square + inset
        _stamp(tones, target, target.first_id + number, u * square - left, v * square - top)
    return tones


def _stamp(tones, target: Target, number: int, right, down) -> None:
    bits = marker_bits(target.dictionary, number)
    module = target.marker_mm / len(bits)
    inside = (right >= 0) & (right < target.marker_mm) & (down >= 0) & (down < target.marker_mm)
    tones[inside] = bits[(down[inside] / module).astype(int), (right[inside] / module).astype(int)]


@cache
def marker_bits(dictionary: str, number: int):
    """Modules of a marker with its black rim, 1 white; one sample each."""
    table = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    return cv2.aruco.generateImageMarker(table, number, table.markerSize + 2) // 255
