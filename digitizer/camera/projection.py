"""
Where a point in the camera's system falls in the photo, and back.

Camera axes: x right, y down, z forward. Image positions in px, origin at the centre of the first pixel. The
model is OpenCV's: x' = X/Z, y' = Y/Z, radial factor 1 + k1 r² + k2 r⁴ + k3 r⁶, tangential terms p1, p2.
"""

from __future__ import annotations

import numpy as np

from digitizer.adjustment.observations import FloatArray

MIN_DEPTH_MM = 1.0
"""Points nearer than this, or behind the camera, are pushed to this depth so that a solver can step back."""


def projected(points: FloatArray, lens: FloatArray) -> FloatArray:
    """
    Image points of points in the camera's system.

    Parameters
    ----------
    points : (n, 3), mm
    lens : (8,)
        f, cx, cy, k1, k2, p1, p2, k3.

    Returns
    -------
    (n, 2), px
    """
    f, cx, cy, k1, k2, p1, p2, k3 = lens
    depth = np.maximum(points[:, 2], MIN_DEPTH_MM)
    x, y = points[:, 0] / depth, points[:, 1] / depth
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    xd = x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x)
    yd = y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y
    return np.stack([f * xd + cx, f * yd + cy], axis=1)


def projected_with_derivatives(points: FloatArray, lens: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """
    Image points with their derivatives; parameters as in `projected`.

    Returns
    -------
    image_points : (n, 2), px
    by_point : (n, 2, 3), px/mm
    by_lens : (n, 2, 8)
    """
    f, cx, cy, k1, k2, p1, p2, k3 = lens
    depth = np.maximum(points[:, 2], MIN_DEPTH_MM)
    x, y = points[:, 0] / depth, points[:, 1] / depth
    r2, xy = x * x + y * y, x * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    slope = k1 + r2 * (2.0 * k2 + r2 * 3.0 * k3)  # d radial / d r²
    xt, yt = r2 + 2.0 * x * x, r2 + 2.0 * y * y
    xd = x * radial + 2.0 * p1 * xy + p2 * xt
    yd = y * radial + p1 * yt + 2.0 * p2 * xy
    image = np.stack([f * xd + cx, f * yd + cy], axis=1)

    # distorted by normalised coordinates
    xx = radial + 2.0 * x * x * slope + 2.0 * p1 * y + 6.0 * p2 * x
    cross = 2.0 * xy * slope + 2.0 * p1 * x + 2.0 * p2 * y
    yy = radial + 2.0 * y * y * slope + 6.0 * p1 * y + 2.0 * p2 * x
    scale = f / depth
    by_point = np.empty((len(x), 2, 3))
    by_point[:, 0, 0], by_point[:, 0, 1] = scale * xx, scale * cross
    by_point[:, 1, 0], by_point[:, 1, 1] = scale * cross, scale * yy
    by_point[:, 0, 2] = -scale * (xx * x + cross * y)
    by_point[:, 1, 2] = -scale * (cross * x + yy * y)

    by_lens = np.zeros((len(x), 2, 8))
    by_lens[:, 0, 0], by_lens[:, 1, 0] = xd, yd
    by_lens[:, 0, 1] = by_lens[:, 1, 2] = 1.0
    powers = (r2, r2 * r2, r2 * r2 * r2)
    for column, power in zip((3, 4, 7), powers, strict=True):
        by_lens[:, 0, column], by_lens[:, 1, column] = f * x * power, f * y * power
    by_lens[:, 0, 5], by_lens[:, 1, 5] = f * 2.0 * xy, f * yt
    by_lens[:, 0, 6], by_lens[:, 1, 6] = f * xt, f * 2.0 * xy
    return image, by_point, by_lens


def normalised(image_points: FloatArray, lens: FloatArray, iterations: int = 20) -> FloatArray:
    """
    Directions (x/z, y/z) whose image points are given: the inverse of the lens, by fixed-point iteration.

    Parameters
    ----------
    image_points : (n, 2), px
    lens : (8,)

    Returns
    -------
    (n, 2)
    """
    f, cx, cy, k1, k2, p1, p2, k3 = lens
    xd, yd = (image_points[:, 0] - cx) / f, (image_points[:, 1] - cy) / f
    x, y = xd.copy(), yd.copy()
    for _ in range(iterations):
        r2 = x * x + y * y
        radial = np.maximum(1.0 + r2 * (k1 + r2 * (k2 + r2 * k3)), 0.2)
        x, y = (
            (xd - 2.0 * p1 * x * y - p2 * (r2 + 2.0 * x * x)) / radial,
            (yd - p1 * (r2 + 2.0 * y * y) - 2.0 * p2 * x * y) / radial,
        )
    return np.stack([x, y], axis=1)
