"""
How well corners are placed, and whether they belong to one flat pattern.

The uncertainty of a corner follows from the grey-value gradients round it and the picture's noise, and is never
stated better than the corners of the board fit together.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.tone import light

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_LIGHT = light(np.arange(256.0)).astype(np.float32)

# From so many corners on, a smooth bend of the second or third degree (lens distortion, a sheet not quite flat) is told
# from single corners that lie off.
_CORNERS_FOR_BEND = {2: 14, 3: 20}


def mapped(H: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a homography."""
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), H), dtype=np.float64).reshape(-1, 2)


def refined(gray: NDArray[np.uint8], points: FloatArray, half_window: int, smoothing: float = 0.0) -> FloatArray:
    """
    Corners (n, 2) moved to where the gradients round them say; px.

    A saddle corner is symmetrical, so smoothing (standard deviation, px) calms the noise and doesn't shift it.
    """
    low, patch = _surroundings(gray, points, half_window + 8)
    patch = cv2.LUT(patch, _LIGHT)
    if smoothing > 0:
        patch = cv2.GaussianBlur(patch, (0, 0), smoothing)
    start = (points - low).astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 0.002)
    found = cv2.cornerSubPix(np.ascontiguousarray(patch), start, (half_window, half_window), (-1, -1), stop)
    return np.asarray(found, dtype=np.float64).reshape(-1, 2) + low


def _surroundings(gray: NDArray[np.uint8], points: FloatArray, reach: int) -> tuple[FloatArray, NDArray[np.uint8]]:
    """Part of the picture round some points, and its top left pixel as x, y."""
    low = np.maximum(points.min(axis=0).astype(int) - reach, 0)
    high = points.max(axis=0).astype(int) + reach + 1
    return low.astype(np.float64), gray[low[1] : high[1], low[0] : high[0]]


def consistent(plane: FloatArray, image_points: FloatArray, slack: float) -> tuple[BoolArray, float]:
    """
    Corners that fit one homography of the pattern, with a smooth bend allowed where there are many.

    The worst is left out and the fit repeated until none lies further off than `slack` px or four times the spread.

    Parameters
    ----------
    plane, image_points : (n, 2), mm and px
    slack : px
        Misfit that says nothing against a corner.

    Returns
    -------
    keep : (n,)
    spread : px
        Root mean square misfit in one coordinate of those kept; 0 where nothing is left over to tell.
    """
    keep = np.ones(len(plane), dtype=bool)
    while True:
        misfit, freedom = _misfit(plane, image_points, keep)
        size = np.hypot(*misfit.T)
        spread = float(np.sqrt(np.sum(misfit[keep] ** 2) / freedom)) if freedom > 0 else 0.0
        robust = float(np.median(size[keep])) / 1.177  # median of a Rayleigh distribution
        worst = int(np.argmax(np.where(keep, size, -1.0)))
        if size[worst] <= max(slack, 4.0 * robust) or keep.sum() <= 5:
            return keep, spread
        keep[worst] = False


def _misfit(plane: FloatArray, image_points: FloatArray, keep: BoolArray) -> tuple[FloatArray, int]:
    """Misfit of all corners to the fit of those kept (n, 2), px, and the fit's degrees of freedom."""
    H, _ = cv2.findHomography(plane[keep], image_points[keep], 0)
    if H is None:
        return np.full_like(plane, np.inf), 0
    misfit = image_points - mapped(H, plane)
    freedom = 2 * int(keep.sum()) - 8
    degree = max((d for d, fewest in _CORNERS_FOR_BEND.items() if keep.sum() >= fewest), default=0)
    if degree == 0:
        return misfit, freedom
    x, y = (plane / np.abs(plane).max()).T
    A = np.column_stack([x**i * y**k for i in range(degree + 1) for k in range(degree + 1 - i)])
    bend = np.linalg.lstsq(A[keep], misfit[keep], rcond=None)[0]
    # Of the bend's terms, eight are a homography's to first order.
    return misfit - A @ bend, freedom - (2 * A.shape[1] - 8)


def noise(gray: NDArray[np.uint8], points: FloatArray) -> float:
    """
    Standard deviation of the picture's noise round some corners, in grey levels.

    Immerkær, Fast noise variance estimation, Computer Vision and Image Understanding 64 (1996) 300-302,
    with the median in place of the mean, so that the pattern's edges do not count.
    """
    _, patch = _surroundings(gray, points, 8)
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32)
    response = cv2.filter2D(patch.astype(np.float32), -1, mask)
    return max(float(np.median(np.abs(response))) / (0.6745 * 6.0), 0.5)


def gradient_uncertainty(gray: NDArray[np.uint8], points: FloatArray, half_window: int, sigma: float) -> FloatArray:
    """
    Standard uncertainty in one coordinate that the noise leaves a corner, (n,), px.

    Notes
    -----
    C = σ² (Σ g gᵀ)⁻¹ over the window, g the gradient: the least-squares bound for shifting a known picture onto a
    noisy one. Blur, low contrast and a small window all lower the sum.
    """
    return np.array([_bound(gray, point, half_window, sigma) for point in points])


def blur(gray: NDArray[np.uint8], points: FloatArray, half_window: int) -> float:
    """
    Standard deviation of the blur at the edges that meet in some corners, px.

    A step of height h blurred by a Gaussian has the gradient h / (σ √(2π)) in its middle.
    """
    sigmas = [_step_blur(_window(gray, point, half_window + 1)) for point in points]
    return float(np.median(sigmas))


def _step_blur(patch: FloatArray) -> float:
    if min(patch.shape) < 3:
        return 0.0
    steepest = float(np.percentile(np.hypot(*np.gradient(patch)), 98))
    height = float(np.subtract(*np.percentile(patch, [95, 5])))
    return height / (max(steepest, 1e-6) * float(np.sqrt(2 * np.pi)))


def _window(gray: NDArray[np.uint8], point: FloatArray, reach: int) -> FloatArray:
    column, row = np.rint(point).astype(int)
    part = gray[max(row - reach, 0) : row + reach + 1, max(column - reach, 0) : column + reach + 1]
    return np.asarray(part, dtype=np.float64)


def _bound(gray: NDArray[np.uint8], point: FloatArray, half_window: int, sigma: float) -> float:
    patch = _window(gray, point, half_window + 1)
    if min(patch.shape) < 3:
        return float("inf")
    gy, gx = np.gradient(patch)
    N = np.array([[np.sum(gx * gx), np.sum(gx * gy)], [np.sum(gx * gy), np.sum(gy * gy)]])
    determinant = float(np.linalg.det(N))
    return sigma * float(np.sqrt(0.5 * np.trace(N) / determinant)) if determinant > 1e-6 else float("inf")
