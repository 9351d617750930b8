"""
Where the corners of a printed target lie on its sheet: plain geometry, no pixels and no detector.

Target system: origin at the middle of the printed pattern, x right, y up, z out of the sheet towards the viewer; mm.
The printer's scale is left out here: all positions are nominal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from digitizer.job.model import Target, TargetKind

FloatArray = NDArray[np.float64]

# Top-left, top-right, bottom-right, bottom-left of a marker, in halves of its side: the order of OpenCV.
_OUTLINE = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)])


def object_points(target: Target, corner_ids: Sequence[int] | NDArray[np.integer]) -> FloatArray:
    """
    Nominal places of corners in the target system.

    Parameters
    ----------
    corner_ids : (n,)
        Of a ChArUco board, the inner chessboard corners, row by row from the top left (OpenCV's numbering). Of a
        marker grid or a single marker, 4 × marker number + k, with k = 0…3 for top left, top right, bottom right
        and bottom left.

    Returns
    -------
    points : (n, 2), mm

    Raises
    ------
    ValueError
        If the target has no such corner, or lacks a size that its kind needs.
    """
    ids = np.asarray(corner_ids, dtype=np.int64).reshape(-1)
    table = _saddles(target) if target.kind is TargetKind.CHARUCO else _marker_corners(target)
    index = ids if target.kind is TargetKind.CHARUCO else ids - 4 * target.first_id
    if np.any((index < 0) | (index >= len(table))):
        raise ValueError(f"target {target.id} has no such corner among {ids.tolist()}")
    return table[index]


def marker_outlines(target: Target, legacy: bool = False) -> dict[int, FloatArray]:
    """
    Corners of every marker of a target by its number, each (4, 2), mm, in OpenCV's order.

    `legacy` means ChArUco boards with an even number of rows as OpenCV laid them out before 4.6.
    """
    if target.kind is TargetKind.CHARUCO:
        centres = [_cell_centre(target, cell) for cell in marker_cells(target, legacy)]
        return {target.first_id + number: centre + target.marker_mm * _OUTLINE for number, centre in enumerate(centres)}
    corners = _marker_corners(target).reshape(-1, 4, 2)
    return {target.first_id + number: outline for number, outline in enumerate(corners)}


def marker_cells(target: Target, legacy: bool = False) -> list[tuple[int, int]]:
    """White squares of a ChArUco board as (row, column), in the order of their marker numbers."""
    cells = ((row, column) for row in range(target.rows) for column in range(target.columns))
    return [cell for cell in cells if not is_black(target, cell, legacy)]


def is_black(target: Target, cell: tuple[int, int], legacy: bool = False) -> bool:
    """Whether a square of a ChArUco board is printed black; its top left one is, save on legacy boards of even rows."""
    swapped = legacy and target.rows % 2 == 0
    return (cell[0] + cell[1]) % 2 == (1 if swapped else 0)


def cells_round(target: Target, corner_id: int) -> list[tuple[int, int]]:
    """Squares that meet at an inner corner: top left, top right, bottom right, bottom left."""
    row, column = divmod(corner_id, target.columns - 1)
    return [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]


def corners_of_cell(target: Target, cell: tuple[int, int]) -> Iterable[int]:
    """Numbers of the inner corners at a square."""
    for row in (cell[0] - 1, cell[0]):
        for column in (cell[1] - 1, cell[1]):
            if 0 <= row < target.rows - 1 and 0 <= column < target.columns - 1:
                yield row * (target.columns - 1) + column


def pattern_size(target: Target) -> tuple[float, float]:
    """Width and height of the printed pattern, mm."""
    if target.kind is TargetKind.CHARUCO:
        return target.columns * square_mm(target), target.rows * square_mm(target)
    if target.kind is TargetKind.ARUCO_MARKER:
        return target.marker_mm, target.marker_mm
    pitch = _pitch(target)
    return (target.columns - 1) * pitch + target.marker_mm, (target.rows - 1) * pitch + target.marker_mm


def square_mm(target: Target) -> float:
    """Side of a ChArUco board's squares."""
    if target.square_mm is None or target.square_mm <= target.marker_mm:
        raise ValueError(f"target {target.id}: a ChArUco board needs squares larger than its markers")
    return target.square_mm


def _pitch(target: Target) -> float:
    if target.separation_mm is None:
        raise ValueError(f"target {target.id}: a marker grid needs the separation of its markers")
    return target.marker_mm + target.separation_mm


def _cell_centre(target: Target, cell: tuple[int, int]) -> FloatArray:
    width, height = pattern_size(target)
    side = square_mm(target)
    return np.array([(cell[1] + 0.5) * side - width / 2, height / 2 - (cell[0] + 0.5) * side])


def _saddles(target: Target) -> FloatArray:
    width, height = pattern_size(target)
    rows, columns = np.divmod(np.arange((target.columns - 1) * (target.rows - 1)), max(target.columns - 1, 1))
    return np.column_stack([(columns + 1) * square_mm(target) - width / 2, height / 2 - (rows + 1) * square_mm(target)])


def _marker_corners(target: Target) -> FloatArray:
    if target.kind is TargetKind.ARUCO_MARKER:
        return target.marker_mm * _OUTLINE
    rows, columns = np.divmod(np.arange(target.columns * target.rows), target.columns)
    middles = _pitch(target) * np.column_stack([columns - (target.columns - 1) / 2, (target.rows - 1) / 2 - rows])
    return (middles[:, None, :] + target.marker_mm * _OUTLINE).reshape(-1, 2)
