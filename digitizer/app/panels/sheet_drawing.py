"""The transom as the report draws it, on the screen: the same sheet, painted by Qt."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QWidget

from digitizer.app.document import Document
from digitizer.app.words import tr
from digitizer.reports.drawing import transom_drawing
from digitizer.reports.sheet import Disc, Label, Sheet, Stroke, disc_box
from digitizer.survey.model import Survey

_WIDTH, _HEIGHT = 500.0, 360.0
"""The sheet in points; the drawing's texts are set for it and everything is enlarged together."""


class SheetDrawing(QWidget):
    """The dimension drawing of the latest survey."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._sheet: tuple[Sheet, QRectF] | None = None
        self._of: Survey | None = None
        self.setMinimumHeight(150)
        self.setAccessibleName(tr("Drawing of the transom with its dimensions"))
        self._seen: tuple[object, ...] = ()
        document.answered.connect(self._refresh)
        document.job_changed.connect(self._refresh)

    def _refresh(self) -> None:
        """Repaint only if something would look different: a repaint takes as long as an adjustment."""
        seen = (self._document.survey if self._document.answer.is_full else self._of, self._is_fresh())
        if seen != self._seen or self._of is None:
            self._seen = seen
            self.update()

    def _is_fresh(self) -> bool:
        return self._of is self._document.survey and self._document.is_current

    def sizeHint(self) -> QSize:
        """In the proportions of the sheet."""
        return QSize(420, 300)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The sheet, as large as it will go; dimmed while it is older than the job."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        survey = self._document.survey
        if survey is None:
            painter.setPen(self.palette().color(QPalette.ColorRole.PlaceholderText))
            words = self._document.answer.problem or tr("The drawing appears here once there is enough to measure.")
            room = QRectF(self.rect()).adjusted(12, 8, -12, -8)
            painter.drawText(room, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, words)
            return
        sheet, drawn = self._laid_out(survey)
        painter.setOpacity(1.0 if self._is_fresh() else 0.45)
        scale = min(self.width() / drawn.width(), self.height() / drawn.height())
        painter.translate(self.width() / 2, self.height() / 2)
        painter.scale(scale, -scale)
        painter.translate(-drawn.center())
        paint_sheet(painter, sheet, self.palette())

    def _laid_out(self, survey: Survey) -> tuple[Sheet, QRectF]:
        """
        The sheet, laid out once for each whole measurement, and the part of it that is drawn on.

        Placing its texts takes longer than a frame, so the drawing waits, dimmed, until a dragged mark is let go.
        """
        if self._sheet is None or (self._of is not survey and self._document.answer.is_full):
            sheet = Sheet(_WIDTH, _HEIGHT, _text_width())
            settings = self._document.job.settings
            transom_drawing(survey, settings.unit.value, settings.b_offset_mm, sheet)
            self._sheet, self._of = (sheet, _drawn_part(sheet)), survey
        return self._sheet


def _drawn_part(sheet: Sheet) -> QRectF:
    """The rectangle round everything on a sheet, with a little air."""
    part = QRectF()
    for item in sheet.items:
        if isinstance(item, Label):
            left, bottom, right, top = sheet.box(item)
        elif isinstance(item, Disc):
            left, bottom, right, top = disc_box(item)
        else:
            across, up = zip(*item.points, strict=True)
            left, bottom, right, top = min(across), min(up), max(across), max(up)
        part = part.united(QRectF(left, bottom, max(right - left, 0.1), max(top - bottom, 0.1)))
    return part.adjusted(-6.0, -6.0, 6.0, 6.0)


def paint_sheet(painter: QPainter, sheet: Sheet, palette: QPalette) -> None:
    """Everything on a sheet, in the colours of the window: y up, one unit a point."""
    ink, paper = palette.color(QPalette.ColorRole.Text), palette.color(QPalette.ColorRole.Base)
    for item in sheet.items:
        if isinstance(item, Label):
            _paint_label(painter, item, ink, paper)
        else:
            _paint_shape(painter, item, ink, paper)


def _paint_shape(painter: QPainter, item: Stroke | Disc, ink: QColor, paper: QColor) -> None:
    path = QPainterPath()
    if isinstance(item, Disc):
        path.addEllipse(QPointF(item.x, item.y), item.radius, item.radius)
    else:
        path.moveTo(*item.points[0])
        for point in item.points[1:]:
            path.lineTo(*point)
        if item.closed:
            path.closeSubpath()
    if item.halo:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(paper, item.width + 2 * item.halo))
        painter.drawPath(path)
    grey = item.grey if isinstance(item, Stroke) else 0.0
    pen = QPen(_between(ink, paper, grey), item.width)
    if item.dash:
        pen.setDashPattern([d / max(item.width, 0.1) for d in item.dash])
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush if item.fill is None else _between(ink, paper, item.fill))
    painter.drawPath(path)


def _paint_label(painter: QPainter, item: Label, ink: QColor, paper: QColor) -> None:
    painter.save()
    painter.translate(item.x, item.y)
    painter.rotate(item.angle)
    painter.scale(1.0, -1.0)
    font = _font(item.size, item.bold)
    painter.setFont(font)
    half = QFontMetricsF(font).horizontalAdvance(item.text) / 2
    if item.plate:
        painter.fillRect(QRectF(-half - 1, -item.size / 2, 2 * half + 2, item.size), paper)
    painter.setPen(ink)
    painter.drawText(QPointF(-half, 0.36 * item.size), item.text)
    painter.restore()


def _font(size: float, bold: bool) -> QFont:
    font = QFont()
    font.setPixelSize(max(1, round(size)))
    font.setBold(bold)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font


def _text_width() -> Callable[[str, float, bool], float]:
    def width(text: str, size: float, bold: bool) -> float:
        return QFontMetricsF(_font(size, bold)).horizontalAdvance(text)

    return width


def _between(ink: QColor, paper: QColor, share: float) -> QColor:
    """From ink (0) to paper (1)."""
    return QColor.fromRgbF(
        *(
            a + (b - a) * share
            for a, b in zip(ink.getRgbF()[:3], paper.getRgbF()[:3], strict=True)  # type: ignore[index]
        )
    )
