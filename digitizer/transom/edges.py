"""
Edges of a transom from a few marks: fitted lines and parabolas, crown, straightness.

Fits are least squares in y over x. The marks' own errors along x matter through the edge's slope, so each y
is referred to the x it was read at before it enters the fit.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from digitizer.adjustment.propagation import Number, dot
from digitizer.transom.system import Place


def fitted_polynomial(points: Sequence[Place], degree: int) -> list[Number]:
    """
    Coefficients a₀, a₁, … of y = a₀ + a₁ x + … fitted to points, lowest power first.

    Raises
    ------
    ValueError
        With fewer points than coefficients, or too few different x.
    """
    x = np.array([float(p.x) for p in points])
    if len(points) <= degree or len(np.unique(np.round(x, 6))) <= degree:
        raise ValueError(f"a fit of degree {degree} needs {degree + 1} points at different places, got {len(points)}")
    scale = max(float(np.max(np.abs(x))), 1.0)
    design = np.vander(x / scale, degree + 1, increasing=True)
    inverse = np.linalg.pinv(design) / scale ** np.arange(degree + 1)[:, None]
    first = inverse @ np.array([float(p.y) for p in points])
    slopes = sum(k * first[k] * x ** (k - 1) for k in range(1, degree + 1))
    referred = [
        p.y - (p.x - float(p.x)) * float(slope)
        for p, slope in zip(points, np.broadcast_to(slopes, x.shape), strict=True)
    ]
    return [dot(row, referred) for row in inverse.tolist()]


def polynomial_at(coefficients: Sequence[Number], x: float) -> Number:
    """Value of a polynomial, lowest power first."""
    return dot([x**k for k in range(len(coefficients))], coefficients)


def crown(top: Sequence[Place], port_end: Place, starboard_end: Place) -> Number:
    """
    Rise of the top edge at the centreline above the straight line between its ends, mm.

    The edge is a parabola fitted to its marks, ends included; y = a₀ + a₁ x + a₂ x² rises by a₂ x₁ x₂ above its
    chord from x₁ to x₂ at x = 0.
    """
    curvature = fitted_polynomial([port_end, *top, starboard_end], 2)[2]
    return curvature * port_end.x * starboard_end.x


def deviations(points: Sequence[Place], line: Sequence[Number]) -> list[Number]:
    """How far points lie above a line a₀ + a₁ x, mm."""
    return [p.y - line[0] - line[1] * p.x for p in points]
