"""Where a point falls in the photo, and back, against OpenCV's own projection."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from digitizer.camera.projection import MIN_DEPTH_MM, normalised, projected, projected_with_derivatives
from tests.camera.differences import central

FloatArray = NDArray[np.float64]

LENSES = {
    "no-distortion": [2900.0, 1999.5, 1499.5, 0.0, 0.0, 0.0, 0.0, 0.0],
    "ordinary-phone": [2900.0, 2011.0, 1488.0, 0.08, -0.12, 0.0004, -0.0003, 0.0],
    "strong-barrel": [1500.0, 1990.0, 1510.0, -0.28, 0.09, 0.001, -0.002, -0.012],
    "strong-pincushion": [2400.0, 2100.0, 1400.0, 0.30, 0.10, -0.002, 0.001, 0.05],
}
POINTS = {
    "across-the-picture": [[-1800, -900, 3000], [1500, 800, 2500], [900, -1100, 3400], [-200, 1000, 2000]],
    "on-the-axis": [[0, 0, 3000]],
    "near-the-axis": [[1e-9, -1e-9, 3000], [1e-3, 0, 3000], [0, 1e-6, 2000]],
}
by_lens = pytest.mark.parametrize("lens", [pytest.param(np.array(v), id=k) for k, v in LENSES.items()])
by_points = pytest.mark.parametrize("points", [pytest.param(np.array(v, float), id=k) for k, v in POINTS.items()])


def by_opencv(points: FloatArray, lens: FloatArray) -> tuple[FloatArray, FloatArray]:
    """OpenCV's image points, and its derivatives by (rotation, translation, fx, fy, cx, cy, k1, k2, p1, p2, k3)."""
    f, cx, cy = lens[:3]
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    image, jacobian = cv2.projectPoints(points[:, None, :], np.zeros(3), np.zeros(3), matrix, lens[3:])
    return image[:, 0], jacobian


@by_lens
@by_points
def test_image_points_are_opencvs(lens: FloatArray, points: FloatArray) -> None:
    """The projection is OpenCV's, to rounding."""
    image, _, _ = projected_with_derivatives(points, lens)
    assert np.allclose(projected(points, lens), by_opencv(points, lens)[0], rtol=0, atol=1e-9)  # px
    assert np.array_equal(projected(points, lens), image)


@by_lens
@by_points
def test_derivatives_are_opencvs(lens: FloatArray, points: FloatArray) -> None:
    """Derivatives by the point are OpenCV's by the translation; f gets the sum of those by fx and fy."""
    _, by_point, by_lens = projected_with_derivatives(points, lens)
    theirs = by_opencv(points, lens)[1].reshape(len(points), 2, -1)
    assert np.allclose(by_point, theirs[:, :, 3:6], rtol=1e-10, atol=1e-12)
    assert np.allclose(by_lens[:, :, 0], theirs[:, :, 6] + theirs[:, :, 7], rtol=1e-10, atol=1e-12)
    assert np.allclose(by_lens[:, :, 1:], theirs[:, :, 8:15], rtol=1e-10, atol=1e-9)


@by_lens
def test_derivatives_are_those_of_the_value(lens: FloatArray) -> None:
    """Derivatives agree with central differences of the value."""
    points = np.array(POINTS["across-the-picture"], float)
    _, by_point, by_lens = projected_with_derivatives(points, lens)
    for i, point in enumerate(points):
        quotients = central(lambda p: projected(p[None, :], lens)[0], point, np.full(3, 0.05))
        assert np.allclose(by_point[i], quotients, rtol=1e-6, atol=1e-8)
    steps = np.array([1.0, 1.0, 1.0, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4])
    quotients = central(lambda v: projected(points, v).ravel(), lens, steps)
    assert np.allclose(by_lens.reshape(-1, 8), quotients, rtol=1e-6, atol=1e-6)


def test_points_behind_the_camera_stay_finite() -> None:
    """A point behind the camera is taken at the least depth, so that a solver can step back."""
    lens = np.array(LENSES["no-distortion"])
    behind, near = np.array([[10.0, 0.0, -500.0]]), np.array([[10.0, 0.0, MIN_DEPTH_MM]])
    assert np.array_equal(projected(behind, lens), projected(near, lens))
    assert all(np.all(np.isfinite(part)) for part in projected_with_derivatives(behind, lens))


@given(
    st.floats(-0.62, 0.62),
    st.floats(-0.48, 0.48),
    st.floats(-0.15, 0.3),
    st.floats(-0.1, 0.1),
    st.floats(-0.002, 0.002),
    st.floats(-0.002, 0.002),
)
def test_normalised_undoes_the_lens(x: float, y: float, k1: float, k2: float, p1: float, p2: float) -> None:
    """A direction projected and taken back is the direction, for lenses as phones have them."""
    lens = np.array([2900.0, 2005.0, 1490.0, k1, k2, p1, p2, 0.0])
    image = projected(np.array([[x, y, 1.0]]) * 3000.0, lens)
    assert np.allclose(normalised(image, lens) * lens[0], np.array([[x, y]]) * lens[0], atol=0.01)  # px, start values


@by_lens
def test_normalised_agrees_with_opencv(lens: FloatArray) -> None:
    """OpenCV's own inverse of the lens gives the same directions."""
    points = np.array(POINTS["across-the-picture"], float)
    image = projected(points, lens)
    matrix = np.array([[lens[0], 0, lens[1]], [0, lens[0], lens[2]], [0, 0, 1]])
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 500, 1e-12)
    theirs = cv2.undistortPoints(image[:, None, :], matrix, lens[3:], criteria=criteria)[:, 0]
    assert np.allclose(normalised(image, lens) * lens[0], theirs * lens[0], atol=0.05)  # px, start values
    assert np.allclose(theirs, points[:, :2] / points[:, 2:], atol=1e-6)
