"""
Usual uncertainties, where the job doesn't state its own.

Values from memory of yard practice, not from a publication, unless a source stands beside them. Each can be
overridden by the record concerned.
"""

from __future__ import annotations

from digitizer.job.model import FittingKind, Mark, MarkKind, Target

DEFINITION_MM: dict[MarkKind, float] = {
    MarkKind.REFERENCE_LINE: 0.0,
    MarkKind.LINE_POINT: 0.0,
    MarkKind.KEEL: 1.0,
    MarkKind.CHINE: 1.0,
    MarkKind.CHINE_INNER: 1.0,
    MarkKind.BOTTOM_EDGE: 0.5,
    MarkKind.OUTLINE: 1.0,
    MarkKind.TOP_EDGE: 1.5,
    MarkKind.TOP_CORNER: 2.0,
    MarkKind.RIM: 0.3,
    MarkKind.FITTING_CENTRE: 0.5,
    MarkKind.FITTING_CORNER: 0.5,
    MarkKind.LENGTH_END: 0.2,
    MarkKind.RECTANGLE_CORNER: 0.2,
    MarkKind.WATERLINE: 3.0,
    MarkKind.PAD: 1.0,
    MarkKind.CRACK: 0.5,
    MarkKind.AREA: 1.0,
    MarkKind.GRID: 0.5,
}
"""How well the thing itself is defined on a boat, one sigma; the straightness of a string stands with the line."""

HEIGHT_MM: dict[MarkKind, tuple[float, float]] = {
    MarkKind.REFERENCE_LINE: (1.0, 1.0),
    MarkKind.LINE_POINT: (1.0, 1.0),
}
"""Height above the face and its u; zero for everything that isn't named here."""

PROUD_MM: dict[FittingKind, tuple[float, float]] = {
    FittingKind.THROUGH_HULL: (6.0, 3.0),
    FittingKind.DRAIN: (4.0, 2.0),
    FittingKind.LIGHT: (10.0, 4.0),
    FittingKind.TRANSDUCER: (14.0, 7.0),
    FittingKind.TAB_PLATE: (3.0, 2.0),
    FittingKind.TAB_RAM: (15.0, 8.0),
    FittingKind.ANODE: (15.0, 8.0),
    FittingKind.TIE_BAR: (5.0, 3.0),
    FittingKind.BOLT: (3.0, 2.0),
    FittingKind.BOLT_HOLE: (0.0, 0.5),
    FittingKind.EYE: (8.0, 4.0),
    FittingKind.LADDER: (5.0, 3.0),
    FittingKind.OTHER: (5.0, 4.0),
}
"""How far a rim stands proud of the face, and its u, by kind of fitting."""

OFF_THE_FACE = frozenset({MarkKind.PLUMB_LINE, MarkKind.KEEL_LINE, MarkKind.FACE_LINE})
"""Marks that need not lie on the transom's face."""

U_SCALE_PRINTED = 0.003
U_SCALE_CHECKED = 0.0005
"""Relative size of a print: as it leaves the printer, and after its check bar was measured."""

U_EACH_SIDE_MM = 0.2
"""How much the opposite sides of a rectangular sheet differ, beyond the size that they share."""

U_CURVATURE = 5e-4
"""Curvature of a transom in plan, 1/mm: a radius under two metres is out of the ordinary."""

U_UNFAIR_MM, U_FREE_MM = 2.0, 50.0
"""How far a mark may lie off the bowed surface on a free face: where one photo shows it, and where several do."""

U_PAD_MM = 100.0
"""Height of a pad that nobody measured."""

FIRST_ALONG_MM = -1000.0
"""Where the first datum point stands on the x axis: the origin then lies roughly amidships."""

U_HANG_MM = 300.0
"""Distance of a plumb line from the face: all but unknown."""


def definition_mm(mark: Mark) -> float:
    """Definition uncertainty of a mark, mm."""
    return mark.u_definition_mm if mark.u_definition_mm is not None else DEFINITION_MM.get(mark.kind, 1.0)


def target_scale_u(target: Target) -> float:
    """Relative standard uncertainty of a target's printed size."""
    if target.u_scale is not None:
        return target.u_scale
    return U_SCALE_CHECKED if target.check_bar_measured_mm is not None else U_SCALE_PRINTED


def target_lean_u(target: Target, half_span_mm: float) -> float:
    """How far, in radians, a target said to lie flush may lean: its flatness, at least 0.1 mm, over its half span."""
    return max(target.flatness_mm, 0.1) / half_span_mm
