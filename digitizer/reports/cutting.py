"""
What is drawn for cutting: lines, fittings, points and words, each on its layer, in mm of one stated plane.

One statement for every writer (DXF, SVG, full-size template). The plane is the face of the transom; a bowed face is
rolled flat, so that distances from the centreline are girths. Positions come from the survey; nothing is measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from digitizer.job.model import Job
from digitizer.reports.contents import CHECK_FIRST, MAIN_CODES
from digitizer.reports.flange_shapes import Meaning, flange_shapes
from digitizer.reports.offset_table import OffsetTable, bare_length, largest_uncertainties, offset_tables
from digitizer.reports.pads import pad_outlines
from digitizer.reports.pattern_outline import cut_edges, pattern_to_cut
from digitizer.reports.schedule import FittingRow, fitting_rows
from digitizer.reports.sheet import Point
from digitizer.reports.table import printed_value
from digitizer.reports.view import Extent
from digitizer.reports.wording import one_line
from digitizer.survey.model import FittingResult, OffsetLine, OutlineEdge, PatternResult, Survey
from digitizer.transom.surface import girth_of
from digitizer.units import format_length

_OVERSHOOT_MM = 15.0
"""How far datum lines reach beyond what is drawn."""


class LayerName(StrEnum):
    """Layers by meaning; `docs/reference/cutting-files.md` describes them."""

    OUTLINE = "OUTLINE"
    BOTTOM_EDGE = "BOTTOM_EDGE"
    MEASURED_OUTLINE = "MEASURED_OUTLINE"
    PATTERN = "PATTERN"
    CENTRELINE = "CENTRELINE"
    BASELINE = "BASELINE"
    REFERENCE_LINE = "REFERENCE_LINE"
    WATERLINE = "WATERLINE"
    PADS = "PADS"
    FITTINGS = "FITTINGS"
    FITTING_CENTRES = "FITTING_CENTRES"
    FLANGE = "FLANGE"
    FLANGE_MARGIN = "FLANGE_MARGIN"
    STATIONS = "STATIONS"
    POINTS = "POINTS"
    LABELS = "LABELS"
    NOTES = "NOTES"


class Dash(StrEnum):
    """How a line is broken."""

    NONE = "continuous"
    CHAIN = "chain"
    DASHED = "dashed"
    DOTTED = "dotted"


@dataclass(frozen=True)
class Layer:
    """A layer's meaning and how its lines look."""

    meaning: str
    width_mm: float
    dash: Dash = Dash.NONE


LAYERS = {
    LayerName.OUTLINE: Layer("outline of the transom, in one piece where it was marked all round: what is cut", 0.5),
    LayerName.BOTTOM_EDGE: Layer("the outline's bottom edge once more, by itself", 0.5),
    LayerName.MEASURED_OUTLINE: Layer("the measured outline, where a pattern's edge is cut instead", 0.25, Dash.DASHED),
    LayerName.PATTERN: Layer("edges of patterns laid on the outline, to compare", 0.25, Dash.DASHED),
    LayerName.CENTRELINE: Layer("centreline", 0.25, Dash.CHAIN),
    LayerName.BASELINE: Layer("level of the keel point, parallel to the reference line", 0.18, Dash.DOTTED),
    LayerName.REFERENCE_LINE: Layer("reference line (datum)", 0.25, Dash.CHAIN),
    LayerName.WATERLINE: Layer("marked waterline", 0.25, Dash.DASHED),
    LayerName.PADS: Layer("outlines of pads and recesses", 0.35),
    LayerName.FITTINGS: Layer("rims of fittings at true size", 0.35),
    LayerName.FITTING_CENTRES: Layer("crosses at the centres of fittings", 0.18),
    LayerName.FLANGE: Layer("planned mounting flange and its bolts", 0.35),
    LayerName.FLANGE_MARGIN: Layer("line at the margin that the flange needs round it", 0.18, Dash.DASHED),
    LayerName.STATIONS: Layer("stations of the offset table", 0.13),
    LayerName.POINTS: Layer("keel point, and where bottom, sides and top meet", 0.25),
    LayerName.LABELS: Layer("numbers and names", 0.18),
    LayerName.NOTES: Layer("title, cautions, what is missing, schedule of fittings, offset table", 0.18),
}


@dataclass(frozen=True)
class Line:
    """A line through points, mm."""

    layer: LayerName
    points: tuple[Point, ...]
    closed: bool = False
    name: str = ""
    """Written beside it."""


@dataclass(frozen=True)
class Circle:
    """A circle, mm."""

    layer: LayerName
    centre: Point
    radius: float


@dataclass(frozen=True)
class DrawnFitting:
    """A fitting at its place."""

    row: FittingRow
    """Its line in the schedule."""
    kind: str
    shape: str
    """ "circle", "rectangle", or "point" where no size is known."""
    at: Point
    width: float
    height: float
    """Both the diameter for a circle, 0 for a point."""
    roll_rad: float


@dataclass(frozen=True)
class Drawing:
    """All that a cutting file or a template shows."""

    title: str
    plane: str
    """Which plane the drawing is in, as a sentence."""
    bowed: bool
    facts: tuple[str, ...]
    missing: tuple[str, ...]
    """What could not be drawn, as sentences."""
    notes: tuple[str, ...]
    lines: tuple[Line, ...]
    circles: tuple[Circle, ...]
    points: tuple[Point, ...]
    fittings: tuple[DrawnFitting, ...]
    offsets: tuple[OffsetTable, ...]
    extent: Extent
    """Left, bottom, right and top of everything drawn, mm."""
    unit: str
    """Of the figures in its texts."""


def cutting_drawing(survey: Survey, job: Job, unit: str, planned: Sequence[Line | Circle] = ()) -> Drawing:
    """
    What to draw of a survey for cutting.

    Parameters
    ----------
    survey, job
        The finished survey and the job it was measured from.
    unit
        Unit of the figures in texts: ``"mm"``, ``"in"`` or ``"in/16"``.
    planned
        Further lines and circles in the same plane; the job's planned flange is drawn without being asked.

    Raises
    ------
    ReadingError
        If the job asks for a pattern to be cut that was not measured.
    """
    fittings = tuple(_fittings(survey, unit))
    cut = None if job.settings.cut_to_pattern is None else pattern_to_cut(survey, job.settings.cut_to_pattern)
    edges = tuple(_outline(survey.edges if cut is None else cut_edges(survey.edges, cut)))
    planned = (*_flange(survey), *planned)
    lines = [*edges, *_patterns(survey, cut), *_marked_lines(survey), *(p for p in planned if isinstance(p, Line))]
    circles = tuple(p for p in planned if isinstance(p, Circle))
    points = tuple(dict.fromkeys([(0.0, 0.0), *(end for e in survey.edges for end in (e.points[0], e.points[-1]))]))
    around = _extent(lines, circles, points, fittings)
    lines += [*_datum_lines(around), *_stations(survey, unit)]
    bowed = bool(survey.curvature_per_mm)
    return Drawing(
        title=one_line(survey.title or job.title or "Transom"),
        plane=_plane(bowed),
        bowed=bowed,
        facts=tuple(_facts(survey, job, unit)),
        missing=tuple(_missing(survey, edges, fittings)),
        notes=tuple(_notes(survey, unit, cut)),
        lines=tuple(lines),
        circles=circles,
        points=points,
        fittings=fittings,
        offsets=offset_tables(survey, unit),
        extent=_extent(lines, circles, points, fittings),
        unit=unit,
    )


def _plane(bowed: bool) -> str:
    if bowed:
        return (
            "Rolled flat (girth): lengths across are along the surface of the bowed face. Bend the sheet round the "
            "transom; it is not the view from astern."
        )
    return "In the face: lengths are as on the flat face of the transom, not plumb heights."


def _outline(edges: Sequence[OutlineEdge]) -> Iterator[Line]:
    """The outline as long as it hangs together, and its bottom edge again."""
    runs: list[list[Point]] = []
    for edge in edges:
        if runs and runs[-1][-1] == edge.points[0]:
            runs[-1] += edge.points[1:]
        else:
            runs.append(list(edge.points))
    for run in runs:
        closed = len(run) > 3 and run[0] == run[-1]
        yield Line(LayerName.OUTLINE, tuple(run[:-1] if closed else run), closed)
    for edge in edges:
        if edge.name == "bottom edge":
            yield Line(LayerName.BOTTOM_EDGE, edge.points)


def _patterns(survey: Survey, cut: PatternResult | None) -> Iterator[Line]:
    """Edges of the patterns that aren't cut, and the measured outline where one is."""
    for pattern in (p for p in survey.patterns if p is not cut):
        yield Line(LayerName.PATTERN, pattern.edge, pattern.closed, one_line(f"pattern {pattern.id}", 40))
    if cut is not None:
        yield from (Line(LayerName.MEASURED_OUTLINE, edge.points) for edge in survey.edges)


def _marked_lines(survey: Survey) -> Iterator[Line]:
    if survey.reference_line:
        ends = sorted(_rolled(survey, *end) for end in survey.reference_line)
        yield Line(LayerName.REFERENCE_LINE, tuple(ends), name="reference line")
    water = sorted(_rolled(survey, p.x, p.y) for p in survey.points if p.kind == "waterline" and _finite(p.x, p.y))
    if len(water) >= 2:
        yield Line(LayerName.WATERLINE, tuple(water), name="waterline")
    for pad in pad_outlines(survey):
        ring = tuple(_rolled(survey, *place) for place in pad.ring)
        yield Line(LayerName.PADS, ring, closed=True, name=one_line(f"{pad.id}, {pad.stands}", 40))


def _flange(survey: Survey) -> Iterator[Line | Circle]:
    """The planned flange, its margin and its bolt holes."""
    layers = {Meaning.MARGIN: LayerName.FLANGE_MARGIN}
    for shape in flange_shapes(survey):
        layer = layers.get(shape.meaning, LayerName.FLANGE)
        if shape.ring:
            name = shape.name if shape.meaning is Meaning.FLANGE else ""
            yield Line(layer, shape.ring, closed=True, name=name)
        else:
            yield Circle(layer, shape.centre, shape.radius)


def _datum_lines(around: Extent) -> Iterator[Line]:
    left, bottom, right, top = around
    upright = (0.0, bottom - _OVERSHOOT_MM), (0.0, top + _OVERSHOOT_MM)
    level = (left - _OVERSHOOT_MM, 0.0), (right + _OVERSHOOT_MM, 0.0)
    yield Line(LayerName.CENTRELINE, upright, name="centreline")
    yield Line(LayerName.BASELINE, level, name="keel level")


def _stations(survey: Survey, unit: str) -> Iterator[Line]:
    """From bottom to top at each station at which both are known."""
    sides = {"port": -1.0, "centre": 0.0, "starboard": 1.0}
    heights = {
        line: {sides[o.side] * o.station: o.value.value for o in survey.offsets if o.line is line}
        for line in (OffsetLine.BOTTOM, OffsetLine.TOP)
    }
    low, high = heights[OffsetLine.BOTTOM], heights[OffsetLine.TOP]
    for x in sorted(low.keys() & high.keys()):
        if x != 0.0:
            yield Line(LayerName.STATIONS, ((x, low[x]), (x, high[x])), name=bare_length(abs(x), unit))


def _fittings(survey: Survey, unit: str) -> Iterator[DrawnFitting]:
    for fitting, row in zip(survey.fittings, fitting_rows(survey.fittings, unit), strict=True):
        x = fitting.girth if fitting.girth is not None else fitting.x
        if _finite(x.value, fitting.y.value):
            shape, width, height = _size(fitting)
            at = (x.value, fitting.y.value)
            yield DrawnFitting(_tidied(row), fitting.kind, shape, at, width, height, fitting.roll_rad)


def _tidied(row: FittingRow) -> FittingRow:
    """The row with what people typed on one line."""
    return replace(row, name=one_line(row.name, 60), kind=one_line(row.kind, 60), plan=one_line(row.plan, 60))


def _size(fitting: FittingResult) -> tuple[str, float, float]:
    if fitting.width is not None and fitting.height is not None:
        sizes = "rectangle", fitting.width.value, fitting.height.value
    elif fitting.diameter is not None:
        sizes = "circle", fitting.diameter.value, fitting.diameter.value
    else:
        return "point", 0.0, 0.0
    return sizes if _finite(*sizes[1:]) and min(sizes[1:]) > 0.0 else ("point", 0.0, 0.0)


def _rolled(survey: Survey, x: float, y: float) -> Point:
    return girth_of(x, survey.curvature_per_mm), y


def _finite(*numbers: float) -> bool:
    return all(math.isfinite(each) for each in numbers)


def _extent(
    lines: Sequence[Line], circles: Sequence[Circle], points: Sequence[Point], fittings: Sequence[DrawnFitting]
) -> Extent:
    places = [(0.0, 0.0), *points, *(point for line in lines for point in line.points)]
    for circle in circles:
        (x, y), r = circle.centre, circle.radius
        places += [(x - r, y - r), (x + r, y + r)]
    for fitting in fittings:
        (x, y), r = fitting.at, math.hypot(fitting.width, fitting.height) / 2
        places += [(x - r, y - r), (x + r, y + r)]
    across, up = zip(*places, strict=True)
    return min(across), min(up), max(across), max(up)


def _facts(survey: Survey, job: Job, unit: str) -> Iterator[str]:
    """Boat, day and main dimensions, one line each."""
    pairs = (("Boat", job.boat.name), ("Hull number", job.boat.hull_number), ("Measured", job.date))
    yield from (f"{name}: {one_line(value, 60)}" for name, value in pairs if one_line(value, 60))
    found = {each.code: each for each in survey.dimensions}
    along = {code: f"{code}_girth" if f"{code}_girth" in found else code for code in MAIN_CODES}
    for dimension in (found[code] for code in along.values() if code in found):
        value, expanded, name = printed_value(dimension, unit)
        if expanded != "unknown":
            figure = f"{value}° ± {expanded}°" if name == "°" else f"{value} ± {expanded} {name}"
            yield f"{one_line(dimension.label, 60)}: {figure}"


def _missing(survey: Survey, edges: Sequence[Line], fittings: Sequence[DrawnFitting]) -> Iterator[str]:
    names = {edge.name for edge in survey.edges}
    if not any(edge.layer is LayerName.OUTLINE and edge.closed for edge in edges):
        yield "The outline is not closed: it was not marked all round. Nothing was drawn where nothing was marked."
    if "bottom edge" not in names:
        yield "The bottom edge is missing: mark the keel and the chines, or points of the bottom edge."
    if "top edge" not in names:
        yield "The top edge is missing: mark its corners and three or more points between them."
    if survey.reference_line is None:
        yield "There is no reference line: heights stand on the keel point only."
    nameless = [str(fitting.row.number) for fitting in fittings if fitting.shape == "point"]
    if nameless:
        yield f"No size is known of fitting {', '.join(nameless)}: only a cross is drawn."
    lost = len(survey.fittings) - len(fittings)
    if lost:
        yield f"Fittings without a known place, not drawn: {lost}."


def _notes(survey: Survey, unit: str, cut: PatternResult | None) -> Iterator[str]:
    yield CHECK_FIRST
    if cut is not None:
        within = format_length(max(cut.U_edge), unit)
        yield one_line(
            f"The outline is the edge of pattern {cut.id} where that reaches, known within {within} (U, 95 %). "
            "Offsets, stations and dimensions are of the outline measured on the boat.",
            400,
        )
    yield "Port is on the left and starboard on the right, as seen from astern."
    yield "Heights count from the keel point, up along the face; stations count from the centreline."
    if survey.edges:
        yield "The outline goes straight from mark to mark; the top edge is a smooth curve through its marks."
    if any(point.kind == "top_corner" for point in survey.points):
        yield "A top corner is drawn sharp, where side and top edge meet: where it is rounded, take its radius there."
    largest = largest_uncertainties(survey, unit)
    if largest:
        yield f"Uncertainty of the outline (U, 95 %): {largest}. A line drawn sharp is not known better than that."
    yield "The tool does not decide on strength, weight, power or holes below the waterline."
