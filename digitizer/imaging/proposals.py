"""
One door for the person at a photo: a rough gesture and what it means, and a proposal comes back.

The picture is given in colour as it is opened; only the neighbourhood of the gesture is read, so that an answer costs
the same in any size of photo. Nothing is taken over by itself: a proposal has its uncertainty, a score, and whatever
else may have been meant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from digitizer.geometry.ellipses import Ellipse, direct_ellipse
from digitizer.imaging.corners import CornerSnap, snap_corner, snap_meeting
from digitizer.imaging.line_ends import LineEnd, snap_line_end
from digitizer.imaging.line_fit import Map
from digitizer.imaging.lines import LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.outlines import OutlineSnap, trace_outline
from digitizer.imaging.rectangles import RectangleSnap, snap_rectangle
from digitizer.imaging.rims import RimSnap, refined_rim, snap_rim
from digitizer.imaging.rings import LARGEST_PX, Ring

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]

RIVAL = 0.85
"""Share of the best score from which on another answer competes with it."""
_ROUND_A_RIM = 72
_FEWEST_ROUND = 6


class Sought(StrEnum):
    """What a gesture means."""

    CORNER = "corner"
    """Keel point, chine, any corner: where two edges meet. A click, or a stroke along one edge and then the other."""
    EDGE = "edge"
    """A straight edge (bottom edge, rule): a stroke through two clicks or more."""
    STRING = "string"
    """A string or narrow tape, by its middle: a stroke."""
    LINE = "line"
    """Whichever of the two it is."""
    LINE_END = "line_end"
    """The end of a string or rule: a stroke along it to the end."""
    RIM = "rim"
    """Rim of a round fitting: a click in it, a box round it, or a stroke of six or more places on it."""
    RECTANGLE = "rectangle"
    """Rectangular light or plate: a box, or a stroke of its four corners in order."""
    OUTLINE = "outline"
    """The transom's edge: a stroke of clicks along it, corners among them."""


class Click(NamedTuple):
    """One place, px."""

    x: float
    y: float


class Box(NamedTuple):
    """Two opposite corners of an upright box, px."""

    x0: float
    y0: float
    x1: float
    y1: float


class Stroke(NamedTuple):
    """Places (n, 2) in order, px; a line through clicks is one too."""

    points: FloatArray


Gesture = Click | Box | Stroke


@dataclass(frozen=True, eq=False)
class Proposal:
    """
    What a gesture may have meant, measured.

    Parameters
    ----------
    sought
    places : (n, 2), px
        The marks: one for a corner or an end; as many as the stroke has places for a line, each moved across onto it;
        the points round a rim; four corners of a rectangle; the points of an outline.
    u : (n,), px
        Standard uncertainty of each: across the edge where `normals` says which way that is, else in one coordinate.
    normals : (n, 2) or None
        Unit vectors across the edge; None for corners and ends.
    course : (m, 2), px
        What was found, to be drawn: the line's points, the ellipse, the outline, the arms of a corner.
    score
        0 to 1, how well it answers to the gesture; for comparing the alternatives, no probability.
    alternatives
        What else may have been meant, likeliest first, such as the edge of a shadow; without alternatives of their own.
    advice
        Sentences for the person: what competes, what is weak.
    corners : (n,)
        Which of the places are corners, of an outline.
    """

    sought: Sought
    places: FloatArray
    u: FloatArray
    normals: FloatArray | None
    course: FloatArray
    score: float
    alternatives: tuple[Proposal, ...] = ()
    advice: tuple[str, ...] = ()
    corners: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))

    @property
    def is_contested(self) -> bool:
        """Whether another answer is about as likely, so that the person should choose."""
        return bool(self.alternatives) and self.alternatives[0].score > RIVAL * self.score

    def moved(self, shift: FloatArray) -> Proposal:
        """The same, all places moved by `shift` (2,), px."""
        return replace(
            self,
            places=self.places + shift,
            course=self.course + shift,
            alternatives=tuple(other.moved(shift) for other in self.alternatives),
        )


def propose(
    picture: Pixels, gesture: Gesture, sought: Sought, *, straighten: tuple[Map, Map] | None = None
) -> Proposal | NotFound:
    """
    Marks that a gesture means.

    Parameters
    ----------
    picture : (rows, columns, 3) or (rows, columns)
        RGB or grey, EXIF orientation applied.
    gesture
        Rough: a stroke may lie ten pixels off, a click in a rim anywhere in it.
    sought
        What it means; see `Sought` for the gestures each takes.
    straighten
        The lens, where it is known: map of places (n, 2) to the undistorted picture, and the map back.

    Returns
    -------
    Proposal or NotFound
        NotFound is falsy; its `reason` is a sentence for the person.

    Raises
    ------
    ValueError
        If a stroke is no (n, 2).
    """
    places = _places(gesture)
    if not np.all(np.isfinite(places)):
        return NotFound("The gesture has places that are no numbers.")
    size = np.array(picture.shape[1::-1])
    if np.all(np.any((places < -0.5) | (places > size - 0.5), axis=1)):
        return NotFound("That lies outside the photo.")
    reach = _reach(sought, places)
    low = np.clip(np.floor(places.min(axis=0) - reach).astype(int), 0, size - 1)
    high = np.clip(np.ceil(places.max(axis=0) + reach).astype(int) + 1, low + 1, size)
    part = np.ascontiguousarray(picture[low[1] : high[1], low[0] : high[0]])
    shift = low.astype(np.float64)
    near = _Near(part, None if straighten is None else _shifted(straighten, shift))
    found = _ANSWERS[sought](near, _moved(gesture, -shift))
    return found if isinstance(found, NotFound) else found.moved(shift)


def _places(gesture: Gesture) -> FloatArray:
    if isinstance(gesture, Click):
        return np.array([gesture], dtype=np.float64)
    if isinstance(gesture, Box):
        return np.array(gesture, dtype=np.float64).reshape(2, 2)
    places = np.asarray(gesture.points, dtype=np.float64)
    if places.ndim != 2 or places.shape[1] != 2 or len(places) == 0:
        raise ValueError(f"a stroke is (n, 2), got {places.shape}")
    return places


def _moved(gesture: Gesture, shift: FloatArray) -> Gesture:
    places = _places(gesture) + shift
    if isinstance(gesture, Stroke):
        return Stroke(places)
    return Click(*places[0].tolist()) if isinstance(gesture, Click) else Box(*places.ravel().tolist())


def _reach(sought: Sought, places: FloatArray) -> float:
    """How far round a gesture its answer may look, px."""
    longest = float(np.hypot(*np.diff(places, axis=0).T).max()) if len(places) > 1 else 0.0
    if sought is Sought.RIM:
        return 2.5 * LARGEST_PX if len(places) == 1 else 40.0 + 1.5 * longest
    return 64.0 + (0.4 if sought is Sought.OUTLINE else 0.03) * longest


def _shifted(maps: tuple[Map, Map], shift: FloatArray) -> tuple[Map, Map]:
    there, back = maps
    return (lambda p: there(p + shift)), (lambda q: back(q) - shift)


@dataclass(frozen=True, eq=False)
class _Near:
    """The neighbourhood of a gesture, and the lens in its coordinates."""

    part: Pixels
    maps: tuple[Map, Map] | None
    gray: Pixels = field(init=False)
    colours: Pixels | None = field(init=False)

    def __post_init__(self) -> None:
        in_colour = self.part.ndim == 3
        gray = cv2.cvtColor(self.part, cv2.COLOR_RGB2GRAY) if in_colour else self.part
        object.__setattr__(self, "gray", np.asarray(gray))
        object.__setattr__(self, "colours", self.part if in_colour else None)


# --- one function per thing sought ------------------------------------------------------------------------------


def _corner(near: _Near, gesture: Gesture) -> Proposal | NotFound:
    if isinstance(gesture, Box):
        return NotFound("A corner wants a click on it, or a stroke along one of its edges and back along the other.")
    if isinstance(gesture, Click):
        found = snap_corner(near.gray, np.array(gesture))
        if isinstance(found, NotFound):
            return found
        return _with_alternatives([_of_corner(corner) for corner in found])
    arms = _arms(gesture.points)
    if arms is None:
        return NotFound("The stroke has no bend: draw it along one edge, round the corner and along the other.")
    met = snap_meeting(near.gray, *arms, straighten=near.maps, kind=LineKind.EDGE)
    return met if isinstance(met, NotFound) else _of_corner(met)


def _arms(points: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """A bent stroke's two legs, without the bend itself; None where it is straight or too short."""
    if len(points) < 3:
        return None
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    away = np.hypot(*(points - points[0]).T)
    across = (points - points[0]) @ np.array([-chord[1], chord[0]]) / max(length, 1e-9) if length > 1.0 else away
    at = int(np.argmax(np.abs(across)))
    if at in (0, len(points) - 1) or abs(across[at]) < 0.03 * away.max():
        return None
    legs = [points[: at + 1], points[at:][::-1]]
    tip = points[at]
    return (_kept_off(legs[0], tip), _kept_off(legs[1], tip))


def _kept_off(leg: FloatArray, tip: FloatArray) -> FloatArray:
    """A leg that stops short of the corner by a tenth of it, where the edge may be rounded."""
    return np.vstack([leg[:-1], tip + 0.1 * (leg[-2] - tip)])


def _of_corner(corner: CornerSnap) -> Proposal:
    arms = [arm.points[np.argsort(-np.hypot(*(arm.points - corner.point).T))] for arm in corner.edges]
    course = np.vstack([arms[0], corner.point, arms[1][::-1]])
    return Proposal(Sought.CORNER, corner.point[None], np.array([corner.u]), None, course, corner.score)


def _line(near: _Near, gesture: Gesture, sought: Sought, kind: LineKind | None) -> Proposal | NotFound:
    if not isinstance(gesture, Stroke):
        return NotFound("A line wants a stroke along it, or two clicks on it.")
    if len(gesture.points) < 2:
        return NotFound("A line wants two clicks or more.")
    found = snap_line(near.gray, gesture.points, colours=near.colours, kind=kind, straighten=near.maps)
    if isinstance(found, NotFound):
        return found
    return _with_alternatives([_of_line(snap, gesture.points, sought) for snap in found])


def _of_line(snap: LineSnap, clicks: FloatArray, sought: Sought) -> Proposal:
    """Each click moved across the line onto it, its place along kept."""
    nearest = np.argsort(np.hypot(*(snap.points[None] - clicks[:, None]).transpose(2, 0, 1)), axis=1)[:, :3]
    normals = snap.normals[nearest[:, 0]]
    offsets = np.einsum("nki,ni->nk", snap.points[nearest] - clicks[:, None], normals).mean(axis=1)
    places = clicks + offsets[:, None] * normals
    u = np.median(snap.u[nearest], axis=1)
    return Proposal(sought, places, u, normals, snap.points, snap.score, advice=_line_advice(snap))


def _line_advice(snap: LineSnap) -> tuple[str, ...]:
    weak = []
    if snap.clipped:
        weak.append("Black or white without tones touches the edge, which may move it.")
    if snap.spread > 2.5:
        weak.append(f"The edge is {snap.spread:.1f} px soft: out of focus, shaken, or that of a shadow.")
    return tuple(weak)


def _line_end(near: _Near, gesture: Gesture) -> Proposal | NotFound:
    if not isinstance(gesture, Stroke) or len(gesture.points) < 2:
        return NotFound("The end of a line wants a stroke along the line to its end.")
    found = snap_line_end(near.gray, gesture.points, colours=near.colours)
    return found if isinstance(found, NotFound) else _with_alternatives([_of_end(end) for end in found])


def _of_end(end: LineEnd) -> Proposal:
    course = np.vstack([end.line.points, end.point])
    return Proposal(Sought.LINE_END, end.point[None], np.array([end.u]), None, course, end.score)


def _rim(near: _Near, gesture: Gesture) -> Proposal | NotFound:
    if isinstance(gesture, Stroke):
        found = _rim_through(near, gesture.points)
    elif isinstance(gesture, Box):
        (x0, x1), (y0, y1) = sorted((gesture.x0, gesture.x1)), sorted((gesture.y0, gesture.y1))
        found = snap_rim(near.gray, np.array([x0, y0]), box=(x0, y0, x1, y1))
    else:
        found = snap_rim(near.gray, np.array(gesture))
    if isinstance(found, NotFound):
        return found
    others = (refined_rim(near.gray, ring) for ring in found.alternatives)
    rims = [found, *(other for other in others if not isinstance(other, NotFound))]
    return _with_alternatives([_of_rim(rim) for rim in rims], in_order=True)


def _rim_through(near: _Near, points: FloatArray) -> RimSnap | NotFound:
    if len(points) < _FEWEST_ROUND:
        return NotFound(f"A rim wants a click in it, a box round it, or {_FEWEST_ROUND} places on it.")
    try:
        marked = direct_ellipse(points)
    except ValueError:
        return NotFound("These places lie on no ellipse: mark more of them, all round the rim.")
    return refined_rim(near.gray, Ring(marked, 1.0, 1.0, 0.0, both_ways=True))


def _of_rim(rim: RimSnap) -> Proposal:
    ellipse: Ellipse = rim.fit.ellipse
    normals = ellipse.normals(ellipse.nearest(rim.points))
    course = ellipse.points(np.linspace(0.0, 2 * np.pi, _ROUND_A_RIM))
    advice = ("The points are hardly one ellipse: a shadow, sealant or a hose may be among them.",)
    score = rim.coverage / max(rim.misfit, 1.0)
    return Proposal(Sought.RIM, rim.points, rim.u, normals, course, score, advice=advice if rim.is_doubtful else ())


def _rectangle(near: _Near, gesture: Gesture) -> Proposal | NotFound:
    corners = _places(gesture)
    if isinstance(gesture, Click) or (isinstance(gesture, Stroke) and len(corners) != 4):
        return NotFound("A rectangle wants a box round it, or its four corners in order.")
    found = snap_rectangle(near.gray, corners, colours=near.colours)
    return found if isinstance(found, NotFound) else _of_rectangle(found)


def _of_rectangle(found: RectangleSnap) -> Proposal:
    score = float(np.prod([corner.score for corner in found.corners]) ** 0.25)
    crowded = [
        word
        for word, side, others in zip(
            ("first", "second", "third", "fourth"), found.sides, found.alternatives, strict=True
        )
        if any(other.score > RIVAL * side.score for other in others)
    ]
    advice = tuple(f"Beside its {word} side runs another edge, as clear." for word in crowded)
    closed = np.vstack([found.points, found.points[:1]])
    return Proposal(Sought.RECTANGLE, found.points, found.u, None, closed, score, advice=advice)


def _outline(near: _Near, gesture: Gesture) -> Proposal | NotFound:
    if not isinstance(gesture, Stroke) or len(gesture.points) < 2:
        return NotFound("An outline wants two clicks or more along it.")
    found = trace_outline(near.part, gesture.points)
    return found if isinstance(found, NotFound) else _of_outline(found)


def _of_outline(found: OutlineSnap) -> Proposal:
    advice = []
    if found.contested.any():
        share = 100 * float(found.contested.mean())
        advice.append(f"Another edge as clear runs beside {share:.0f} % of it: click again where it went astray.")
    return Proposal(
        Sought.OUTLINE,
        found.points,
        found.u,
        found.normals,
        found.points,
        found.seen,
        advice=tuple(advice),
        corners=found.is_corner,
    )


def _with_alternatives(found: list[Proposal], *, in_order: bool = False) -> Proposal:
    """The likeliest with the others beside it; `in_order` where the first one is the answer whatever the scores."""
    best, *others = found if in_order else sorted(found, key=lambda one: -one.score)
    others.sort(key=lambda one: -one.score)
    proposal = replace(best, alternatives=tuple(others))
    if not proposal.is_contested:
        return proposal
    apart = float(np.hypot(*(others[0].places.mean(axis=0) - best.places.mean(axis=0))))
    rival = f"Another edge, {apart:.0f} px away, answers nearly as well: choose between them."
    return replace(proposal, advice=(*best.advice, rival)) if best.sought is not Sought.RIM else proposal


_ANSWERS: dict[Sought, Callable[[_Near, Gesture], Proposal | NotFound]] = {
    Sought.CORNER: _corner,
    Sought.EDGE: lambda near, gesture: _line(near, gesture, Sought.EDGE, LineKind.EDGE),
    Sought.STRING: lambda near, gesture: _line(near, gesture, Sought.STRING, LineKind.RIDGE),
    Sought.LINE: lambda near, gesture: _line(near, gesture, Sought.LINE, None),
    Sought.LINE_END: _line_end,
    Sought.RIM: _rim,
    Sought.RECTANGLE: _rectangle,
    Sought.OUTLINE: _outline,
}
