"""Plane perspective: a worked homography, and the image of a circle, whose centre isn't the ellipse's centre."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from digitizer.adjustment.observations import System
from digitizer.adjustment.solve import adjust
from digitizer.geometry.rotations import rotation_matrix
from tests.adjustment.networks import Curve

SQUARE = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
QUADRILATERAL = np.array([[10.0, 10], [110, 20], [100, 120], [20, 100]])
HOMOGRAPHY = np.array(
    [[83.90243902, 14.63414634, 10.0], [7.07317073, 113.17073171, 10.0], [-0.14634146, 0.23170732, 1.0]]
)


def similarity_to_unit(points: np.ndarray) -> np.ndarray:
    """Centroid to the origin, mean distance √2 (R. Hartley, IEEE Trans. PAMI 19 (1997) 580)."""
    mean = points.mean(axis=0)
    scale = math.sqrt(2) / np.mean(np.hypot(*(points - mean).T))
    return np.array([[scale, 0, -scale * mean[0]], [0, scale, -scale * mean[1]], [0, 0, 1]])


def homography_by_dlt(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Direct linear transformation with normalised points."""
    S, T = similarity_to_unit(source), similarity_to_unit(target)
    rows = []
    for (x, y), (u, v) in zip(source @ S[:2, :2].T + S[:2, 2], target @ T[:2, :2].T + T[:2, 2], strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    H = np.linalg.inv(T) @ np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3) @ S
    return H / H[2, 2]


def mapped(h: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Image points (n, 2) by the eight elements of a homography whose ninth is one."""
    H = np.append(h, 1.0).reshape(3, 3)
    projected = np.column_stack((points, np.ones(len(points)))) @ H.T
    return projected[:, :2] / projected[:, 2:]


def mapped_derivatives(h: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Derivatives (2n, 8) of `mapped` by the elements."""
    image = mapped(h, points)
    w = points @ h[6:] + 1.0
    out = np.zeros((len(points), 2, 8))
    homogeneous = np.column_stack((points, np.ones(len(points)))) / w[:, None]
    out[:, 0, 0:3] = out[:, 1, 3:6] = homogeneous
    out[:, :, 6:] = -image[:, :, None] * (points / w[:, None])[:, None, :]
    return out.reshape(-1, 8)


def test_homography_by_direct_linear_transformation() -> None:
    """Unit square to a quadrilateral; the matrix was computed by OpenCV."""
    assert homography_by_dlt(SQUARE, QUADRILATERAL) == pytest.approx(HOMOGRAPHY, abs=6e-9)
    opencv = cv2.getPerspectiveTransform(SQUARE.astype(np.float32), QUADRILATERAL.astype(np.float32))
    assert opencv == pytest.approx(HOMOGRAPHY, abs=6e-9)


def test_homography_by_adjustment() -> None:
    """Eight unknowns from eight coordinates, no redundancy: nothing checks a single rectangle's corners."""
    corners = Curve(
        lambda h: mapped(h, SQUARE).ravel(), lambda h: mapped_derivatives(h, SQUARE), QUADRILATERAL.ravel(), np.ones(8)
    )
    estimate = adjust(System(8, [corners]), np.array([100.0, 0, 10, 0, 100, 10, 0, 0]), np.ones(8, dtype=bool))
    assert estimate.x == pytest.approx(HOMOGRAPHY.ravel()[:8], abs=1e-6)
    assert estimate.redundancy_numbers == pytest.approx(np.zeros(8), abs=1e-12)


@pytest.mark.parametrize("q", [1.0, 2.0, 4.0])
def test_noise_grows_beyond_a_square_target(q: float) -> None:
    """
    Square-on, four corners at ±a, at q·a along the middle axis: sd radially s·√(1/2 + (q⁴ − q²)/4), across
    s·√(1/2 + q²/4); worked out to first order.
    """
    target = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]])
    identity = np.array([1.0, 0, 0, 0, 1, 0, 0, 0])
    corners = Curve(
        lambda h: mapped(h, target).ravel(), lambda h: mapped_derivatives(h, target), target.ravel(), np.ones(8)
    )
    estimate = adjust(System(8, [corners]), identity, np.ones(8, dtype=bool))
    radial, across = np.sqrt(np.diag(estimate.covariance_of(mapped_derivatives(identity, np.array([[q, 0.0]])))))
    assert radial == pytest.approx(math.sqrt(0.5 + (q**4 - q**2) / 4))
    assert across == pytest.approx(math.sqrt(0.5 + q**2 / 4))


def imaged_circle(radius: float, tilt: float, distance: float, f: float) -> np.ndarray:
    """Image (n, 2) of a circle tilted about the y axis, its centre on the optical axis."""
    turns = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    circle = radius * np.column_stack((np.cos(turns), np.sin(turns), np.zeros(24)))
    points = circle @ rotation_matrix(np.array([0.0, tilt, 0.0])).T + [0, 0, distance]
    return f * points[:, :2] / points[:, 2:]


def conic_centre(points: np.ndarray) -> np.ndarray:
    """Centre of the conic through exact points, scaled to unit size first."""
    size = np.abs(points).max()
    x, y = points.T / size
    a, b, c, d, e, _ = np.linalg.svd(np.column_stack((x * x, x * y, y * y, x, y, np.ones(len(x)))))[2][-1]
    return size * np.linalg.solve([[2 * a, b], [b, 2 * c]], [-d, -e])


@pytest.mark.parametrize("tilt_deg", [20.0, 40.0])
@pytest.mark.parametrize(
    ("radius", "printed"),
    [(10.0, (0.011, 0.016)), (25.0, (0.067, 0.103)), (50.0, (0.268, 0.410)), (100.0, (1.071, 1.642))],
    ids=["r10", "r25", "r50", "r100"],
)
def test_ellipse_centre_is_off_the_circles_centre(radius: float, printed: tuple[float, float], tilt_deg: float) -> None:
    """
    e = f·r²·sin ω·cos ω/(d² − r²·sin² ω) px at d = 3000 mm and f = 3000 px, table from that formula.

    The effect is that of S. Ahn, H.-J. Warnecke and R. Kotowski, Photogramm. Record 16 (1999) 485.
    """
    tilt, d, f = math.radians(tilt_deg), 3000.0, 3000.0
    image = imaged_circle(radius, tilt, d, f)
    formula = f * radius**2 * math.sin(tilt) * math.cos(tilt) / (d**2 - (radius * math.sin(tilt)) ** 2)
    offset = conic_centre(image)
    assert np.hypot(*offset) == pytest.approx(formula, rel=1e-7)
    assert formula == pytest.approx(printed[tilt_deg == 40.0], abs=5e-4)
    fitted = cv2.fitEllipseDirect(image.astype(np.float32))[0]
    assert np.hypot(*fitted) == pytest.approx(formula, abs=1e-3)  # single precision
