"""A bar over the table that asks for a figure: how long is what was just clicked."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeyEvent, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QWidget

from digitizer.app.words import tr
from digitizer.errors import ReadingError


class FigureBar(QFrame):
    """Asks for one or more figures; hidden when nothing is asked."""

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
        self._read: Callable[[str], float] = float
        self.hide()

    def ask(
        self,
        question: str,
        figures: dict[str, str],
        read: Callable[[str], float],
        take: Callable[[list[float]], None],
    ) -> None:
        """
        Ask for figures.

        Parameters
        ----------
        figures
            The fields' labels and what stands in them at first.
        read
            Reads one, or refuses it with a `ReadingError`.
        take
            Called with the figures.
        """
        self._clear()
        self._take, self._read = take, read
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
        figures = []
        for field in self._fields:
            try:
                figures.append(self._read(field.text()))
            except ReadingError as problem:
                self.refused.emit(str(problem))
                field.setFocus()
                field.selectAll()
                return
        self.hide()
        if self._take is not None:
            self._take(figures)

    def _clear(self) -> None:
        self._fields.clear()
        while (item := self._layout.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
