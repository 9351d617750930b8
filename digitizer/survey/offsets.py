"""
The outline as it would be cut, and its offset table: heights at stations, half-breadths at heights.

In the face, rolled flat where it is bowed, so that distances from the centreline are then girths.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from digitizer.job.model import LengthUnit, MarkKind, Settings, Side
from digitizer.survey.dimensions import BOUNDARY, SIDES, Figure, Transom
from digitizer.survey.model import Dimension, Offset, OffsetLine, OutlineEdge, Quantity
from digitizer.survey.uncertainty import Scales
from digitizer.transom.outline import BOTTOM, TOP, Crossing, Edge, OutlineMark, edges
from digitizer.transom.system import Place
from digitizer.units import format_length

STEP_MM, STEP_INCH_MM = 100.0, 101.6
"""Usual distance between stations: 100 mm, or 4 in where lengths are in inches."""
_LARGEST_BREADTH = 1e5
_SIGNS = {Side.PORT: -1.0, Side.CENTRE: 0.0, Side.STARBOARD: 1.0}

Place2 = tuple[OffsetLine, Side, float]
"""What an offset is of, on which side, at which station."""


def boundary_marks(t: Transom) -> list[OutlineMark]:
    """Marks of the boundary, rolled flat; where no keel was marked, with the meeting of the bottom edges."""
    marks = [
        OutlineMark((i,), p.kind, t.developed[i], frozenset(m.photo for m in p.marks))
        for i, p in t.infos.items()
        if p.kind in BOUNDARY
    ]
    return marks if t.keel is not None else [*marks, OutlineMark((), MarkKind.KEEL, Place(0.0, 0.0), frozenset())]


def outline_edges(t: Transom) -> list[Edge]:
    """Edges of the outline through the marks."""
    marks = boundary_marks(t)
    return edges(marks) if len(marks) >= 3 else []


def drawn_edges(found: Sequence[Edge]) -> tuple[OutlineEdge, ...]:
    """The edges as lines of points."""
    return tuple(OutlineEdge(e.name, tuple((float(x), float(y)) for x, y in e.drawn())) for e in found)


def offset_figures(t: Transom, found: Sequence[Edge]) -> dict[Place2, Figure]:
    """Every offset at the stations that the job's settings ask for, as far as the outline was marked."""
    if not found:
        return {}
    settings = t.network.job.settings
    across = max(abs(float(x)) for e in found for x in e.places[:, 0])
    up = max(float(y) for e in found for y in e.places[:, 1])
    figures = {}
    for place in _asked(stations(settings, across), stations(settings, up)):
        crossing = offset_at(found, place)
        if crossing is not None:
            figures[place] = _figure(place, crossing, t.is_bowed, settings.unit)
    return figures


def offset_results(
    figures: dict[Place2, Figure], scales: Scales, widen: Callable[[Dimension], Dimension]
) -> tuple[Offset, ...]:
    """Offsets with their uncertainty."""
    dimensions = scales.dimensions(list(figures.values()))
    return tuple(
        Offset(line, str(side), station, widen(dimension))
        for (line, side, station), dimension in zip(figures, dimensions, strict=True)
    )


def stations(settings: Settings, largest: float) -> list[float]:
    """Distances at which offsets are given, mm: those the settings name, or evenly from zero to the largest."""
    if settings.stations_mm:
        return sorted({station for station in settings.stations_mm if station <= largest})
    usual = STEP_MM if settings.unit is LengthUnit.MILLIMETRE else STEP_INCH_MM
    step = settings.station_step_mm or usual
    return [step * count for count in range(math.floor(min(largest, _LARGEST_BREADTH) / step) + 1)]


def _asked(across: Sequence[float], up: Sequence[float]) -> Iterator[Place2]:
    for line in (OffsetLine.BOTTOM, OffsetLine.TOP):
        for station in across:
            for side in SIDES if station > 0.0 else (Side.CENTRE,):
                yield line, side, station
    for station in up:
        for side in SIDES:
            yield OffsetLine.HALF_BREADTH, side, station


def offset_at(found: Sequence[Edge], place: Place2) -> Crossing | None:
    """The bottom's lowest, the top's highest, or the outermost crossing of bottom and sides; none where unmarked."""
    line, side, station = place
    sign = _SIGNS[side]
    if line is OffsetLine.HALF_BREADTH:
        crossings = [c for e in found if e.name != TOP for c in e.breadths_at(station)]
        outside = [(value * sign, ids) for value, ids in crossings if float(value) * sign > 0.0]
        return max(outside, key=lambda c: float(c[0]), default=None)
    name, pick = (BOTTOM, min) if line is OffsetLine.BOTTOM else (TOP, max)
    crossings = [c for e in found if e.name == name for c in e.heights_at(sign * station)]
    return pick(crossings, key=lambda c: float(c[0]), default=None)


def _figure(place: Place2, crossing: Crossing, bowed: bool, unit: str) -> Figure:
    line, side, station = place
    at = format_length(station, unit)
    if line is OffsetLine.HALF_BREADTH:
        label, note = f"Half-breadth {side}, {at} above the keel", "girth" if bowed else ""
    else:
        where = f"{at} to {side}" if side is not Side.CENTRE else "on the centreline"
        label, note = f"Height of the {line}, {where}", "station by girth" if bowed else ""
    code = f"offset_{line}_{side}_{station:g}"
    return Figure(code, label, "Offsets", Quantity.LENGTH, crossing[0], crossing[1], note)
