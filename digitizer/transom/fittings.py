"""Fittings on the face: rims, rectangles, and the clear distance between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from digitizer.adjustment.propagation import Number, hypot
from digitizer.transom.system import Place


class Rim(NamedTuple):
    """A fitting's rim in the face: a circle, or a convex polygon, corners anticlockwise; a bare point has radius 0."""

    centre: Place
    radius: Number
    corners: tuple[Place, ...] = ()


def clearance(a: Rim, b: Rim) -> Number:
    """
    Clear distance between two rims, mm; where they overlap, negative by how far one reaches into the other.

    The nearest features are found on the values and the distance between those carries the sensitivities.
    """
    if not a.corners and not b.corners:
        return hypot(b.centre.x - a.centre.x, b.centre.y - a.centre.y) - a.radius - b.radius
    if a.corners and b.corners:
        apart = max(_separation(a.corners, b.corners), _separation(b.corners, a.corners), key=float)
        nearest = min((*_to_edges(a.corners, b.corners), *_to_edges(b.corners, a.corners)), key=float)
        return nearest if float(apart) > 0.0 else apart
    polygon, circle = (a, b) if a.corners else (b, a)
    apart = _separation(polygon.corners, (circle.centre,))
    nearest = min(_to_edges(polygon.corners, (circle.centre,)), key=float)
    return (nearest if float(apart) > 0.0 else apart) - circle.radius


def _sides(polygon: Sequence[Place]) -> list[tuple[Place, Place]]:
    sides = zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    return [(a, b) for a, b in sides if (float(a.x), float(a.y)) != (float(b.x), float(b.y))]


def _separation(polygon: Sequence[Place], points: Sequence[Place]) -> Number:
    """How far the points lie beyond the side that keeps them out best; negative when no side does."""
    return max((min((-_inside(p, *side) for p in points), key=float) for side in _sides(polygon)), key=float)


def _inside(p: Place, start: Place, end: Place) -> Number:
    """Distance of a point to the left of a line."""
    ex, ey = end.x - start.x, end.y - start.y
    return (ex * (p.y - start.y) - ey * (p.x - start.x)) / hypot(ex, ey)


def _to_edges(polygon: Sequence[Place], points: Sequence[Place]) -> list[Number]:
    return [_to_segment(p, *side) for p in points for side in _sides(polygon)]


def _to_segment(p: Place, start: Place, end: Place) -> Number:
    """Distance from a point to a segment."""
    ex, ey = end.x - start.x, end.y - start.y
    px, py = p.x - start.x, p.y - start.y
    square = float(ex) ** 2 + float(ey) ** 2
    along = (float(px) * float(ex) + float(py) * float(ey)) / square
    if along <= 0.0:
        return hypot(px, py)
    if along >= 1.0:
        return hypot(p.x - end.x, p.y - end.y)
    inside = _inside(p, start, end)
    return inside if float(inside) >= 0.0 else -inside
