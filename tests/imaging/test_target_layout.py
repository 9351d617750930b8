"""Where the corners of printed targets lie, against OpenCV's own boards."""

from __future__ import annotations

import subprocess
import sys

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.imaging.target_layout import marker_outlines, object_points, pattern_size
from tests.imaging.rendering import a_board, a_grid, a_marker

DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)
EXACT = 1e-4  # mm; OpenCV keeps its boards in single precision


def in_our_system(points, target):
    """OpenCV's board places (origin top left, y down) in the target system."""
    width, height = pattern_size(target)
    x, y = np.asarray(points, dtype=float).reshape(-1, np.shape(points)[-1]).T[:2]
    return np.column_stack([x - width / 2, height / 2 - y])


@pytest.mark.parametrize("legacy", [False, True])
@pytest.mark.parametrize(("columns", "rows"), [(8, 6), (7, 5), (5, 7), (9, 4), (4, 9)])
def test_charuco_agrees_with_opencv(columns, rows, legacy):
    """Saddle corners and markers lie where OpenCV's board of the same make has them."""
    target = a_board(columns, rows)
    board = cv2.aruco.CharucoBoard((columns, rows), 55.0, 41.0, DICTIONARY)
    board.setLegacyPattern(legacy)
    corners = in_our_system(board.getChessboardCorners(), target)
    assert object_points(target, range(len(corners))) == pytest.approx(corners, abs=EXACT)
    outlines = marker_outlines(target, legacy)
    assert list(outlines) == np.ravel(board.getIds()).tolist()
    expected = in_our_system(np.concatenate([np.asarray(o) for o in board.getObjPoints()]), target)
    assert np.concatenate(list(outlines.values())) == pytest.approx(expected, abs=EXACT)


def test_marker_grid_agrees_with_opencv():
    """A grid's marker corners lie where OpenCV's grid has them, numbered 4 × marker + k."""
    target = a_grid(first_id=40)
    grid = cv2.aruco.GridBoard((4, 3), 60.0, 20.0, DICTIONARY, np.arange(40, 52))
    expected = in_our_system(np.concatenate([np.asarray(o) for o in grid.getObjPoints()]), target)
    assert object_points(target, range(160, 208)) == pytest.approx(expected, abs=EXACT)


def test_single_marker_is_centred():
    """A marker's corners run clockwise from its top left, round its middle."""
    assert object_points(a_marker(90), [360, 361, 362, 363]).tolist() == [[-60, 60], [60, 60], [60, -60], [-60, -60]]


@pytest.mark.parametrize(
    ("target", "ids"),
    [
        pytest.param(a_board(), [35], id="board-corner-too-many"),
        pytest.param(a_board(), [-1], id="negative"),
        pytest.param(a_marker(90), [0], id="corner-of-another-marker"),
        pytest.param(a_grid(separation_mm=None), [160], id="grid-without-separation"),
        pytest.param(a_board(square_mm=None), [0], id="board-without-squares"),
    ],
)
def test_impossible_corner_is_a_mistake(target, ids):
    """Asking for a corner that a target hasn't is a programmer's mistake."""
    with pytest.raises(ValueError, match=target.id):
        object_points(target, ids)


@given(st.integers(2, 12), st.integers(2, 12))
def test_boards_are_centred(columns, rows):
    """The origin is the middle of the pattern: all its corners balance."""
    target = a_board(columns, rows)
    points = object_points(target, range((columns - 1) * (rows - 1)))
    assert points.mean(axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert points.max(axis=0) == pytest.approx([(columns / 2 - 1) * 55, (rows / 2 - 1) * 55])


def test_layout_needs_no_detector():
    """Object points are at hand without loading OpenCV."""
    code = "import sys, digitizer.imaging.targets; sys.exit('cv2' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
