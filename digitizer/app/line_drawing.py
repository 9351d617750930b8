"""The small line drawings that show what to click."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QRectF, QSize
from PySide6.QtGui import QPainter, QPaintEvent, QPalette
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QSizePolicy, QWidget

from digitizer.app.help_pages import DRAWINGS, drawing_of_step
from digitizer.survey.steps import StepName

_INK = "currentColor"


def drawing_of(step: StepName) -> QWidget | None:
    """The drawing of a step; none where nothing is clicked."""
    file = DRAWINGS / f"{drawing_of_step(step)}.svg"
    return LineDrawing(file.read_text(encoding="utf-8")) if file.is_file() else None


class LineDrawing(QWidget):
    """An SVG in the ink of the window, light or dark."""

    def __init__(self, svg: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._svg = svg
        self._renderer = QSvgRenderer(QByteArray(svg.encode()), self)
        self._ink = ""
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """As wide as the card, in its own proportions."""
        size = self._renderer.defaultSize()
        return QSize(200, round(200 * size.height() / max(1, size.width())))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Redraw, and reload where the palette changed."""
        ink = self.palette().color(QPalette.ColorRole.WindowText).name()
        if ink != self._ink:
            self._renderer.load(QByteArray(self._svg.replace(_INK, ink).encode()))
            self._ink = ink
        size = self._renderer.defaultSize()
        scale = min(self.width() / max(1, size.width()), self.height() / max(1, size.height()))
        wide, high = size.width() * scale, size.height() * scale
        painter = QPainter(self)
        self._renderer.render(painter, QRectF((self.width() - wide) / 2, (self.height() - high) / 2, wide, high))
