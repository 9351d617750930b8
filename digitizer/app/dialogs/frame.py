"""
What the dialogs have in common: a body that scrolls where the screen is small, and buttons that stay in sight.

A screen of 1366 × 768 at 200 % has room for 683 × 384; nothing may ask for more.
"""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFrame,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

_MARGIN = 48
"""Room left for the window's own frame and a taskbar."""


class Frame(QDialog):
    """
    A dialog with a scrolling body and a row of buttons.

    Parameters
    ----------
    title
        Of the window.
    preferred
        Size where the screen has room for it.
    """

    def __init__(self, title: str, preferred: QSize, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._preferred = preferred
        self.buttons = QDialogButtonBox()
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._column = QVBoxLayout(self)
        self._column.setSpacing(10)
        self._column.addWidget(self._scroll, 1)
        self._column.addWidget(self.buttons)
        self.resize(self.sizeHint())

    def set_body(self, body: QWidget) -> None:
        """Put the content in; whatever has the focus is scrolled into sight."""
        self._scroll.setWidget(body)

    def add_foot(self, foot: QWidget) -> None:
        """Put something between body and buttons that stays in sight, such as a complaint."""
        self._column.insertWidget(1, foot)

    def add_button(self, words: str, role: QDialogButtonBox.ButtonRole) -> QPushButton:
        """One more button in the row, where the platform puts its kind."""
        button = self.buttons.addButton(words, role)
        button.setAutoDefault(role is QDialogButtonBox.ButtonRole.AcceptRole)
        return button

    def sizeHint(self) -> QSize:
        """The preferred size, as far as the screen has room."""
        return self._preferred.boundedTo(self._room())

    def minimumSizeHint(self) -> QSize:
        """Small enough for the smallest screen at twice the size."""
        return QSize(320, 240).boundedTo(self._room())

    def showEvent(self, event: QShowEvent) -> None:
        """Fit the screen that it opens on."""
        self.resize(self.size().boundedTo(self._room()))
        super().showEvent(event)

    def _room(self) -> QSize:
        space = self.screen().availableGeometry().size()
        return QSize(max(320, space.width() - _MARGIN), max(240, space.height() - _MARGIN))


def wrapped(text: str = "", small: bool = False) -> QLabel:
    """A plain sentence that wraps, may be chosen by mouse or keyboard, and is never taken for markup."""
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if small:
        font = label.font()
        font.setPointSizeF(0.92 * font.pointSizeF())
        label.setFont(font)
    return label
