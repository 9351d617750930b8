"""The frame of the window: three regions side by side or folded, and the bar that speaks."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSplitter, QStackedWidget, QTabWidget, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.words import tr


class Regions(QStackedWidget):
    """The three regions side by side, or one behind the other where there is no room."""

    def __init__(self, parts: tuple[tuple[str, QWidget], ...]) -> None:
        super().__init__()
        self._parts = parts
        self._side_by_side = QSplitter(Qt.Orientation.Horizontal)
        self._side_by_side.setChildrenCollapsible(False)
        self._tabs = QTabWidget()
        self.addWidget(self._side_by_side)
        self.addWidget(self._tabs)
        self._folded: bool | None = None
        self.fold(False)

    def fold(self, folded: bool) -> None:
        """Into tabs, or side by side."""
        if folded == self._folded:
            return
        self._folded = folded
        for title, part in self._parts:
            if folded:
                self._tabs.addTab(part, title)
            else:
                self._side_by_side.addWidget(part)
            part.show()
        self.setCurrentWidget(self._tabs if folded else self._side_by_side)
        if not folded:
            for i, share in enumerate((0, 1, 0)):
                self._side_by_side.setStretchFactor(i, share)
            self._side_by_side.setSizes([250, 610, 506])

    def show_part(self, part: QWidget) -> None:
        """Bring a region to the front where they lie behind each other."""
        if self._folded:
            self._tabs.setCurrentWidget(part)


class MessageBar(QWidget):
    """A sentence over the regions, until it is dismissed."""

    def __init__(self) -> None:
        super().__init__()
        self.setAutoFillBackground(True)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 6, 12, 6)
        self._label = wrapped()
        dismiss = QPushButton(tr("Dismiss"))
        dismiss.clicked.connect(self.hide)
        layout.addWidget(self._label, 1)
        layout.addWidget(dismiss)
        self.hide()

    def words(self) -> str:
        """What is being said; empty when nothing is."""
        return "" if self.isHidden() else self._label.text()

    def show_words(self, words: str) -> None:
        """Say a sentence."""
        self._label.setText(words)
        self.show()
