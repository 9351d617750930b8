"""Where damage lies and what was read where: drawings of the transom to scale, as seen from astern, rolled flat."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from digitizer.reports.condition import defect_numbers
from digitizer.reports.fitting_shapes import fitting_shape
from digitizer.reports.sheet import Disc, Label, Place, Point, Sheet, Stroke
from digitizer.reports.view import POINTS_PER_MM, View, extent, fitted_view, opened_ring
from digitizer.survey.model import DefectResult, PlaceReading, Survey
from digitizer.transom.surface import girth_of
from digitizer.units import MM_PER_INCH

_LEFT, _BELOW, _ROOM = 36.0, 26.0, 12.0
_CHAIN = (14.0, 2.5, 2.0, 2.5)
_SHORT_CHAIN = (7.0, 2.0, 1.5, 2.0)
_LIGHT = 0.62
_DASHES: dict[str, tuple[float, ...]] = {
    "wet": (4.0, 2.0),
    "blister": (1.2, 1.8),
    "corrosion": (6.0, 2.0, 1.5, 2.0),
    "repair": (9.0, 3.0),
}
_LARGEST, _LEAST = 8.5, 4.6
"""Radius of a reading's disc, points; below the least its figure stands beside it."""
_DARKEST = 0.45


@dataclass(frozen=True)
class Scale:
    """Lower and upper end of a meter's own scale."""

    low: float
    high: float


def location_drawing(survey: Survey, unit: str, sheet: Sheet) -> int:
    """Each defect at its place, numbered; returns the n of 1:n."""
    view = _base(survey, unit, sheet)
    draw_defects(survey.defects, view, sheet)
    return view.scale


def draw_defects(defects: Sequence[DefectResult], view: View, sheet: Sheet) -> None:
    """Outlines and cracks with their numbers beside them, over what is drawn already."""
    numbers = defect_numbers(defects)
    shapes = {d.id: tuple(view.at(*place) for place in d.place) for d in defects}
    for defect in sorted(defects, key=lambda d: not d.closed):
        sheet.draw(*defect_strokes(defect, shapes[defect.id]))
    for defect in defects:
        sheet.write(numbers[defect.id], label_places(shapes[defect.id], defect.closed), 8.0, bold=True)


def defect_strokes(defect: DefectResult, points: tuple[Point, ...], halo: float = 0.0) -> Iterator[Stroke]:
    """A crack as a thick line with a tick at each end; an area as a dashed outline by its kind."""
    if defect.closed:
        yield Stroke(points, 1.1, _DASHES.get(defect.kind, ()), closed=True, halo=halo)
        return
    yield Stroke(points, 1.6, halo=halo)
    for end, inner in ((points[0], points[1]), (points[-1], points[-2])):
        length = math.dist(end, inner) or 1.0
        nx, ny = 3.0 * (inner[1] - end[1]) / length, -3.0 * (inner[0] - end[0]) / length
        yield Stroke(((end[0] - nx, end[1] - ny), (end[0] + nx, end[1] + ny)), 0.9, halo=halo)


def label_places(points: Sequence[Point], closed: bool) -> list[Place]:
    """Inside an area where it is large enough, else round its middle; beside a crack, along its length."""
    across, up = [x for x, _ in points], [y for _, y in points]
    middle = (sum(across) / len(points), sum(up) / len(points))
    half = max(max(across) - min(across), max(up) - min(up)) / 2
    inside = [Place(*middle)] if closed and min(max(across) - min(across), max(up) - min(up)) > 26.0 else []
    anchors = [middle] if closed else [points[len(points) // 2], points[0], points[-1], *points]
    turns = [math.radians(turn) for turn in range(45, 405, 30)]
    fars = (half + 9.0, half + 16.0, half + 26.0) if closed else (10.0, 15.0, 22.0)
    ring = [Place(x + far * math.cos(t), y + far * math.sin(t)) for far in fars for x, y in anchors for t in turns]
    return inside + ring


def meter_map(survey: Survey, readings: Sequence[PlaceReading], scale: Scale, unit: str, sheet: Sheet) -> int:
    """Each reading at its place, darker the higher it stands on the meter's own scale; returns the n of 1:n."""
    view = _base(survey, unit, sheet)
    _outline_defects(survey, view, sheet)
    places = [view.at(each.x, each.y) for each in readings]
    radius = _radius(places)
    discs = [
        Disc(x, y, max(radius, 2.5), 0.5, fill=_grey(each.value or 0.0, scale))
        for each, (x, y) in zip(readings, places, strict=True)
    ]
    sheet.draw(*discs)
    for each, disc in zip(readings, discs, strict=True):
        _figure(sheet, f"{each.value:g}", disc, inside=radius >= _LEAST)
    _grey_scale(scale, sheet)
    return view.scale


def sounding_map(survey: Survey, readings: Sequence[PlaceReading], unit: str, sheet: Sheet) -> int:
    """Each sound at its place: a ring is sharp, a crossed ring dull, a full disc dead; returns the n of 1:n."""
    view = _base(survey, unit, sheet)
    _outline_defects(survey, view, sheet)
    places = [view.at(each.x, each.y) for each in readings]
    radius = min(5.0, max(2.0, 0.6 * _radius(places)))
    for each, place in zip(readings, places, strict=True):
        sheet.draw(*sound_symbol(each.sound or "", *place, radius))
    return view.scale


def sound_symbol(sound: str, x: float, y: float, radius: float) -> tuple[Disc | Stroke, ...]:
    """The sign of a sound about a point."""
    if sound == "dead":
        return (Disc(x, y, radius, 0.8, fill=0.0),)
    ring = Disc(x, y, radius, 0.9, fill=1.0)
    arm = radius / math.sqrt(2.0)
    cross = [Stroke(((x - arm, y - s * arm), (x + arm, y + s * arm)), 0.9) for s in (1.0, -1.0)]
    return (ring, *cross) if sound == "dull" else (ring,)


def _outline_defects(survey: Survey, view: View, sheet: Sheet) -> None:
    """Outlines alone, thin, so that readings can be seen against them."""
    for defect in survey.defects:
        points = tuple(view.at(*place) for place in defect.place)
        sheet.draw(Stroke(points, 0.7, _DASHES.get(defect.kind, ()), closed=defect.closed, grey=0.25))


def _base(survey: Survey, unit: str, sheet: Sheet) -> View:
    """Outline, centreline, reference line, fittings and a grid, light, for something to be drawn over."""
    bend = survey.curvature_per_mm
    left, bottom, right, top = extent(survey)
    left, right = girth_of(left, bend), girth_of(right, bend)
    view = fitted_view((left, bottom, right, top), (_LEFT, _BELOW, sheet.width - _ROOM, sheet.height - _ROOM))
    _grid(survey, unit, view, (left, bottom, right, top), sheet)
    if len(survey.outline) >= 3:
        ring = [(girth_of(x, bend), y) for x, y in opened_ring(survey.outline)]
        sheet.draw(Stroke(tuple(view.at(*place) for place in ring), 0.9))
    for fitting in survey.fittings:
        along = replace(fitting, x=fitting.girth) if fitting.girth is not None else fitting
        if math.isfinite(along.x.value) and math.isfinite(along.y.value):
            sheet.draw(*(replace(item, width=0.35) for item in fitting_shape(along, view, 0.0)))
    return view


def _grid(survey: Survey, unit: str, view: View, around: tuple[float, float, float, float], sheet: Sheet) -> None:
    """Lines every 100 mm or 4 in, out from the centreline and down from the reference line (else up from the keel)."""
    left, bottom, right, top = around
    step, size = (100.0, 1.0) if unit == "mm" else (4 * MM_PER_INCH, MM_PER_INCH)
    start, sign = 0.0, 1.0
    if survey.reference_line:
        start, sign = sum(y for _, y in survey.reference_line) / 2, -1.0
        ends = [(girth_of(x, survey.curvature_per_mm), y) for x, y in survey.reference_line]
        sheet.draw(Stroke(tuple(view.at(*end) for end in ends), 0.7, _SHORT_CHAIN))
    every = 1 if step * POINTS_PER_MM / view.scale > 22.0 else 2
    low_y, high_y = view.at(0, bottom)[1], view.at(0, top)[1]
    for n in range(math.ceil(left / step), math.floor(right / step) + 1):
        x = view.at(n * step, 0)[0]
        dash = _CHAIN if n == 0 else ()
        sheet.draw(Stroke(((x, low_y), (x, high_y)), 0.5 if n == 0 else 0.25, dash, grey=0.0 if n == 0 else _LIGHT))
        if n % every == 0:
            sheet.draw(Label(f"{abs(n * step) / size:g}", x, low_y - 7.0, 6.0))
    low_x, high_x = view.at(left, 0)[0], view.at(right, 0)[0]
    first, last = sorted(((bottom - start) * sign / step, (top - start) * sign / step))
    for n in range(math.ceil(first), math.floor(last) + 1):
        y = view.at(0, start + sign * n * step)[1]
        sheet.draw(Stroke(((low_x, y), (high_x, y)), 0.25, grey=_LIGHT))
        if n % every == 0:
            sheet.draw(Label(f"{n * step / size:g}".replace("-", "−"), low_x - 13.0, y, 6.0))
    sheet.draw(Label("port", low_x + 10.0, low_y - 16.0, 6.5), Label("starboard", high_x - 18.0, low_y - 16.0, 6.5))


def _radius(places: Sequence[Point]) -> float:
    """Radius at which no two discs touch."""
    gaps = [math.dist(a, b) for i, a in enumerate(places) for b in places[:i] if a != b]
    return min(_LARGEST, 0.46 * min(gaps, default=2 * _LARGEST))


def _grey(value: float, scale: Scale) -> float:
    share = (value - scale.low) / (scale.high - scale.low)
    return 1.0 - (1.0 - _DARKEST) * min(1.0, max(0.0, share))


def _figure(sheet: Sheet, text: str, disc: Disc, inside: bool) -> None:
    room = 1.8 * disc.radius
    wide = sheet.text_width(text, 6.5, True)
    if inside and wide * 4.5 / 6.5 <= room:
        sheet.draw(Label(text, disc.x, disc.y, min(6.5, 6.5 * room / wide), bold=True))
        return
    turns = [math.radians(turn) for turn in range(0, 360, 30)]
    fars = [disc.radius + far for far in (wide / 2 + 2.0, wide / 2 + 7.0, wide / 2 + 14.0)]
    sheet.write(text, [Place(disc.x + f * math.cos(t), disc.y + f * math.sin(t)) for f in fars for t in turns], 5.5)


def _grey_scale(scale: Scale, sheet: Sheet) -> None:
    """Five steps of grey with their values, at the foot."""
    for step in range(5):
        value = scale.low + step / 4 * (scale.high - scale.low)
        x = sheet.width / 2 + (step - 2) * 44.0
        sheet.draw(Disc(x, 7.0, 4.5, 0.5, fill=_grey(value, scale)))
        sheet.draw(Label(f"{value:.4g}", x + 17.0, 7.0, 6.0))
