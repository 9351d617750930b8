"""How far a pattern stands off the measured outline, drawn along it and enlarged, so that millimetres are seen."""

from __future__ import annotations

from digitizer.reports.sheet import Disc, Label, Sheet, Stroke
from digitizer.reports.view import View, fitted_view
from digitizer.survey.model import PatternResult, PatternStation, Survey
from digitizer.transom.surface import girth_of

HEIGHT = 220.0
"""Of the drawing, points."""
_ROOM = 30.0
"""For differences at the border, points."""
_TIMES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_CHAIN = (14.0, 2.5, 2.0, 2.5)
_BAR_GREY = 0.72


def pattern_drawing(survey: Survey, pattern: PatternResult, sheet: Sheet) -> float:
    """
    Draw the differences of a pattern on an empty sheet.

    Returns
    -------
    float
        How many times larger than the outline the differences are drawn.
    """
    places = [point for edge in survey.edges for point in edge.points] + [(0.0, 0.0)]
    across, up = zip(*places, strict=True)
    around = min(across), min(up), max(across), max(up)
    view = fitted_view(around, (_ROOM, _ROOM, sheet.width - _ROOM, sheet.height - _ROOM))
    times = _enlarged(pattern, view)
    axis = view.at(0.0, 0.0)[0]
    sheet.draw(Stroke(((axis, 6.0), (axis, sheet.height - 6.0)), 0.4, _CHAIN))
    for edge in survey.edges:
        sheet.draw(Stroke(tuple(view.at(*point) for point in edge.points), 0.5))
    curvature = survey.curvature_per_mm if pattern.taken == "chord" else 0.0
    for station in pattern.stations:
        _draw(station, view, times, curvature, sheet)
    sheet.draw(Label("PORT", 28.0, 10.0, 7.0), Label("STARBOARD", sheet.width - 40.0, 10.0, 7.0))
    return times


def _enlarged(pattern: PatternResult, view: View) -> float:
    """The largest round factor at which all that counts stays within the room for it."""
    largest = max(max(abs(s.difference.value), s.difference.U) for s in pattern.stations)
    return next((t for t in reversed(_TIMES) if view.length(t * largest) <= _ROOM - 4.0), _TIMES[0])


def _draw(station: PatternStation, view: View, times: float, curvature: float, sheet: Sheet) -> None:
    x, y = view.at(girth_of(station.x, curvature), station.y)
    out, up = station.outward
    bar, off = (view.length(times * each) for each in (station.difference.U, station.difference.value))
    end = (x + off * out, y + off * up)
    sheet.draw(
        Stroke(((x - bar * out, y - bar * up), (x + bar * out, y + bar * up)), 2.6, grey=_BAR_GREY),
        Stroke(((x, y), end), 0.7),
        Disc(*end, 0.9, 0.4, fill=0.0),
    )
