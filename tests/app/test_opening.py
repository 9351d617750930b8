"""The dialogs in the window: what they give back arrives in the document, undoable, and in the files."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import pytest
from PySide6.QtWidgets import QApplication, QDialog

from digitizer.app.dialogs.hand_over import HandOverDialog
from digitizer.app.dialogs.help_viewer import HelpViewer
from digitizer.app.dialogs.preferences import PreferencesDialog, kept_preferences
from digitizer.app.dialogs.recovery import RecoveryDialog
from digitizer.app.dialogs.tape_form import TapeForm
from digitizer.app.dialogs.tape_forms import AandB
from digitizer.app.window import Window
from digitizer.cli.main import main
from digitizer.job.model import Job, LengthUnit
from digitizer.job.preferences import Theme
from digitizer.job.recovery import Keeper
from digitizer.job.shelf import PhotoShelf
from digitizer.samples import sample_job
from tests.app.conftest import wait_for
from tests.job.open_jobs import as_if_crashed, dead_process

_Dialog = TypeVar("_Dialog", bound=QDialog)


def answering(monkeypatch: pytest.MonkeyPatch, kind: type[_Dialog], answer: Callable[[_Dialog], None]) -> None:
    """Let a modal dialog be shown, answered and closed as a person would."""

    def exec_(dialog: _Dialog) -> int:
        dialog.show()
        answer(dialog)
        return dialog.result()

    monkeypatch.setattr(kind, "exec", exec_)


def one(kind: type[_Dialog]) -> _Dialog:
    """The open dialog of a kind."""
    (dialog,) = (w for w in QApplication.topLevelWidgets() if isinstance(w, kind) and w.isVisible())
    return dialog


def test_files_handed_over_are_those_of_the_command_line(
    opened: Window, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """From the menu to the file: the window's figures are the bytes that the command line writes."""

    def write(dialog: HandOverDialog) -> None:
        dialog.place.setText(str(tmp_path))
        dialog.name.setText("w")
        dialog.write.click()
        assert not dialog.write.isEnabled()
        wait_for(dialog.write.isEnabled)
        dialog.reject()

    answering(monkeypatch, HandOverDialog, write)
    opened.dialogs.hand_over()
    assert main(["measure", str(sample_job("flat_square_on")), "--csv", str(tmp_path / "c.csv")]) == 0
    assert (tmp_path / "w-dimensions.csv").read_bytes() == (tmp_path / "c.csv").read_bytes()
    assert (tmp_path / "w.pdf").read_bytes().startswith(b"%PDF-")


def test_nothing_is_handed_over_before_the_figures_stand(window: Window) -> None:
    """An empty job has no figures to hand over; that is said."""
    window.dialogs.hand_over()
    assert "not ready" in window.message.words()


def test_figures_taken_by_hand_are_one_edit_each(opened: Window) -> None:
    """A reading of A and B is in the job, can be undone by name, and the form goes on."""
    opened.dialogs.show_tape_form()
    form = one(TapeForm)
    page = form.page()
    assert isinstance(page, AandB)
    page.a.set_value(600.0)
    page.b.set_value(480.0)
    form.accept()
    assert [reading.a_mm for reading in opened.document.job.deadrise_readings] == [600.0]
    assert "by hand" in opened.document.undo_stack.undoText()
    form.reject()


def test_settings_are_taken_and_kept(window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept in the dialog counts at once and at the next start."""

    def choose(dialog: PreferencesDialog) -> None:
        dialog.show_preferences(replace(dialog.preferences(), unit=LengthUnit.INCH_DECIMAL, theme=Theme.DARK))
        dialog.accept()

    answering(monkeypatch, PreferencesDialog, choose)
    window.dialogs.show_settings()
    assert window.desk.preferences.unit is LengthUnit.INCH_DECIMAL
    assert kept_preferences()[0] == window.desk.preferences
    wait_for(lambda: window.palette().window().color().lightness() < 100)
    window.dialogs.take_preferences(replace(window.desk.preferences, theme=Theme.SYSTEM))


def test_work_of_a_crashed_window_is_offered_and_taken_back(window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a crash the next window offers the work; taken back it is unsaved, and kept aside anew."""
    keeper = Keeper(window.desk.folders.recovery)
    keeper.keep(Job(title="Half done"), PhotoShelf())
    as_if_crashed(keeper.file, dead_process())
    answering(monkeypatch, RecoveryDialog, lambda dialog: dialog.take.click())
    window.dialogs.offer_recovery()
    assert window.document.job.title == "Half done"
    assert not window.document.is_saved
    kept = [json.loads(file.read_text()) for file in window.desk.folders.recovery.glob("*.recovery")]
    assert "Half done" in {json.loads(each["job"])["title"] for each in kept}


def test_help_opens_at_the_step(window: Window) -> None:
    """The card's question mark leads to the page of its step, in one help window however often it is asked."""
    window.dialogs.show_step_help("tape figures")
    window.dialogs.show_step_help("bottom")
    viewer = one(HelpViewer)
    assert viewer.current() == "bottom"
    viewer.close()
