"""The settings dialog: a form over preferences, nothing kept that can't be used."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import QComboBox, QDialog, QDialogButtonBox, QLineEdit
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.preferences import PreferencesDialog, keep_preferences, kept_preferences
from digitizer.job.model import LengthUnit, PaperSize
from digitizer.job.preferences import Preferences, Theme

ANOTHER = Preferences(
    unit=LengthUnit.INCH_SIXTEENTHS,
    b_offset_mm=304.8,
    u_tape_mm=1.25,
    u_level_deg=0.3,
    coverage=3.0,
    paper=PaperSize.LETTER,
    language="en",
    theme=Theme.DARK,
    ellipse_magnification=50.0,
)


@pytest.fixture
def store(tmp_path: Path) -> QSettings:
    return QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)


def opened(qtbot: QtBot, preferences: Preferences) -> PreferencesDialog:
    dialog = PreferencesDialog(preferences)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


@pytest.mark.parametrize("preferences", [Preferences(), ANOTHER], ids=["usual", "another"])
def test_form_gives_back_what_it_was_given(qtbot: QtBot, preferences: Preferences) -> None:
    """Opening and keeping changes nothing, whatever the unit rounds on screen."""
    dialog = opened(qtbot, preferences)
    dialog.accept()
    assert dialog.result() == QDialog.DialogCode.Accepted
    assert dialog.preferences() == preferences


def test_preferences_survive_the_platforms_settings(store: QSettings) -> None:
    """What was kept comes back, after the file was written and read anew."""
    keep_preferences(ANOTHER, store)
    again = QSettings(store.fileName(), QSettings.Format.IniFormat)
    assert kept_preferences(again) == (ANOTHER, ())


def test_nothing_kept_is_the_usual(store: QSettings) -> None:
    """The first start finds no settings and no fault."""
    assert kept_preferences(store) == (Preferences(), ())


def test_spoilt_value_is_named_and_replaced(store: QSettings) -> None:
    """A settings file edited by hand costs only what is wrong in it."""
    keep_preferences(ANOTHER, store)
    store.setValue("preferences/u_tape_mm", "a lot")
    found, faults = kept_preferences(store)
    assert faults == ("u_tape_mm",)
    assert (found.u_tape_mm, found.theme) == (Preferences().u_tape_mm, Theme.DARK)


def test_unusable_figure_keeps_the_dialog_open(qtbot: QtBot) -> None:
    """The field at fault has the focus and its sentence; nothing is kept."""
    dialog = opened(qtbot, Preferences())
    dialog.b_offset.line.setText("12 3/7 in")
    dialog.accept()
    assert dialog.result() != QDialog.DialogCode.Accepted
    assert "no fraction of a tape" in dialog.b_offset.line.accessibleDescription()
    dialog.b_offset.line.setText("12 in")
    dialog.accept()
    assert dialog.preferences().b_offset_mm == pytest.approx(304.8)


def test_changing_the_unit_shows_the_figures_in_it(qtbot: QtBot) -> None:
    """381 mm reads as 15 in, and is still 381 mm."""
    dialog = opened(qtbot, Preferences())
    dialog.unit.setCurrentIndex(2)
    assert (dialog.b_offset.line.text(), dialog.u_tape.line.text()) == ("15 in", "0.031 in")
    assert dialog.preferences().b_offset_mm == 381.0


def test_usual_values_come_back_at_a_button(qtbot: QtBot) -> None:
    """Everything is put back at once, to be kept or not."""
    dialog = opened(qtbot, ANOTHER)
    reset = next(
        b for b in dialog.buttons.buttons() if dialog.buttons.buttonRole(b) is QDialogButtonBox.ButtonRole.ResetRole
    )
    reset.click()
    assert dialog.preferences() == Preferences()


def test_every_field_is_reached_by_tab_and_has_a_name(qtbot: QtBot) -> None:
    """From field to field and to the buttons without a mouse, each with a name to be read out."""
    dialog = opened(qtbot, Preferences())
    dialog.unit.setFocus()
    reached = []
    for _ in range(20):
        widget = dialog.focusWidget()
        if widget is None or widget in reached:
            break
        reached.append(widget)
        qtbot.keyClick(widget, Qt.Key.Key_Tab)
    fields = [widget for widget in reached if isinstance(widget, QComboBox | QLineEdit)]
    assert len(fields) >= 8
    assert all(field.accessibleName() for field in fields)
