"""
The plate of the planned flange: laid on the transom, to scale, with margin, holes and what is in its way.

On a bowed face everything is rolled flat. Positions come from the survey; nothing is computed here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from digitizer.reports.balloon import draw_balloon
from digitizer.reports.fitting_shapes import fitting_shape, reach_of
from digitizer.reports.flange_shapes import Meaning, flange_shapes
from digitizer.reports.pads import pad_outlines
from digitizer.reports.schedule import fitting_numbers
from digitizer.reports.sheet import Disc, Place, Point, Sheet, Stroke, along, dimension_line
from digitizer.reports.view import Extent, View, extent, fitted_view, opened_ring
from digitizer.survey.model import FittingResult, FlangeFit, FlangeVerdict, Survey
from digitizer.transom.surface import girth_of
from digitizer.units import format_length, value_and_uncertainty

_LEFT, _RIGHT, _TOP, _BOTTOM = 40.0, 60.0, 20.0, 46.0
"""Room for dimension lines, points."""
_CHAIN = (14.0, 2.5, 2.0, 2.5)
_DASHES = (4.0, 2.0)
_IN_THE_WAY = 0.82
"""Grey of a fitting that is under the flange or within its margin."""


def flange_drawing(survey: Survey, fit: FlangeFit, unit: str, sheet: Sheet) -> int:
    """
    Draw the flange on the transom on an empty sheet.

    Returns
    -------
    int
        The n of the scale 1:n.
    """
    around = _extent(survey, fit)
    view = fitted_view(around, (_LEFT, _BOTTOM, sheet.width - _RIGHT, sheet.height - _TOP))
    artist = _Artist(survey, fit, unit, sheet, view, around)
    artist.hull()
    artist.flange()
    artist.fittings()
    artist.dimensions()
    artist.texts()
    return view.scale


def _extent(survey: Survey, fit: FlangeFit) -> Extent:
    """Of hull and flange."""
    left, bottom, right, top = extent(survey)
    across, up = zip(*fit.outline, strict=True)
    left, right = (girth_of(x, survey.curvature_per_mm) for x in (left, right))
    return min(left, *across), min(bottom, *up), max(right, *across), max(top, *up)


@dataclass(frozen=True)
class _Artist:
    """Draws one flange on one sheet."""

    survey: Survey
    fit: FlangeFit
    unit: str
    sheet: Sheet
    view: View
    around: Extent

    def at(self, x: float, y: float) -> Point:
        """The place on the sheet of a point of the face as the survey gives it."""
        return self.view.at(girth_of(x, self.survey.curvature_per_mm), y)

    def hull(self) -> None:
        """Outline, pads, centreline and reference line, thinner than the flange."""
        axis = self.view.at(0.0, 0.0)[0]
        _, bottom, _, top = self._frame()
        self.sheet.draw(Stroke(((axis, bottom - 8.0), (axis, top + 8.0)), 0.4, _CHAIN))
        if len(self.survey.outline) >= 3:
            self.sheet.draw(Stroke(tuple(self.at(*p) for p in opened_ring(self.survey.outline)), 0.7))
        for pad in pad_outlines(self.survey):
            self.sheet.draw(Stroke(tuple(self.at(*p) for p in pad.ring), 0.5, closed=True))
        if self.survey.reference_line:
            self.sheet.draw(Stroke(tuple(self.at(*end) for end in self.survey.reference_line), 0.4, _CHAIN))

    def flange(self) -> None:
        """Flange, margin and holes."""
        for shape in flange_shapes(self.survey):
            if shape.meaning is Meaning.BOLT_HOLE:
                x, y = self.view.at(*shape.centre)
                radius = max(1.0, self.view.length(shape.radius))
                self.sheet.draw(Disc(x, y, radius, 0.5))
                self.sheet.draw(Stroke(((x - radius - 2.0, y), (x + radius + 2.0, y)), 0.25))
                self.sheet.draw(Stroke(((x, y - radius - 2.0), (x, y + radius + 2.0)), 0.25))
                continue
            ring = tuple(self.view.at(*p) for p in shape.ring)
            margin = shape.meaning is Meaning.MARGIN
            self.sheet.draw(Stroke(ring, 0.4 if margin else 1.6, _DASHES if margin else (), closed=True))

    def fittings(self) -> None:
        """Each at its true size; grey where it is in the way."""
        near = {f.fitting for f in self.fit.fittings if f.verdict is not FlangeVerdict.CLEAR}
        for fitting in self._placed():
            first, *cross = fitting_shape(fitting, self.view, 0.0)
            self.sheet.draw(replace(first, fill=_IN_THE_WAY) if fitting.id in near and len(cross) == 2 else first)
            self.sheet.draw(*cross)

    def dimensions(self) -> None:
        """Dimension lines with their heads."""
        for a, b, _ in self._lengths():
            self.sheet.draw(*dimension_line(a, b))
        across, _ = zip(*self.fit.outline, strict=True)
        low, high = self.fit.top_mm - self.fit.height_mm, self.fit.top_mm
        side, level = self._frame()[2] + 37.0, self._frame()[1] - 37.0
        for x, y, to in ((max(across), high, side), (self._middle, low, side - 18.0), (0.0, 0.0, side)):
            start = self.view.at(x, y)
            self.sheet.draw(Stroke(((start[0] + 3.0, start[1]), (to, start[1])), 0.2))
        for x in (min(across), max(across)):
            start = self.view.at(x, low + (high - low) / 2.0)
            self.sheet.draw(Stroke(((start[0], start[1]), (start[0], level)), 0.2))

    def texts(self) -> None:
        """Figures and numbers, each where it covers least."""
        for a, b, text in self._lengths():
            self.sheet.write(text, along(min(a, b), max(a, b), 5.6))
        low = self._frame()[1]
        for station in self.fit.stations:
            x = self.view.at(station.x_mm, 0.0)[0]
            value, expanded = value_and_uncertainty(station.gap.value, station.gap.U, self.unit)
            places = [Place(x + aside, low - fall) for fall in (10.0, 20.0) for aside in (0.0, 18.0, -18.0)]
            self.sheet.write(f"gap {value} ± {expanded}", places, 6.5)
        numbers = fitting_numbers(self.survey.fittings)
        for fitting in self._placed():
            at = self.view.at(fitting.x.value, fitting.y.value)
            draw_balloon(self.sheet, at, reach_of(fitting, self.view), numbers[fitting.id])

    def _lengths(self) -> Iterator[tuple[Point, Point, str]]:
        """Ends and text of each dimension line of the flange."""
        across = [x for x, _ in self.fit.outline]
        _, bottom, right, _ = self._frame()
        level = bottom - 34.0
        a, b = self.view.at(min(across), 0.0)[0], self.view.at(max(across), 0.0)[0]
        yield (a, level), (b, level), f"flange {format_length(self.fit.width_mm, self.unit)}"
        column = right + 16.0
        low, high = self.view.at(0.0, self.fit.top_mm - self.fit.height_mm)[1], self.view.at(0.0, self.fit.top_mm)[1]
        yield (column, low), (column, high), format_length(self.fit.height_mm, self.unit)
        base = self.view.at(0.0, 0.0)[1]
        text = f"top {format_length(self.fit.top_mm, self.unit)} above keel"
        yield (column + 18.0, base), (column + 18.0, high), text

    @property
    def _middle(self) -> float:
        """Of the flange, from the centreline, mm."""
        across = [x for x, _ in self.fit.outline]
        return (min(across) + max(across)) / 2.0

    def _frame(self) -> Extent:
        return *self.view.at(*self.around[:2]), *self.view.at(*self.around[2:])

    def _placed(self) -> list[FittingResult]:
        """Fittings whose place is known, rolled flat."""
        flat = (replace(f, x=f.girth or f.x) for f in self.survey.fittings)
        return [f for f in flat if math.isfinite(f.x.value) and math.isfinite(f.y.value)]
