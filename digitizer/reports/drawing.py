"""
The dimension drawing of the transom, to scale, seen square on from astern.

Lays out a :class:`~digitizer.reports.sheet.Sheet`; positions come from the survey, nothing is computed here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from digitizer.reports.balloon import draw_balloon
from digitizer.reports.bow_section import ROOM, bow_section, draw_bow_section
from digitizer.reports.fitting_shapes import fitting_shape, reach_of
from digitizer.reports.pads import PadOutline, pad_outlines
from digitizer.reports.schedule import fitting_numbers
from digitizer.reports.sheet import Disc, Place, Point, Sheet, Stroke, along, dimension_line
from digitizer.reports.table import printed_value
from digitizer.reports.view import Extent, View, extent, fitted_view, opened_ring
from digitizer.survey.model import Dimension, FittingResult, Survey
from digitizer.units import unit_name

_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 64.0, 34.0, 66.0
"""Room for dimension lines round the transom, points."""
_STEP = 17.0
"""Distance between neighbouring dimension lines, points."""
_CHAIN = (14.0, 2.5, 2.0, 2.5)
_SHORT_CHAIN = (7.0, 2.0, 1.5, 2.0)


def transom_drawing(survey: Survey, unit: str, b_offset_mm: float, sheet: Sheet) -> int:
    """
    Draw the transom with its dimensions on an empty sheet.

    Returns
    -------
    int
        The n of the scale 1:n.
    """
    around = extent(survey)
    below = _BOTTOM + (ROOM if bow_section(survey) is not None else 0.0)
    view = fitted_view(around, (_LEFT, below, sheet.width - _RIGHT, sheet.height - _TOP))
    artist = _Artist(survey, unit, b_offset_mm, sheet, view, around)
    artist.hull()
    artist.pads()
    artist.fittings()
    artist.dimensions()
    artist.section()
    artist.texts()
    return view.scale


def figure(dimension: Dimension, unit: str) -> str:
    """A dimension as it stands on a drawing: value ± U; degrees keep their sign, lengths go without unit."""
    value, expanded, name = printed_value(dimension, unit)
    return f"{value}° ± {expanded}°" if name == "°" else f"{value} ± {expanded}"


@dataclass(frozen=True)
class _Artist:
    """Draws one survey on one sheet."""

    survey: Survey
    unit: str
    b_offset: float
    sheet: Sheet
    view: View
    around: Extent

    def hull(self) -> None:
        """Outline, chine points, baseline, centreline and reference line."""
        left, bottom, right, top = self._frame()
        baseline = Stroke((self._out(left, 0.0), self._out(right, 0.0)), 0.3, (1.5, 2.0))
        axis = self.view.at(0, 0)[0]
        self.sheet.draw(baseline, Stroke(((axis, bottom - 10.0), (axis, top + 8.0)), 0.5, _CHAIN))
        for line in self._outlines():
            self.sheet.draw(Stroke(line, 1.3))
        for x, y in (place for kind in ("chine", "chine_inner", "keel", "top_corner") for place in self._marked(kind)):
            self.sheet.draw(Disc(*self.view.at(x, y), 1.5, 0.4, fill=0.0))
        if self.survey.reference_line:
            ends = tuple(self.view.at(*end) for end in self.survey.reference_line)
            self.sheet.draw(Stroke(ends, 0.7, _SHORT_CHAIN))

    def pads(self) -> None:
        """Outline of each pad; its text follows when all lines stand."""
        for pad in pad_outlines(self.survey):
            self.sheet.draw(Stroke(tuple(self.view.at(*place) for place in pad.ring), 0.7, closed=True))

    def fittings(self) -> None:
        """Each fitting at its true size, with a cross at its centre; balloons follow when all of them stand."""
        for fitting in self._placed():
            self.sheet.draw(*fitting_shape(fitting, self.view, self.survey.curvature_per_mm))

    def dimensions(self) -> None:
        """Dimension lines with their heads; texts come once all lines are there."""
        for a, b, _ in self._lengths():
            self.sheet.draw(*dimension_line(a, b))
        for arc, _, _ in self._deadrises():
            self.sheet.draw(Stroke(arc, 0.35))

    def section(self) -> None:
        """How far the face is bowed, under the widths."""
        section = bow_section(self.survey)
        if section is not None:
            text = f"sagitta {figure(section.sagitta, self.unit)}"
            draw_bow_section(section, self.view, text, self._frame()[1] - 36.0 - _STEP, self.sheet)

    def texts(self) -> None:
        """Figures, numbers and names, each where it covers least."""
        for a, b, text in self._lengths():
            first, second = sorted((a, b))
            self.sheet.write(text, along(first, second, 5.6))
        for arc, places, text in self._deadrises():
            self.sheet.write(text, [*places, Place(*arc[len(arc) // 2])], 8.0, bold=True)
        numbers = fitting_numbers(self.survey.fittings)
        for fitting in self._placed():
            at = self.view.at(fitting.x.value, fitting.y.value)
            draw_balloon(self.sheet, at, reach_of(fitting, self.view), numbers[fitting.id])
        for pad in pad_outlines(self.survey):
            self._name_pad(pad)
        self._names()

    def _name_pad(self, pad: PadOutline) -> None:
        """Inside along its edges, or just outside."""
        across, up = zip(*(self.view.at(*place) for place in pad.ring), strict=True)
        text = pad.id if pad.height is None else f"{pad.id}: {figure(pad.height, self.unit)} {pad.stands}"
        middles = [min(across) + share * (max(across) - min(across)) for share in (0.24, 0.76, 0.5)]
        levels = (max(up) - 7.0, min(up) + 7.0, max(up) + 7.0, min(up) - 7.0)
        self.sheet.write(text, [Place(x, y) for y in levels for x in middles], 6.5)

    def _names(self) -> None:
        left, bottom, right, top = self._frame()
        axis = self.view.at(0, 0)[0]
        self.sheet.write("℄", [Place(axis + 8.0, top + 6.5), Place(axis - 8.0, top + 6.5)], 10.0)
        levels = [bottom - fall for fall in (44.0, 54.0, 82.0, 30.0)]
        self.sheet.write("PORT", [Place(left + 24.0, y) for y in levels], 10.0, bold=True)
        self.sheet.write("STARBOARD", [Place(right - 36.0, y) for y in levels], 10.0, bold=True)
        if self.survey.reference_line:
            a, b = (self.view.at(*end) for end in sorted(self.survey.reference_line))
            self.sheet.write("reference line", along(a, b, 5.6, (0.14, 0.86, 0.25, 0.75, 0.35, 0.65)), 6.5)
        if crown := self._value("crown"):
            below = [
                Place(axis + aside, top - fall) for aside in (52.0, -52.0, 75.0, -75.0) for fall in (9.0, 13.0, 20.0)
            ]
            self.sheet.write(f"crown {figure(crown, self.unit)}", below, 6.5)

    def _lengths(self) -> Iterator[tuple[Point, Point, str]]:
        """Ends and text of each dimension line; the extension lines are drawn with the first pass."""
        yield from self._widths()
        yield from self._heights()
        yield from self._drops()

    def _widths(self) -> Iterator[tuple[Point, Point, str]]:
        _, bottom, _, top = self._frame()
        rows = (
            ("chine_beam_inner", "chine_inner", bottom - 24.0),
            ("chine_beam", "chine", bottom - 24.0 - _STEP),
            ("top_width", "top_corner", top + 16.0),
        )
        for code, kind, level in rows:
            value, places = self._value(code), sorted(self._marked(kind))
            if value is None or len(places) < 2:
                continue
            a, b = (self.view.at(*place) for place in (places[0], places[-1]))
            for end in (a, b):
                self._extension(end, (end[0], level))
            yield (a[0], level), (b[0], level), self._named(code, value)

    def _heights(self) -> Iterator[tuple[Point, Point, str]]:
        left, _, right, _ = self._frame()
        columns = (
            ("height_chine_port", "chine", -1, left - 14.0),
            ("height_port", "top_corner", -1, left - 14.0 - _STEP),
            ("height_chine_starboard", "chine", 1, right + 14.0),
            ("height_starboard", "top_corner", 1, right + 14.0 + _STEP),
            ("height_centre", "", 0, right + 14.0 + 2 * _STEP),
        )
        for code, kind, side, column in columns:
            value = self._value(code)
            place = self._height_end(kind, side, value)
            if value is None or place is None:
                continue
            top = self.view.at(*place)
            base = self.view.at(0, 0)[1]
            self._extension(top, (column, top[1]))
            yield (column, base), (column, top[1]), self._named(code, value)

    def _height_end(self, kind: str, side: int, value: Dimension | None) -> Point | None:
        if side == 0:
            return (0.0, value.value) if value else None
        return next((place for place in self._marked(kind) if place[0] * side > 0), None)

    def _drops(self) -> Iterator[tuple[Point, Point, str]]:
        """A and B, down from the reference line. A stands a little aside, clear of the centreline."""
        if not self.survey.reference_line:
            return
        for code, x in (("a_centre", 0.0), ("b_port", -self.b_offset), ("b_starboard", self.b_offset)):
            value = self._value(code)
            if value is None:
                continue
            high = self._reference_height(x)
            a, b = self.view.at(x, high), self.view.at(x, high - value.value)
            aside = 13.0 if code == "a_centre" else 0.0
            if aside:
                self._extension(b, (b[0] + aside, b[1]))
            yield (a[0] + aside, b[1]), (a[0] + aside, a[1]), self._named(code, value)

    def _deadrises(self) -> Iterator[tuple[tuple[Point, ...], list[Place], str]]:
        """Arc from the baseline to the bottom edge, and where its figure may stand."""
        half = max(abs(self.around[0]), abs(self.around[2]))
        for side, sign in (("port", -1), ("starboard", 1)):
            value = self._value(f"deadrise_chord_{side}") or self._value(f"deadrise_edge_{side}")
            if value is None:
                continue
            radius = 0.62 * half
            turns = [math.radians(value.value) * step / 24 for step in range(25)]
            arc = tuple(self.view.at(sign * radius * math.cos(t), radius * math.sin(t)) for t in turns)
            x, y = self.view.at(sign * radius, radius * math.tan(math.radians(value.value)) * 0.4)
            places = [Place(x + sign * shift, y + rise) for shift in (34, 42, 52, -30) for rise in (0, -6, 6, -14)]
            yield arc, places, figure(value, self.unit)

    def _extension(self, start: Point, end: Point) -> None:
        """Thin line from near the thing to a little past the dimension line; drawn once."""
        length = math.dist(start, end)
        if length < 4.0:
            return
        ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        line = Stroke(((start[0] + 2.5 * ux, start[1] + 2.5 * uy), (end[0] + 3 * ux, end[1] + 3 * uy)), 0.25)
        if line not in self.sheet.items:
            self.sheet.draw(line)

    def _outlines(self) -> Iterator[tuple[Point, ...]]:
        """The marked outline; without one, the bottom edges from chine to chine."""
        if len(self.survey.outline) >= 3:
            yield tuple(self.view.at(*place) for place in opened_ring(self.survey.outline))
            return
        bottom = sorted(
            [*self._marked("chine"), *self._marked("chine_inner"), *self._marked("bottom_edge"), (0.0, 0.0)]
        )
        if len(bottom) >= 2:
            yield tuple(self.view.at(*place) for place in bottom)

    def _frame(self) -> Extent:
        """The extent on the sheet."""
        return *self.view.at(*self.around[:2]), *self.view.at(*self.around[2:])

    def _out(self, x: float, y_mm: float) -> Point:
        """On the baseline, a little outside the extent."""
        aside = -14.0 - _STEP if x < self.view.at(0, 0)[0] else 14.0 + 2 * _STEP
        return x + aside, self.view.at(0, y_mm)[1]

    def _placed(self) -> list[FittingResult]:
        """Fittings whose position is known."""
        return [each for each in self.survey.fittings if math.isfinite(each.x.value) and math.isfinite(each.y.value)]

    def _marked(self, kind: str) -> list[Point]:
        return [(point.x, point.y) for point in self.survey.points if point.kind == kind]

    def _value(self, code: str) -> Dimension | None:
        found = next((each for each in self.survey.dimensions if each.code == code), None)
        return found if found is not None and math.isfinite(found.value) else None

    def _named(self, code: str, value: Dimension) -> str:
        names = {"a_centre": "A  ", "b_port": "B  ", "b_starboard": "B  ", "height_centre": "℄  "}
        return names.get(code, "") + figure(value, self.unit)

    def _reference_height(self, x: float) -> float:
        assert self.survey.reference_line
        (x1, y1), (x2, y2) = self.survey.reference_line
        return y1 + (y2 - y1) * (x - x1) / (x2 - x1) if x2 != x1 else y1


def scale_note(unit: str) -> str:
    """The sentence of the title block on units."""
    if unit == "in/16":
        return "Lengths in inches to 1/16, U in decimal inches"
    return "Lengths in millimetres" if unit_name(unit) == "mm" else "Lengths in inches"
