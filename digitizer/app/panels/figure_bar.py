"""A bar over the table that asks for a figure: how long is what was just clicked."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeyEvent, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QWidget

from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.units import parse_length


class FigureBar(QFrame):
    """Asks for one or more lengths; hidden when nothing is asked."""

    refused = Signal(str)
    given_up = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAutoFillBackground(True)
        self._layout = QHBoxLayout(self)
        self._layout.setContentsMargins(10, 6, 10, 6)
        self._fields: list[QLineEdit] = []
        self._take: Callable[[list[float]], None] | None = None
        self._unit = "mm"
        self.hide()

    def ask(self, question: str, figures: dict[str, str], unit: str, take: Callable[[list[float]], None]) -> None:
        """
        Ask for lengths.

        Parameters
        ----------
        figures
            The fields' labels and what stands in them at first.
        unit
            Of figures typed without one: ``"mm"``, ``"in"`` or ``"in/16"``.
        take
            Called with the lengths in mm.
        """
        self._clear()
        self._take, self._unit = take, unit
        self._layout.addWidget(QLabel(question))
        for label, text in figures.items():
            field = QLineEdit(text)
            field.setMaximumWidth(110)
            field.setAccessibleName(label)
            field.returnPressed.connect(self._accept)
            caption = QLabel(label)
            caption.setBuddy(field)
            self._layout.addWidget(caption)
            self._layout.addWidget(field)
            self._fields.append(field)
        for words, slot in ((tr("Take"), self._accept), (tr("Discard"), self.give_up)):
            button = QPushButton(words)
            button.clicked.connect(slot)
            self._layout.addWidget(button)
        self._layout.addStretch(1)
        self.show()
        self._fields[0].setFocus()
        self._fields[0].selectAll()

    def give_up(self) -> None:
        """Nothing is taken."""
        self.hide()
        self.given_up.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape gives up."""
        if event.key() == Qt.Key.Key_Escape:
            self.give_up()
        else:
            super().keyPressEvent(event)

    def _accept(self) -> None:
        lengths = []
        for field in self._fields:
            try:
                lengths.append(parse_length(field.text(), self._unit))
            except ReadingError as problem:
                self.refused.emit(str(problem))
                field.setFocus()
                field.selectAll()
                return
        self.hide()
        if self._take is not None:
            self._take(lengths)

    def _clear(self) -> None:
        self._fields.clear()
        while (item := self._layout.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
