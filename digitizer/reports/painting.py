"""A sheet of lines, discs and texts put on a PDF page."""

from __future__ import annotations

from io import BytesIO

from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from digitizer.reports.paper import BOLD, REGULAR, shown, text_width
from digitizer.reports.sheet import Disc, Label, Sheet, Stroke


class SheetFlowable(Flowable):
    """A sheet in the run of a page, with a picture under it where there is one."""

    def __init__(
        self, sheet: Sheet, jpeg: bytes | None = None, left: float = 0.0, below: float = 0.0, frame: bool = False
    ) -> None:
        super().__init__()
        self.width, self.height = sheet.width + left, sheet.height + below
        self._sheet, self._jpeg, self._left, self._below, self._frame = sheet, jpeg, left, below, frame
        self.hAlign = "CENTER"

    def draw(self) -> None:
        """Called by the page when it comes to this place."""
        canvas, sheet = self.canv, self._sheet
        canvas.translate(self._left, self._below)
        if self._jpeg is not None:
            canvas.drawImage(_Jpeg(self._jpeg), 0, 0, sheet.width, sheet.height)
        paint(sheet, canvas)
        if self._frame:
            canvas.setLineWidth(0.6)
            canvas.rect(0, 0, sheet.width, sheet.height, fill=0)


class _Jpeg(ImageReader):
    """A JPEG known by its own bytes: reportlab would decode it whole only to tell it from others."""

    def __init__(self, jpeg: bytes) -> None:
        super().__init__(BytesIO(jpeg))
        self._bytes = jpeg
        self._dataA = None  # nothing shines through

    def getRGBData(self) -> bytes:
        """What pictures are told apart by."""
        return self._bytes


def paint(sheet: Sheet, canvas: Canvas) -> None:
    """Put everything of a sheet on a canvas, in the order in which it was drawn."""
    canvas.saveState()
    canvas.setLineJoin(1)
    canvas.setLineCap(1)
    for item in sheet.items:
        if isinstance(item, Stroke):
            _stroke(item, canvas)
        elif isinstance(item, Disc):
            _disc(item, canvas)
        else:
            _label(item, canvas)
    canvas.restoreState()


def _stroke(item: Stroke, canvas: Canvas) -> None:
    path = canvas.beginPath()
    path.moveTo(*item.points[0])
    for point in item.points[1:]:
        path.lineTo(*point)
    if item.closed:
        path.close()
    if item.halo:
        _pen(canvas, item.width + 2 * item.halo, 1.0, ())
        canvas.drawPath(path, stroke=1, fill=0)
    _pen(canvas, item.width, item.grey, item.dash)
    if item.fill is not None:
        canvas.setFillGray(item.fill)
    canvas.drawPath(path, stroke=1, fill=int(item.fill is not None))


def _disc(item: Disc, canvas: Canvas) -> None:
    if item.fill == 0.0 and not item.dash:
        _dot(item, canvas)
        return
    if item.halo:
        _pen(canvas, item.width + 2 * item.halo, 1.0, ())
        canvas.circle(item.x, item.y, item.radius, stroke=1, fill=0)
    _pen(canvas, item.width, 0.0, item.dash)
    if item.fill is not None:
        canvas.setFillGray(item.fill)
    canvas.circle(item.x, item.y, item.radius, stroke=1, fill=int(item.fill is not None))


def _dot(item: Disc, canvas: Canvas) -> None:
    """A full black disc: a line of no length with round ends, a tenth of a circle's work where there are hundreds."""
    size = 2 * item.radius + item.width
    for width, grey in ((size + 2 * item.halo, 1.0), (size, 0.0)) if item.halo else ((size, 0.0),):
        _pen(canvas, width, grey, ())
        canvas.line(item.x, item.y, item.x, item.y)


def _label(item: Label, canvas: Canvas) -> None:
    canvas.saveState()
    canvas.translate(item.x, item.y)
    canvas.rotate(item.angle)
    text = shown(item.text)
    half = text_width(text, item.size, item.bold) / 2
    if item.plate:
        canvas.setFillGray(1.0)
        canvas.rect(-half - 1.0, -item.size / 2, 2 * half + 2.0, item.size, stroke=0, fill=1)
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD if item.bold else REGULAR, item.size)
    canvas.drawCentredString(0, -0.36 * item.size, text)
    canvas.restoreState()


def _pen(canvas: Canvas, width: float, grey: float, dash: tuple[float, ...]) -> None:
    canvas.setLineWidth(width)
    canvas.setStrokeGray(grey)
    canvas.setDash(list(dash))
