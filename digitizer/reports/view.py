"""How much of the transom is drawn, at what scale, and where its millimetres fall on a sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from digitizer.reports.sheet import Point
from digitizer.survey.model import Survey

SCALES = (1, 2, 4, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 200, 500, 1000)
POINTS_PER_MM = 72.0 / 25.4
_WIDEST_PIECE = 0.6
"""Part of the width beyond which two neighbouring marks of the outline are not joined."""

Extent = tuple[float, float, float, float]


@dataclass(frozen=True)
class View:
    """Where millimetres of the transom fall on the sheet."""

    scale: int
    origin: Point
    """The keel point on the sheet, points."""

    def at(self, x: float, y: float) -> Point:
        """The place on the sheet of a point of the face, mm."""
        return self.origin[0] + self.length(x), self.origin[1] + self.length(y)

    def length(self, mm: float) -> float:
        """A length on the boat in points on the sheet."""
        return mm * POINTS_PER_MM / self.scale


def extent(survey: Survey) -> Extent:
    """Left, bottom, right and top of everything measured, mm."""
    places = [
        (0.0, 0.0),
        *survey.outline,
        *((p.x, p.y) for p in survey.points if p.kind not in ("plumb_line", "keel_line")),
    ]
    places += [*(survey.reference_line or ()), *((f.x.value, f.y.value) for f in survey.fittings)]
    places = [place for place in places if all(math.isfinite(each) for each in place)]
    across, up = zip(*places, strict=True)
    return min(across), min(up), max(across), max(up)


def fitted_view(around: Extent, room: Extent) -> View:
    """The view that shows an extent as large as fits into a rectangle of the sheet, in its middle, points."""
    scale = fitting_scale(around, room[2] - room[0], room[3] - room[1])
    per_mm = POINTS_PER_MM / scale
    x = (room[0] + room[2]) / 2 - (around[0] + around[2]) / 2 * per_mm
    y = (room[1] + room[3]) / 2 - (around[1] + around[3]) / 2 * per_mm
    return View(scale, (x, y))


def fitting_scale(around: Extent, width: float, height: float) -> int:
    """The largest usual scale 1:n at which an extent in mm fits into a room in points."""
    wide, high = (around[2] - around[0]) * POINTS_PER_MM, (around[3] - around[1]) * POINTS_PER_MM
    return next((n for n in SCALES if wide / n <= width and high / n <= height), SCALES[-1])


def opened_ring(outline: Sequence[Point]) -> list[Point]:
    """
    The outline as one line: closed where it was marked all round, open at a gap too wide to bridge.

    A straight bottom edge marked at keel and chine only spans about half of the width, so pieces longer than
    that are taken for a part that was not marked, such as a top edge without marks.
    """
    ring = [*outline[1:], outline[0]]
    pieces = [math.dist(a, b) for a, b in zip(outline, ring, strict=True)]
    longest = pieces.index(max(pieces))
    line = [*outline[longest + 1 :], *outline[: longest + 1]]
    width = max(x for x, _ in outline) - min(x for x, _ in outline)
    return line if pieces[longest] > _WIDEST_PIECE * width else [*line, line[0]]
