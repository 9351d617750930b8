"""The table in the middle: the photo, the bar that asks for figures, and the strip of photos."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget

from digitizer.app.canvas.canvas import Canvas
from digitizer.app.document import Document
from digitizer.app.panels.figure_bar import FigureBar
from digitizer.app.panels.photo_strip import PhotoStrip


class Table(QWidget):
    """Photo, and what belongs to it."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.canvas = Canvas(document)
        self.strip = PhotoStrip(document)
        self.figure_bar = FigureBar()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.figure_bar)
        layout.addWidget(self.canvas, 1)
        layout.addWidget(self.strip)
        self.strip.photo_chosen.connect(self.canvas.show_photo)
        self.figure_bar.given_up.connect(self.canvas.forget_clicks)

    @property
    def current(self) -> Canvas:
        """The canvas that was used last."""
        return self.canvas
