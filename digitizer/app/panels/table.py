"""The table in the middle: photo, flattened view or both, the bar that asks for figures, and the strip of photos."""

from __future__ import annotations

from PySide6.QtWidgets import QSplitter, QVBoxLayout, QWidget

from digitizer.app.canvas.canvas import Canvas
from digitizer.app.canvas.flat_canvas import FlatCanvas
from digitizer.app.document import Document
from digitizer.app.panels.figure_bar import FigureBar
from digitizer.app.panels.photo_strip import PhotoStrip
from digitizer.app.tools import Tool

VIEWS = ((True, False), (False, True), (True, True))
"""Photo alone, flattened alone, both."""


class Table(QWidget):
    """Photo and flattened view, and what belongs to them."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.canvas = Canvas(document)
        self.flat = FlatCanvas(document)
        self.flat.layers = self.canvas.layers
        self.strip = PhotoStrip(document)
        self.figure_bar = FigureBar()
        self._views = QSplitter()
        self._views.addWidget(self.canvas)
        self._views.addWidget(self.flat)
        self.flat.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.figure_bar)
        layout.addWidget(self._views, 1)
        layout.addWidget(self.strip)
        for canvas in self.canvases:
            self.strip.photo_chosen.connect(canvas.show_photo)
            self.figure_bar.given_up.connect(canvas.forget_clicks)

    @property
    def canvases(self) -> tuple[Canvas, Canvas]:
        """Photo and flattened view."""
        return self.canvas, self.flat

    @property
    def current(self) -> Canvas:
        """The canvas that is used: the one with the keyboard, else the one that is seen."""
        return self.flat if self.flat.hasFocus() or self.canvas.isHidden() else self.canvas

    def swap_view(self) -> None:
        """Photo, flattened, both, and from the beginning."""
        now = (not self.canvas.isHidden(), not self.flat.isHidden())
        photo, flat = VIEWS[(VIEWS.index(now) + 1) % len(VIEWS)]
        self.canvas.setVisible(photo)
        self.flat.setVisible(flat)
        self._views.setSizes([1000, 1000])
        self.flat.show_photo(self.canvas.photo_id)
        self.current.setFocus()

    def arm(self, tool: Tool | None) -> None:
        """Take a tool in hand on both."""
        for canvas in self.canvases:
            canvas.arm(tool)

    def forget_clicks(self) -> None:
        """Whatever waited for a figure."""
        for canvas in self.canvases:
            canvas.forget_clicks()
