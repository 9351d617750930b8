"""
A job's marks moved onto the edges that they mean, each with the uncertainty that the picture allows.

A click says which edge is meant; the picture says where it is. A mark is moved only where one edge answers to it:
where nothing does, or two edges compete, it stays where the hand put it, and that is said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from digitizer.adjustment.observations import FloatArray
from digitizer.geometry.ellipses import direct_ellipse
from digitizer.imaging.corners import meeting
from digitizer.imaging.lines import LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.outlines import SPACING_PX, trace_outline
from digitizer.imaging.quality import Sharpness, mark_quality
from digitizer.imaging.rectangles import snap_rectangle
from digitizer.imaging.rims import refined_rim
from digitizer.imaging.rings import Ring
from digitizer.job.model import FittingShape, Job, Mark, MarkKind, PatternPart, Side, StraightLine
from digitizer.job.model import LineKind as Straight
from digitizer.survey.model import Finding, Severity
from digitizer.survey.pattern_marks import edge_marks

Pixels = NDArray[np.uint8]
FINEST_PX = 0.1
"""No snapped mark is said to be better than this."""
FARTHEST_PX = 4.0
"""A snap farther from the click than this, or five times the click's u, is on another edge."""
WORTH_RIVAL = 0.85
"""A second edge with at least this part of the first one's score competes with it."""
FEWEST_ROUND_A_RIM = 6
"""Marks round a rim from which its ellipse is known well enough to look along it."""
SMALLEST_RIM_PX = 40.0
"""Diameter below which the bore or a ring of sealant is too often taken for the rim (measured)."""
TURN_RAD = np.radians(12.0)
"""A pattern's edge that turns by more than this at a mark has a corner there; the mark stays as clicked."""
CHINES = (MarkKind.CHINE, MarkKind.CHINE_INNER)
"""Left as clicked: a chine is rounded, and the corner that its edges make lies inboard of it (measured)."""


@dataclass(frozen=True)
class Snapped:
    """The job with its marks on the edges, how many moved, and what stayed, with the reason."""

    job: Job
    moved: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Moves:
    """What one search wants to do: marks by id, new and changed ones, and words for those that stay."""

    marks: tuple[Mark, ...] = ()
    dropped: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def snapped_job(job: Job, pictures: Mapping[str, Pixels], progress: Callable[[str], None] | None = None) -> Snapped:
    """
    Snap all marks of a job.

    Parameters
    ----------
    job
    pictures
        By photo id: (rows, columns, 3) RGB, EXIF orientation applied. Marks in other photos stay as they are.
    progress
        Told which photo is worked on.
    """
    marks = {m.id: m for m in job.marks}
    findings: list[Finding] = []
    moved = 0
    for photo, colours in pictures.items():
        if progress is not None:
            progress(f"Finding the edges in {photo} …")
        gray = _gray(colours)
        own = [m for m in marks.values() if m.photo == photo and m.active]
        for moves in _searches(job, own, gray, colours):
            moved += len(moves.marks)
            marks.update({m.id: m for m in moves.marks})
            for name in moves.dropped:
                del marks[name]
            findings += moves.findings
        findings += _soft_marks(gray, own)
    return Snapped(replace(job, marks=tuple(marks.values())), moved, tuple(findings))


def _gray(colours: Pixels) -> Pixels:
    """Luma of ITU-R BT.601, as the grey photo has it."""
    import cv2

    return np.asarray(cv2.cvtColor(colours, cv2.COLOR_RGB2GRAY))


def _searches(job: Job, marks: list[Mark], gray: Pixels, colours: Pixels) -> Iterable[_Moves]:
    patterns = [p for p in job.patterns if p.active and marks and p.photo == marks[0].photo]
    if patterns:
        yield from (_pattern_edge(edge_marks(job, p), marks, p.part, colours) for p in patterns)
        return
    for line, members in _lines(job, marks):
        yield _straight(line, members, gray, colours)
    edges = {side: [m for m in marks if _is_bottom(m, side)] for side in Side}
    bottoms = {side: _best_line(members, gray, colours, LineKind.EDGE) for side, members in edges.items()}
    for side, found in bottoms.items():
        if len(edges[side]) >= 2:
            yield _onto_line(edges[side], found, f"the bottom edge, {side}")
    yield _keel(marks, bottoms[Side.PORT], bottoms[Side.STARBOARD])
    for fitting in (f for f in job.fittings if f.active):
        own = [m for m in marks if m.of == fitting.id]
        if fitting.shape is FittingShape.CIRCLE:
            yield _rim(job, fitting.id, [m for m in own if m.kind is MarkKind.RIM], gray)
        elif fitting.shape is FittingShape.RECTANGLE:
            yield _rectangle(fitting.id, [m for m in own if m.kind is MarkKind.FITTING_CORNER], gray, colours)
    yield _outline([m for m in marks if m.kind in (MarkKind.OUTLINE, MarkKind.TOP_EDGE)], colours)


# --- straight things -------------------------------------------------------------------------------------------


def _lines(job: Job, marks: list[Mark]) -> Iterable[tuple[StraightLine, list[Mark]]]:
    records = [line for line in job.lines if line.active]
    if not any(line.reference for line in records):
        records.append(StraightLine("reference line", reference=True))
    for line in records:
        members = [
            m
            for m in marks
            if m.of == line.id or (line.reference and m.kind is MarkKind.REFERENCE_LINE and m.of is None)
        ]
        if len(members) >= 2:
            yield line, members


def _straight(line: StraightLine, members: list[Mark], gray: Pixels, colours: Pixels) -> _Moves:
    kind = LineKind.RIDGE if line.kind is Straight.STRING else None
    return _onto_line(members, _best_line(members, gray, colours, kind), line.id)


def _is_bottom(mark: Mark, side: Side) -> bool:
    return mark.kind is MarkKind.BOTTOM_EDGE and mark.side is side


def _best_line(members: list[Mark], gray: Pixels, colours: Pixels, kind: LineKind | None) -> LineSnap | NotFound:
    """The line that answers to several marks; none where two compete or what is found lies off the clicks."""
    if len(members) < 2:
        return NotFound("Two or more marks are needed along a line.")
    stroke = _in_order(members)
    found = snap_line(gray, _places(stroke), colours=colours, kind=kind)
    if isinstance(found, NotFound):
        return found
    near = [snap for snap in found if snap.away <= _reach(members) / 2.0]
    if not near:
        return NotFound("The nearest edge lies beside the marks.")
    if len(near) > 1 and near[1].score > WORTH_RIVAL * near[0].score:
        apart = abs(near[1].away - near[0].away)
        if apart > 2.0 * max(m.u_px for m in members) / np.sqrt(len(members)):
            return min(near[:2], key=lambda snap: snap.away)
        return NotFound("Two edges compete there, such as an edge and its shadow.")
    return near[0]


def _onto_line(members: list[Mark], found: LineSnap | NotFound, what: str) -> _Moves:
    if isinstance(found, NotFound):
        return _stay(members, what, found)
    return _Moves(tuple(filter(None, (_across(m, found.points, found.normals, found.u) for m in members))))


def _across(mark: Mark, points: FloatArray, normals: FloatArray, u: FloatArray) -> Mark | None:
    """
    The mark moved across an edge onto it, its place along the edge kept.

    None where the edge is out of reach, or known less well than the click.
    """
    place = np.array([mark.x_px, mark.y_px])
    nearest = np.argsort(np.hypot(*(points - place).T))[:3]
    offset = float(np.mean(np.einsum("ij,ij->i", points[nearest] - place, normals[nearest])))
    u_edge = _u(float(np.median(u[nearest])))
    if abs(offset) > _reach([mark]) or u_edge > mark.u_px:
        return None
    x, y = place + offset * normals[nearest[0]]
    return replace(mark, x_px=float(x), y_px=float(y), u_px=u_edge)


def _keel(marks: list[Mark], port: LineSnap | NotFound, starboard: LineSnap | NotFound) -> _Moves:
    """The keel point where the two bottom edges meet, unless a rounded or flat keel keeps them apart."""
    keels = [m for m in marks if m.kind is MarkKind.KEEL]
    if not keels or isinstance(port, NotFound) or isinstance(starboard, NotFound):
        return _Moves()
    found = meeting(port, starboard)
    if isinstance(found, NotFound):
        return _stay(keels, "the keel", found)
    # A hull is rounded there, so the meeting is not known better than a careful click, whatever the edges' own u.
    moves = [_to(m, found.point, max(found.u, m.u_px)) for m in keels]
    stay = [m for m, moved in zip(keels, moves, strict=True) if moved is None]
    far = NotFound("The bottom edges meet elsewhere, so the keel may be rounded or flat.")
    return replace(_stay(stay, "the keel", far), marks=tuple(filter(None, moves)))


# --- fittings and outline --------------------------------------------------------------------------------------


def _rim(job: Job, fitting: str, members: list[Mark], gray: Pixels) -> _Moves:
    """All rim marks replaced by points round the rim that was found, where it is the size that was marked."""
    if len(members) < FEWEST_ROUND_A_RIM:
        return _Moves()
    places = _places(members)
    try:
        marked = direct_ellipse(places)
    except ValueError:
        return _Moves()
    if 2.0 * marked.size < SMALLEST_RIM_PX:
        return _stay(members, fitting, NotFound("The rim is small in the picture, its bore or sealant too near it."))
    found = refined_rim(gray, Ring(marked, 1.0, 1.0, 0.0, both_ways=True))
    if isinstance(found, NotFound):
        return _stay(members, fitting, found)
    if found.is_doubtful or np.max(np.abs(found.fit.ellipse.distances(places))) > _reach(members):
        return _stay(members, fitting, NotFound("No rim stands out clearly along them."))
    taken = {m.id for m in job.marks}
    fresh = (name for k in range(1, 1000) if (name := f"{fitting} rim {k}") not in taken)
    names = [m.id for m in members] + [next(fresh) for _ in range(max(0, len(found.points) - len(members)))]
    points = [
        replace(members[0], id=name, point=None, x_px=float(x), y_px=float(y), u_px=_u(float(u)))
        for name, (x, y), u in zip(names, found.points, found.u, strict=False)
    ]
    return _Moves(tuple(points), tuple(names[len(points) :]))


def _rectangle(fitting: str, members: list[Mark], gray: Pixels, colours: Pixels) -> _Moves:
    if len(members) != 4:
        return _Moves()
    found = snap_rectangle(gray, _places(members), colours=colours)
    if isinstance(found, NotFound):
        return _stay(members, fitting, found)
    moves = [_to(m, point, float(u)) for m, point, u in zip(members, found.points, found.u, strict=True)]
    if None in moves:
        return _stay(members, fitting, NotFound("Its edges meet away from the marked corners, which may be rounded."))
    return _Moves(tuple(filter(None, moves)))


def _outline(members: list[Mark], colours: Pixels) -> _Moves:
    """Marks of the outline and the top edge, moved across the traced edge; those at rounded corners stay."""
    if len(members) < 3:
        return _Moves()
    order = _round(members)
    return _traced(members, [*order, order[0]], "the outline", colours)


def _traced(members: list[Mark], way: list[Mark], what: str, colours: Pixels) -> _Moves:
    """Marks moved across the edge that is traced along a way through them."""
    found = trace_outline(colours, _places(way))
    if isinstance(found, NotFound):
        return _stay(members, what, found)
    clear = ~(found.is_corner | found.contested)
    if np.count_nonzero(clear) < 3:
        return _stay(members, what, NotFound("Its edge is seen in too few places."))
    points, normals, u = found.points[clear], found.normals[clear], found.u[clear]
    near = [m for m in members if np.hypot(*(points - [m.x_px, m.y_px]).T).min() < 60.0]
    return _Moves(tuple(filter(None, (_across(m, points, normals, u) for m in near))))


def _pattern_edge(edge: list[Mark], marks: list[Mark], part: PatternPart, colours: Pixels) -> _Moves:
    """Marks along a pattern's edge, moved across the traced edge; those at its corners stay."""
    present = {m.id: m for m in marks}
    members = [present[m.id] for m in edge if m.id in present]
    if len(members) < 3:
        return _Moves()
    closed = part is PatternPart.WHOLE
    way = [*members, members[0]] if closed else members
    corners = _corners(_places(members), closed)
    clear = [m for m in members if np.hypot(*(corners - [m.x_px, m.y_px]).T).min(initial=np.inf) > SPACING_PX]
    return _traced(clear, way, "the pattern's edge", colours)


def _corners(places: FloatArray, closed: bool) -> FloatArray:
    """Those of some places in order (n, 2) at which the way turns, and the ends of an open way."""
    before, after = places - np.roll(places, 1, axis=0), np.roll(places, -1, axis=0) - places
    sine = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turned = np.abs(np.arctan2(sine, np.einsum("ij,ij->i", before, after))) > TURN_RAD
    if not closed:
        turned[[0, -1]] = True
    return np.asarray(places[turned])


# --- small things ----------------------------------------------------------------------------------------------


def _soft_marks(gray: Pixels, marks: list[Mark]) -> list[Finding]:
    """Marks of the hull's own points where the picture is out of focus or shaken."""
    out = []
    for mark in marks:
        if mark.kind not in (MarkKind.KEEL, *CHINES):
            continue
        quality = mark_quality(gray, np.array([mark.x_px, mark.y_px]))
        if quality.sharpness is Sharpness.BLURRED:
            why = "shaken" if quality.is_shaken else "out of focus"
            text = f"{mark.id} is {why} in {mark.photo} (edges {quality.spread_px:.1f} px soft): take the photo again."
            out.append(Finding("soft", Severity.WARNING, mark.id, text))
        elif quality.is_clipped:
            text = f"{mark.id} lies in glare or black shadow in {mark.photo}: its edge may be moved by it."
            out.append(Finding("clipped", Severity.NOTE, mark.id, text))
    return out


def _stay(members: list[Mark], what: str, found: NotFound) -> _Moves:
    if not members:
        return _Moves()
    text = (
        f"Marks of {what} stay as clicked. {found.reason}"
        if len(members) > 1
        else f"{what} stays as clicked. {found.reason}"
    )
    return _Moves(findings=(Finding("not_snapped", Severity.NOTE, members[0].of or members[0].id, text),))


def _to(mark: Mark, point: FloatArray, u: float) -> Mark | None:
    if _apart(point, np.array([mark.x_px, mark.y_px])) > _reach([mark]):
        return None
    return replace(mark, x_px=float(point[0]), y_px=float(point[1]), u_px=_u(u))


def _reach(members: list[Mark]) -> float:
    return max(FARTHEST_PX, 5.0 * max(m.u_px for m in members))


def _u(u: float) -> float:
    return max(u, FINEST_PX)


def _apart(a: FloatArray, b: FloatArray) -> float:
    return float(np.hypot(*(a - b)))


def _places(members: list[Mark]) -> FloatArray:
    return np.array([(m.x_px, m.y_px) for m in members])


def _in_order(members: list[Mark]) -> list[Mark]:
    """Along the longer extent of the marks."""
    spread = np.ptp(_places(members), axis=0)
    return sorted(members, key=lambda m: m.x_px if spread[0] >= spread[1] else m.y_px)


def _round(members: list[Mark]) -> list[Mark]:
    """In order round their middle."""
    places = _places(members)
    angles = np.arctan2(*(places - places.mean(axis=0)).T[::-1])
    return [members[i] for i in np.argsort(angles)]
