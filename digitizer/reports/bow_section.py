"""The inset of the drawing that shows how far a face is bowed: a section across it, seen from above."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from digitizer.reports.sheet import Place, Point, Sheet, Stroke, dimension_line
from digitizer.reports.view import View
from digitizer.survey.model import Dimension, Survey

ROOM = 62.0
"""Height of the inset with its caption, points."""
_SHALLOWEST, _DEEPEST = 12.0, 34.0
"""How deep the bow may be drawn, points, before its depth is drawn at a scale of its own."""
_DEPTHS = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05)
_PIECES = 60


@dataclass(frozen=True)
class BowSection:
    """What the inset shows."""

    curvature: float
    """1/mm, positive when the face bulges aft."""
    ends: tuple[float, float]
    """Of the chord, mm from the centreline, port first."""
    sagitta: Dimension


def bow_section(survey: Survey) -> BowSection | None:
    """The section that a survey's sagitta was measured on; none on a flat face or without it."""
    sagitta = next((each for each in survey.dimensions if each.code == "sagitta"), None)
    if sagitta is None or not survey.curvature_per_mm or not math.isfinite(sagitta.value):
        return None
    across = sorted(point.x for point in survey.points if point.id in sagitta.made_from)
    if len(across) != 2 or not across[0] < across[1]:
        return None
    return BowSection(survey.curvature_per_mm, (across[0], across[1]), sagitta)


def depth_scale(rise: float) -> float:
    """
    By how much the depth is drawn larger than the width.

    `rise` is the sagitta at the drawing's own scale, points. A bow that can be read is drawn as it is.
    """
    if _SHALLOWEST <= abs(rise) <= _DEEPEST:
        return 1.0
    return next((depth for depth in _DEPTHS if abs(rise) * depth <= _DEEPEST), _DEPTHS[-1])


def draw_bow_section(section: BowSection, view: View, text: str, top: float, sheet: Sheet) -> None:
    """Draw the inset under the elevation, width at its scale and in line with it; its upper edge lies at `top`."""
    depth = depth_scale(view.length(section.sagitta.value))
    arc = [(x, depth * view.length(_aft(section.curvature, x))) for x in _steps(*section.ends)]
    highest = max(-aft for _, aft in arc)
    # Aft is down the page, as under a view from astern.
    line = [(view.at(x, 0.0)[0], top - highest - aft) for x, aft in arc]
    sheet.draw(Stroke(tuple(line), 1.1), Stroke((line[0], line[-1]), 0.4, (4.0, 2.0)))
    middle, chord = line[len(line) // 2], _between(line[0], line[-1])
    sheet.draw(*dimension_line(chord, middle))
    low, high = sorted((chord[1], middle[1]))
    sheet.write(text, [Place(chord[0] + aside, (low + high) / 2) for aside in (62.0, -62.0)])
    caption = f"section across the face, seen from above, aft downwards; {_depth_words(depth)}"
    sheet.write(caption, [Place(chord[0], min(y for _, y in line) - fall) for fall in (9.0, 22.0)], 6.5)


def _aft(curvature: float, x: float) -> float:
    """How far aft of the keel's tangent plane the face lies, mm: z = −(1 − √(1 − κ²x²))/κ."""
    bent = min(1.0, abs(curvature * x))
    return -curvature * x * x / (1.0 + math.sqrt(1.0 - bent * bent))


def _steps(start: float, end: float) -> Iterator[float]:
    return (start + (end - start) * step / _PIECES for step in range(_PIECES + 1))


def _between(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _depth_words(depth: float) -> str:
    if depth == 1.0:
        return "depth at the same scale"
    return f"depth drawn {depth:g} times as large" if depth > 1.0 else f"depth drawn {1 / depth:g} times smaller"
