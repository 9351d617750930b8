"""Where else the planned flange would be clear of everything, and how large it could be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from digitizer.job.model import Flange
from digitizer.survey.fittings import MeasuredFitting
from digitizer.survey.flange_judgement import is_obstacle, judged
from digitizer.survey.hull_edges import HullEdges
from digitizer.survey.model import Dimension, FlangeShift, FlangeSize, FlangeVerdict
from digitizer.transom.flange import Edge, FlangeForm, rim_polygon
from digitizer.transom.flange_search import Ground, Shift, Shifts, largest_flange, smallest_shifts
from digitizer.transom.regions import bands, without

STEP_MM = 10.0
"""Sizes are suggested in whole steps of this."""
AT_REST = 1e-6
ELSEWHERE = 1.5
"""A pad's edge may be known so much worse than where the planned flange comes nearest to it."""


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
    pads: Mapping[str, Sequence[Edge]],
    dimensions: Mapping[str, Dimension],
) -> Suggestions:
    """
    The smallest shifts and the largest sizes that are clear beyond doubt: margins are widened by U.

    Fittings that move or are worked around, and old bolt holes, are not kept clear of. The flange keeps at least the
    distance to the bottom edge that it has now, or U where it has less, and U to the rest of the outline. Suggested
    sizes lie on a pad with U to spare, or beside it, but not astride its edge; nor does a shift bring one there.
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
        *bands(edges.bottom, max(to_bottom.value - 0.2, to_bottom.U)),
        *bands(edges.others, to_outline.U),
    ]
    steps = {pad: bands(ring, ELSEWHERE * dimensions[f"flange_pad_{pad}"].U) for pad, ring in pads.items()}
    astride = {pad for pad in pads if dimensions[f"flange_pad_{pad}"].value < 0.0}
    edge = [*bands(edges.bottom, to_bottom.U), *bands(edges.others, to_outline.U)]
    in_the_way = any(
        is_obstacle(m.fitting) and not _is_clear(dimensions[f"flange_clear_{m.fitting.id}"], flange.margin_mm)
        for m in fittings
    )
    over_edge = to_bottom.value < to_bottom.U or to_outline.value < to_outline.U
    ground = Ground(without(face, edge), [*obstacles, *(band for each in steps.values() for band in each)], STEP_MM)
    shifts = Shifts(None, None, None)
    if in_the_way or over_edge:
        reach = max(flange.width_mm, flange.height_mm)
        kept += [band for pad, each in steps.items() if pad not in astride for band in each]
        shifts = smallest_shifts(form, face, [*obstacles, *kept], reach)
    return Suggestions(
        _shift(shifts.any_way),
        _shift(shifts.up),
        _shift(shifts.across),
        _size(largest_flange(form, ground)),
        _size(ground.tallest(form)),
        _size(ground.widest(form)),
    )


def _is_clear(clearance: Dimension, margin: float) -> bool:
    return judged(clearance.value, clearance.U, margin)[0] is FlangeVerdict.CLEAR


def _shift(found: Shift | None) -> FlangeShift | None:
    if found is None or found.length < AT_REST:
        return None
    return FlangeShift(found.across, found.up)


def _size(form: FlangeForm | None) -> FlangeSize | None:
    return FlangeSize(form.width, form.height, form.top) if form is not None else None
