"""A pattern's marks laid on a transom's outline: which face was up, by its marks or by best fit, and how it differs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number
from digitizer.job.model import AlignedOn, Pattern, PatternFace, PatternPart
from digitizer.survey.dimensions import Transom
from digitizer.survey.pattern_fit import REACH_MM, Met, Placing, by_edge, by_marks, by_placing, met, rms
from digitizer.survey.pattern_stations import Station, measured_edges, outline_stations

Plane = Mapping[str, tuple[float, float]]
"""By id of a mark: its place in the pattern's plane, mm."""


@dataclass(frozen=True)
class Anchor:
    """A mark on the pattern and where it belongs on the transom; `seen` says which of x and y that fixes."""

    mark: str
    at: tuple[Number, Number]
    seen: tuple[bool, bool]


@dataclass(frozen=True)
class Comparing:
    """What a pattern is compared with: stations of the outline, and the anchors that its marks have there."""

    stations: tuple[Station, ...]
    anchors: tuple[Anchor, ...]
    edge: tuple[str, ...]
    closed: bool

    @property
    def places(self) -> FloatArray:
        """Of the stations (k, 2), mm."""
        return np.array([s.xy for s in self.stations])

    @property
    def outward(self) -> FloatArray:
        """Ways out (k, 2) at the stations."""
        return np.array([s.outward for s in self.stations])

    @property
    def wanted(self) -> FloatArray:
        """Where the anchors lie (r, 2), mm; zero where one does not count."""
        return np.array([[float(c) for c in a.at] for a in self.anchors]).reshape(-1, 2)

    @property
    def seen(self) -> FloatArray:
        """Which coordinates of the anchors count (r, 2)."""
        return np.array([a.seen for a in self.anchors], dtype=bool).reshape(-1, 2)


@dataclass(frozen=True)
class Fitted:
    """A pattern on the outline with one of its faces up."""

    placing: Placing
    by_marks: bool
    own: FloatArray
    """Its edge in its own plane (n, 2), mm."""
    anchors: FloatArray
    """Its alignment marks in its own plane (r, 2), mm."""
    met: Met
    rms: float
    rms_fit: float
    """After a best fit to the edge alone."""
    misfit: float
    """As `rms`, with what it does not meet counted as beyond reach: tells which face was up."""
    free: FloatArray
    """Derivatives (k, 3) of the distances by shift and turn."""
    strays: tuple[tuple[str, float], ...]
    """Alignment marks, each with its distance (mm) from where a best fit of the edge puts it, the farthest first."""


def comparing(t: Transom, pattern: Pattern, edge: Sequence[str], chord: bool) -> Comparing | None:
    """What there is to compare a pattern with; None where its part of the outline was not marked."""
    found = measured_edges(t, pattern.part, chord)
    stations = outline_stations(found, pattern.part, t.network.job.settings)
    if len(stations) < 3:
        return None
    return Comparing(
        tuple(stations), tuple(_anchors(t, pattern, chord)), tuple(edge), pattern.part is PatternPart.WHOLE
    )


def _anchors(t: Transom, pattern: Pattern, chord: bool) -> list[Anchor]:
    places = t.places if chord else t.developed
    out = []
    for a in pattern.aligned:
        if a.at == AlignedOn.CENTRELINE:
            out.append(Anchor(a.mark, (0.0, 0.0), (True, False)))
        elif a.at == AlignedOn.REFERENCE_LINE and t.reference_height is not None:
            out.append(Anchor(a.mark, (0.0, t.reference_height), (False, True)))
        elif a.at in places:
            out.append(Anchor(a.mark, (places[a.at].x, places[a.at].y), (True, True)))
    return out


def unplaced(t: Transom, pattern: Pattern) -> list[str]:
    """Points and lines that alignment marks name and the survey has not placed."""
    known = {*t.places, AlignedOn.CENTRELINE.value}
    if t.reference_height is not None:
        known.add(AlignedOn.REFERENCE_LINE.value)
    return [a.at for a in pattern.aligned if a.at not in known]


def fitted(c: Comparing, plane: Plane) -> dict[bool, Fitted]:
    """The pattern laid on the outline with either face up, by whether it was turned over; where it can be laid."""
    both = {mirrored: _laid(c, plane, mirrored) for mirrored in (False, True)}
    return {mirrored: f for mirrored, f in both.items() if f is not None}


def chosen(options: Mapping[bool, Fitted], pattern: Pattern) -> Fitted | None:
    """With the face up that the job names; else with the one that fits better, not turned over if they fit alike."""
    if pattern.face_up is not None:
        return options.get(pattern.face_up is PatternFace.FORWARD)
    return min(options.values(), key=lambda f: f.misfit * (1.02 if f.placing.mirrored else 1.0), default=None)


def _laid(c: Comparing, plane: Plane, mirrored: bool) -> Fitted | None:
    own = np.array([plane[i] for i in c.edge])
    marked = [i for i, a in enumerate(c.anchors) if a.mark in plane]
    anchors = np.array([plane[c.anchors[i].mark] for i in marked]).reshape(-1, 2)
    best = by_edge(own, c.closed, c.places, c.outward, mirrored)
    placed = by_marks(anchors, c.wanted[marked], c.seen[marked], mirrored, best) if marked else None
    placing = placed or best
    if placing is None:
        return None
    m = met(placing.of(own), c.closed, c.places, c.outward)
    if len(m.which) < 3:
        return None
    fit = rms(met(best.of(own), c.closed, c.places, c.outward).off) if best is not None else math.inf
    missed = len(c.stations) - len(m.which)
    misfit = math.sqrt((float(np.sum(m.off**2)) + missed * REACH_MM**2) / len(c.stations))
    return Fitted(
        placing=placing,
        by_marks=placed is not None,
        own=own,
        anchors=anchors,
        met=m,
        rms=rms(m.off),
        rms_fit=fit,
        misfit=misfit,
        free=by_placing(m, placing, own),
        strays=tuple(_strays(c, marked, anchors, best)),
    )


def _strays(c: Comparing, marked: Sequence[int], anchors: FloatArray, best: Placing | None) -> list[tuple[str, float]]:
    if best is None or not len(anchors):
        return []
    off = np.where(c.seen[marked], best.of(anchors) - c.wanted[marked], 0.0)
    found = zip((c.anchors[i].mark for i in marked), np.hypot(off[:, 0], off[:, 1]).tolist(), strict=True)
    return sorted(found, key=lambda each: -each[1])
