"""A line drawing as a label, in the ink of the window."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtCore import QByteArray, QEvent, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPalette, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QLabel, QWidget

from digitizer.app.help_pages import DRAWINGS


class DrawingLabel(QLabel):
    """
    A drawing of a fixed width.

    Parameters
    ----------
    width_px
        On a screen at 100 %.
    """

    def __init__(self, width_px: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._width, self._name = width_px, ""

    def show_drawing(self, name: str, words: str) -> None:
        """Show the drawing `name`; `words` are for those who can't see it."""
        self._name = name
        self.setAccessibleName(words)
        self._draw()

    def changeEvent(self, event: QEvent) -> None:
        """Draw anew where light turned to dark."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and self._name:
            self._draw()

    def _draw(self) -> None:
        ink = self.palette().color(QPalette.ColorRole.WindowText).name()
        image = drawn(DRAWINGS / f"{self._name}.svg", ink, self._width, self.devicePixelRatioF())
        self.setPixmap(QPixmap.fromImage(image))


def drawn(file: Path, ink: str, width_px: int, ratio: float) -> QImage:
    """A line drawing in one ink, as wide as asked, sharp on a screen with `ratio` dots per pixel."""
    text = re.sub(r"<style>.*?</style>", "", file.read_text(encoding="utf-8"))
    renderer = QSvgRenderer(QByteArray(text.replace("currentColor", ink).encode()))
    size = renderer.defaultSize().scaled(QSize(width_px, 10 * width_px), Qt.AspectRatioMode.KeepAspectRatio)
    image = QImage(size * ratio, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    image.setDevicePixelRatio(ratio)
    return image
