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

FINE = 3
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
    curve: float = 1.0,
) -> NDArray[np.uint8]:
    """
    Grey picture (rows, columns) of some targets on a mid-grey wall; `hidden` is a box x0, y0, x1, y1 covered up.

    Pixels and blur mix light, as they do in a camera, and `curve` bends the camera's tone curve.
    """
    width, height = size
    tone = np.full((height, width), _light(120.0))
    for target, H in placed:
        _put_into(tone, target, H, legacy, (_light(black), _light(white)))
    if hidden is not None:
        tone[hidden[1] : hidden[3], hidden[0] : hidden[2]] = _light(120.0)
    if blur_px:
        tone = cv2.GaussianBlur(tone, (0, 0), blur_px)
    tone = _grey(tone**curve)
    tone += np.random.default_rng(seed).normal(0.0, noise, tone.shape) if noise else 0.0
    return np.clip(np.rint(tone), 0, 255).astype(np.uint8)


def _put_into(tone, target: Target, H, legacy: bool, levels: tuple[float, float]) -> None:
    """Draw one target over the part of a picture that it covers."""
    half = np.array(_half_sheet(target))
    outline = seen(H, half * [(-1, -1), (1, -1), (1, 1), (-1, 1)])
    left, top = np.maximum(np.floor(outline.min(axis=0)).astype(int) - 1, 0)
    right, bottom = np.minimum(np.ceil(outline.max(axis=0)).astype(int) + 2, tone.shape[::-1])
    within = (np.arange(FINE) + 0.5) / FINE - 0.5
    x = (np.arange(left, right)[:, None] + within).ravel()[None, :]
    y = (np.arange(top, bottom)[:, None] + within).ravel()[:, None]
    a, b, w = (row[0] * x + row[1] * y + row[2] for row in np.linalg.inv(H))
    a, b = a / w, b / w
    on_sheet = (np.abs(a) < half[0]) & (np.abs(b) < half[1])
    under = np.repeat(np.repeat(tone[top:bottom, left:right], FINE, axis=0), FINE, axis=1)
    fine = np.where(on_sheet, levels[0] + (levels[1] - levels[0]) * _tones(target, a, b, legacy), under)
    tone[top:bottom, left:right] = fine.reshape(bottom - top, FINE, right - left, FINE).mean(axis=(1, 3))


def _light(grey):
    """Linear light, 0 to 1, of grey levels above the toe (sRGB, IEC 61966-2-1)."""
    return ((grey / 255.0 + 0.055) / 1.055) ** 2.4


def _grey(light):
    return 255.0 * (1.055 * light ** (1 / 2.4) - 0.055)


def _half_sheet(target: Target) -> tuple[float, float]:
    """Half width and height of the sheet with its white margin, mm."""
    if target.kind is TargetKind.CHARUCO:
        return (target.columns / 2 + 0.3) * target.square_mm, (target.rows / 2 + 0.3) * target.square_mm
    columns, rows, pitch = _grid(target)
    margin = 0.75 * target.marker_mm  # half a marker and a quarter of white
    return (columns - 1) / 2 * pitch + margin, (rows - 1) / 2 * pitch + margin


def _grid(target: Target) -> tuple[int, int, float]:
    if target.kind is TargetKind.ARUCO_MARKER:
        return 1, 1, 2 * target.marker_mm
    return target.columns, target.rows, target.marker_mm + target.separation_mm


def _tones(target: Target, x, y, legacy: bool):
    """Printed tone at places on the sheet: 0 black, 1 white."""
    board = target.kind is TargetKind.CHARUCO
    columns, rows, pitch = (target.columns, target.rows, target.square_mm) if board else _grid(target)
    right, down = x + columns * pitch / 2, rows * pitch / 2 - y
    column, row = np.floor(right / pitch).astype(int), np.floor(down / pitch).astype(int)
    on_cells = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
    cells = np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
    first = 1 if legacy and rows % 2 == 0 else 0
    white = (
        (np.add.outer(np.arange(rows), np.arange(columns)) % 2 != first) if board else np.ones((rows, columns), bool)
    )
    number = (np.cumsum(white) - 1).reshape(white.shape)
    bits = np.stack([marker_bits(target.dictionary, target.first_id + k) for k in range(white.sum())])
    inset = (pitch - target.marker_mm) / 2
    module = target.marker_mm / bits.shape[1]
    i = np.floor((down - row * pitch - inset) / module).astype(int)
    j = np.floor((right - column * pitch - inset) / module).astype(int)
    in_marker = (np.minimum(i, j) >= 0) & (np.maximum(i, j) < bits.shape[1]) & white[cells]
    last = bits.shape[1] - 1
    printed = np.where(in_marker, bits[number[cells], np.clip(i, 0, last), np.clip(j, 0, last)], white[cells])
    return np.where(on_cells, printed, 1.0)


@cache
def marker_bits(dictionary: str, number: int):
    """Modules of a marker with its black rim, 1 white; one sample each."""
    table = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    return cv2.aruco.generateImageMarker(table, number, table.markerSize + 2) // 255


def through_a_lens(ideal: NDArray[np.uint8], k1: float, f_px: float) -> NDArray[np.uint8]:
    """The picture that a lens with distortion k1 makes of an ideal one."""
    middle = _middle(ideal)
    rows, columns = np.indices(ideal.shape)
    seen_at = (np.dstack([columns, rows]) - middle) / f_px
    ideal_at = seen_at
    for _ in range(60):  # repeated substitution gains a digit in a few rounds
        ideal_at = seen_at / (1 + k1 * np.sum(ideal_at**2, axis=2, keepdims=True))
    x, y = np.moveaxis((ideal_at * f_px + middle).astype(np.float32), 2, 0)
    return cv2.remap(ideal, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=120)


def bent(points: NDArray[np.float64], picture_: NDArray[np.uint8], k1: float, f_px: float) -> NDArray[np.float64]:
    """Where such a lens puts ideal places (n, 2), px."""
    rays = (points - _middle(picture_)) / f_px
    return f_px * rays * (1 + k1 * np.sum(rays**2, axis=1, keepdims=True)) + _middle(picture_)


def _middle(picture_: NDArray[np.uint8]) -> NDArray[np.float64]:
    return (np.array(picture_.shape[::-1]) - 1) / 2
