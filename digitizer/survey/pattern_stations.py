"""Places along the measured outline at which a pattern is compared with it, each with the way out of the boat there."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number
from digitizer.job.model import MarkKind, PatternPart, Settings, Side
from digitizer.survey.dimensions import Transom
from digitizer.survey.offsets import boundary_marks, stations
from digitizer.transom.outline import BOTTOM, SIDE, Edge, OutlineMark, edges
from digitizer.units import format_length

CLEAR_OF_CORNERS_MM = 10.0
"""A station this near to a corner is left to the corner's own."""
_SIGN = {PatternPart.PORT: -1.0, PatternPart.STARBOARD: 1.0}
_CORNERS = {
    MarkKind.KEEL: "keel",
    MarkKind.CHINE: "{side} chine",
    MarkKind.CHINE_INNER: "inner edge of the {side} chine flat",
    MarkKind.TOP_CORNER: "{side} top corner",
}


@dataclass(frozen=True)
class Station:
    """A place of the measured outline, mm, with its sensitivities, and the unit vector (2,) out of the boat there."""

    name: str
    edge: str
    at: tuple[Number, Number]
    outward: FloatArray

    @property
    def xy(self) -> FloatArray:
        """Where it lies (2,), mm."""
        return np.array([float(self.at[0]), float(self.at[1])])


def measured_edges(t: Transom, part: PatternPart, chord: bool) -> list[Edge]:
    """
    Edges of the measured outline that a pattern stands for.

    Rolled flat, or as seen square to the face at the keel where the pattern was kept flat (`chord`).
    """
    marks = boundary_marks(t)
    if chord:
        marks = [replace(m, place=t.places[m.ids[0]]) if m.ids else m for m in marks]
    found = edges(marks) if len(marks) >= 3 else []
    return [e for e in found if part is not PatternPart.BOTTOM or e.name == BOTTOM]


def outline_stations(found: Sequence[Edge], part: PatternPart, settings: Settings) -> list[Station]:
    """Stations at the corners, and between them at the distances and heights of the offset table."""
    sign = _SIGN.get(part, 0.0)
    corners = list(_corners(found, sign))
    between = [
        s
        for edge in found
        for s in _along(edge, settings)
        if s.xy[0] * sign >= 0.0 and all(math.dist(s.xy, c.xy) > CLEAR_OF_CORNERS_MM for c in corners)
    ]
    return [*corners, *between]


def _corners(found: Sequence[Edge], sign: float) -> Iterator[Station]:
    """Keel, chines and top corners; the way out halves the angle between those of the two pieces that meet there."""
    ways: dict[OutlineMark, list[FloatArray]] = {}
    names: dict[OutlineMark, str] = {}
    for edge in found:
        for (a, b), way in zip(pairwise(edge.marks), _ways_at_marks(edge), strict=True):
            if (a.xy[0] + b.xy[0]) * sign < 0.0:
                continue
            for mark, out in ((a, way[0]), (b, way[1])):
                ways.setdefault(mark, []).append(out)
                names.setdefault(mark, edge.name)
    for mark, around in ways.items():
        total = np.sum(around, axis=0)
        if mark.kind in _CORNERS and float(np.hypot(*total)) > 1e-6:
            side = Side.PORT if mark.xy[0] < 0.0 else Side.STARBOARD
            name = _CORNERS[mark.kind].format(side=side)
            yield Station(name, names[mark], (mark.place.x, mark.place.y), total / np.hypot(*total))


def _ways_at_marks(edge: Edge) -> list[tuple[FloatArray, FloatArray]]:
    """Ways out at both ends of each piece from mark to mark."""
    drawn = edge.drawn()
    out = []
    for a, b in pairwise(edge.places):
        i, j = (int(np.argmin(np.hypot(*(drawn - end).T))) for end in (a, b))
        out.append((_way(drawn[i], drawn[i + 1]), _way(drawn[j - 1], drawn[j])))
    return out


def _way(a: FloatArray, b: FloatArray) -> FloatArray:
    """Unit vector (2,) to the right of the way from a to b: the boat's inside is on the left."""
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    return np.array([along[1], -along[0]])


def _along(edge: Edge, settings: Settings) -> Iterator[Station]:
    """Stations of one edge between its marks."""
    drawn, axis = edge.drawn(), 1 if edge.name == SIDE else 0
    levels = stations(settings, float(np.abs(drawn[:, axis]).max()))
    for level in sorted({sign * each for each in levels for sign in ((1.0,) if edge.name == SIDE else (-1.0, 1.0))}):
        for number, _ in edge.breadths_at(level) if edge.name == SIDE else edge.heights_at(level):
            at = (number, level) if edge.name == SIDE else (level, number)
            piece = _piece(drawn, np.array([float(at[0]), float(at[1])]))
            if piece is not None:
                yield Station(_name(edge, at, settings.unit), edge.name, at, _way(*piece))


def _name(edge: Edge, at: tuple[Number, Number], unit: str) -> str:
    x, y = float(at[0]), float(at[1])
    side = Side.PORT if x < 0.0 else Side.STARBOARD
    if edge.name == SIDE:
        return f"{side} side, {_length(y, unit)} above the keel"
    if abs(x) < 1e-9:
        return f"{edge.name}, on the centreline"
    return f"{edge.name}, {_length(abs(x), unit)} to {side}"


def _length(mm: float, unit: str) -> str:
    """A round length without its empty decimal."""
    return format_length(mm, unit).replace(".0 mm", " mm")


def _piece(drawn: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """The straight piece of a drawn edge on which a place lies."""
    a, b = drawn[:-1], drawn[1:]
    along = b - a
    square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-12)
    share = np.clip(np.einsum("ij,ij->i", at - a, along) / square, 0.0, 1.0)
    off = np.hypot(*(a + share[:, None] * along - at).T)
    best = int(np.argmin(off))
    return (drawn[best], drawn[best + 1]) if off[best] < 1.0 else None
