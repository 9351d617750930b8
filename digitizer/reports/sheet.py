"""
A flat sheet of lines, discs and texts, and the placing of texts where they cover nothing.

Knows no PDF: positions are points (1/72 in) with y up, and widths of texts come from a function.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""

_OVER_TEXT, _OVER_DISC, _OUTSIDE, _OVER_LINE = 100.0, 30.0, 60.0, 1.0


@dataclass(frozen=True)
class Stroke:
    """A line through points; closed and filled if asked. A halo is a wider white line under it."""

    points: tuple[Point, ...]
    width: float = 0.5
    dash: tuple[float, ...] = ()
    closed: bool = False
    fill: float | None = None
    """Grey of the filling, 0 black to 1 white."""
    grey: float = 0.0
    halo: float = 0.0


@dataclass(frozen=True)
class Disc:
    """A circle."""

    x: float
    y: float
    radius: float
    width: float = 0.5
    fill: float | None = None
    halo: float = 0.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Label:
    """A text centred on a point, turned anticlockwise by `angle` degrees."""

    text: str
    x: float
    y: float
    size: float = 7.5
    angle: float = 0.0
    bold: bool = False
    plate: bool = False
    """Whether a white rectangle lies under it."""


@dataclass(frozen=True)
class Place:
    """Somewhere a text may stand."""

    x: float
    y: float
    angle: float = 0.0


@dataclass
class Sheet:
    """What has been drawn so far. Grows as it is drawn on, so that each text can avoid what is there."""

    width: float
    height: float
    text_width: Callable[[str, float, bool], float]
    items: list[Stroke | Disc | Label] = field(default_factory=list)
    _boxes: list[tuple[float, ...]] = field(default_factory=list)
    """Left, bottom, right, top and penalty of all texts and discs."""
    _lines: list[tuple[float, ...]] = field(default_factory=list)
    """Ends of all pieces of line."""

    def draw(self, *items: Stroke | Disc | Label) -> None:
        """Add finished items."""
        for item in items:
            self.items.append(item)
            if isinstance(item, Label):
                self._boxes.append((*self.box(item), _OVER_TEXT))
            elif isinstance(item, Disc):
                self._boxes.append((*disc_box(item), _OVER_DISC))
            else:
                ends = item.points[1:] + item.points[:1] if item.closed else item.points[1:]
                self._lines += [(*a, *b) for a, b in zip(item.points, ends, strict=False)]

    def write(self, text: str, places: Iterable[Place], size: float = 7.5, bold: bool = False) -> Label:
        """Add a text at the best of `places`, which are given in order of preference."""
        labels = [Label(text, p.x, p.y, size, p.angle, bold, plate=True) for p in places]
        best = labels[self.best([self.box(label) for label in labels])]
        self.draw(best)
        return best

    def best(self, boxes: Sequence[Box]) -> int:
        """Which of the rectangles covers least; the earlier where two cover alike."""
        solid, lines = np.array(self._boxes).reshape(-1, 5), np.array(self._lines).reshape(-1, 4)
        penalties = [self._penalty(box, solid, lines) + 0.3 * rank for rank, box in enumerate(boxes)]
        return int(np.argmin(penalties))

    def is_free(self, box: Box) -> bool:
        """Whether a rectangle lies on the sheet and covers nothing."""
        solid, lines = np.array(self._boxes).reshape(-1, 5), np.array(self._lines).reshape(-1, 4)
        return self._penalty(box, solid, lines) == 0.0

    def box(self, label: Label) -> Box:
        """Rectangle that a label covers, with a little air."""
        long = self.text_width(label.text, label.size, label.bold) / 2 + 1.0
        high = label.size / 2 + 0.5
        cos, sin = abs(math.cos(math.radians(label.angle))), abs(math.sin(math.radians(label.angle)))
        x, y = long * cos + high * sin, long * sin + high * cos
        return label.x - x, label.y - y, label.x + x, label.y + y

    def _penalty(self, box: Box, solid: NDArray[np.float64], lines: NDArray[np.float64]) -> float:
        outside = box[0] < 0 or box[1] < 0 or box[2] > self.width or box[3] > self.height
        covered = (solid[:, 0] < box[2]) & (box[0] < solid[:, 2]) & (solid[:, 1] < box[3]) & (box[1] < solid[:, 3])
        crossed = crossing(box, lines[:, :2], lines[:, 2:])
        return _OUTSIDE * outside + float(solid[covered, 4].sum()) + _OVER_LINE * int(crossed.sum())


def disc_box(disc: Disc, air: float = 0.0) -> Box:
    """Rectangle round a disc."""
    r = disc.radius + air
    return disc.x - r, disc.y - r, disc.x + r, disc.y + r


def crossing(box: Box, start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.bool_]:
    """
    Which pieces of line enter a rectangle (clipping after Liang and Barsky, 1984).

    Parameters
    ----------
    start, end : (n, 2)
        Their ends.

    Returns
    -------
    (n,) bool
    """
    low, high = np.array(box[:2]), np.array(box[2:])
    run = end - start
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (low - start) / run, (high - start) / run
    # A piece along an axis gives ±inf when it runs inside the slab of that axis, and nan on the very edge.
    enter = np.nan_to_num(np.minimum(first, second), nan=np.inf, posinf=np.inf, neginf=-np.inf).max(axis=1)
    leave = np.nan_to_num(np.maximum(first, second), nan=-np.inf, posinf=np.inf, neginf=-np.inf).min(axis=1)
    return np.asarray(np.maximum(enter, 0.0) < np.minimum(leave, 1.0))


def arrow(tip: Point, angle: float, size: float = 5.0) -> Stroke:
    """A filled head pointing along `angle`, in radians."""
    corners = [
        (tip[0] - size * math.cos(angle + turn), tip[1] - size * math.sin(angle + turn)) for turn in (0.17, -0.17)
    ]
    return Stroke((tip, *corners), width=0.1, closed=True, fill=0.0)


def dimension_line(a: Point, b: Point) -> tuple[Stroke, ...]:
    """A thin line with a head at each end; heads of a short one point inwards from outside."""
    angle = math.atan2(b[1] - a[1], b[0] - a[0])
    if math.dist(a, b) >= 14.0:
        return Stroke((a, b), 0.35), arrow(a, angle + math.pi), arrow(b, angle)
    tail = (10.0 * math.cos(angle), 10.0 * math.sin(angle))
    ends = ((a[0] - tail[0], a[1] - tail[1]), (b[0] + tail[0], b[1] + tail[1]))
    return Stroke(ends, 0.35), arrow(a, angle), arrow(b, angle + math.pi)


def along(a: Point, b: Point, aside: float, shares: Sequence[float] = (0.5, 0.35, 0.65, 0.2, 0.8)) -> list[Place]:
    """Places for a text along the line from `a` to `b`, on its left, then on its right, reading along it."""
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    length = math.dist(a, b) or 1.0
    normal = (-(b[1] - a[1]) / length, (b[0] - a[0]) / length)
    return [
        Place(a[0] + t * (b[0] - a[0]) + s * normal[0], a[1] + t * (b[1] - a[1]) + s * normal[1], angle)
        for s in (aside, -aside)
        for t in shares
    ]
