"""
A real lens calibrated from photographs that nobody here made, against OpenCV and against the print.

The photos are those of `test_real_photos`: a chessboard with 9 × 6 inner corners 25 mm apart. OpenCV finds the corners
for both, so that the two calibrations differ in the adjustment alone.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.imaging.target_layout import object_points
from digitizer.job.model import Calibration, Camera, Sighting, Target, TargetKind
from digitizer.survey.calibration import Calibrated, calibrate
from tests.independent.test_real_photos import (
    CHESSBOARDS,
    CORNER_PX,
    UNKNOWN_LENS,
    chessboard,
    distance_errors,
    pytestmark,
    share_inside,
)

__all__ = ["pytestmark"]

SIZE = (640, 480)
PRINT = Target("print", TargetKind.CHARUCO, columns=10, rows=7, square_mm=25.0, marker_mm=12.5)
ALL = tuple(range(54))
FIRST, SECOND = tuple(CHESSBOARDS[::2]), tuple(CHESSBOARDS[1::2])


@cache
def corners(name: str) -> NDArray[np.float64]:
    """The corners (54, 2) of a photo in the order of the print."""
    grid = chessboard(name).corners
    return (grid if grid.shape[1] == 9 else grid.transpose(1, 0, 2)[:, ::-1]).reshape(54, 2)


@cache
def lens_from(names: tuple[str, ...], ids: tuple[int, ...] = ALL) -> Calibrated:
    """The lens by some of the photos, and some of the corners."""
    shots = [
        Sighting(PRINT.id, name, ids, *map(tuple, corners(name)[list(ids)].T.tolist()), (CORNER_PX,) * len(ids))
        for name in names
    ]
    return calibrate(shots, [PRINT], SIZE)


def values(c: Calibration) -> NDArray[np.float64]:
    """f, cx, cy, k1, k2, p1, p2."""
    return np.array([c.f_px, c.cx_px, c.cy_px, c.k1, c.k2, c.p1, c.p2])


def uncertainties(c: Calibration) -> NDArray[np.float64]:
    """Their u."""
    return np.array([c.u_f_px, c.u_c_px, c.u_c_px, c.u_k1, c.u_k2, c.u_p, c.u_p])


def places() -> NDArray[np.float64]:
    """The corners of the print (54, 3), mm."""
    return np.column_stack([object_points(PRINT, ALL), np.zeros(54)])


def test_opencv_finds_the_same_lens() -> None:
    """Each value lies within U of OpenCV's own calibration of the same corners with one focal length and no k3."""
    start = np.array([[500.0, 0.0, 320.0], [0.0, 500.0, 240.0], [0.0, 0.0, 1.0]])
    flags = cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
    rms, matrix, distortion, _, _ = cv2.calibrateCamera(
        [places().astype(np.float32)] * len(CHESSBOARDS),
        [corners(name).astype(np.float32) for name in CHESSBOARDS],
        SIZE, start, np.zeros(5), flags=flags,
    )  # fmt: skip
    found = lens_from(tuple(CHESSBOARDS))
    expected = np.array([matrix[0, 0], matrix[0, 2], matrix[1, 2], *distortion.ravel()[:4]])
    assert np.all(np.abs(values(found.calibration) - expected) <= 2.0 * uncertainties(found.calibration))
    assert found.rms_px <= rms  # the sheet's own bend and the corners set aside are taken out


def test_two_halves_of_the_photos_find_one_lens() -> None:
    """Lenses from every other photo and from those between differ by no more than three combined u."""
    a, b = lens_from(FIRST).calibration, lens_from(SECOND).calibration
    assert np.all(np.abs(values(a) - values(b)) <= 3.0 * np.hypot(uncertainties(a), uncertainties(b)))


@pytest.mark.parametrize("kept", [lambda i: i % 2 == 0, lambda i: i % 2 == 1], ids=["even-corners", "odd-corners"])
def test_corners_kept_out_fall_where_the_lens_says(kept: Callable[[int], bool]) -> None:
    """Lens and poses from half of the corners put the other half, unseen, to within 0.25 px rms over all photos."""
    ids = tuple(filter(kept, ALL))
    others = [i for i in ALL if i not in ids]
    c = lens_from(tuple(CHESSBOARDS), ids).calibration
    matrix = np.array([[c.f_px, 0.0, c.cx_px], [0.0, c.f_px, c.cy_px], [0.0, 0.0, 1.0]])
    distortion = np.array([c.k1, c.k2, c.p1, c.p2, c.k3])
    off = []
    for name in CHESSBOARDS:
        seen = corners(name)
        _, turn, shift = cv2.solvePnP(places()[list(ids)], seen[list(ids)], matrix, distortion)
        projected, _ = cv2.projectPoints(places()[others], turn, shift, matrix, distortion)
        off.append(np.hypot(*(projected.reshape(-1, 2) - seen[others]).T))
    assert np.sqrt(np.mean(np.concatenate(off) ** 2)) < 0.25


@pytest.mark.parametrize(
    ("used", "others"), [pytest.param(FIRST, SECOND, id="first-half"), pytest.param(SECOND, FIRST, id="second-half")]
)
def test_lens_measures_better_in_photos_that_did_not_make_it(used: tuple[str, ...], others: tuple[str, ...]) -> None:
    """In the photos kept out, 95 % of distances lie within U, and errors and U are smaller than with no calibration."""
    known, unknown = (
        np.concatenate([distance_errors(chessboard(name), camera) for name in others])
        for camera in (Camera("camera", lens_from(used).calibration), UNKNOWN_LENS)
    )
    assert share_inside(known) >= 0.95
    assert np.all(np.sqrt(np.mean(known**2, axis=0)) < np.sqrt(np.mean(unknown**2, axis=0)))
