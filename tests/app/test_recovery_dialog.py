"""The offer of unsaved work: nothing is lost without being asked."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.recovery import RecoveryDialog
from digitizer.job.model import Job, Photo
from digitizer.job.recovery import Recoverable, Recovery

NOW = datetime(2026, 5, 6, 15, 0)
SAVED = Recovery(
    Path("a.recovery"), datetime(2026, 5, 6, 14, 30), Job(title="Runabout"), Path("/nowhere/boat.transom"), True, {}
)
NEW = Recovery(
    Path("b.recovery"), datetime(2026, 5, 1, 9, 5), Job(photos=(Photo("p", "p.jpg"),)), None, False, {}, "the-yard"
)
DAMAGED = (Path("c.recovery"), "c.recovery: the recovery file is damaged")


@pytest.fixture
def dialog(qtbot: QtBot) -> RecoveryDialog:
    dialog = RecoveryDialog(Recoverable((SAVED, NEW), (DAMAGED,)), NOW)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


def words(dialog: RecoveryDialog, row: int) -> str:
    item = dialog.list.item(row)
    assert item is not None
    return item.text()


def test_each_work_is_told_by_what_the_person_knows(dialog: RecoveryDialog) -> None:
    """Title, time and file; a job never saved and another computer are named as such."""
    assert words(dialog, 0) == "Runabout, today 14:30\n0 marks, 0 photos; /nowhere/boat.transom (no longer there)"
    assert words(dialog, 1).startswith("A job without a title, 2026-05-01 09:05\n0 marks, 1 photo; never saved")
    assert "the-yard" in words(dialog, 1)
    assert words(dialog, 2) == DAMAGED[1]


def test_return_goes_on_with_the_newest(qtbot: QtBot, dialog: RecoveryDialog) -> None:
    """The way back after a crash is one key."""
    with qtbot.waitSignal(dialog.taken) as caught:
        qtbot.keyClick(dialog.list, Qt.Key.Key_Return)
    assert caught.args == [SAVED]
    assert dialog.result() == QDialog.DialogCode.Accepted


def test_later_changes_nothing(qtbot: QtBot, dialog: RecoveryDialog) -> None:
    """Escape leaves everything for the next start."""
    with qtbot.assertNotEmitted(dialog.declined), qtbot.assertNotEmitted(dialog.taken):
        qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.result() == QDialog.DialogCode.Rejected


def test_removal_is_asked_first(qtbot: QtBot, dialog: RecoveryDialog) -> None:
    """One press asks, with "Keep it" as the answer under the finger; only the second removes."""
    with qtbot.assertNotEmitted(dialog.declined):
        dialog.decline.click()
        assert dialog.focusWidget() is dialog.keep
        dialog.keep.click()
    assert dialog.list.count() == 3
    dialog.decline.click()
    with qtbot.waitSignal(dialog.declined) as caught:
        dialog.sure.click()
    assert caught.args == [SAVED]
    assert dialog.list.count() == 2


def test_damaged_file_can_only_be_dismissed(qtbot: QtBot, dialog: RecoveryDialog) -> None:
    """There is nothing to go on with in a damaged file; the last one removed closes the dialog."""
    dialog.list.setCurrentRow(2)
    assert not dialog.take.isEnabled()
    dialog.decline.click()
    with qtbot.waitSignal(dialog.damage_dismissed) as caught:
        dialog.sure.click()
    assert caught.args == [DAMAGED[0]]
    for _ in range(2):
        dialog.decline.click()
        dialog.sure.click()
    assert not dialog.isVisible()
