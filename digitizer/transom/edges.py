"""
Edges of a transom from a few marks: fitted lines and parabolas, crown, straightness.

Fits are least squares in y over x. The marks' own errors along x matter through the edge's slope, so each y
is referred to the x it was read at before it enters the fit.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from digitizer.adjustment.propagation import Number, Propagated, dot, gradients
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
    if len(points) <= degree or len(set(np.round(x, 6).tolist())) <= degree:
        raise ValueError(f"a fit of degree {degree} needs {degree + 1} points at different places, got {len(points)}")
    scale = max(float(np.max(np.abs(x))), 1.0)
    design = np.vander(x / scale, degree + 1, increasing=True)
    q, r = np.linalg.qr(design)
    inverse = np.linalg.solve(r, q.T) / scale ** np.arange(degree + 1)[:, None]
    values = inverse @ np.array([float(p.y) for p in points])
    size = _size(points)
    if not size:
        return list(values.tolist())
    slopes = np.polyval(np.polyder(values[::-1]), x)
    referred = gradients([p.y for p in points], size) - slopes[:, None] * gradients([p.x for p in points], size)
    return [Propagated(v, g) for v, g in zip(values.tolist(), inverse @ referred, strict=True)]


def _size(points: Sequence[Place]) -> int:
    """Number of parameters behind the points; none where they carry no sensitivities."""
    return next((len(c.gradient) for p in points for c in (p.x, p.y) if isinstance(c, Propagated)), 0)


def polynomial_at(coefficients: Sequence[Number], x: float) -> Number:
    """Value of a polynomial, lowest power first."""
    return dot([x**k for k in range(len(coefficients))], coefficients)


def crown(parabola: Sequence[Number], port_end: Place, starboard_end: Place) -> Number:
    """
    Rise of the top edge at the centreline above the straight line between its ends, mm.

    The edge is a parabola fitted to its marks, ends included; y = a₀ + a₁ x + a₂ x² rises by a₂ x₁ x₂ above its
    chord from x₁ to x₂ at x = 0.
    """
    return parabola[2] * port_end.x * starboard_end.x


def deviations(points: Sequence[Place], line: Sequence[Number]) -> list[Number]:
    """How far points lie above a line a₀ + a₁ x, mm."""
    return [p.y - line[0] - line[1] * p.x for p in points]
