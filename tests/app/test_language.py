"""Every text passes the one place for words: under a language that brackets everything, nothing is left bare."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QTranslator
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDialog,
    QGroupBox,
    QLabel,
    QLineEdit,
    QTreeWidget,
    QWidget,
)
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.hand_over import HandOverDialog
from digitizer.app.dialogs.help_viewer import HelpViewer
from digitizer.app.dialogs.keyboard import KeyboardDialog
from digitizer.app.dialogs.preferences import PreferencesDialog
from digitizer.app.dialogs.recovery import RecoveryDialog
from digitizer.app.dialogs.tape_form import TapeForm
from digitizer.app.handing_over import planned
from digitizer.app.window import Window
from digitizer.job.model import Job
from digitizer.job.preferences import Preferences
from digitizer.job.recovery import Recoverable, Recovery
from digitizer.survey.steps import steps

NAMES_OF_THEMSELVES = {"A4", "A3", "Letter", "English"}
SAMPLE = Recovery(Path("a"), datetime(2026, 5, 6), Job(), None, False, {})
DIALOGS: dict[str, Callable[[Path], QDialog]] = {
    "settings": lambda _: PreferencesDialog(Preferences()),
    "tape": lambda _: TapeForm(Job(), Preferences()),
    "recovery": lambda _: RecoveryDialog(Recoverable((SAMPLE,)), datetime(2026, 5, 6)),
    "keyboard": lambda _: KeyboardDialog(()),
    "help": lambda _: HelpViewer(),
    "hand-over": lambda folder: HandOverDialog(folder, "boat", planned),
}


class Bracketing(QTranslator):
    """A language in which every text is the English one in brackets, so that what was not asked for shows."""

    def translate(self, context: str, text: str, disambiguation: str | None = None, n: int = -1) -> str:
        return f"⟦{text}⟧" if context == "digitizer" else text

    def isEmpty(self) -> bool:
        return False


@pytest.fixture
def bracketed(qapp: QApplication) -> Iterator[None]:
    translator = Bracketing()
    qapp.installTranslator(translator)
    yield
    qapp.removeTranslator(translator)


def texts(widget: QWidget) -> Iterator[str]:
    """What can be read on a widget, and what is read out."""
    yield widget.accessibleName()
    if isinstance(widget, QDialog):
        yield widget.windowTitle()
    if isinstance(widget, QLabel | QAbstractButton):
        yield widget.text()
    if isinstance(widget, QGroupBox):
        yield widget.title()
    if isinstance(widget, QLineEdit):
        yield widget.placeholderText()
    if isinstance(widget, QComboBox):
        yield from (widget.itemText(i) for i in range(widget.count()))
    if isinstance(widget, QTreeWidget):
        yield from (widget.headerItem().text(column) for column in range(widget.columnCount()))
        yield from (widget.topLevelItem(row).text(0) for row in range(widget.topLevelItemCount()))


def bare(widget: QWidget) -> list[str]:
    """Texts with words in them that nobody asked the language for."""
    widgets = [widget, *(child for child in widget.findChildren(QWidget) if not child.objectName().startswith("qt_"))]
    found = {text for each in widgets for text in texts(each)}
    found |= {action.text() for action in widget.findChildren(QAction)}
    return sorted(t for t in found - NAMES_OF_THEMSELVES if re.search(r"[^\W\d_]{2}", t) and "⟦" not in t)


@pytest.mark.usefixtures("bracketed")
@pytest.mark.parametrize("name", DIALOGS)
def test_no_text_bypasses_the_language(qtbot: QtBot, name: str, tmp_path: Path) -> None:
    """Titles, labels, choices, headers and names to be read out can all be translated."""
    dialog = DIALOGS[name](tmp_path)
    qtbot.addWidget(dialog)
    dialog.show()
    assert bare(dialog) == []


@pytest.mark.usefixtures("bracketed")
def test_no_text_of_the_window_bypasses_the_language(window: Window) -> None:
    """The same for the window itself; what the survey says of a job is said in the language of reports."""
    said = {words for step in steps(window.document.job) for words in (step.holds, step.missing)}
    of_the_platform = {"Scroll Left", "Scroll Right"}
    again = Window(window.desk.folders)
    assert [text for text in bare(again) if text not in said | of_the_platform] == []
    again.close()
