"""
The planned mounting flange laid on the face: its form, its holes, and how far it stands clear of what is there.

The flange is a drawing, so its own coordinates are plain numbers; what it is laid on carries its sensitivities. On a
bowed face everything is in the face rolled flat.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString, Polygon, points
from shapely import Point as At

from digitizer.adjustment.propagation import Number
from digitizer.transom.fittings import Rim, clearance
from digitizer.transom.system import Place

Point = tuple[float, float]
SHARP = 1e-6
"""A corner with a smaller radius is sharp, mm."""
ROUND_STEPS = 8
"""Pieces of a quarter circle in searches."""
ARC_STEPS = 24
"""Pieces of a corner's arc: 25 mm are then true to 0.02 mm."""


@dataclass(frozen=True)
class FlangeForm:
    """A flange in the face, mm: upright sides, a level top, and a lower edge that is level or a V."""

    middle: float
    """From the centreline."""
    half: float
    """Half its width."""
    bottom: float
    """Height of its lower edge in its middle above the keel point."""
    rise: float
    """Of its lower edge, per mm outboard: the tangent of its deadrise."""
    top: float
    top_radius: float = 0.0
    bottom_radius: float = 0.0

    def moved(self, across: float, up: float) -> FlangeForm:
        """The same elsewhere."""
        return replace(self, middle=self.middle + across, bottom=self.bottom + up, top=self.top + up)

    def lower_edge(self, x: float) -> float:
        """Height of its lower edge at a distance from the centreline, its corners taken as sharp."""
        return self.bottom + self.rise * abs(x - self.middle)

    @property
    def side_bottom(self) -> float:
        """Height of its lower corners, taken as sharp."""
        return self.bottom + self.rise * self.half

    @property
    def has_room(self) -> bool:
        """Whether its sides are long enough for its corners."""
        angle = math.atan(self.rise)
        lower = self.bottom_radius / math.tan((math.pi / 2.0 + angle) / 2.0)
        along = self.half / math.cos(angle)
        return (
            self.top - self.side_bottom >= self.top_radius + lower and self.half >= self.top_radius and along >= lower
        )

    @property
    def width(self) -> float:
        """Across, mm."""
        return 2.0 * self.half

    @property
    def height(self) -> float:
        """In its middle, mm."""
        return self.top - self.bottom

    @property
    def area(self) -> float:
        """Its area, mm²."""
        return float(self.polygon().area)

    def corners(self) -> list[tuple[Point, float]]:
        """Sharp corners with their radii, anticlockwise from the lower port one."""
        left, right = self.middle - self.half, self.middle + self.half
        return [
            ((left, self.side_bottom), self.bottom_radius),
            ((self.middle, self.bottom), 0.0),
            ((right, self.side_bottom), self.bottom_radius),
            ((right, self.top), self.top_radius),
            ((left, self.top), self.top_radius),
        ]

    def outline(self, steps: int = ARC_STEPS) -> list[Point]:
        """Its edge anticlockwise, each rounded corner in so many pieces; not closed."""
        return [point for arc in self._arcs() for point in arc.points(steps)]

    def polygon(self) -> Polygon:
        """For searches; exact distances come from `parts`."""
        return Polygon(self.outline())

    def margin_line(self, margin: float) -> list[Point]:
        """The line all round it at a distance, for drawings; not closed."""
        return [(x, y) for x, y in self.polygon().buffer(margin).exterior.coords[:-1]]

    def parts(self) -> tuple[Rim, ...]:
        """Its exact form: a convex polygon through the ends of its arcs, and the discs of its rounded corners."""
        arcs = self._arcs()
        ring: list[Point] = []
        for arc in arcs:
            ring += [arc.start, arc.end] if arc.radius else [arc.centre]
        body = Rim(Place(self.middle, (self.bottom + self.top) / 2.0), 0.0, tuple(Place(*p) for p in ring))
        return (body, *(Rim(Place(*arc.centre), arc.radius) for arc in arcs if arc.radius))

    def _arcs(self) -> list[_Arc]:
        corners = self.corners()
        turns = zip([corners[-1], *corners[:-1]], corners, [*corners[1:], corners[0]], strict=True)
        return [_Arc.between(before, corner, after, radius) for (before, _), (corner, radius), (after, _) in turns]


@dataclass(frozen=True)
class _Arc:
    """A rounded corner; a sharp one has no radius and its own place as centre."""

    centre: Point
    radius: float
    start: Point
    end: Point

    @staticmethod
    def between(before: Point, corner: Point, after: Point, radius: float) -> _Arc:
        """The arc that rounds a corner of an anticlockwise ring."""
        back, on = _towards(corner, before), _towards(corner, after)
        inside = math.acos(max(-1.0, min(1.0, back[0] * on[0] + back[1] * on[1])))
        if radius < SHARP or inside > math.pi - 1e-9:
            return _Arc(corner, 0.0, corner, corner)
        tangent = radius / math.tan(inside / 2.0)
        start, end = _along(corner, back, tangent), _along(corner, on, tangent)
        middle = _towards(corner, ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0))
        return _Arc(_along(corner, middle, radius / math.sin(inside / 2.0)), radius, start, end)

    def points(self, steps: int) -> list[Point]:
        """The arc in short pieces."""
        if self.radius == 0.0:
            return [self.centre]
        first, last = (math.atan2(p[1] - self.centre[1], p[0] - self.centre[0]) for p in (self.start, self.end))
        turn = (last - first) % (2.0 * math.pi)
        turns = (first + turn * i / steps for i in range(steps + 1))
        return [(self.centre[0] + self.radius * math.cos(t), self.centre[1] + self.radius * math.sin(t)) for t in turns]


def _towards(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _along(start: Point, direction: Point, length: float) -> Point:
    return start[0] + direction[0] * length, start[1] + direction[1] * length


def flange_clearance(form: FlangeForm, rim: Rim) -> Number:
    """
    Clear distance from the flange's edge to a rim outside it, mm; negative by how far the rim reaches in.

    The nearest part is found on the values; the distance from it carries the rim's sensitivities.
    """
    parts = form.parts()
    bare = plain(rim)
    nearest = min(parts, key=lambda part: float(clearance(part, bare)))
    return clearance(nearest, rim)


def plain(rim: Rim) -> Rim:
    """The rim without its sensitivities."""
    at = [Place(float(p.x), float(p.y)) for p in (rim.centre, *rim.corners)]
    return Rim(at[0], float(rim.radius), tuple(at[1:]))


def rim_polygon(rim: Rim, grown: float = 0.0) -> Polygon:
    """A rim as a polygon, grown all round; drawn about its circles, never smaller than they are."""
    bare = plain(rim)
    about = 1.0 / math.cos(math.pi / (4.0 * ROUND_STEPS))
    if bare.corners:
        return Polygon([(p.x, p.y) for p in bare.corners]).buffer(about * grown, quad_segs=ROUND_STEPS)
    radius = max(about * (float(bare.radius) + grown), 1e-6)
    return At(bare.centre.x, bare.centre.y).buffer(radius, quad_segs=ROUND_STEPS)


def is_wholly_under(form: FlangeForm, rim: Rim) -> bool:
    """Whether the flange covers the whole rim."""
    return bool(form.polygon().contains(rim_polygon(rim)))


Edge = tuple[Place, Place]
"""A piece of an edge on the boat, from mark to mark."""


def distance_to_edge(form: FlangeForm, edges: Sequence[Edge]) -> Number:
    """
    Least distance between the flange and a line of edges, mm; negative where they cross, by how far.

    Raises
    ------
    ValueError
        Without any edge.
    """
    parts = form.parts()
    pairs = [(part, Rim(a, 0.0, (a, b))) for a, b in edges for part in parts]
    part, edge = min(pairs, key=lambda pair: float(clearance(pair[0], plain(pair[1]))))
    return clearance(part, edge)


def bolt_places(form: FlangeForm, rows: int, spacing: float, edge: float) -> list[Point]:
    """
    Middles of the holes, lowest row first, each from port to starboard.

    The lowest row follows the lower edge and the highest the top, each `edge` away from it, square to it; the others
    lie evenly between. A row holds as many holes as keep `edge` to the sides, `spacing` apart, about the middle.
    """
    room = form.half - edge
    count = math.floor(2.0 * room / spacing + 1e-9) + 1 if room >= 0.0 else 0
    low = edge * math.hypot(1.0, form.rise)
    places = []
    for row in range(rows):
        share = row / (rows - 1) if rows > 1 else 0.5
        for i in range(count):
            x = form.middle + (i - (count - 1) / 2.0) * spacing
            lowest, highest = form.lower_edge(x) + low, form.top - edge
            places.append((x, lowest + share * (highest - lowest)))
    return places


def nearest_to_edge(form: FlangeForm, bolts: Sequence[Point]) -> float:
    """How near the middle of a hole comes to the flange's edge, its rounded corners included, mm."""
    ring = LineString([*form.outline(), form.outline()[0]])
    return float(np.min(ring.distance(points(np.asarray(bolts)))))


def stations(form: FlangeForm) -> Iterator[float]:
    """Distances from the centreline at which the gap under the flange is told: its sides, quarters and middle."""
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        yield form.middle + share * form.half
