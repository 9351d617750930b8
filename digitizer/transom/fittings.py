"""Fittings on the face: rims, rectangles, and the clear distance between them."""

from __future__ import annotations

import math
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
        if float(apart) <= 0.0:
            return apart
        return _nearest([*_to_edges(a.corners, b.corners), *_to_edges(b.corners, a.corners)])
    polygon, circle = (a, b) if a.corners else (b, a)
    apart = _separation(polygon.corners, (circle.centre,))
    if float(apart) > 0.0:
        apart = _nearest(_to_edges(polygon.corners, (circle.centre,)))
    return apart - circle.radius


def clear_at_least(a: Rim, b: Rim) -> float:
    """A length that the clear distance is never below: that between circles round both, mm."""
    return math.dist(_xy(a.centre), _xy(b.centre)) - _reach(a) - _reach(b)


def _reach(rim: Rim) -> float:
    centre = _xy(rim.centre)
    return max((math.dist(_xy(p), centre) for p in rim.corners), default=float(rim.radius))


def bare(rim: Rim) -> Rim:
    """The same rim without sensitivities, to look at before working anything out."""
    return Rim(Place(*_xy(rim.centre)), float(rim.radius), tuple(Place(*_xy(p)) for p in rim.corners))


def _xy(p: Place) -> tuple[float, float]:
    return float(p.x), float(p.y)


Apart = tuple[Place, Place, Place]
"""A point and the two ends of a side."""


def _sides(polygon: Sequence[Place]) -> list[tuple[Place, Place]]:
    sides = zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    return [(a, b) for a, b in sides if _xy(a) != _xy(b)]


def _separation(polygon: Sequence[Place], points: Sequence[Place]) -> Number:
    """How far the points lie beyond the side that keeps them out best; negative when no side does."""
    beyond = [min(((p, *side) for p in points), key=_outside) for side in _sides(polygon)]
    return -_inside(*max(beyond, key=_outside))


def _outside(apart: Apart) -> float:
    """How far a point lies to the right of a line, mm."""
    (px, py), (ax, ay), (bx, by) = map(_xy, apart)
    return ((by - ay) * (px - ax) - (bx - ax) * (py - ay)) / math.hypot(bx - ax, by - ay)


def _inside(p: Place, start: Place, end: Place) -> Number:
    """Distance of a point to the left of a line."""
    ex, ey = end.x - start.x, end.y - start.y
    return (ex * (p.y - start.y) - ey * (p.x - start.x)) / hypot(ex, ey)


def _to_edges(polygon: Sequence[Place], points: Sequence[Place]) -> list[Apart]:
    return [(p, *side) for p in points for side in _sides(polygon)]


def _nearest(pairs: Sequence[Apart]) -> Number:
    """Shortest of the distances from points to sides."""
    return _to_segment(*min(pairs, key=_gap))


def _gap(apart: Apart) -> float:
    """Distance from a point to a segment, mm."""
    (px, py), (ax, ay), (bx, by) = map(_xy, apart)
    ex, ey = bx - ax, by - ay
    along = min(1.0, max(0.0, ((px - ax) * ex + (py - ay) * ey) / (ex * ex + ey * ey)))
    return math.hypot(px - ax - along * ex, py - ay - along * ey)


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
