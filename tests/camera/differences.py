"""Derivatives by central differences, as the second opinion on those that a block writes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from digitizer.adjustment.observations import Block, Row

FloatArray = NDArray[np.float64]


def central(function: Callable[[FloatArray], FloatArray], x: FloatArray, steps: FloatArray) -> FloatArray:
    """Derivatives (m, n) of an (m,) function at x (n,), by steps (n,) of each parameter's own size."""
    columns = []
    for moved in np.diag(steps):
        columns.append((function(x + moved) - function(x - moved)) / (2.0 * moved.sum()))
    return np.column_stack(columns)


def written(block: Block, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals (m,) and derivatives (m, n) that a block writes at x, with the residuals of both ways compared."""
    residuals, jacobian = np.empty(len(block.rows)), np.zeros((len(block.rows), len(x)))
    block.fill(x, residuals, jacobian)
    assert np.array_equal(residuals_of(block, x), residuals)
    return residuals, jacobian


def residuals_of(block: Block, x: FloatArray) -> FloatArray:
    """Residuals (m,) alone."""
    residuals = np.empty(len(block.rows))
    block.fill(x, residuals, None)
    return residuals


def assert_derivatives(block: Block, x: FloatArray, steps: FloatArray, rel: float = 2e-6) -> None:
    """
    A block's derivatives are those of its residuals.

    `rel` is relative to the largest derivative by the same parameter: the difference quotients are good to about
    the cube root of the rounding error, squared.
    """
    _, jacobian = written(block, x)
    quotients = central(lambda p: residuals_of(block, p), x, steps)
    size = np.maximum(np.abs(quotients).max(axis=0), 1e-12)
    assert np.max(np.abs(jacobian - quotients) / size) < rel


def some_rows(count: int, u: Sequence[float] | float = 1.0, unit: str = "mm") -> list[Row]:
    """Rows that only carry their u."""
    return [
        Row(f"row {i}", "subject", "test", "source", unit, float(v)) for i, v in enumerate(np.broadcast_to(u, count))
    ]
