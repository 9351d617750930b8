"""Numbers that carry sensitivities, and a formula's sensitivities against its difference quotients."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from digitizer.adjustment.propagation import Number, Propagated
from digitizer.transom.system import Place

FloatArray = NDArray[np.float64]
Formula = Callable[[Sequence[Number]], Number]


def numbers(values: Sequence[float]) -> list[Number]:
    """Values each of which is its own parameter."""
    return [Propagated(float(v), row) for v, row in zip(values, np.eye(len(values)), strict=True)]


def places(coordinates: Sequence[Number]) -> list[Place]:
    """Places from x, y, x, y, …"""
    return [Place(x, y) for x, y in zip(coordinates[::2], coordinates[1::2], strict=True)]


def flat(points: Sequence[tuple[float, float]]) -> list[float]:
    """Coordinates x, y, x, y, … of points."""
    return [c for point in points for c in point]


def assert_sensitivities(formula: Formula, values: Sequence[float], step: float = 1e-3, rel: float = 1e-6) -> None:
    """A formula's sensitivities to all its inputs are those of its value."""
    found = formula(numbers(values))
    assert isinstance(found, Propagated)
    moved = np.eye(len(values)) * step
    quotients = [
        (float(formula((values + m).tolist())) - float(formula((values - m).tolist()))) / (2 * step)
        for values, m in ((np.asarray(values, dtype=float), m) for m in moved)
    ]
    assert np.allclose(found.gradient, quotients, rtol=rel, atol=rel * max(np.abs(quotients)))
    assert float(found) == float(formula(list(values)))
