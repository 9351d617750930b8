"""
The planned flange as closed lines and circles for whoever draws it: cutting files, templates, the report.

Millimetres of the face; on a bowed face along its surface (rolled flat), like the flange itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from digitizer.reports.sheet import Point
from digitizer.survey.model import Survey


class Meaning(StrEnum):
    """What a shape is."""

    FLANGE = "planned flange"
    MARGIN = "margin of the flange"
    BOLT_HOLE = "bolt hole of the flange"


@dataclass(frozen=True)
class FlangeShape:
    """A closed line, or a circle where it has a radius."""

    meaning: Meaning
    name: str
    ring: tuple[Point, ...] = ()
    """Anticlockwise, not closed; empty for a circle."""
    centre: Point = (0.0, 0.0)
    radius: float = 0.0


def flange_shapes(survey: Survey) -> list[FlangeShape]:
    """Flange, margin and holes, in this order; empty where no flange was laid on the transom."""
    fit = survey.flange
    if fit is None:
        return []
    shapes = [FlangeShape(Meaning.FLANGE, f"flange {fit.width_mm:g} × {fit.height_mm:g} mm", fit.outline)]
    if fit.margin_mm > 0.0:
        shapes.append(FlangeShape(Meaning.MARGIN, f"margin {fit.margin_mm:g} mm", fit.margin_line))
    radius = fit.bolt_hole_mm / 2.0
    return shapes + [
        FlangeShape(Meaning.BOLT_HOLE, f"hole {number}, ⌀ {fit.bolt_hole_mm:g} mm", (), centre, radius)
        for number, centre in enumerate(fit.bolts, start=1)
    ]
