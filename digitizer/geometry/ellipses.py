"""
Ellipses in the plane: fitted by orthogonal distances, with the covariance of what was fitted.

The image of a circle is an ellipse, but its centre isn't the image of the circle's centre: what lies between is the
eccentricity, `r² sin ω cos ω / d` on the object. So an ellipse serves to find and to judge edge points; the circle in
space is fitted to the points themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_STEPS = 60
_FEW = 5
_FLAT = 1e-6
"""Ratio of the axes below which an ellipse is a line to the eye and to the numbers."""


@dataclass(frozen=True, eq=False)
class Ellipse:
    """
    The points centre + shape · (cos t, sin t).

    Parameters
    ----------
    centre : (2,)
    shape : (2, 2)
        Symmetric, positive definite; its eigenvalues are the semi-axes. Unlike axes and angle it has no singular
        place where the ellipse becomes a circle.
    """

    centre: FloatArray
    shape: FloatArray

    @classmethod
    def of_axes(cls, centre: FloatArray, semi_axes: tuple[float, float], angle: float) -> Ellipse:
        """Ellipse of two semi-axes, the first one turned by `angle` (rad) from x towards y."""
        c, s = math.cos(angle), math.sin(angle)
        turned = np.array([[c, -s], [s, c]])
        return cls(np.asarray(centre, dtype=np.float64), turned @ np.diag(semi_axes) @ turned.T)

    @property
    def semi_axes(self) -> FloatArray:
        """Larger and smaller semi-axis (2,)."""
        return self._axes()[0]

    @property
    def size(self) -> float:
        """Geometric mean of the semi-axes: the radius of the circle of the same area."""
        return math.sqrt(self._determinant)

    @property
    def _determinant(self) -> float:
        (xx, xy), (_, yy) = self.shape.tolist()
        return float(xx * yy - xy * xy)

    @property
    def _adjugate(self) -> FloatArray:
        """Inverse of the shape times its determinant."""
        (xx, xy), (_, yy) = self.shape.tolist()
        return np.array([[yy, -xy], [-xy, xx]])

    @property
    def angle(self) -> float:
        """Direction of the larger axis, rad from x towards y, in [0, π); arbitrary for a circle."""
        x, y = self._axes()[1][:, 0]
        return math.atan2(y, x) % math.pi

    def _axes(self) -> tuple[FloatArray, FloatArray]:
        """Semi-axes (2,), larger first, and their directions in columns (2, 2)."""
        (xx, xy), (_, yy) = self.shape.tolist()
        mean, half, turn = 0.5 * (xx + yy), math.hypot(0.5 * (xx - yy), xy), 0.5 * math.atan2(2.0 * xy, xx - yy)
        c, s = math.cos(turn), math.sin(turn)
        return np.array([mean + half, mean - half]), np.array([[c, -s], [s, c]])

    def points(self, t: FloatArray) -> FloatArray:
        """Points (n, 2) at parameters t (n,), rad."""
        return np.asarray(self.centre + np.column_stack([np.cos(t), np.sin(t)]) @ self.shape)

    def normals(self, t: FloatArray) -> FloatArray:
        """Unit normals (n, 2) at parameters t (n,), outward."""
        normals = np.column_stack([np.cos(t), np.sin(t)]) @ self._adjugate
        return np.asarray(normals / np.hypot(*normals.T)[:, None])

    def curvatures(self, t: FloatArray) -> FloatArray:
        """Curvature (n,) at parameters t (n,), one over the unit of the axes."""
        tangents = np.column_stack([-np.sin(t), np.cos(t)]) @ self.shape
        return np.asarray(self._determinant / np.hypot(*tangents.T) ** 3)

    def relative(self, points: FloatArray) -> FloatArray:
        """How far out points (.., 2) lie (..), 1 on the ellipse and 0 in its centre."""
        unit = (points - self.centre) @ self._adjugate
        return np.asarray(np.hypot(unit[..., 0], unit[..., 1]) / self._determinant)

    def nearest(self, points: FloatArray) -> FloatArray:
        """Parameters t (n,), rad, of the places nearest to points (n, 2)."""
        return np.asarray(np.arctan2(*self._feet(points)[0].T[::-1]))

    def distances(self, points: FloatArray) -> FloatArray:
        """Signed orthogonal distances (n,) of points (n, 2), positive outside."""
        return self._feet(points)[2]

    def _feet(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Of the places nearest to points (n, 2): (cos t, sin t) (n, 2), outward normals (n, 2), distances (n,)."""
        axes, turned = self._axes()
        local = (points - self.centre) @ turned
        foot = np.copysign(_foot(np.abs(local), *axes.tolist()), local)
        normals = foot / axes**2
        normals /= np.hypot(normals[:, :1], normals[:, 1:])
        distances = ((local - foot) * normals).sum(axis=1)
        return (foot / axes) @ turned.T, normals @ turned.T, distances


def _foot(points: FloatArray, a: float, b: float) -> FloatArray:
    """
    Nearest points (n, 2) of x²/a² + y²/b² = 1 to some in the first quadrant, a ≥ b.

    The foot is (a² u / (q + a² − b²), b² v / q); what q has to fulfil is convex and falls, so that Newton's steps from
    the left never pass the root. D. Eberly, Distance from a point to an ellipse (1998, from memory).
    """
    u, v = np.maximum(points, 1e-12 * a).T
    au, bv, bb, gap = a * u, b * v, b * b, a * a - b * b
    left = np.maximum(au - gap, bv)
    # To first order in the distance, which is little for a point near the ellipse, the root lies here.
    q = np.maximum(left, bb + 0.5 * ((u / a) ** 2 + (v / b) ** 2 - 1.0) / ((u / a**2) ** 2 + (v / bb) ** 2))
    for _ in range(_STEPS):
        x, y = au / (q + gap), bv / q
        x2, y2 = x * x, y * y
        moved = np.maximum(q + 0.5 * (x2 + y2 - 1.0) / (x2 / (q + gap) + y2 / q), left)
        settled = np.abs(moved - q).max() <= 1e-12 * bb
        q = moved
        if settled:
            break
    return np.column_stack([a * au / (q + gap), b * bv / q])


@dataclass(frozen=True, eq=False)
class EllipseFit:
    """
    A fitted ellipse.

    Parameters
    ----------
    ellipse
    covariance : (5, 5)
        Of centre x, y and shape xx, xy, yy, from the stated uncertainty of the points alone.
    residuals : (n,)
        Orthogonal distances of the points, positive outside.
    """

    ellipse: Ellipse
    covariance: FloatArray
    residuals: FloatArray

    @property
    def u_centre(self) -> FloatArray:
        """Standard uncertainties of the centre's x and y (2,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)[:2]))

    @property
    def u_semi_axes(self) -> FloatArray:
        """Standard uncertainties of the semi-axes (2,)."""
        along = [np.array([d[0] ** 2, 2.0 * d[0] * d[1], d[1] ** 2]) for d in self.ellipse._axes()[1].T]
        return np.array([math.sqrt(g @ self.covariance[2:, 2:] @ g) for g in along])

    @property
    def u_angle(self) -> float:
        """Standard uncertainty of the angle, rad; infinite for a circle."""
        axes, ((p, q), (r, s)) = self.ellipse.semi_axes, self.ellipse._axes()[1].T
        gradient = np.array([p * r, p * s + q * r, q * s])
        difference = float(axes[0] - axes[1])
        u = math.sqrt(gradient @ self.covariance[2:, 2:] @ gradient)
        return u / difference if difference > 0.0 else math.inf


def direct_ellipse(points: FloatArray, weights: FloatArray | None = None) -> Ellipse:
    """
    Ellipse of the least algebraic distances with 4·a·c − b² = 1; needs no start, but leans to small ellipses.

    Parameters
    ----------
    points : (n, 2)
        At least five.
    weights : (n,), optional

    Raises
    ------
    ValueError
        With fewer than five points, and where no ellipse fits (points on a line, or on both sides of one).

    References
    ----------
    A. Fitzgibbon, M. Pilu and R. Fisher, Direct least square fitting of ellipses, IEEE Trans. PAMI 21 (1999) 476, in
    the form of R. Halíř and J. Flusser, Numerically stable direct least squares fitting of ellipses, WSCG 1998 (from
    memory).
    """
    if len(points) < _FEW:
        raise ValueError(f"an ellipse needs five points, got {len(points)}")
    origin, size = points.mean(axis=0), float(np.ptp(points, axis=0).max()) / 2.0
    if size == 0.0:
        raise ValueError(_no_ellipse(len(points)))
    x, y = ((points - origin) / size).T
    w = np.ones(len(points)) if weights is None else weights / np.max(weights)
    D1, D2 = np.column_stack([x * x, x * y, y * y]), np.column_stack([x, y, np.ones(len(x))])
    S1, S2, S3 = D1.T @ (w[:, None] * D1), D1.T @ (w[:, None] * D2), D2.T @ (w[:, None] * D2)
    if np.linalg.cond(S3) > 1e12:
        raise ValueError(_no_ellipse(len(points)))
    T = -np.linalg.solve(S3, S2.T)
    M = (S1 + S2 @ T)[[2, 1, 0]] * np.array([[0.5], [-1.0], [0.5]])
    vectors = np.real(np.linalg.eig(M)[1])
    excess = 4.0 * vectors[0] * vectors[2] - vectors[1] ** 2
    quadratic = vectors[:, int(np.argmax(excess))]
    ellipse = _of_conic(np.concatenate([quadratic, T @ quadratic]), len(points))
    return Ellipse(origin + size * ellipse.centre, size * ellipse.shape)


def _of_conic(conic: FloatArray, count: int) -> Ellipse:
    """Ellipse of a x² + b x y + c y² + d x + e y + f = 0."""
    a, b, c, d, e, f = conic * (1.0 if conic[0] + conic[2] > 0.0 else -1.0)
    A = np.array([[a, b / 2.0], [b / 2.0, c]])
    if not 4.0 * a * c - b * b > _FLAT**2 * (a + c) ** 2:
        raise ValueError(_no_ellipse(count))
    centre = np.linalg.solve(A, [-d / 2.0, -e / 2.0])
    level = float(centre @ A @ centre - f)
    if level <= 0.0:
        raise ValueError(_no_ellipse(count))
    values, axes = np.linalg.eigh(A / level)
    return Ellipse(centre, (axes / np.sqrt(values)) @ axes.T)


def fitted_ellipse(points: FloatArray, u: FloatArray | float = 1.0, start: Ellipse | None = None) -> EllipseFit:
    """
    Ellipse with the least square sum of orthogonal distances over u.

    Parameters
    ----------
    points : (n, 2)
        At least five.
    u : (n,) or scalar
        Standard uncertainty of each point across the ellipse, in the unit of the points.
    start
        The direct ellipse if left out.

    Raises
    ------
    ValueError
        With fewer than five points, and where no ellipse fits.

    Notes
    -----
    The derivative of an orthogonal distance is −n · dX(t) with the foot's parameter t held: moving the foot along the
    ellipse changes the distance to second order only.

    References
    ----------
    W. Gander, G. Golub and R. Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994) 558; S. J. Ahn,
    W. Rauh and H.-J. Warnecke, Least-squares orthogonal distances fitting of circle, sphere, ellipse, hyperbola, and
    parabola, Pattern Recognition 34 (2001) 2283.
    """
    if len(points) < _FEW:
        raise ValueError(f"an ellipse needs five points, got {len(points)}")
    u = np.broadcast_to(np.asarray(u, dtype=np.float64), len(points))
    ellipse = direct_ellipse(points) if start is None else start
    distance, J = _linearised(ellipse, points)
    cost, damping = float(np.sum((distance / u) ** 2)), 1e-6
    for _ in range(_STEPS):
        A = J / u[:, None]
        N = A.T @ A
        step = np.linalg.solve(N + damping * np.diag(np.diag(N)), -A.T @ (distance / u))
        trial = _moved(ellipse, step)
        trial_distance, trial_J = _linearised(trial, points) if trial is not None else (distance, J)
        trial_cost = float(np.sum((trial_distance / u) ** 2)) if trial is not None else math.inf
        if trial is not None and trial_cost <= cost * (1.0 + 1e-12):
            small = np.abs(step).max() < 1e-7 * float(ellipse.semi_axes[0])
            ellipse, distance, J, cost, damping = trial, trial_distance, trial_J, trial_cost, damping * 0.1
            if small:
                return EllipseFit(ellipse, _inverse(J / u[:, None], len(points)), distance)
        elif damping > 1e8:
            break
        else:
            damping = max(damping, 1e-6) * 10.0
    raise ValueError(_no_ellipse(len(points)))


def _linearised(ellipse: Ellipse, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distances (n,) and their derivatives (n, 5) by centre x, y and shape xx, xy, yy."""
    around, normals, distances = ellipse._feet(points)
    (c, s), (x, y) = around.T, normals.T
    return distances, -np.stack([x, y, x * c, x * s + y * c, y * s], axis=1)


def _moved(ellipse: Ellipse, step: NDArray[np.floating]) -> Ellipse | None:
    """The ellipse after a step of its parameters, or nothing where that isn't one."""
    x, y, xx, xy, yy = step.tolist()
    moved = Ellipse(ellipse.centre + np.array([x, y]), ellipse.shape + np.array([[xx, xy], [xy, yy]]))
    larger, smaller = moved.semi_axes
    return moved if smaller > _FLAT * larger else None


def _inverse(A: FloatArray, count: int) -> FloatArray:
    """Covariance (5, 5)."""
    N = A.T @ A
    scale = np.sqrt(np.diag(N))
    scaled = N / np.outer(scale, scale)
    if np.linalg.cond(scaled) > 1e14:
        raise ValueError(_no_ellipse(count))
    return np.asarray(np.linalg.inv(scaled) / np.outer(scale, scale))


def _no_ellipse(count: int) -> str:
    return f"no ellipse fits the {count} points: they lie on a line, or on an open curve"
