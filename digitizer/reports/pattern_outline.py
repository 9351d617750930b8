"""
The outline to cut where a pattern's edge takes the place of the measured one.

The pattern counts where it reaches: a half or a bottom edge replaces its own part, and the rest stays as measured.
Where the two meet they are joined straight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitizer.errors import ReadingError
from digitizer.reports.sheet import Point
from digitizer.survey.model import OutlineEdge, PatternResult, Survey

FloatArray = NDArray[np.float64]
NEAR_MM = 150.0
"""A place of the measured outline farther from the pattern than this is not its counterpart."""
_END_MM = 30.0
"""An open pattern speaks for places this far past its ends."""


def pattern_to_cut(survey: Survey, name: str) -> PatternResult:
    """
    The pattern whose edge is to be cut.

    Raises
    ------
    ReadingError
        If the survey has no such pattern: the outline that was asked for is never replaced by another silently.
    """
    found = next((p for p in survey.patterns if p.id == name), None)
    if found is None:
        raise ReadingError(name, "that pattern is to be cut, and was not measured: see what digitizer measure says.")
    return found


def cut_edges(edges: Sequence[OutlineEdge], pattern: PatternResult) -> tuple[OutlineEdge, ...]:
    """The measured edges with the pattern's in place of them where it reaches."""
    way = _Way(np.array(pattern.edge), pattern.closed)
    if way.runs_against(edges):
        way = _Way(np.array(pattern.edge)[::-1], pattern.closed)
    ends = {}
    out = []
    for edge in edges:
        points = way.instead_of(edge.points)
        ends[edge.points[0], "first"], ends[edge.points[-1], "last"] = points[0], points[-1]
        out.append(replace(edge, points=points))
    return tuple(_joined(old, new, ends) for old, new in zip(edges, out, strict=True))


def _joined(old: OutlineEdge, new: OutlineEdge, ends: dict[tuple[Point, str], Point]) -> OutlineEdge:
    """An edge that stayed as measured at an end begins where its replaced neighbour ends, and the other way round."""
    first, last = old.points[0], old.points[-1]
    points = list(new.points)
    if points[0] == first:
        points[0] = ends.get((first, "last"), first)
    if points[-1] == last:
        points[-1] = ends.get((last, "first"), last)
    return replace(new, points=tuple(points))


class _Way:
    """A pattern's edge, and places along it."""

    def __init__(self, points: FloatArray, closed: bool) -> None:
        self.points = np.vstack([points, points[:1]]) if closed else points
        self.closed = closed
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        self.along = np.concatenate([[0.0], np.cumsum(steps)])

    def instead_of(self, edge: Sequence[Point]) -> tuple[Point, ...]:
        """A measured edge with the part that the pattern reaches replaced by it."""
        reached = self._reached(edge)
        if len(reached) < 2:
            return tuple(edge)
        (first, a), (last, b) = reached[0], reached[-1]
        return (*edge[:first], *self.between(a, b), *edge[last + 1 :])

    def runs_against(self, edges: Sequence[OutlineEdge]) -> bool:
        """Whether it runs the other way round than the measured outline, from piece to piece for the most part."""
        steps = [np.diff([place for _, place in self._reached(edge.points)]) for edge in edges]
        return bool(np.sum(np.sign(np.concatenate(steps))) < 0.0)

    def _reached(self, edge: Sequence[Point]) -> list[tuple[int, float]]:
        """Which points of an edge the way reaches, each with its place along the way."""
        places = enumerate(self.nearest(np.array(point)) for point in edge)
        return [(i, place) for i, place in places if place is not None]

    def nearest(self, place: FloatArray) -> float | None:
        """How far along the way the nearest place is; None where the way does not reach."""
        a, step = self.points[:-1], np.diff(self.points, axis=0)
        square = np.maximum(np.einsum("ij,ij->i", step, step), 1e-12)
        free = np.einsum("ij,ij->i", place - a, step) / square
        share = np.clip(free, 0.0, 1.0)
        off = np.hypot(*(a + share[:, None] * step - place).T)
        best = int(np.argmin(off))
        past = abs(free[best] - share[best]) * np.sqrt(square[best])
        at_end = not self.closed and ((best == 0 and free[0] < 0.0) or (best == len(a) - 1 and free[-1] > 1.0))
        if off[best] > NEAR_MM or (at_end and past > _END_MM):
            return None
        return float(self.along[best] + share[best] * np.sqrt(square[best]))

    def between(self, a: float, b: float) -> list[Point]:
        """Points from one place to a later one, past the seam of a closed way if need be."""
        whole = self.along[-1]
        if self.closed and b < a:
            return [*self.between(a, whole), *self.between(0.0, b)[1:]]
        inner = self.along[(self.along > a + 1e-9) & (self.along < b - 1e-9)]
        at = np.concatenate([[a], inner, [b]])
        x, y = (np.interp(at, self.along, axis) for axis in self.points.T)
        return list(zip(x.tolist(), y.tolist(), strict=True))
