"""
Points in space whose coordinates are parameters, constants, or parameters that several points share.

Every block that speaks of points reads them from one table, so that a mark, a tape figure and a mirror pair
mean the same place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import BoolArray, FloatArray, IntArray
from digitizer.adjustment.propagation import Number, Propagated

FIXED = -1
"""Column of a coordinate that is a constant."""


@dataclass(frozen=True)
class LinkedPoints:
    """One point per row of a block, with its place in the parameter vector worked out once."""

    columns: IntArray
    is_parameter: BoolArray
    constants: FloatArray
    rows: IntArray
    axes: IntArray
    targets: IntArray

    def at(self, x: FloatArray) -> FloatArray:
        """Coordinates (k, 3), mm, at parameters `x`."""
        return np.where(self.is_parameter, x[self.columns], self.constants)

    def chain(self, derivatives: FloatArray, jacobian: FloatArray) -> None:
        """Add derivatives (k, 3) of each row by its point's coordinates to `jacobian` (k, n)."""
        jacobian[self.rows, self.targets] += derivatives[self.rows, self.axes]


@dataclass(frozen=True)
class PointTable:
    """
    Coordinates of n points.

    Attributes
    ----------
    columns : (n, 3)
        Parameter index of each coordinate, or `FIXED`.
    constants : (n, 3), mm
        Value of the fixed coordinates.
    """

    columns: IntArray
    constants: FloatArray

    @classmethod
    def empty(cls) -> PointTable:
        """A table without points."""
        return cls(np.empty((0, 3), dtype=np.intp), np.empty((0, 3)))

    def at(self, x: FloatArray, which: IntArray) -> FloatArray:
        """Coordinates (k, 3) of points `which` at parameters `x`."""
        columns = self.columns[which]
        return np.where(columns >= 0, x[np.maximum(columns, 0)], self.constants[which])

    def linked(self, which: IntArray) -> LinkedPoints:
        """The points `which` (k,), ready to be read and differentiated row by row."""
        columns = self.columns[which]
        rows, axes = np.nonzero(columns >= 0)
        return LinkedPoints(
            np.maximum(columns, 0), columns >= 0, self.constants[which], rows, axes, columns[rows, axes]
        )

    def propagated(self, x: FloatArray, index: int) -> tuple[Number, Number, Number]:
        """Coordinates of one point with their sensitivities."""
        return (
            self._coordinate(x, index, 0),
            self._coordinate(x, index, 1),
            self._coordinate(x, index, 2),
        )

    def _coordinate(self, x: FloatArray, index: int, axis: int) -> Number:
        column = int(self.columns[index, axis])
        if column == FIXED:
            return float(self.constants[index, axis])
        return parameter(x, column)


def parameter(x: FloatArray, column: int) -> Propagated:
    """One parameter as a number that carries its sensitivity."""
    gradient = np.zeros(len(x))
    gradient[column] = 1.0
    return Propagated(float(x[column]), gradient)
