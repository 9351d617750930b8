"""The marked edges of the transom as lines that carry their sensitivities, and the face within them; rolled flat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from digitizer.adjustment.propagation import Number
from digitizer.geometry.polygons import order_round_centroid
from digitizer.job.model import MarkKind, Side
from digitizer.survey.dimensions import BOUNDARY, Transom
from digitizer.transom.edges import fitted_polynomial, polynomial_at
from digitizer.transom.flange import Edge
from digitizer.transom.regions import Region, region
from digitizer.transom.system import Place

BOTTOM = (MarkKind.KEEL, MarkKind.BOTTOM_EDGE, MarkKind.CHINE_INNER, MarkKind.CHINE)
WIDEST_PIECE = 0.6
"""Part of the width beyond which two neighbouring marks of the outline are not joined."""


@dataclass(frozen=True)
class HullEdges:
    """Edges of one transom."""

    transom: Transom

    @cached_property
    def bottom(self) -> tuple[Edge, ...]:
        """The bottom edge from mark to mark, from port to starboard."""
        t = self.transom
        marks = sorted((t.developed[i] for i, p in t.infos.items() if p.kind in BOTTOM), key=lambda p: float(p.x))
        return tuple(pairwise(marks))

    @cached_property
    def others(self) -> tuple[Edge, ...]:
        """The marked outline without the bottom edge."""
        kinds = {i: self.transom.infos[i].kind for i in self._ring}
        return tuple(
            (self.transom.developed[a], self.transom.developed[b])
            for a, b in self._pieces
            if not (kinds[a] in BOTTOM and kinds[b] in BOTTOM) and not self._is_gap(a, b)
        )

    @cached_property
    def face(self) -> Region | None:
        """The face within the outline; None where it was not marked all round."""
        if len(self._ring) < 4 or any(self._is_gap(a, b) for a, b in self._pieces):
            return None
        return region([self._xy(i) for i in self._ring])

    @cached_property
    def _ring(self) -> list[str]:
        names = [i for i, p in self.transom.infos.items() if p.kind in BOUNDARY]
        if len(names) < 3:
            return names
        return [names[i] for i in order_round_centroid(np.array([self._xy(i) for i in names]))]

    @property
    def _pieces(self) -> list[tuple[str, str]]:
        return list(zip(self._ring, [*self._ring[1:], *self._ring[:1]], strict=True))

    def _xy(self, point: str) -> tuple[float, float]:
        place = self.transom.developed[point]
        return float(place.x), float(place.y)

    def _is_gap(self, a: str, b: str) -> bool:
        """A piece too long to join; between the top corners the straight line is a safe guess under a crown."""
        infos = self.transom.infos
        if infos[a].kind is infos[b].kind is MarkKind.TOP_CORNER:
            return False
        xs = [self._xy(i)[0] for i in self._ring]
        return math.dist(self._xy(a), self._xy(b)) > WIDEST_PIECE * (max(xs) - min(xs))

    def bottom_height(self, x: float) -> Number | None:
        """Height of the bottom edge at a distance from the centreline; None outside the marks."""
        t = self.transom
        if x == 0.0 and t.keel is not None:
            return t.developed[t.keel].y
        side = Side.PORT if x < 0.0 else Side.STARBOARD
        corner = t.bottom_corner(side)
        if corner is not None and abs(x) > abs(float(t.developed[corner].x)):
            return self._flat_height(side, corner, x)
        return self._edge_height(side, corner, x)

    def _flat_height(self, side: Side, inner: str, x: float) -> Number | None:
        """On the chine flat."""
        outer = self.transom.one(MarkKind.CHINE, side)
        if outer is None or outer == inner or abs(x) > abs(float(self.transom.developed[outer].x)):
            return None
        return between(self.transom.developed[inner], self.transom.developed[outer], x)

    def _edge_height(self, side: Side, corner: str | None, x: float) -> Number | None:
        """Inside the chine: on the line (a parabola on a bowed face) fitted to the marks, else on the chord."""
        t = self.transom
        edge = [t.developed[i] for i in t.ids(MarkKind.BOTTOM_EDGE, side)]
        degree = 2 if t.is_bowed else 1
        outermost = max((abs(float(p.x)) for p in edge), default=0.0)
        if len(edge) > degree and (corner is not None or abs(x) <= outermost):
            return polynomial_at(fitted_polynomial(edge, degree), x)
        if corner is None or t.keel is None:
            return None
        return between(t.developed[t.keel], t.developed[corner], x)


def between(a: Place, b: Place, x: float) -> Number:
    """Height at x of the straight line through two places."""
    return a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x)
