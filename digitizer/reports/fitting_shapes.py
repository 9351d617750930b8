"""
Fittings on the drawing at their true size, as seen square on.

On a bowed face a fitting out from the centreline is turned away from the eye and looks narrower than it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from digitizer.reports.balloon import Reach, circular
from digitizer.reports.sheet import Disc, Point, Stroke
from digitizer.reports.view import View
from digitizer.survey.model import FittingResult

_LEAST = 2.5
"""Reach of what has no size, points, so that it is seen."""
_SMALLEST_RIM = 1.2
_CORNERS = 48
"""Of the polygon drawn for a circle seen from aside."""


def fitting_shape(fitting: FittingResult, view: View, curvature: float) -> Iterator[Stroke | Disc]:
    """Rim of a fitting and a cross at its centre; `curvature` is that of the face, 1/mm."""
    x, y = view.at(fitting.x.value, fitting.y.value)
    radius, arm = _radius(fitting, view), _LEAST
    if fitting.width and fitting.height:
        yield Stroke(_turned(fitting, view, curvature, _rectangle(fitting)), 0.8, closed=True)
    elif fitting.diameter:
        arm = max(_LEAST, min(1.25 * radius, radius + 3.0))
        yield _circle(fitting, view, curvature)
    yield Stroke(((x - arm, y), (x + arm, y)), 0.3)
    yield Stroke(((x, y - arm), (x, y + arm)), 0.3)


def reach_of(fitting: FittingResult, view: View) -> Reach:
    """How far the rim of a fitting lies from its centre on the sheet, by direction."""
    if not (fitting.width and fitting.height):
        return circular(_radius(fitting, view))
    wide, high = (view.length(each.value) / 2 for each in (fitting.width, fitting.height))

    def reach(turn: float) -> float:
        along, across = abs(math.cos(turn - fitting.roll_rad)), abs(math.sin(turn - fitting.roll_rad))
        return min(wide / max(along, 1e-9), high / max(across, 1e-9))

    return reach


def _circle(fitting: FittingResult, view: View, curvature: float) -> Stroke | Disc:
    radius = _radius(fitting, view)
    if not curvature:
        return Disc(*view.at(fitting.x.value, fitting.y.value), radius, 0.8)
    mm = radius / view.length(1.0)
    turns = [2.0 * math.pi * corner / _CORNERS for corner in range(_CORNERS)]
    ring = [(mm * math.cos(turn), mm * math.sin(turn)) for turn in turns]
    return Stroke(_turned(fitting, view, curvature, ring), 0.8, closed=True)


def _rectangle(fitting: FittingResult) -> list[Point]:
    """Corners from the centre, mm along the face."""
    assert fitting.width
    assert fitting.height
    cos, sin = math.cos(fitting.roll_rad), math.sin(fitting.roll_rad)
    wide, high = fitting.width.value / 2, fitting.height.value / 2
    halves = ((-wide, -high), (wide, -high), (wide, high), (-wide, high))
    return [(a * cos - b * sin, a * sin + b * cos) for a, b in halves]


def _turned(fitting: FittingResult, view: View, curvature: float, ring: list[Point]) -> tuple[Point, ...]:
    """Points given from a fitting's centre along the face, as seen square on."""
    x, y = fitting.x.value, fitting.y.value
    narrowing = math.sqrt(max(0.0, 1.0 - (curvature * x) ** 2))
    return tuple(view.at(x + narrowing * a, y + b) for a, b in ring)


def _radius(fitting: FittingResult, view: View) -> float:
    """Of a round rim on the sheet, never too small to see."""
    return max(_SMALLEST_RIM, view.length(fitting.diameter.value / 2)) if fitting.diameter else _LEAST
