"""
Points on a surface or in space whose coordinates are parameters, constants, or parameters that several share.

Every block that speaks of points reads them from one table, so that a mark, a tape figure and a mirror pair
mean the same place. A point has chart coordinates (along the surface, up it, off it); the surface turns those
into space, and may have parameters of its own, such as a curvature.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from digitizer.adjustment.observations import BoolArray, FloatArray, IntArray
from digitizer.adjustment.propagation import Number, Propagated

FIXED = -1
"""Column of a coordinate that is a constant."""


class Surface(Protocol):
    """A surface with a chart."""

    @property
    def columns(self) -> IntArray:
        """Columns (p,) of its own parameters."""

    def space(self, chart: FloatArray, parameters: FloatArray) -> FloatArray:
        """Points in space (k, 3) of chart coordinates (k, 3), mm."""

    def derivatives(self, chart: FloatArray, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Derivatives of points in space by chart (k, 3, 3) and by parameters (k, 3, p)."""

    def frame(self, along: float, parameters: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """
        Axes (3, 3) of the tangent plane at a girth, columns along, up and off.

        With their derivatives by girth (3, 3) and by parameters (p, 3, 3).
        """


@dataclass(frozen=True)
class LinkedPoints:
    """One point per row of a block, with its place in the parameter vector worked out once."""

    columns: IntArray
    is_parameter: BoolArray
    constants: FloatArray
    rows: IntArray
    axes: IntArray
    targets: IntArray
    lifts: IntArray
    surface: Surface | None = None

    def chart(self, x: FloatArray) -> FloatArray:
        """Chart coordinates (k, 3), mm, at parameters `x`."""
        chart = np.where(self.is_parameter, x[self.columns], self.constants)
        if len(self.lifts):
            chart[:, 2] += np.where(self.lifts >= 0, x[self.lifts], 0.0)
        return chart

    def at(self, x: FloatArray) -> FloatArray:
        """Places in space (k, 3), mm, at parameters `x`."""
        chart = self.chart(x)
        return chart if self.surface is None else self.surface.space(chart, x[self.surface.columns])

    def tangents(self, x: FloatArray) -> FloatArray:
        """Derivatives (k, 3, 3) of places in space by chart coordinates."""
        if self.surface is None:
            return np.broadcast_to(np.eye(3), (len(self.columns), 3, 3))
        return self.surface.derivatives(self.chart(x), x[self.surface.columns])[0]

    def chain(self, x: FloatArray, derivatives: FloatArray, jacobian: FloatArray) -> None:
        """Add derivatives (k, 3) of each row by its point's place in space to `jacobian` (k, n)."""
        if self.surface is not None:
            by_chart, by_parameters = self.surface.derivatives(self.chart(x), x[self.surface.columns])
            jacobian[:, self.surface.columns] += np.einsum("ki,kip->kp", derivatives, by_parameters)
            derivatives = np.einsum("ki,kij->kj", derivatives, by_chart)
        self.chain_chart(derivatives, jacobian)

    def chain_chart(self, derivatives: FloatArray, jacobian: FloatArray) -> None:
        """Add derivatives (k, 3) of each row by its point's chart coordinates to `jacobian` (k, n)."""
        jacobian[self.rows, self.targets] += derivatives[self.rows, self.axes]
        if len(self.lifts):
            lifted = np.flatnonzero(self.lifts >= 0)
            jacobian[lifted, self.lifts[lifted]] += derivatives[lifted, 2]


@dataclass(frozen=True)
class PointTable:
    """
    Coordinates of n points.

    Attributes
    ----------
    columns : (n, 3)
        Parameter index of each chart coordinate, or `FIXED`.
    constants : (n, 3), mm
        Value of the fixed coordinates.
    surface
        Turns chart coordinates into space; left out, the two are the same (the face is flat).
    lifts : (n,)
        Column of a height that is added to the point's own (a pad it lies on), or `FIXED`; empty where none is lifted.
    """

    columns: IntArray
    constants: FloatArray
    surface: Surface | None = None
    lifts: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.intp))

    @classmethod
    def empty(cls) -> PointTable:
        """A table without points."""
        return cls(np.empty((0, 3), dtype=np.intp), np.empty((0, 3)))

    def linked(self, which: IntArray) -> LinkedPoints:
        """The points `which` (k,), ready to be read and differentiated row by row."""
        columns = self.columns[which]
        rows, axes = np.nonzero(columns >= 0)
        lifts = self.lifts[which] if len(self.lifts) else self.lifts
        targets = columns[rows, axes]
        known = self.constants[which]
        return LinkedPoints(np.maximum(columns, 0), columns >= 0, known, rows, axes, targets, lifts, self.surface)

    def at(self, x: FloatArray, which: IntArray) -> FloatArray:
        """Places in space (k, 3) of points `which` at parameters `x`."""
        return self.linked(which).at(x)

    def chart(self, x: FloatArray, which: IntArray) -> FloatArray:
        """Chart coordinates (k, 3) of points `which` at parameters `x`."""
        return self.linked(which).chart(x)

    def propagated_chart(self, x: FloatArray, index: int) -> tuple[Number, Number, Number]:
        """Chart coordinates of one point with their sensitivities."""
        off = self._coordinate(x, index, 2)
        if len(self.lifts) and self.lifts[index] != FIXED:
            off = off + parameter(x, int(self.lifts[index]))
        return self._coordinate(x, index, 0), self._coordinate(x, index, 1), off

    def propagated(self, x: FloatArray, index: int) -> tuple[Number, Number, Number]:
        """Place in space of one point with its sensitivities."""
        return self.in_space(x, self.propagated_chart(x, index))

    def in_space(self, x: FloatArray, chart: tuple[Number, Number, Number]) -> tuple[Number, Number, Number]:
        """Place in space of chart coordinates with their sensitivities."""
        if self.surface is None:
            return chart
        values = np.array([[float(c) for c in chart]])
        parameters = x[self.surface.columns]
        place = self.surface.space(values, parameters)[0]
        by_chart, by_parameters = (d[0] for d in self.surface.derivatives(values, parameters))
        out = np.zeros((3, len(x)))
        for column, number in zip(by_chart.T, chart, strict=True):
            if isinstance(number, Propagated):
                out += np.outer(column, number.gradient)
        out[:, self.surface.columns] += by_parameters
        a, b, c = (Propagated(float(value), gradient) for value, gradient in zip(place, out, strict=True))
        return a, b, c

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
