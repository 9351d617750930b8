"""
Where else a flange would fit: the smallest shift that clears everything, and the largest clear flange.

All forms here are plain numbers. A convex flange that shifts by s touches a convex obstacle exactly when s lies in the
Minkowski sum of the obstacle and the mirrored flange (Lozano-Pérez, "Spatial planning: a configuration space approach",
IEEE Transactions on Computers C-32, 1983), so that the smallest shift is the nearest point outside those sums.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree, box, multipoints, unary_union
from shapely import Point as At
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from digitizer.transom.flange import FlangeForm

FloatArray = NDArray[np.float64]
PIECE = 5.0
"""Length of the pieces in which an obstacle's edge is looked at, mm."""
ROUGHLY = 12
"""Pieces of a corner's arc here."""
SLACK = 0.2
"""Added to what is blocked, mm, so that what is found is clear although arcs are drawn with corners."""


@dataclass(frozen=True)
class Shift:
    """A move of the flange, mm: to starboard and up positive."""

    across: float
    up: float

    @property
    def length(self) -> float:
        """How far it is."""
        return math.hypot(self.across, self.up)


@dataclass(frozen=True)
class Shifts:
    """The smallest moves that clear everything: any way, straight up or down, straight sideways; none within reach."""

    any_way: Shift | None
    up: Shift | None
    across: Shift | None


def smallest_shifts(form: FlangeForm, face: Polygon, obstacles: Sequence[BaseGeometry], reach: float) -> Shifts:
    """
    The smallest shifts that bring the flange clear of convex obstacles and leave its middle on the face, mm.

    Obstacles already hold their margins; no shift is longer than `reach` along an axis.
    """
    blocked = unary_union([_sum(obstacle, form) for obstacle in obstacles])
    allowed = translate(face, -form.middle, -(form.bottom + form.top) / 2.0)
    free = allowed.intersection(box(-reach, -reach, reach, reach)).difference(blocked)
    up, across = (free.intersection(axis) for axis in (_line(0.0, reach), _line(reach, 0.0)))
    return Shifts(_nearest(free), _nearest(up), _nearest(across))


def _line(x: float, y: float) -> LineString:
    return LineString([(-x, -y), (x, y)])


def _sum(obstacle: BaseGeometry, form: FlangeForm) -> BaseGeometry:
    """Shifts at which the flange touches a convex obstacle."""
    ring = np.asarray(form.outline(ROUGHLY))
    corners = np.asarray(obstacle.exterior.coords)
    touching = multipoints((corners[:, None, :] - ring[None, :, :]).reshape(-1, 2)).convex_hull
    return touching.buffer(SLACK, quad_segs=2)


def _nearest(free: BaseGeometry) -> Shift | None:
    if free.is_empty:
        return None
    _, found = nearest_points(At(0.0, 0.0), free)
    return Shift(float(found.x), float(found.y))


class Ground:
    """What a flange must keep to: the face it stays on, and the obstacles it stays clear of, margins included."""

    def __init__(self, face: Polygon, obstacles: Sequence[Polygon], step: float = 10.0) -> None:
        self.face, self.obstacles, self.step, self._tree = face, tuple(obstacles), step, STRtree(list(obstacles))

    def rest(self) -> list[Polygon]:
        """What of the surroundings is not face, above its middle: what a flange runs into at the top."""
        left, low, right, high = self.face.bounds
        beyond = box(left - 1.0, (low + high) / 2.0, right + 1.0, high + 1.0).difference(self.face)
        return [piece for piece in getattr(beyond, "geoms", [beyond]) if isinstance(piece, Polygon)]

    def is_clear(self, form: FlangeForm) -> bool:
        """Whether the flange is on the face and clear of everything."""
        flange = form.polygon()
        return bool(self.face.contains(flange)) and self._tree.query(flange, predicate="intersects").size == 0

    def tallest(self, form: FlangeForm) -> FlangeForm | None:
        """The flange of the same place and width that is highest, in whole steps."""
        most = int(max(0.0, self.face.bounds[3] - form.bottom) // self.step)
        return self._last_clear(lambda n: replace(form, top=form.bottom + n * self.step), most)

    def widest(self, form: FlangeForm) -> FlangeForm | None:
        """The flange of the same place and height that is widest, in whole steps."""
        most = int((self.face.bounds[2] - self.face.bounds[0]) // self.step)
        return self._last_clear(lambda n: replace(form, half=n * self.step / 2.0), most)

    def _last_clear(self, sized: Callable[[int], FlangeForm], most: int) -> FlangeForm | None:
        """The largest clear one of a row of flanges each of which lies within the next; too small ones are none."""
        low = next((n for n in range(1, most + 1) if sized(n).has_room), most + 1)
        if low > most or not self.is_clear(sized(low)):
            return None
        high = most + 1
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.is_clear(sized(middle)) else (low, middle)
        return sized(low)


def largest_flange(form: FlangeForm, ground: Ground) -> FlangeForm | None:
    """
    The clear flange of greatest area that is symmetrical about the centreline, in whole steps of width and height.

    It keeps the radii and the deadrise of `form`, and sits no lower. For each width every obstacle asks that the top
    stays under it or the lower edge above it, corners taken as sharp; the best of these flanges that is really clear,
    corners rounded, is the answer.
    """
    rings = [np.asarray(o.segmentize(PIECE).exterior.coords) for o in (*ground.obstacles, *ground.rest())]
    left, _, right, _ = ground.face.bounds
    found = []
    for n in range(1, int(2.0 * min(-left, right) // ground.step) + 1):
        found += _of_width(replace(form, middle=0.0, half=n * ground.step / 2.0), rings, ground)
    found.sort(key=_sharp_area, reverse=True)
    return next((f for f in found if f.has_room and ground.is_clear(f)), None)


def _of_width(form: FlangeForm, rings: Sequence[FloatArray], ground: Ground) -> list[FlangeForm]:
    """Flanges of one width that have something above them and something below."""
    under, over = [], []
    for ring in rings:
        x, y = ring[np.abs(ring[:, 0]) < form.half].T
        if len(x):
            under.append(float(np.min(y)))
            over.append(float(np.max(y - form.rise * np.abs(x))))
    ceilings, floors = np.array(under), np.array(over)
    forms = []
    for bottom in (form.bottom, *floors[floors > form.bottom].tolist()):
        top = np.min(ceilings[floors > bottom + SLACK], initial=ground.face.bounds[3])
        steps = int((top - SLACK - bottom) // ground.step)
        if steps > 0:
            forms.append(replace(form, bottom=bottom + SLACK, top=bottom + SLACK + steps * ground.step))
    return forms


def _sharp_area(form: FlangeForm) -> float:
    return form.width * (form.height - form.rise * form.half / 2.0)
