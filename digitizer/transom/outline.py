"""
The transom's outline as edges through its marks, and the offsets read off it.

Everything happens in the face, rolled flat where it is bowed: x is girth from the centreline, y height above the
keel point. Straight between neighbouring marks; the top edge, which is crowned, is a smooth curve through its marks
(a cubic spline that repeats a parabola exactly; by least squares where marks lie close together).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number, dot
from digitizer.geometry.polygons import order_round_centroid
from digitizer.job.model import MarkKind
from digitizer.transom.system import Place

BOTTOM, SIDE, TOP = "bottom edge", "side", "top edge"
SAME_PLACE_MM = 20.0
"""Marks of one kind in different photos that lie nearer than this are taken for the same place, and averaged."""
WIDEST_PIECE = 0.6
"""Part of the width beyond which two neighbouring marks are not joined: an edge was left unmarked between them."""
_BOTTOM_KINDS = (MarkKind.KEEL, MarkKind.BOTTOM_EDGE, MarkKind.CHINE_INNER, MarkKind.CHINE)
_TOP_KINDS = (MarkKind.TOP_EDGE, MarkKind.TOP_CORNER)
KNOTS_APART = 1.0 / 16.0
"""Knots of the top edge's curve lie at least this part of its width from each other."""
_STEP_MM = 20.0
"""Distance between the points of a drawn curve."""

Crossing = tuple[Number, tuple[str, ...]]
"""Where an edge crosses a level, and the ids of what that was made from."""


@dataclass(frozen=True)
class OutlineMark:
    """A mark on the boundary, or the mean of several of one place."""

    ids: tuple[str, ...]
    kind: MarkKind
    place: Place
    photos: frozenset[str]

    @cached_property
    def xy(self) -> tuple[float, float]:
        """Where it lies, mm."""
        return float(self.place.x), float(self.place.y)


@dataclass(frozen=True)
class Edge:
    """A part of the outline, in order round it with the boat's inside on the left."""

    name: str
    marks: tuple[OutlineMark, ...]
    smooth: bool = False
    """A curve over x instead of straight pieces; x then falls strictly from mark to mark."""

    @cached_property
    def places(self) -> FloatArray:
        """Its marks (n, 2), mm."""
        return np.array([mark.xy for mark in self.marks])

    def drawn(self) -> FloatArray:
        """Points (n, 2) to draw it through, mm."""
        if not self.smooth:
            return self.places
        pieces = [self._between(a, b) for a, b in pairwise(self.places[:, 0])]
        x = np.concatenate([*pieces, self.places[-1:, 0]])
        curve = np.column_stack([x, spline_rows(self.places[:, 0], x) @ self.places[:, 1]])
        curve[[0, -1]] = self.places[[0, -1]]  # to the last bit, so that edges meet
        return curve

    def heights_at(self, x: float) -> list[Crossing]:
        """Where the edge crosses the upright line at `x`: height, and what it was made from."""
        if self.smooth:
            return [self._height_of_curve(x)] if self.places[-1, 0] <= x <= self.places[0, 0] else []
        return _crossings([(mark.place.x, mark.place.y, mark.ids) for mark in self.marks], x)

    def breadths_at(self, y: float) -> list[Crossing]:
        """Where the edge crosses the level line at `y`: distance from the centreline, and what it was made from."""
        return _crossings([(mark.place.y, mark.place.x, mark.ids) for mark in self.marks], y)

    def _between(self, a: float, b: float) -> FloatArray:
        return np.linspace(a, b, max(2, math.ceil(abs(a - b) / _STEP_MM) + 1))[:-1]

    @cached_property
    def _referred(self) -> list[Number]:
        """Heights of the marks, whose errors along x count through the slope, as in `edges.fitted_polynomial`."""
        slopes = spline_rows(self.places[:, 0], self.places[:, 0], derivative=1) @ self.places[:, 1]
        return [
            mark.place.y - (mark.place.x - float(mark.place.x)) * slope
            for mark, slope in zip(self.marks, slopes.tolist(), strict=True)
        ]

    def _height_of_curve(self, x: float) -> Crossing:
        row = spline_rows(self.places[:, 0], np.array([x]))[0]
        return dot(row.tolist(), self._referred), tuple(i for mark in self.marks for i in mark.ids)


def edges(marks: Sequence[OutlineMark]) -> list[Edge]:
    """
    The outline as edges in order round it: bottom, sides, top, each as far as it was marked.

    Marks of one place in several photos are averaged first. The last point of an edge is the first of the next, unless
    the outline is open there; where it is open, the edges begin behind the gap.
    """
    if len(marks) < 2:
        return []
    ring = in_order(averaged(marks))
    names = _piece_names(ring)
    changes = [i for i in range(len(ring)) if names[i] != names[i - 1]]
    start = next((i for i in changes if not names[i - 1]), changes[0] if changes else 0)
    found: list[Edge] = []
    run: list[OutlineMark] = []
    for i in (*range(start, len(ring)), *range(start)):
        following = ring[(i + 1) % len(ring)]
        run = run or [ring[i]]
        run.append(following)
        last = (i + 1) % len(ring) == start
        if last or names[(i + 1) % len(ring)] != names[i]:
            if names[i]:
                found.append(_edge(names[i], tuple(run)))
            run = []
    return found


def averaged(marks: Sequence[OutlineMark]) -> list[OutlineMark]:
    """Marks with those of one place in several photos drawn together to their mean."""
    groups: list[list[OutlineMark]] = []
    of_kind: dict[MarkKind, list[list[OutlineMark]]] = defaultdict(list)
    for mark in marks:
        group = next((g for g in of_kind[mark.kind] if _is_same_place(mark, g)), None)
        if group is None:
            groups.append([mark])
            of_kind[mark.kind].append(groups[-1])
        else:
            group.append(mark)
    return [_mean(group) for group in groups]


def is_closed(found: Sequence[Edge]) -> bool:
    """Whether the edges go all the way round."""
    return bool(found) and all(a.marks[-1] == b.marks[0] for a, b in zip(found, [*found[1:], found[0]], strict=True))


def _is_same_place(mark: OutlineMark, group: Sequence[OutlineMark]) -> bool:
    apart = math.dist(mark.xy, group[0].xy)
    return apart < SAME_PLACE_MM and not any(mark.photos & other.photos for other in group)


def _mean(group: Sequence[OutlineMark]) -> OutlineMark:
    if len(group) == 1:
        return group[0]
    share = [1.0 / len(group)] * len(group)
    place = Place(dot(share, [m.place.x for m in group]), dot(share, [m.place.y for m in group]))
    photos = frozenset().union(*(m.photos for m in group))
    return OutlineMark(tuple(i for m in group for i in m.ids), group[0].kind, place, photos)


def in_order(marks: Sequence[OutlineMark]) -> list[OutlineMark]:
    """
    Marks in order round the outline, anticlockwise.

    Bottom and top marks follow each other by their distance from the centreline; each mark that says of itself only
    that it lies on the outline goes where it lengthens the way least.
    """
    by_direction = [marks[i] for i in order_round_centroid(np.array([mark.xy for mark in marks]))]
    bottom = sorted((m for m in by_direction if m.kind in _BOTTOM_KINDS), key=lambda m: m.xy[0])
    top = sorted((m for m in by_direction if m.kind in _TOP_KINDS), key=lambda m: -m.xy[0])
    ring = [*bottom, *top]
    if len(ring) < 2:
        return by_direction
    for mark in by_direction:
        if mark.kind not in (*_BOTTOM_KINDS, *_TOP_KINDS):
            ring.insert(_best_place(ring, mark) + 1, mark)
    return ring


def _best_place(ring: Sequence[OutlineMark], mark: OutlineMark) -> int:
    """Index of the mark after which another lengthens the way round least."""
    there = [math.dist(each.xy, mark.xy) for each in ring]
    ways = [there[i - 1] + there[i] - math.dist(ring[i - 1].xy, ring[i].xy) for i in range(len(ring))]
    return (ways.index(min(ways)) - 1) % len(ring)


def _piece_names(ring: Sequence[OutlineMark]) -> list[str]:
    """What each piece from a mark to the next belongs to; empty where they are not joined."""
    across = [mark.xy[0] for mark in ring]
    widest = WIDEST_PIECE * (max(across) - min(across))
    tops = [i for i, mark in enumerate(ring) if mark.kind in _TOP_KINDS]
    names = []
    for i, (a, b) in enumerate(zip(ring, [*ring[1:], ring[0]], strict=True)):
        if math.dist(a.xy, b.xy) > widest:
            names.append("")
        elif a.kind in _BOTTOM_KINDS and b.kind in _BOTTOM_KINDS:
            names.append(BOTTOM)
        else:
            names.append(TOP if tops and tops[0] <= i < tops[-1] else SIDE)
    return names


def _edge(name: str, marks: tuple[OutlineMark, ...]) -> Edge:
    across = [mark.xy[0] for mark in marks]
    falls = all(a - b > 1.0 for a, b in pairwise(across))
    return Edge(name, marks, smooth=name == TOP and len(marks) >= 3 and falls)


def spline_rows(at: FloatArray, x: FloatArray, derivative: int = 0) -> FloatArray:
    """
    Weights (len(x), len(at)) that turn heights at `at` into those, or the slopes, of a cubic spline at `x`.

    The spline goes through both ends. Its knots keep apart, so that marks close together can't throw it up and down
    between others: it goes through the other marks too while they keep apart, and else by least squares. It has no knot
    beside its ends, so that it repeats a parabola. In truncated powers (de Boor, A Practical Guide to Splines, 1978,
    ch. VIII, from memory) about the middle, in units of the half width, less the straight line between their ends.
    """
    middle, half = (at.max() + at.min()) / 2.0, (at.max() - at.min()) / 2.0
    knots, count = _knots(np.sort(at - middle) / half)
    places, wanted = (at - middle) / half, (x - middle) / half
    ends = np.zeros((2, len(at)))
    ends[0, np.argmin(at)] = ends[1, np.argmax(at)] = 1.0
    inside = np.linalg.pinv(_bent(places, knots, count, 0)) @ (np.eye(len(at)) - _straight(places, 0) @ ends)
    rows = _straight(wanted, derivative) @ ends + _bent(wanted, knots, count, derivative) @ inside
    return np.asarray(rows / half**derivative)


def _knots(places: FloatArray) -> tuple[FloatArray, int]:
    """Knots among rising places from −1 to 1, and how many powers from the second on they leave determined."""
    groups = [[places[0]]]
    for place in places[1:]:
        if place - groups[-1][0] < 2.0 * KNOTS_APART:
            groups[-1].append(place)
        else:
            groups.append([place])
    middles = np.array([np.mean(group) for group in groups])
    return middles[2:-2], min(2, max(0, len(groups) - 2))


def _straight(t: FloatArray, derivative: int) -> FloatArray:
    """Weights (n, 2) of the heights at −1 and 1 on the straight line between them, or on its slope."""
    half = np.full_like(t, 0.5)
    return np.column_stack([-half, half] if derivative else [0.5 - t / 2.0, 0.5 + t / 2.0])


def _bent(t: FloatArray, knots: FloatArray, count: int, derivative: int) -> FloatArray:
    """Second and third power of `t`, and the third of `t` past each knot, that vanish at both ends; or their slopes."""
    powers, past = np.array([2.0, 3.0])[:count], np.maximum(t[:, None] - knots, 0.0)
    high = np.concatenate([np.ones(count), (1.0 - knots) ** 3])
    low = np.concatenate([(-1.0) ** powers, np.zeros(len(knots))])
    if derivative:
        return np.asarray(np.hstack([powers * t[:, None] ** (powers - 1.0), 3.0 * past**2]) - (high - low) / 2.0)
    return np.asarray(np.hstack([t[:, None] ** powers, past**3]) - _straight(t, 0) @ np.vstack([low, high]))


def _crossings(points: Sequence[tuple[Number, Number, tuple[str, ...]]], level: float) -> list[Crossing]:
    """Second coordinate where the pieces between points cross a level of the first."""
    found: list[Crossing] = []
    for (a, p, names), (b, q, others) in pairwise(points):
        low, high = sorted((float(a), float(b)))
        if low <= level <= high and low < high:
            found.append((p + (q - p) * ((level - a) / (b - a)), (*names, *others)))
    return found
