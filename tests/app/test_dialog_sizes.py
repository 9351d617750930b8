"""Dialogs fit the smallest screen at twice the size, and give every control a name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from PySide6.QtCore import QSize
from PySide6.QtWidgets import QAbstractButton, QComboBox, QDialog, QLineEdit, QListWidget, QMenuBar, QTableWidget
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.frame import Frame
from digitizer.app.dialogs.help_viewer import HelpViewer
from digitizer.app.dialogs.keyboard import KeyboardDialog, Shortcut, menu_shortcuts
from digitizer.app.dialogs.preferences import PreferencesDialog
from digitizer.app.dialogs.recovery import RecoveryDialog
from digitizer.app.dialogs.tape_form import TapeForm
from digitizer.job.model import Job
from digitizer.job.preferences import Preferences
from digitizer.job.recovery import Recoverable

SMALLEST = QSize(683, 384)
"""A screen of 1366 × 768 at 200 %."""
KEYS = (Shortcut("Job", "Save", "Ctrl+S"), Shortcut("Edit", "Undo", "Ctrl+Z"), Shortcut("Photo", "Nudge", "arrow keys"))
DIALOGS: dict[str, Callable[[], QDialog]] = {
    "settings": lambda: PreferencesDialog(Preferences()),
    "tape": lambda: TapeForm(Job(), Preferences()),
    "recovery": lambda: RecoveryDialog(Recoverable(), datetime(2026, 5, 6)),
    "keyboard": lambda: KeyboardDialog(KEYS),
    "help": HelpViewer,
}


@pytest.fixture(params=DIALOGS)
def dialog(request: pytest.FixtureRequest, qtbot: QtBot) -> QDialog:
    dialog = DIALOGS[request.param]()
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


def test_fits_the_smallest_screen(dialog: QDialog) -> None:
    """No dialog insists on more than 683 × 384, so that its buttons stay in sight."""
    dialog.resize(SMALLEST - QSize(48, 48))
    assert dialog.height() <= SMALLEST.height()
    assert dialog.width() <= SMALLEST.width()
    for button in dialog.findChildren(QAbstractButton):
        if button.isVisible() and button.window() is dialog and button.text():
            place = button.mapTo(dialog, button.rect().bottomRight())
            assert place.x() <= dialog.width(), button.text()


def test_every_control_has_a_name(dialog: QDialog) -> None:
    """Whoever hears the screen instead of seeing it knows where they are."""
    for kind in (QLineEdit, QComboBox, QListWidget, QTableWidget):
        for control in dialog.findChildren(kind):
            own = control.window() is dialog and not control.objectName().startswith("qt_")
            assert control.accessibleName() or not own, type(control).__name__
    for button in dialog.buttons.buttons() if isinstance(dialog, Frame) else ():
        assert button.text()


def test_keyboard_has_a_place_to_begin(dialog: QDialog) -> None:
    """A dialog opens with one of its controls in focus, so that the first key already does something."""
    assert dialog.focusWidget() is not None


def test_keyboard_list_is_searched(qtbot: QtBot) -> None:
    """A word of the command, its menu or its key narrows the list."""
    dialog = KeyboardDialog(KEYS)
    qtbot.addWidget(dialog)
    qtbot.keyClicks(dialog.search, "ctrl+z")
    assert dialog.shown() == ("Undo",)
    dialog.search.setText("photo")
    assert dialog.shown() == ("Nudge",)


def test_keyboard_list_comes_from_the_menus(qtbot: QtBot) -> None:
    """What the list says is what the menus do, submenus included; commands without a key are left out."""
    bar = QMenuBar()
    qtbot.addWidget(bar)
    job = bar.addMenu("&Job")
    save = job.addAction("&Save …")
    save.setShortcut("Ctrl+S")
    job.addAction("Nothing")
    deeper = job.addMenu("More").addAction("Deeper")
    deeper.setShortcuts(["F2", "Ctrl+D"])
    assert menu_shortcuts(bar) == (Shortcut("Job", "Save", "Ctrl+S"), Shortcut("Job", "Deeper", "F2 or Ctrl+D"))
