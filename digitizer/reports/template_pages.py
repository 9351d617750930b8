"""The pages before the sheets of a full-size template: how to print and join it, the map, tables, what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Spacer

from digitizer.job.model import PaperSize
from digitizer.reports.cutting import Drawing, LayerName
from digitizer.reports.painting import SheetFlowable
from digitizer.reports.paper import (
    BODY,
    CELL,
    CELL_BOLD,
    EDGE,
    HEADING,
    INK,
    MARGIN,
    REGULAR,
    SUBTITLE,
    TITLE,
    cell,
    grid,
    paper_of,
    paragraph,
    text_width,
)
from digitizer.reports.sheet import Label, Point, Sheet, Stroke
from digitizer.reports.tiles import Cell, Tiling, name_of
from digitizer.units import unit_name

_MAP_HEIGHT = 215.0


@dataclass(frozen=True)
class Printed:
    """A template as it is laid out."""

    drawing: Drawing
    paper: str
    tiling: Tiling
    bar: float
    """Length of both check bars, mm."""
    factors: Point
    """By which everything is drawn larger, across and up, to correct the printer."""

    @property
    def count(self) -> str:
        """How many sheets of what."""
        count = len(self.tiling.cells)
        return f"{'one sheet' if count == 1 else f'{count} sheets'} of {self.paper}"

    @property
    def correction_words(self) -> str:
        """What was done about the printer."""
        if self.factors == (1.0, 1.0):
            return f"Drawn at 1:1 without correction; bars {self.bar:g} mm."
        across, up = self.factors
        return f"Corrected for the printer: across × {across:.5f}, up × {up:.5f}; bars must now read {self.bar:g} mm."


def draw_front_matter(canvas: Canvas, printed: Printed, size: PaperSize) -> None:
    """The pages before the sheets, upright."""
    width = paper_of(size).upright[0]
    _draw_pages(canvas, list(_instructions(printed, width)), "How to print and join", size)
    _draw_pages(canvas, list(_tables(printed.drawing, width)), "Offsets and fittings", size)


def _draw_pages(canvas: Canvas, story: list[Flowable], title: str, size: PaperSize) -> None:
    """As many pages as a story takes, the first with a bookmark."""
    paper = paper_of(size)
    if story:
        canvas.bookmarkPage(title)
        canvas.addOutlineEntry(title, title, level=0)
    while story:
        canvas.setPageSize((paper.width, paper.height))
        frame = Frame(MARGIN, EDGE, *paper.upright, 0, 0, 0, 0)
        frame.addFromList(story, canvas)
        _draw_foot(canvas, paper.width)
        canvas.showPage()


def _draw_foot(canvas: Canvas, width: float) -> None:
    canvas.setFont(REGULAR, 7.5)
    canvas.setFillColor(INK)
    canvas.drawString(MARGIN, 10 * mm, "Full-size template")
    canvas.drawCentredString(width / 2, 10 * mm, "Check the assembled template on the boat before cutting.")
    canvas.drawRightString(width - MARGIN, 10 * mm, f"page {canvas.getPageNumber()} before the sheets")


def _instructions(printed: Printed, width: float) -> Iterator[Flowable]:
    drawing = printed.drawing
    yield paragraph(drawing.title, TITLE, 120)
    yield paragraph(f"Full-size template, {printed.count}. {drawing.plane}", SUBTITLE)
    for sentence in drawing.missing:
        yield paragraph(f"Missing: {sentence}", CELL_BOLD)
    yield Spacer(1, 4)
    yield SheetFlowable(sheet_map(printed, width, _MAP_HEIGHT))
    yield Spacer(1, 6)
    yield paragraph("Print and join", HEADING)
    for number, step in enumerate(_steps(printed), start=1):
        yield paragraph(f"{number}. {step}")
    yield paragraph("Mind", HEADING)
    for note in drawing.notes:
        yield paragraph(note, BODY)


def _steps(printed: Printed) -> Iterator[str]:
    bar = f"{printed.bar:g} mm"
    yield "Print at 100 % (“actual size”), never fitted to the page, all sheets on one printer and one kind of paper."
    if printed.factors == (1.0, 1.0):
        yield (
            "On the first sheet measure both check bars with a steel rule, from middle to middle of their end ticks. "
            f"If one isn't {bar}, give both lengths as --check-bar-x and --check-bar-y, print anew and measure again."
        )
    else:
        yield f"Both check bars must now read {bar}; if not, measure a print made without correction once more."
    if len(printed.tiling.cells) > 1:
        yield (
            "Start in the middle and work outwards. Lay each sheet on its neighbour so that the crosses in their "
            "circles coincide at both ends of the common edge; cut one of the two along the thin dashed line."
        )
        for way, witness in zip(("across", "up", "corner to corner"), printed.tiling.witnesses(), strict=True):
            start, end = (printed.tiling.mark_words(node) for node in (witness.start, witness.end))
            yield (
                f"Measure the assembled template {way}: from the cross at the {start} to the cross at the {end} it "
                f"must be {witness.length:.1f} mm ({witness.length / 25.4:.2f} in)."
            )
        yield (
            "These long lengths tell more than any check bar: a bar of 150 mm misread by 0.1 mm is 1.3 mm in 2 m. If "
            "they are off, give them instead: --check-bar-x MEASURED/PRINTED, and --check-bar-y."
        )
    yield "Hold the template to the boat before cutting: centreline, reference line, chines and fittings must lie true."
    yield "Paper grows and shrinks with the weather, by one or two parts in a thousand (from memory): check on the day."


def sheet_map(printed: Printed, width: float, height: float) -> Sheet:
    """Where each sheet lies on the transom."""
    sheet = Sheet(width, height, text_width)
    boxes = {each: printed.tiling.window(each) for each in printed.tiling.cells}
    left, bottom = (min(box[side] for box in boxes.values()) for side in (0, 1))
    right, top = (max(box[side] for box in boxes.values()) for side in (2, 3))
    scale = min(width / (right - left), height / (top - bottom))
    aside = (width - scale * (right - left)) / 2

    def at(place: Point) -> Point:
        return aside + (place[0] - left) * scale, (place[1] - bottom) * scale

    for each in boxes:
        low_x, low_y, high_x, high_y = printed.tiling.grid.box(each)
        ring = tuple(at(place) for place in ((low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)))
        sheet.draw(Stroke(ring, 0.4, (2.0, 1.5), closed=True, grey=0.4))
    for line in printed.drawing.lines:
        if line.layer not in (LayerName.STATIONS, LayerName.BASELINE, LayerName.BOTTOM_EDGE):
            wide = 1.3 if line.layer is LayerName.OUTLINE else 0.5
            sheet.draw(Stroke(tuple(at(p) for p in line.points), wide, closed=line.closed))
    for fitting in printed.drawing.fittings:
        x, y = at(fitting.at)
        sheet.draw(Stroke(((x - 2, y), (x + 2, y)), 0.4), Stroke(((x, y - 2), (x, y + 2)), 0.4))
    for each in boxes:
        sheet.draw(_map_name(printed, each, at, scale))
    return sheet


def _map_name(printed: Printed, each: Cell, at: Callable[[Point], Point], scale: float) -> Label:
    left, _, _, top = printed.tiling.grid.box(each)
    x, y = at((left, top))
    size = max(5.0, min(9.0, 0.12 * scale * printed.tiling.grid.across))
    return Label(name_of(each), x + 1.1 * size, y - 0.9 * size, size, bold=True, plate=True)


def _tables(drawing: Drawing, width: float) -> Iterator[Flowable]:
    for table in drawing.offsets:
        yield paragraph(table.title, HEADING)
        share = width / 5
        rows = [[cell(text, CELL_BOLD) for text in table.heads], *([cell(t) for t in row] for row in table.rows)]
        yield grid(rows, [share] * len(table.heads))
    if drawing.fittings:
        yield paragraph(f"Fittings, {unit_name(drawing.unit)}", HEADING)
        heads = ("no.", "fitting", "from centreline", "side", "above keel", "size", "plan")
        shares = (0.06, 0.24, 0.17, 0.07, 0.15, 0.17, 0.14)
        rows = [[cell(head, CELL_BOLD) for head in heads]]
        for fitting in drawing.fittings:
            row = fitting.row
            across = row.girth or row.from_centreline
            words = (str(row.number), row.name, across, row.side, row.up_from_keel, " ".join(row.size), row.plan)
            rows.append([cell(word, CELL) for word in words])
        yield grid(rows, [share * width for share in shares])
