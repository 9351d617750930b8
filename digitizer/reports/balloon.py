"""The number of a fitting in a circle beside it, on the drawing and on photos."""

from __future__ import annotations

import math
from collections.abc import Callable

from digitizer.reports.sheet import Disc, Label, Point, Sheet, Stroke, disc_box

Reach = Callable[[float], float]
"""Distance from a fitting's centre to its rim on the sheet, points, by direction, rad."""
_RADIUS = 6.2


def circular(radius: float) -> Reach:
    """The reach of a circle."""
    return lambda _turn: radius


def balloon_places(x: float, y: float, reach: Reach) -> list[Point]:
    """Where the number of a fitting may stand round it, nearest first."""
    turns = [math.radians(turn) for turn in (45, 135, 315, 225, 20, 160, 340, 200, 70, 110, 290, 250)]
    return [
        (x + (reach(turn) + far) * math.cos(turn), y + (reach(turn) + far) * math.sin(turn))
        for far in (11.0, 17.0, 24.0, 32.0, 44.0, 60.0, 80.0)
        for turn in turns
    ]


def draw_balloon(
    sheet: Sheet, at: Point, reach: Reach, number: int, radius: float = _RADIUS, halo: float = 0.0
) -> None:
    """Put a fitting's number beside it where it covers least, with a leader from its rim."""
    discs = [Disc(x, y, radius, 0.6, fill=1.0) for x, y in balloon_places(*at, reach)]
    best = discs[sheet.best([disc_box(disc, 1.0) for disc in discs])]
    angle = math.atan2(best.y - at[1], best.x - at[0])
    span = (reach(angle), math.dist(at, (best.x, best.y)) - radius)
    ends = tuple((at[0] + far * math.cos(angle), at[1] + far * math.sin(angle)) for far in span)
    sheet.draw(
        Stroke(ends, 0.5, halo=halo), best, Label(str(number), best.x, best.y, 7.5 if number < 100 else 6.0, bold=True)
    )
