"""Regions of the face for searches: inside an outline, about an edge, and what is left of one; mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from shapely import LineString, Point, Polygon

from digitizer.transom.system import Place

Region: TypeAlias = Polygon
LEAST = 1e-3
"""An edge without width is taken as wide as this, mm."""


def region(ring: Sequence[tuple[float, float]]) -> Region | None:
    """The region inside a ring; None where the ring crosses itself or holds nothing."""
    inside = Polygon(ring)
    return inside if inside.is_valid and inside.area > 0.0 else None


def holds(ring: Sequence[tuple[float, float]], point: tuple[float, float]) -> bool:
    """Whether a point lies inside a ring."""
    return bool(Polygon(ring).contains(Point(point)))


def bands(edges: Sequence[tuple[Place, Place]], width: float) -> list[Region]:
    """Everything within a distance of each edge."""
    lines = (LineString([(float(p.x), float(p.y)) for p in edge]) for edge in edges)
    return [line.buffer(max(width, LEAST), quad_segs=4) for line in lines]


def without(whole: Region, taken: Sequence[Region]) -> Region:
    """The largest piece of a region that is left when others are taken away."""
    left: Region = whole
    for each in taken:
        left = left.difference(each)
    pieces: list[Region] = list(getattr(left, "geoms", [left]))
    return max(pieces, key=lambda piece: float(piece.area))
