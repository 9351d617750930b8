"""
Circles in the plane: fitted by orthogonal distances, through three points, and the formulas of the arc.

A transom's crown is a very short arc, where algebraic fits give radii that are too small; so the fit here is the
geometric one, and the algebraic one only starts it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

MOST_TRIPLES = 200
COLLINEAR = 1e-9
"""Rise, or width, by length below which points lie on a line as far as numbers can tell."""


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle with `centre` (2,) and `radius`, in the unit of its points."""

    centre: FloatArray
    radius: float

    def distances(self, points: FloatArray) -> FloatArray:
        """Signed distances (n,) of points (n, 2) from the circle, positive outside."""
        return np.asarray(np.hypot(*(points - self.centre).T) - self.radius)


def circle_through(a: FloatArray, b: FloatArray, c: FloatArray) -> Circle:
    """
    Circle through three points (2,).

    Raises
    ------
    ValueError
        If the points lie on a line.
    """
    to_b, to_c = b - a, c - a
    doubled_area = float(to_b[0] * to_c[1] - to_b[1] * to_c[0])
    longest = max(float(to_b @ to_b), float(to_c @ to_c), float((c - b) @ (c - b)))
    if abs(doubled_area) <= COLLINEAR * longest:
        raise ValueError(_no_circle(3))
    matrix = np.array([to_b, to_c])
    from_a = np.linalg.solve(matrix, 0.5 * np.array([to_b @ to_b, to_c @ to_c]))
    return Circle(a + from_a, float(np.hypot(*from_a)))


def fitted_circle(points: FloatArray, weights: FloatArray | None = None) -> Circle:
    """
    Circle with the least (weighted) square sum of orthogonal distances.

    Parameters
    ----------
    points : (n, 2)
    weights : (n,), optional
        Proportional to 1/u² of each point's distance from the circle; equal if left out.

    Raises
    ------
    ValueError
        With fewer than three points, and where they lie on a line or bend to neither side of it.

    Notes
    -----
    The steps move the arc and its curvature instead of centre and radius: on a short arc the centre lies far away,
    and an error in it hangs together with one in the radius.

    References
    ----------
    W. Gander, G. Golub and R. Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994) 558; N. Chernov and
    C. Lesort, Least squares fitting of circles, J. Math. Imaging Vision 23 (2005) 239 (line-like circles).
    """
    if len(points) < 3:
        raise ValueError(f"a circle needs three points, got {len(points)}")
    w = np.ones(len(points)) if weights is None else weights
    origin, size = w @ points / w.sum(), float(np.max(np.ptp(points, axis=0)))
    if size == 0.0:
        raise ValueError(_no_circle(len(points)))
    unit = (points - origin) / size
    circle = _improved(_algebraic(unit, w), unit, w)
    return Circle(origin + size * circle.centre, size * circle.radius)


def sagitta(radius: float, chord: float) -> float:
    """
    Rise of the shorter arc of `radius` above its `chord`.

    Raises
    ------
    ValueError
        If the chord is longer than the diameter or the radius isn't positive.
    """
    if radius <= 0.0 or not 0.0 <= chord <= 2.0 * radius:
        raise ValueError(f"a circle of radius {radius} has no chord of {chord}")
    half = 0.5 * chord
    return half * half / (radius + math.sqrt(radius * radius - half * half))


def radius_from_sagitta(chord: float, sagitta: float) -> float:
    """
    Radius of the arc that rises `sagitta` above `chord`, signed like `sagitta`; infinite where it doesn't rise.

    Raises
    ------
    ValueError
        If the chord isn't positive.
    """
    _positive_chord(chord)
    return math.inf if sagitta == 0.0 else (chord**2 + 4.0 * sagitta**2) / (8.0 * sagitta)


def chord(radius: float, sagitta: float) -> float:
    """
    Chord of the arc of `radius` that rises by `sagitta`.

    Raises
    ------
    ValueError
        If the rise is negative or more than the diameter.
    """
    if not 0.0 <= sagitta <= 2.0 * radius:
        raise ValueError(f"an arc of radius {radius} can't rise by {sagitta}")
    return 2.0 * math.sqrt(sagitta * (2.0 * radius - sagitta))


def arc_angle(chord: float, sagitta: float) -> float:
    """Angle (rad) at the centre of the arc that rises `sagitta` above `chord`, signed like `sagitta`."""
    _positive_chord(chord)
    return 4.0 * math.atan(2.0 * sagitta / chord)


def arc_length(chord: float, sagitta: float) -> float:
    """Length along the arc that rises `sagitta` above `chord`; the chord itself where it doesn't rise."""
    angle = abs(arc_angle(chord, sagitta))
    # chord/2 = radius·sin(angle/2), and x/sin x is regular at zero.
    return chord if angle == 0.0 else chord * (0.5 * angle) / math.sin(0.5 * angle)


def segment_area(chord: float, sagitta: float) -> float:
    """Area between the arc that rises `sagitta` above `chord` and the chord, signed like `sagitta`."""
    angle = arc_angle(chord, sagitta)
    if abs(angle) < 1e-3:  # radians; (angle − sin angle) would cancel, and the parabola is good to 1e-7 of itself
        return 2.0 / 3.0 * chord * sagitta
    radius = radius_from_sagitta(chord, sagitta)
    return 0.5 * radius * radius * (angle - math.sin(angle))


def _positive_chord(chord: float) -> None:
    if not chord > 0.0:
        raise ValueError(f"chord must be positive, got {chord}")


def _no_circle(count: int) -> str:
    return f"no circle fits the {count} points: they lie on a straight line, or bend to no side of one"


def _algebraic(points: FloatArray, weights: FloatArray) -> Circle:
    """
    Algebraic circle of points scaled to unit size: the least Σ(a·(x² + y²) + b·x + c·y + d)² with b² + c² − 4·a·d = 1.

    References
    ----------
    V. Pratt, Direct least-squares fitting of algebraic surfaces, Computer Graphics 21 (1987) 145.
    """
    x, y = points.T
    design = np.sqrt(weights)[:, None] * np.column_stack((x * x + y * y, x, y, np.ones(len(x))))
    _, singular, axes = np.linalg.svd(design, full_matrices=True)
    if singular[2] < COLLINEAR * singular[0]:
        raise ValueError(_no_circle(len(points)))
    if len(singular) < 4 or singular[3] < 1e-12 * singular[0]:  # all points on one circle or line
        return _from_coefficients(axes[3], len(points))
    root = axes.T @ (singular[:, None] * axes)
    inverse_constraint = np.array([[0, 0, 0, -0.5], [0, 1, 0, 0], [0, 0, 1, 0], [-0.5, 0, 0, 0]])
    values, vectors = np.linalg.eigh(root @ inverse_constraint @ root)
    smallest = int(np.flatnonzero(values > 0.0)[0])
    return _from_coefficients(np.linalg.solve(root, vectors[:, smallest]), len(points))


def _from_coefficients(coefficients: FloatArray, count: int) -> Circle:
    a, b, c, d = coefficients
    gradient = math.sqrt(max(b * b + c * c - 4.0 * a * d, 0.0))
    if abs(a) <= COLLINEAR * gradient:
        raise ValueError(_no_circle(count))
    return Circle(np.array([-b, -c]) / (2.0 * a), gradient / (2.0 * abs(a)))


def _improved(start: Circle, points: FloatArray, weights: FloatArray) -> Circle:
    """Circle of least orthogonal distances, from a start near it."""
    from scipy.optimize import least_squares  # slow to import, and seldom needed

    to_centre = start.centre / max(float(np.hypot(*start.centre)), 1e-300)
    origin = start.centre - start.radius * to_centre
    arc = _Arc(points - origin, np.sqrt(weights / weights.max()))
    first = np.array([math.atan2(to_centre[1], to_centre[0]), 0.0, 1.0 / start.radius])
    found = least_squares(arc.residuals, first, arc.derivatives, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    angle, shift, curvature = found.x
    if abs(curvature) <= COLLINEAR:
        raise ValueError(_no_circle(len(points)))
    normal = np.array([math.cos(angle), math.sin(angle)])
    return Circle(origin + (shift + 1.0 / curvature) * normal, 1.0 / abs(curvature))


@dataclass(frozen=True, eq=False)
class _Arc:
    """
    Orthogonal distances from the circle whose point nearest the origin is shift·n, n = (cos angle, sin angle).

    With ξ along n from that point and τ across, q = κ(ξ² + τ²)/2 − ξ and s = √(1 + 2κq), the distance is
    (s − 1)/κ = 2q/(1 + s), which needs no radius and holds for a straight line too.
    """

    points: FloatArray
    root_weights: FloatArray

    def residuals(self, parameters: FloatArray) -> FloatArray:
        """Weighted distances (n,)."""
        _, _, q, s = self._terms(parameters)
        return np.asarray(self.root_weights * 2.0 * q / (1.0 + s))

    def derivatives(self, parameters: FloatArray) -> FloatArray:
        """Their derivatives (n, 3) by angle, shift and curvature."""
        _, shift, curvature = parameters
        along, across, q, s = self._terms(parameters)
        distance = 2.0 * q / (1.0 + s)
        by_angle = -across * (1.0 + curvature * shift)
        by_shift = 1.0 - curvature * along
        by_curvature = 0.5 * (along**2 + across**2 - distance**2)
        return np.asarray(np.column_stack((by_angle, by_shift, by_curvature)) * (self.root_weights / s)[:, None])

    def _terms(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        angle, shift, curvature = parameters
        x, y = self.points.T
        along = x * math.cos(angle) + y * math.sin(angle) - shift
        across = y * math.cos(angle) - x * math.sin(angle)
        q = 0.5 * curvature * (along**2 + across**2) - along
        # A point in the very centre has s = 0, where the distance has no derivative.
        s = np.sqrt(np.maximum(1.0 + 2.0 * curvature * q, 1e-24))
        return along, across, q, s


def resistant_circle(points: FloatArray) -> Circle:
    """
    Circle that most of the points lie on, whatever the others do: through three of them, least median distance.

    Parameters
    ----------
    points : (n, 2)
        Up to two in five may be anywhere; n ≥ 5 for that to mean anything.

    Raises
    ------
    ValueError
        If no three points lie on a circle.

    References
    ----------
    P. J. Rousseeuw, Least median of squares regression, J. Am. Stat. Assoc. 79 (1984) 871, doi 10.2307/2288718.
    """
    best: tuple[float, Circle] | None = None
    triples = list(combinations(range(len(points)), 3))
    for triple in triples[:: 1 + len(triples) // MOST_TRIPLES]:
        try:
            circle = circle_through(*points[list(triple)])
        except ValueError:
            continue
        out = float(np.median(np.abs(circle.distances(points))))
        if best is None or out < best[0]:
            best = out, circle
    if best is None:
        raise ValueError("no three points lie on a circle")
    return best[1]
