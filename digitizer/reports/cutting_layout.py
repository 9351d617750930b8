"""
Where the words of a cutting file stand: labels beside their lines, numbers beside fittings, and blocks below.

Labels are placed by the same :class:`~digitizer.reports.sheet.Sheet` as on the report's drawing, so that none covers
another where there is room; blocks stand in columns under the drawing, each as wide as its widest line.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from digitizer.reports.balloon import draw_balloon
from digitizer.reports.cutting import Circle, Drawing, LayerName, Line
from digitizer.reports.fitting_marks import reach
from digitizer.reports.paper import text_width
from digitizer.reports.sheet import Disc, Label, Place, Point, Sheet, Stroke, along
from digitizer.reports.view import Extent
from digitizer.reports.wording import one_line
from digitizer.units import unit_name

_LABEL_POINTS = 7.5
"""Size of a label on the sheet; what one mm is there follows from the size wanted in mm."""
_LINES_ON_WIDTH = 110
"""A label is this part of the drawing's width high."""
_SMALLEST_MM = 6.0
_LEADING, _COLUMN_GAP, _CELL_GAP = 1.55, 3.0, 1.2
"""In text sizes."""
_WRAP = 62
_SCHEDULE = ("no.", "fitting", "from ℄", "side", "above keel", "size", "plan")


@dataclass(frozen=True)
class Text:
    """A text on one line; `size` is its em, mm."""

    layer: LayerName
    text: str
    at: Point
    """Its middle, or the left end of its baseline."""
    size: float
    angle: float = 0.0
    centred: bool = True
    bold: bool = False


@dataclass(frozen=True)
class Layout:
    """Words and what belongs to them."""

    texts: tuple[Text, ...]
    lines: tuple[Line, ...]
    circles: tuple[Circle, ...]
    extent: Extent
    """Of drawing and words together, mm."""


def laid_out(drawing: Drawing) -> Layout:
    """Labels, balloons and blocks of a drawing."""
    left, bottom, right, top = drawing.extent
    size = max(_SMALLEST_MM, (right - left) / _LINES_ON_WIDTH)
    room = 7.0 * size
    around = left - room, bottom - room, right + room, top + room
    texts, lines, circles = _labels(drawing, size, around)
    blocks = _Blocks(size, around[0], around[1])
    blocks.column(_particulars(drawing))
    blocks.table(*_schedule(drawing))
    for table in drawing.offsets:
        blocks.table(table.title, table.heads, table.rows)
    extent = around[0] - size, min(around[1], blocks.bottom), max(around[2], blocks.x), around[3]
    return Layout((*texts, *blocks.texts), lines, circles, extent)


def _labels(
    drawing: Drawing, size: float, around: Extent
) -> tuple[tuple[Text, ...], tuple[Line, ...], tuple[Circle, ...]]:
    """Everything that is placed beside something, found on a sheet and brought back to mm."""
    per_mm = _LABEL_POINTS / size
    sheet = Sheet((around[2] - around[0]) * per_mm, (around[3] - around[1]) * per_mm, text_width)

    def on(place: Point) -> Point:
        return (place[0] - around[0]) * per_mm, (place[1] - around[1]) * per_mm

    def back(place: Point) -> Point:
        return place[0] / per_mm + around[0], place[1] / per_mm + around[1]

    for line in drawing.lines:
        sheet.draw(Stroke(tuple(on(p) for p in line.points), closed=line.closed))
    for circle in drawing.circles:
        sheet.draw(Disc(*on(circle.centre), circle.radius * per_mm))
    for fitting in drawing.fittings:
        sheet.draw(Disc(*on(fitting.at), max(2.0, math.hypot(fitting.width, fitting.height) / 2 * per_mm)))
    drawn = len(sheet.items)
    for fitting in drawing.fittings:
        draw_balloon(sheet, on(fitting.at), reach(fitting, per_mm), fitting.row.number)
    for line in drawing.lines:
        if line.name:
            _name(sheet, line, [on(p) for p in line.points])
    _sides(sheet)
    return _brought_back(sheet.items[drawn:], back, 1.0 / per_mm)


def _name(sheet: Sheet, line: Line, points: Sequence[Point]) -> None:
    """The name of a line beside it; a station's number under its foot."""
    if line.layer is LayerName.STATIONS:
        x, y = points[0]
        sheet.write(line.name, [Place(x, y - fall) for fall in (6.0, 12.0, 18.0)], 5.5)
    elif line.layer is LayerName.CENTRELINE:
        x, top = points[-1]
        sheet.write("℄", [Place(x, top + 8.0)], 10.0)
    elif line.closed:
        across, up = zip(*points, strict=True)
        middle = (min(across) + max(across)) / 2
        sheet.write(line.name, [Place(middle, y) for y in (max(up) - 6.0, min(up) + 6.0, max(up) + 6.0)], 6.0)
    else:
        sheet.write(line.name, along(points[0], points[-1], 5.6, (0.1, 0.9, 0.2, 0.8, 0.3, 0.7)), 6.0)


def _sides(sheet: Sheet) -> None:
    sheet.write("PORT", [Place(60.0, y) for y in (40.0, 26.0, 12.0)], 10.0, bold=True)
    sheet.write("STARBOARD", [Place(sheet.width - 80.0, y) for y in (40.0, 26.0, 12.0)], 10.0, bold=True)


def _brought_back(
    items: Sequence[Stroke | Disc | Label], back: Callable[[Point], Point], mm: float
) -> tuple[tuple[Text, ...], tuple[Line, ...], tuple[Circle, ...]]:
    assert callable(back)
    layer = LayerName.LABELS
    texts = [
        Text(layer, i.text, back((i.x, i.y)), i.size * mm, i.angle, bold=i.bold) for i in items if isinstance(i, Label)
    ]
    lines = [Line(layer, tuple(back(p) for p in i.points), i.closed) for i in items if isinstance(i, Stroke)]
    circles = [Circle(layer, back((i.x, i.y)), i.radius * mm) for i in items if isinstance(i, Disc)]
    return tuple(texts), tuple(lines), tuple(circles)


def _particulars(drawing: Drawing) -> Iterator[tuple[str, bool]]:
    """The lines of the title block and whether they are bold."""
    yield from ((part, True) for part in textwrap.wrap(drawing.title, _WRAP - 10))
    yield from ((part, True) for part in textwrap.wrap(drawing.plane, _WRAP))
    for fact in drawing.facts:
        yield fact, False
    if drawing.missing:
        yield "Missing", True
        yield from _wrapped(drawing.missing)
    yield "Mind", True
    yield from _wrapped(drawing.notes)


def _wrapped(sentences: Sequence[str]) -> Iterator[tuple[str, bool]]:
    for sentence in sentences:
        yield from ((part, False) for part in textwrap.wrap(sentence, _WRAP, subsequent_indent="  "))


def _schedule(drawing: Drawing) -> tuple[str, Sequence[str], Sequence[Sequence[str]]]:
    rows = [
        (
            str(f.row.number),
            one_line(f.row.name, 28),
            one_line(f.row.girth or f.row.from_centreline),
            f.row.side,
            one_line(f.row.up_from_keel),
            one_line(" ".join(f.row.size)),
            f.row.plan,
        )
        for f in drawing.fittings
    ]
    return f"Fittings, {unit_name(drawing.unit)}", _SCHEDULE, rows


@dataclass
class _Blocks:
    """Columns of text under the drawing, filled from the left."""

    size: float
    x: float
    top: float
    texts: list[Text] = field(default_factory=list)
    bottom: float = math.inf

    def column(self, lines: Iterator[tuple[str, bool]]) -> None:
        """One column of lines, each plain or bold."""
        wide = 0.0
        y = self.top
        for text, bold in lines:
            y -= _LEADING * self.size
            self._write(text, self.x, y, bold)
            wide = max(wide, self._width(text, bold))
        self._close(self.x + wide, y)

    def table(self, title: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """A title, a bold line of heads, and rows; nothing where there are no rows."""
        if not rows:
            return
        start, step = self.x, _LEADING * self.size
        self._write(title, start, self.top - step, True)
        x = start
        for head, *cells in zip(heads, *rows, strict=True):
            self._write(head, x, self.top - 2 * step, True)
            for count, cell in enumerate(cells, start=3):
                self._write(cell, x, self.top - count * step, False)
            x += max(self._width(head, True), *(self._width(cell, False) for cell in cells)) + _CELL_GAP * self.size
        self._close(max(x, start + self._width(title, True)), self.top - (len(rows) + 2) * step)

    def _close(self, right: float, low: float) -> None:
        self.x = right + _COLUMN_GAP * self.size
        self.bottom = min(self.bottom, low - self.size)

    def _write(self, text: str, x: float, y: float, bold: bool) -> None:
        self.texts.append(Text(LayerName.NOTES, text, (x, y), self.size, centred=False, bold=bold))

    def _width(self, text: str, bold: bool) -> float:
        return text_width(text, self.size, bold)
