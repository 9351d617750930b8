"""
The dimension drawing of the transom, to scale, seen from astern.

Lays out a :class:`~digitizer.reports.sheet.Sheet`; positions come from the survey, nothing is computed here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from digitizer.reports.schedule import fitting_numbers
from digitizer.reports.sheet import Disc, Label, Place, Point, Sheet, Stroke, along, dimension_line, disc_box
from digitizer.reports.table import printed_value
from digitizer.survey.model import Dimension, FittingResult, Survey
from digitizer.units import unit_name

SCALES = (1, 2, 4, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 200, 500, 1000)
_POINTS_PER_MM = 72.0 / 25.4
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 64.0, 34.0, 66.0
"""Room for dimension lines round the transom, points."""
_STEP = 17.0
"""Distance between neighbouring dimension lines, points."""
_CHAIN = (14.0, 2.5, 2.0, 2.5)
_SHORT_CHAIN = (7.0, 2.0, 1.5, 2.0)
_BALLOON = 6.2
_WIDEST_PIECE = 0.6
"""Part of the width beyond which two neighbouring marks of the outline are not joined."""

Extent = tuple[float, float, float, float]


@dataclass(frozen=True)
class View:
    """Where millimetres of the transom fall on the sheet."""

    scale: int
    origin: Point
    """The keel point on the sheet, points."""

    def at(self, x: float, y: float) -> Point:
        """The place on the sheet of a point of the face, mm."""
        return self.origin[0] + self.length(x), self.origin[1] + self.length(y)

    def length(self, mm: float) -> float:
        """A length on the boat in points on the sheet."""
        return mm * _POINTS_PER_MM / self.scale


def extent(survey: Survey) -> Extent:
    """Left, bottom, right and top of everything measured, mm."""
    places = [
        (0.0, 0.0),
        *survey.outline,
        *((p.x, p.y) for p in survey.points if p.kind not in ("plumb_line", "keel_line")),
    ]
    places += [*(survey.reference_line or ()), *((f.x.value, f.y.value) for f in survey.fittings)]
    places = [place for place in places if all(math.isfinite(each) for each in place)]
    across, up = zip(*places, strict=True)
    return min(across), min(up), max(across), max(up)


def fitting_scale(around: Extent, width: float, height: float) -> int:
    """The largest usual scale 1:n at which an extent in mm fits into a room in points."""
    wide, high = (around[2] - around[0]) * _POINTS_PER_MM, (around[3] - around[1]) * _POINTS_PER_MM
    return next((n for n in SCALES if wide / n <= width and high / n <= height), SCALES[-1])


def transom_drawing(survey: Survey, unit: str, b_offset_mm: float, sheet: Sheet) -> int:
    """
    Draw the transom with its dimensions on an empty sheet.

    Returns
    -------
    int
        The n of the scale 1:n.
    """
    around = extent(survey)
    room = sheet.width - _LEFT - _RIGHT, sheet.height - _TOP - _BOTTOM
    scale = fitting_scale(around, *room)
    per_mm = _POINTS_PER_MM / scale
    middle = _LEFT + room[0] / 2 - (around[0] + around[2]) / 2 * per_mm
    centre = _BOTTOM + room[1] / 2 - (around[1] + around[3]) / 2 * per_mm
    artist = _Artist(survey, unit, b_offset_mm, sheet, View(scale, (middle, centre)), around)
    artist.hull()
    artist.fittings()
    artist.dimensions()
    artist.texts()
    return scale


def figure(dimension: Dimension, unit: str) -> str:
    """A dimension as it stands on a drawing: value ± U; degrees keep their sign, lengths go without unit."""
    value, expanded, name = printed_value(dimension, unit)
    return f"{value}° ± {expanded}°" if name == "°" else f"{value} ± {expanded}"


def opened_ring(outline: Sequence[Point]) -> list[Point]:
    """
    The outline as one line: closed where it was marked all round, open at a gap too wide to bridge.

    A straight bottom edge marked at keel and chine only spans about half of the width, so pieces longer than
    that are taken for a part that was not marked, such as a top edge without marks.
    """
    ring = [*outline[1:], outline[0]]
    pieces = [math.dist(a, b) for a, b in zip(outline, ring, strict=True)]
    longest = pieces.index(max(pieces))
    line = [*outline[longest + 1 :], *outline[: longest + 1]]
    width = max(x for x, _ in outline) - min(x for x, _ in outline)
    return line if pieces[longest] > _WIDEST_PIECE * width else [*line, line[0]]


def balloon_places(x: float, y: float, clear: float) -> list[Point]:
    """Where the number of a fitting may stand round it, nearest first; `clear` is the rim's radius."""
    return [
        (x + (clear + far) * math.cos(math.radians(turn)), y + (clear + far) * math.sin(math.radians(turn)))
        for far in (11.0, 17.0, 24.0, 32.0)
        for turn in (45, 135, 315, 225, 20, 160, 340, 200, 70, 110, 290, 250)
    ]


def draw_balloon(
    sheet: Sheet, at: Point, clear: float, number: int, radius: float = _BALLOON, halo: float = 0.0
) -> None:
    """Put a fitting's number beside it where it covers least, with a leader."""
    discs = [Disc(x, y, radius, 0.6, fill=1.0) for x, y in balloon_places(*at, clear)]
    best = discs[sheet.best([disc_box(disc, 1.0) for disc in discs])]
    angle = math.atan2(best.y - at[1], best.x - at[0])
    reach = math.dist(at, (best.x, best.y)) - radius
    ends = tuple((at[0] + far * math.cos(angle), at[1] + far * math.sin(angle)) for far in (clear, reach))
    sheet.draw(
        Stroke(ends, 0.5, halo=halo), best, Label(str(number), best.x, best.y, 7.5 if number < 100 else 6.0, bold=True)
    )


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

    def fittings(self) -> None:
        """Each fitting at its true size, with a cross at its centre; balloons follow when all of them stand."""
        for fitting in self._placed():
            self.sheet.draw(*self._fitting(fitting))

    def dimensions(self) -> None:
        """Dimension lines with their heads; texts come once all lines are there."""
        for a, b, _ in self._lengths():
            self.sheet.draw(*dimension_line(a, b))
        for arc, _, _ in self._deadrises():
            self.sheet.draw(Stroke(arc, 0.35))

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
            draw_balloon(self.sheet, at, self._radius(fitting), numbers[fitting.id])
        self._names()

    def _names(self) -> None:
        left, bottom, right, top = self._frame()
        axis = self.view.at(0, 0)[0]
        self.sheet.write("℄", [Place(axis + 8.0, top + 6.5), Place(axis - 8.0, top + 6.5)], 10.0)
        self.sheet.write(
            "PORT", [Place(left + 24.0, y) for y in (bottom - 44.0, bottom - 54.0, bottom - 30.0)], 10.0, bold=True
        )
        across = [Place(right - 36.0, y) for y in (bottom - 44.0, bottom - 54.0, bottom - 30.0)]
        self.sheet.write("STARBOARD", across, 10.0, bold=True)
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

    def _fitting(self, fitting: FittingResult) -> Iterator[Stroke | Disc]:
        x, y = self.view.at(fitting.x.value, fitting.y.value)
        arm = max(2.5, min(1.25 * self._radius(fitting), self._radius(fitting) + 3.0))
        if fitting.width and fitting.height:
            yield Stroke(self._rectangle(fitting), 0.8, closed=True)
            arm = 2.5
        elif fitting.diameter:
            yield Disc(x, y, self._radius(fitting), 0.8)
        yield Stroke(((x - arm, y), (x + arm, y)), 0.3)
        yield Stroke(((x, y - arm), (x, y + arm)), 0.3)

    def _rectangle(self, fitting: FittingResult) -> tuple[Point, ...]:
        assert fitting.width
        assert fitting.height
        cos, sin = math.cos(fitting.roll_rad), math.sin(fitting.roll_rad)
        halves = [
            (s * fitting.width.value / 2, t * fitting.height.value / 2) for s, t in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        x, y = fitting.x.value, fitting.y.value
        return tuple(self.view.at(x + a * cos - b * sin, y + a * sin + b * cos) for a, b in halves)

    def _radius(self, fitting: FittingResult) -> float:
        """Reach of a fitting's rim on the sheet, never too small to see."""
        if fitting.width and fitting.height:
            return self.view.length(math.hypot(fitting.width.value, fitting.height.value) / 2)
        return max(1.2, self.view.length(fitting.diameter.value / 2)) if fitting.diameter else 2.5

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
