"""Fittings on the face: rims, rectangles, and the clear distance between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from digitizer.adjustment.propagation import Number, hypot
from digitizer.transom.system import Place


class Rim(NamedTuple):
    """A fitting's rim in the face: a circle, or a polygon of corners in order round it; a bare point has radius 0."""

    centre: Place
    radius: Number
    corners: tuple[Place, ...] = ()


def clearance(a: Rim, b: Rim) -> Number:
    """
    Clear distance between two rims, mm; negative when circles overlap.

    The nearest features are found on the values and the distance between those carries the sensitivities.
    """
    if not a.corners and not b.corners:
        return hypot(b.centre.x - a.centre.x, b.centre.y - a.centre.y) - a.radius - b.radius
    if a.corners and b.corners:
        return min((*_to_edges(a.corners, b.corners), *_to_edges(b.corners, a.corners)), key=float)
    polygon, circle = (a, b) if a.corners else (b, a)
    return min(_to_edges(polygon.corners, (circle.centre,)), key=float) - circle.radius


def _to_edges(polygon: Sequence[Place], points: Sequence[Place]) -> list[Number]:
    edges = list(zip(polygon, [*polygon[1:], polygon[0]], strict=True))
    return [_to_segment(p, start, end) for p in points for start, end in edges]


def _to_segment(p: Place, start: Place, end: Place) -> Number:
    """Distance from a point to a segment."""
    ex, ey = end.x - start.x, end.y - start.y
    px, py = p.x - start.x, p.y - start.y
    square = float(ex) ** 2 + float(ey) ** 2
    along = (float(px) * float(ex) + float(py) * float(ey)) / square if square > 0.0 else 0.0
    if along <= 0.0:
        return hypot(px, py)
    if along >= 1.0:
        return hypot(p.x - end.x, p.y - end.y)
    cross = (ex * py - ey * px) / hypot(ex, ey)
    return cross if float(cross) >= 0.0 else -cross
