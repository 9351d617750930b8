"""
What a click means: each tool makes one kind of mark, and knows how many it wants.

No Qt: a tool and its clicks give the next job and the words for the undo menu.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from digitizer.job import condition_edits, edits
from digitizer.job.edits import Click
from digitizer.job.model import FittingShape, Job, Mark, MarkKind, PhotoKind, Side, Sound


class Gesture(StrEnum):
    """How the clicks of a tool belong together."""

    ONE = "one"
    """One mark in each photo; the next click moves it."""
    MANY = "many"
    """Every click adds a mark."""
    FITTING = "fitting"
    """A rim, four corners or a centre: clicks belong to the fitting begun, until the next one is begun."""
    PAD = "pad"
    DEFECT = "defect"
    """Clicks belong to the crack or area begun, until the next one is begun."""
    SOUND = "sound"
    """Every click writes down what a tap gave there."""
    READING = "reading"
    """One place, then the meter's figure is asked for."""
    PAIR = "pair"
    """Two ends, then a length is asked for."""
    SHEET = "sheet"
    """Four corners, then two sizes are asked for."""


CLICKS_BEFORE_A_FIGURE = {Gesture.READING: 1, Gesture.PAIR: 2, Gesture.SHEET: 4}
"""Gestures that end with a typed figure, and the clicks they want before it."""


@dataclass(frozen=True)
class Tool:
    """What the next click makes."""

    key: str
    label: str
    kind: MarkKind
    gesture: Gesture
    how: str
    """One sentence: what to click."""
    side: Side | None = None
    shape: FittingShape | None = None
    sound: Sound | None = None


def _sides(kind: MarkKind, gesture: Gesture, name: str, how: str) -> tuple[Tool, Tool]:
    return (
        Tool(f"{kind.value}_port", f"{name}, port", kind, gesture, how.format(side="port"), Side.PORT),
        Tool(
            f"{kind.value}_starboard", f"{name}, starboard", kind, gesture, how.format(side="starboard"), Side.STARBOARD
        ),
    )


_M, _G = MarkKind, Gesture
TOOLS: tuple[Tool, ...] = (
    Tool(
        "length", "Rule or tape", _M.LENGTH_END, _G.PAIR,
        "Click both ends of a rule, or two places whose distance was taped, then type the length.",
    ),
    Tool(
        "sheet", "Sheet with square corners", _M.RECTANGLE_CORNER, _G.SHEET,
        "Click the four corners in order round the sheet, then type its width and height.",
    ),
    Tool(
        "reference_line", "Reference line", _M.REFERENCE_LINE, _G.MANY,
        "Click along the stretched string or straightedge, from port to starboard: five marks or more, well spread.",
    ),
    Tool("keel", "Keel point", _M.KEEL, _G.ONE, "Click where the bottom edges meet on the centreline."),
    *_sides(
        _M.BOTTOM_EDGE, _G.MANY, "Bottom edge",
        "Click along the bottom edge between keel and chine to {side}: three marks or more.",
    ),
    *_sides(_M.CHINE, _G.ONE, "Chine", "Click the outer corner of the chine to {side}."),
    *_sides(_M.CHINE_INNER, _G.ONE, "Chine flat, inner edge", "Click where the chine flat begins to {side}."),
    Tool("outline", "Outline", _M.OUTLINE, _G.MANY, "Click round the transom's edge, close together where it turns."),
    Tool("top_edge", "Top edge", _M.TOP_EDGE, _G.MANY, "Click along the top edge from side to side."),
    *_sides(_M.TOP_CORNER, _G.ONE, "Top corner", "Click the outer end of the top edge to {side}."),
    Tool(
        "rim", "Round fitting", _M.RIM, _G.FITTING,
        "Click the middle of a round fitting; its rim is found. Where it is not: click five places round the rim.",
        shape=FittingShape.CIRCLE,
    ),
    Tool(
        "plate", "Rectangular fitting", _M.FITTING_CORNER, _G.FITTING,
        "Click the four corners of a rectangular fitting in order round it.", shape=FittingShape.RECTANGLE,
    ),
    Tool(
        "spot", "Bolt or hole", _M.FITTING_CENTRE, _G.FITTING, "Click the centre of a bolt or hole.",
        shape=FittingShape.POINT,
    ),
    Tool("pad", "Pad or notch", _M.PAD, _G.PAD, "Click the corners of the raised or recessed area, in order round it."),
    Tool(
        "crack", "Crack", _M.CRACK, _G.DEFECT,
        "Click along the crack from end to end; Esc ends it, and the next click begins another.",
    ),
    Tool(
        "area", "Damaged area", _M.AREA, _G.DEFECT,
        "Click round the damaged area, in order; Esc ends it, and the next click begins another.",
    ),
    Tool("meter_reading", "Meter reading", _M.GRID, _G.READING, "Click where the meter was held, then type its figure.",
   ),
    *(
        Tool(
            f"sounding_{sound.value}", f"Sounding, {sound.value}", _M.GRID, _G.SOUND,
            f"Click where a tap gave a {sound.value} sound.", sound=sound,
        )
        for sound in Sound
    ),
    Tool("waterline", "Waterline", _M.WATERLINE, _G.MANY, "Click the scum line where it meets the transom's edges."),
    Tool("keel_line", "Keel line", _M.KEEL_LINE, _G.MANY, "In a photo from the side: click along the keel."),
    Tool("face_line", "Face line", _M.FACE_LINE, _G.MANY, "In a photo from the side: click along the transom's face."),
    Tool("plumb_line", "Plumb line", _M.PLUMB_LINE, _G.MANY, "In a photo from the side: click along the plumb line."),
)  # fmt: skip
BY_KEY = {tool.key: tool for tool in TOOLS}


def tool_for(kind: MarkKind, side: Side | None = None) -> Tool | None:
    """The tool that makes marks of a kind."""
    return next((t for t in TOOLS if t.kind is kind and t.side in (side, None)), None)


@dataclass(frozen=True)
class Placed:
    """The job with the clicks in it, the step's name for the menu, and what the next click belongs to."""

    job: Job
    words: str
    group: str | None = None
    marks: tuple[str, ...] = ()
    """Ids of the marks that came or moved."""


def placed(job: Job, tool: Tool, clicks: Sequence[Click], group: str | None = None) -> Placed:
    """
    What clicks with a tool make of a job; for gestures that need no typed figure.

    Parameters
    ----------
    group
        The fitting or pad that was begun; None begins another.
    """
    if tool.gesture is Gesture.ONE:
        return _one(job, tool, clicks[-1])
    if tool.gesture is Gesture.FITTING:
        return _fitting(job, tool, clicks, group)
    if tool.gesture is Gesture.PAD:
        after = edits.with_pad_marks(job, group, clicks)
        return _placed(job, after, f"Mark {tool.label.lower()}", after.marks[-1].of)
    if tool.gesture is Gesture.DEFECT:
        after = condition_edits.with_defect_marks(job, _begun(job, tool, group), tool.kind, clicks)
        return _placed(job, after, f"Mark {tool.label.lower()}", after.marks[-1].of)
    if tool.sound is not None:
        after = condition_edits.with_sounding(job, clicks[-1], tool.sound)
        return _placed(job, after, f"Write down a {tool.sound.value} sound")
    if tool.kind is MarkKind.REFERENCE_LINE:
        return _placed(job, edits.with_reference_mark(job, clicks), "Mark the reference line")
    after = edits.with_marks(job, clicks, tool.kind, side=tool.side)
    return _placed(job, after, f"Mark {tool.label.lower()}")


def mark_name(mark: Mark) -> str:
    """What a mark is, for menus and lists."""
    tool = tool_for(mark.kind, mark.side) if mark.kind is not MarkKind.GRID else None
    return tool.label.lower() if tool else mark.kind.value.replace("_", " ")


def _one(job: Job, tool: Tool, click: Click) -> Placed:
    same = [mark for mark in job.marks if mark.kind is tool.kind and mark.side is tool.side]
    here = next((mark for mark in same if mark.photo == click.photo), None)
    if here is not None:
        after = edits.with_mark_moved(job, here.id, click.x_px, click.y_px, click.u_px)
        return Placed(after, f"Move {tool.label.lower()}", marks=(here.id,))
    point = _same_place(job, same, click.photo)
    after = edits.with_marks(job, [click], tool.kind, side=tool.side, point=point)
    return _placed(job, after, f"Mark {tool.label.lower()}")


def _same_place(job: Job, same: Sequence[Mark], photo: str) -> str | None:
    """The point that a mark in another photo shows already: on the boat, and never between her and a pattern."""
    apart = {p.id for p in job.photos if p.kind is not PhotoKind.MEASURED}
    known = [mark for mark in same if mark.photo not in apart]
    return (known[0].point or known[0].id) if known and photo not in apart else None


def _begun(job: Job, tool: Tool, group: str | None) -> str | None:
    """The defect that was begun, unless it was removed or is marked by the other kind."""
    others = {mark.of for mark in job.marks if mark.kind is not tool.kind}
    return group if group not in others and any(r.id == group for r in job.defects) else None


def _fitting(job: Job, tool: Tool, clicks: Sequence[Click], group: str | None) -> Placed:
    assert tool.shape is not None
    begun = group is not None and any(f.id == group and f.shape is tool.shape for f in job.fittings)
    if begun and group is not None:
        return _placed(job, edits.with_fitting_marks(job, group, clicks), "Mark more of the fitting", group)
    after = edits.with_fitting(job, tool.shape, clicks)
    ends = tool.shape is FittingShape.POINT
    return _placed(job, after, f"Mark {tool.label.lower()}", None if ends else after.fittings[-1].id)


def _placed(before: Job, after: Job, words: str, group: str | None = None) -> Placed:
    known = {mark.id for mark in before.marks}
    return Placed(after, words, group, tuple(mark.id for mark in after.marks if mark.id not in known))
