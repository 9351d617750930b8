"""The small line drawings that show what to click, in the ink of the window."""

from __future__ import annotations

import re

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPaintEvent, QPalette
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QSizePolicy, QWidget

from digitizer.app.help_pages import DRAWINGS, drawing_of_step
from digitizer.survey.steps import StepName

_WIDTH_PX = 200
_STYLE = re.compile(r"<style>.*?</style>")
"""Chooses the ink by itself where a browser shows the file; here the window does."""


def drawing_of(step: StepName) -> QWidget | None:
    """The drawing of a step; none where nothing is clicked."""
    name = drawing_of_step(step)
    return LineDrawing(name) if (DRAWINGS / f"{name}.svg").is_file() else None


class LineDrawing(QWidget):
    """
    A drawing in the ink of the window, light or dark, sharp at any scaling.

    Parameters
    ----------
    name
        Of the drawing's file without its ending; empty for none yet.
    """

    def __init__(self, name: str = "", width_px: int = _WIDTH_PX, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._name, self._ink, self._width = name, "", width_px
        self._renderer = QSvgRenderer(self)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self._load()

    def show_drawing(self, name: str, words: str) -> None:
        """Show another drawing; `words` are for those who can't see it."""
        self._name = name
        self.setAccessibleName(words)
        self._load()
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """As wide as asked, in its own proportions."""
        return self._renderer.defaultSize().scaled(QSize(self._width, 10 * self._width), _KEEPING)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw in the middle, anew where the palette changed."""
        if self.palette().color(QPalette.ColorRole.WindowText).name() != self._ink:
            self._load()
        size = self._renderer.defaultSize().scaled(self.size(), _KEEPING)
        left, top = (self.width() - size.width()) / 2, (self.height() - size.height()) / 2
        painter = QPainter(self)
        self._renderer.render(painter, QRectF(left, top, size.width(), size.height()))

    def _load(self) -> None:
        self._ink = self.palette().color(QPalette.ColorRole.WindowText).name()
        if self._name:
            self._renderer.load(_svg(self._name, self._ink))


def drawn(name: str, ink: str, width_px: int, ratio: float) -> QImage:
    """A drawing as a picture, for a screen with `ratio` dots per pixel."""
    renderer = QSvgRenderer(_svg(name, ink))
    size = renderer.defaultSize().scaled(QSize(width_px, 10 * width_px), _KEEPING)
    image = QImage(size * ratio, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    image.setDevicePixelRatio(ratio)
    return image


_KEEPING = Qt.AspectRatioMode.KeepAspectRatio


def _svg(name: str, ink: str) -> QByteArray:
    text = (DRAWINGS / f"{name}.svg").read_text(encoding="utf-8")
    return QByteArray(_STYLE.sub("", text).replace("currentColor", ink).encode())
