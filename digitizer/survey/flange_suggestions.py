"""Where else the planned flange would be clear of everything, and how large it could be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely import LineString, Polygon

from digitizer.job.model import Flange
from digitizer.survey.fittings import MeasuredFitting
from digitizer.survey.flange_judgement import is_obstacle
from digitizer.survey.hull_edges import HullEdges
from digitizer.survey.model import Dimension, FlangeShift, FlangeSize
from digitizer.transom.flange import Edge, FlangeForm, rim_polygon
from digitizer.transom.flange_search import Ground, Shift, largest_flange, smallest_shifts

STEP_MM = 10.0
"""Sizes are suggested in whole steps of this."""
AT_REST = 1e-6


@dataclass(frozen=True)
class Suggestions:
    """Named like the fields of `FlangeFit`; none where nothing was found, or nothing is in the way."""

    shift: FlangeShift | None = None
    shift_up: FlangeShift | None = None
    shift_across: FlangeShift | None = None
    largest: FlangeSize | None = None
    tallest: FlangeSize | None = None
    widest: FlangeSize | None = None


def suggestions(
    form: FlangeForm,
    edges: HullEdges,
    flange: Flange,
    fittings: Sequence[MeasuredFitting],
    dimensions: Mapping[str, Dimension],
) -> Suggestions:
    """
    The smallest shifts and the largest sizes that are clear beyond doubt: margins are widened by U.

    Fittings that move or are worked around, and old bolt holes, are not kept clear of. The flange keeps at least the
    distance to the bottom edge that it has now, or U where it has less, and U to the rest of the outline.
    """
    face = edges.face
    if face is None:
        return Suggestions()
    obstacles = [
        rim_polygon(m.rim, flange.margin_mm + dimensions[f"flange_clear_{m.fitting.id}"].U)
        for m in fittings
        if is_obstacle(m.fitting)
    ]
    to_bottom, to_outline = dimensions["flange_to_bottom"], dimensions["flange_to_outline"]
    kept = [
        *_lines(edges.bottom, max(to_bottom.value - 0.2, to_bottom.U)),
        *_lines(edges.others, to_outline.U),
    ]
    ground = Ground(_inside(face, edges, to_bottom.U, to_outline.U), obstacles, STEP_MM)
    shifts = smallest_shifts(form, face, [*obstacles, *kept], reach=max(flange.width_mm, flange.height_mm))
    return Suggestions(
        _shift(shifts.any_way),
        _shift(shifts.up),
        _shift(shifts.across),
        _size(largest_flange(form, ground)),
        _size(ground.tallest(form)),
        _size(ground.widest(form)),
    )


def _inside(face: Polygon, edges: HullEdges, U_bottom: float, U_outline: float) -> Polygon:
    """The part of the face that is on it beyond doubt."""
    inner = face
    for line in (*_lines(edges.bottom, U_bottom), *_lines(edges.others, U_outline)):
        inner = inner.difference(line)
    pieces = list(getattr(inner, "geoms", [inner]))
    return max(pieces, key=lambda piece: float(piece.area))


def _lines(edges: Sequence[Edge], grown: float) -> list[Polygon]:
    grown = max(grown, 1e-3)
    return [
        LineString([(float(a.x), float(a.y)), (float(b.x), float(b.y))]).buffer(grown, quad_segs=4) for a, b in edges
    ]


def _shift(found: Shift | None) -> FlangeShift | None:
    if found is None or found.length < AT_REST:
        return None
    return FlangeShift(found.across, found.up)


def _size(form: FlangeForm | None) -> FlangeSize | None:
    return FlangeSize(form.width, form.height, form.top) if form is not None else None
