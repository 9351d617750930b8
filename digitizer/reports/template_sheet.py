"""One sheet of the full-size template: its part of the drawing, registration marks, check bars, name and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from digitizer.reports.balloon import draw_balloon
from digitizer.reports.cutting import LAYERS, Dash, Drawing, DrawnFitting, LayerName, Line
from digitizer.reports.fitting_marks import cross, reach, rim
from digitizer.reports.painting import paint
from digitizer.reports.paper import BOLD, REGULAR, text_width
from digitizer.reports.sheet import Box, Disc, Place, Point, Sheet, Stroke, along
from digitizer.reports.target_drawing import draw_check_bar
from digitizer.reports.template_pages import Printed
from digitizer.reports.tiles import MARGINS, Cell, corners, name_of, neighbours
from digitizer.reports.wording import one_line

FORM = "transom"
MARK_ARM_MM, MARK_RADIUS_MM = 5.0, 2.5
_HAIR = 0.15
_ROUND_MM = 50
"""Room round the drawing in the form that holds it."""
_TICK_MM = 6.0
"""Half length of a station's tick on the outline."""
_DASHES = {Dash.CHAIN: (12.0, 2.0, 2.0, 2.0), Dash.DASHED: (6.0, 3.0), Dash.DOTTED: (0.8, 2.0)}
_NAMED = (LayerName.CENTRELINE, LayerName.BASELINE, LayerName.REFERENCE_LINE, LayerName.WATERLINE)
_BAR_UP_X_MM, _BAR_ACROSS_Y_MM = 10.5, 19.0
_FIRST_LINE_MM, _LINE_STEP_MM = 13.6, 2.75
_FONT, _SMALL = 10.0, 6.2
CAUTIONS = (
    "Check this sheet before use: measure both check bars with a steel rule, between the middles of their end ticks.",
    "Check the assembled template on the boat before cutting: centreline, reference line, chines, fittings.",
)


def put_drawing(canvas: Canvas, drawing: Drawing) -> None:
    """Write the drawing into the file, once, at true size; sheets show it by name."""
    left, bottom, right, top = drawing.extent
    low, high = (math.floor((left - _ROUND_MM) * mm), math.floor((bottom - _ROUND_MM) * mm)), (right, top)
    canvas.beginForm(FORM, *low, *(math.ceil((each + _ROUND_MM) * mm) for each in high))
    canvas.setLineJoin(1)
    canvas.setStrokeGray(0)
    for line in drawing.lines:
        if line.layer is LayerName.STATIONS:
            for tick in _ticks(line):
                _draw_line(canvas, Line(LayerName.STATIONS, tick))
        else:
            _draw_line(canvas, line)
    for circle in drawing.circles:
        _pen(canvas, circle.layer)
        canvas.circle(circle.centre[0] * mm, circle.centre[1] * mm, circle.radius * mm)
    for fitting in drawing.fittings:
        _draw_fitting(canvas, fitting)
    canvas.endForm()


def draw_sheet(canvas: Canvas, printed: Printed, cell: Cell) -> None:
    """One page."""
    page, factors = printed.tiling.page, printed.factors
    canvas.setPageSize((page[0] * factors[0] * mm, page[1] * factors[1] * mm))
    canvas.bookmarkPage(name_of(cell))
    canvas.addOutlineEntry(f"Sheet {name_of(cell)}", name_of(cell), level=0)
    canvas.scale(*factors)
    window = printed.tiling.window(cell)
    _draw_part(canvas, window)
    _draw_registration(canvas, printed, cell, window)
    canvas.saveState()
    canvas.translate(MARGINS[0] * mm, MARGINS[1] * mm)
    paint(sheet_labels(printed, cell), canvas)
    canvas.restoreState()
    _draw_edge(canvas, printed, cell)
    canvas.showPage()


def _ticks(station: Line) -> tuple[tuple[Point, Point], ...]:
    """A station's ticks across the outline, at its foot and at its head."""
    return tuple(((x, y - _TICK_MM), (x, y + _TICK_MM)) for x, y in (station.points[0], station.points[-1]))


def _draw_line(canvas: Canvas, line: Line) -> None:
    _pen(canvas, line.layer)
    path: PDFPathObject = canvas.beginPath()
    path.moveTo(line.points[0][0] * mm, line.points[0][1] * mm)
    for x, y in line.points[1:]:
        path.lineTo(x * mm, y * mm)
    if line.closed:
        path.close()
    canvas.drawPath(path)


def _draw_fitting(canvas: Canvas, fitting: DrawnFitting) -> None:
    if fitting.shape == "circle":
        _pen(canvas, LayerName.FITTINGS)
        canvas.circle(fitting.at[0] * mm, fitting.at[1] * mm, fitting.width / 2 * mm)
    elif fitting.shape == "rectangle":
        _draw_line(canvas, Line(LayerName.FITTINGS, rim(fitting), closed=True))
    for arm in cross(fitting):
        _draw_line(canvas, Line(LayerName.FITTING_CENTRES, arm))


def _pen(canvas: Canvas, layer: LayerName) -> None:
    look = LAYERS[layer]
    canvas.setLineWidth(look.width_mm * mm)
    canvas.setDash([part * mm for part in _DASHES.get(look.dash, ())])


def _draw_part(canvas: Canvas, window: Box) -> None:
    """The sheet's part of the drawing, seen through its window."""
    left, bottom = MARGINS[:2]
    canvas.saveState()
    opening: PDFPathObject = canvas.beginPath()
    opening.rect(left * mm, bottom * mm, (window[2] - window[0]) * mm, (window[3] - window[1]) * mm)
    canvas.clipPath(opening, stroke=0, fill=0)
    canvas.translate((left - window[0]) * mm, (bottom - window[1]) * mm)
    canvas.doForm(FORM)
    canvas.restoreState()


def _draw_registration(canvas: Canvas, printed: Printed, cell: Cell, window: Box) -> None:
    """A cross in a circle at each corner, where up to four sheets meet, and thin lines along which to join them."""
    canvas.saveState()
    canvas.translate((MARGINS[0] - window[0]) * mm, (MARGINS[1] - window[1]) * mm)
    canvas.setStrokeGray(0.55)
    canvas.setLineWidth(_HAIR * mm)
    canvas.setDash([2 * mm, 4 * mm])
    left, bottom, right, top = printed.tiling.grid.box(cell)
    inset = 2 * MARK_ARM_MM
    for a, b in (((left, bottom), (right, bottom)), ((left, top), (right, top))):
        canvas.line((a[0] + inset) * mm, a[1] * mm, (b[0] - inset) * mm, b[1] * mm)
    for a, b in (((left, bottom), (left, top)), ((right, bottom), (right, top))):
        canvas.line(a[0] * mm, (a[1] + inset) * mm, b[0] * mm, (b[1] - inset) * mm)
    canvas.setDash([])
    canvas.setStrokeGray(0)
    for node in corners(cell):
        x, y = printed.tiling.grid.node(*node)
        canvas.line((x - MARK_ARM_MM) * mm, y * mm, (x + MARK_ARM_MM) * mm, y * mm)
        canvas.line(x * mm, (y - MARK_ARM_MM) * mm, x * mm, (y + MARK_ARM_MM) * mm)
        canvas.circle(x * mm, y * mm, MARK_RADIUS_MM * mm)
    canvas.restoreState()


def sheet_labels(printed: Printed, cell: Cell) -> Sheet:
    """Numbers, names and sizes of a sheet beside what they belong to, inside its window; points."""
    window, core = printed.tiling.window(cell), printed.tiling.grid.box(cell)
    sheet = Sheet((window[2] - window[0]) * mm, (window[3] - window[1]) * mm, text_width)
    _block(sheet, printed, cell, window)
    drawn = len(sheet.items)
    for fitting in printed.drawing.fittings:
        if _inside(fitting.at, core):
            _label_fitting(sheet, fitting, _on(fitting.at, window))
    for line in printed.drawing.lines:
        _label_line(sheet, line, core, window)
    return Sheet(sheet.width, sheet.height, text_width, items=sheet.items[drawn:])


def _block(sheet: Sheet, printed: Printed, cell: Cell, window: Box) -> None:
    """What labels must keep clear of: lines, rims, registration marks."""
    for line in printed.drawing.lines:
        parts = _ticks(line) if line.layer is LayerName.STATIONS else (line.points,)
        sheet.draw(*(Stroke(tuple(_on(p, window) for p in part), closed=line.closed) for part in parts))
    for circle in printed.drawing.circles:
        sheet.draw(Disc(*_on(circle.centre, window), circle.radius * mm))
    for fitting in printed.drawing.fittings:
        sheet.draw(Disc(*_on(fitting.at, window), max(math.hypot(fitting.width, fitting.height) / 2, 5.0) * mm))
    for node in corners(cell):
        sheet.draw(Disc(*_on(printed.tiling.grid.node(*node), window), MARK_ARM_MM * mm))


def _label_fitting(sheet: Sheet, fitting: DrawnFitting, at: Point) -> None:
    """Its number beside the rim; name, size with U and plan too where there is room, for they stand in the table."""
    row, to_rim = fitting.row, reach(fitting, mm)
    draw_balloon(sheet, at, to_rim, row.number)
    first = f"{row.number}  {one_line(row.name, 40)}"
    second = one_line(", ".join(part for part in (" ".join(row.size), row.plan) if part), 60)
    half = max(text_width(first, _FONT, True), text_width(second, 0.8 * _FONT)) / 2 + 2.0
    for x, y in _round_places(at, half, 1.25 * to_rim(0.0), 1.25 * to_rim(math.pi / 2)):
        if sheet.is_free((x - half, y - 1.9 * _FONT, x + half, y + 0.7 * _FONT)):
            sheet.write(first, [Place(x, y)], _FONT, bold=True)
            sheet.write(second, [Place(x, y - 1.25 * _FONT)], 0.8 * _FONT)
            return


def _round_places(at: Point, half: float, wide: float, high: float) -> Iterator[Point]:
    """Where the first line of a name may stand: right, left, above, below, then a little further."""
    for far in (4.0, 14.0, 24.0):
        for side in (1.0, -1.0):
            for rise in (0.5, 2.5, -1.5):
                yield at[0] + side * (wide + far + half), at[1] + rise * _FONT
        for shift in (0.0, half, -half):
            yield at[0] + shift, at[1] + high + far + 2.0 * _FONT
            yield at[0] + shift, at[1] - high - far - _FONT


def _label_line(sheet: Sheet, line: Line, core: Box, window: Box) -> None:
    """The name of a datum line on each sheet it crosses; a station's number and a pad's name once."""
    if line.layer in _NAMED:
        ends = _clipped(line.points[0], line.points[-1], core)
        if ends is not None:
            a, b = sorted((_on(ends[0], window), _on(ends[1], window)))
            sheet.write(line.name, along(a, b, 6.5, (0.3, 0.7, 0.15, 0.85, 0.5)), 8.0)
    elif line.layer is LayerName.STATIONS and line.name:
        for (x, y), side in ((line.points[0], -1.0), (line.points[-1], 1.0)):
            if _inside((x, y), core):
                at = _on((x, y + side * _TICK_MM), window)
                sheet.write(line.name, [Place(at[0], at[1] + side * gap) for gap in (5.0, 10.0, -35.0)], 8.0)
    elif line.name:
        middle = sum(x for x, _ in line.points) / len(line.points), max(y for _, y in line.points)
        if _inside(middle, core):
            at = _on(middle, window)
            sheet.write(line.name, [Place(at[0], at[1] + gap) for gap in (8.0, -8.0, 20.0)], _FONT)


def _draw_edge(canvas: Canvas, printed: Printed, cell: Cell) -> None:
    """Check bars, name, neighbours and cautions in the margins."""
    page, bar = printed.tiling.page, printed.bar
    draw_check_bar(canvas, bar, (_BAR_UP_X_MM * mm, (MARGINS[1] + (page[1] - MARGINS[1]) / 2) * mm), upright=True)
    draw_check_bar(canvas, bar, ((MARGINS[0] + bar / 2) * mm, _BAR_ACROSS_Y_MM * mm), upright=False)
    canvas.setFillGray(0)
    right = (page[0] - MARGINS[2]) * mm
    canvas.setFont(BOLD, 20)
    canvas.drawRightString(right, (_BAR_ACROSS_Y_MM - 3.5) * mm, name_of(cell))
    canvas.setFont(REGULAR, _SMALL)
    for count, text in enumerate(_small_print(printed, cell, (page[0] - MARGINS[0] - MARGINS[2]) * mm)):
        canvas.drawString(MARGINS[0] * mm, (_FIRST_LINE_MM - count * _LINE_STEP_MM) * mm, text)


def _small_print(printed: Printed, cell: Cell, width: float) -> Sequence[str]:
    """The lines at the foot, each cut to the width."""
    printed_cells = set(printed.tiling.cells)
    beside = [f"{where} {name_of(other)}" for where, other in neighbours(cell).items() if other in printed_cells]
    joins = f"joins {', '.join(beside)}" if beside else "the only sheet"
    number = printed.tiling.cells.index(cell) + 1
    plane = "rolled flat (girth)" if printed.drawing.bowed else "in the face"
    first = f"{name_of(cell)}, sheet {number} of {len(printed_cells)}; {joins}. {plane}; starboard is right, up is up."
    lines = (first, *CAUTIONS, f"{printed.drawing.title}. {printed.correction_words}")
    return [_fitted(line, width) for line in lines]


def _fitted(text: str, width: float) -> str:
    if text_width(text, _SMALL) <= width:
        return text
    kept = len(text)
    while text_width(text[:kept] + "…", _SMALL) > width:
        kept -= 1
    return text[:kept] + "…"


def _on(place: Point, window: Box) -> Point:
    """A place in points from the window's lower left corner."""
    return (place[0] - window[0]) * mm, (place[1] - window[1]) * mm


def _inside(place: Point, box: Box) -> bool:
    return box[0] <= place[0] < box[2] and box[1] <= place[1] < box[3]


def _clipped(a: Point, b: Point, box: Box) -> tuple[Point, Point] | None:
    """The part of a piece of line inside a box (after Liang and Barsky, 1984); none where it passes by."""
    enter, leave = 0.0, 1.0
    for axis in (0, 1):
        run = b[axis] - a[axis]
        if run == 0.0:
            if not box[axis] <= a[axis] <= box[axis + 2]:
                return None
            continue
        first, second = sorted(((box[axis] - a[axis]) / run, (box[axis + 2] - a[axis]) / run))
        enter, leave = max(enter, first), min(leave, second)
    if enter >= leave:
        return None
    ends = [(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])) for share in (enter, leave)]
    return ends[0], ends[1]
