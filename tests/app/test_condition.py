"""The condition survey and the plan in the window: marked on the photo, written in forms, each step undone by name."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from digitizer.app.asking import meter_figure
from digitizer.app.dialogs.condition import ConditionSurvey
from digitizer.app.dialogs.planning import FlangeAndEngines, fit_words
from digitizer.app.document import Document
from digitizer.app.panels.inspector import chosen_records
from digitizer.app.tools import BY_KEY
from digitizer.app.window import Window
from digitizer.errors import ReadingError
from digitizer.job import condition_edits
from digitizer.job.edits import Click
from digitizer.job.model import Flange, Job, Meter, Photo, Sound
from tests.app.conftest import wait_for

START = Job(photos=(Photo("photo_1", "stern.jpg"), Photo("photo_2", "near.jpg")))


def press(dialog: QWidget, words: str) -> None:
    button = next(b for b in dialog.findChildren(QPushButton) if b.text() == words and b.isVisibleTo(dialog))
    button.click()


def type_in(dialog: QWidget, name: str, text: str) -> None:
    line = dialog.findChildren(QLineEdit, name)[-1]
    line.setText(text)
    line.editingFinished.emit()


def shown(window: Window, x: float, y: float) -> QPointF:
    return window.canvas.viewport.screen(x, y)


def test_crack_is_marked_on_the_photo_and_measured(opened: Window) -> None:
    """Three clicks and Esc make one crack with a length and U; the next click begins another."""
    opened.choose_tool(BY_KEY["crack"])
    for x in (1500.0, 1600.0, 1700.0):
        opened.canvas.place(shown(opened, x, 1200.0), raw=True)
    opened.canvas._escape()
    opened.canvas.place(shown(opened, 1500.0, 1300.0), raw=True)
    job = opened.document.job
    assert [sum(m.of == d.id for m in job.marks) for d in job.defects] == [3, 1]
    wait_for(lambda: opened.document.is_current)
    assert opened.document.survey is not None
    found = {d.id: d for d in opened.document.survey.defects}
    assert not found["crack"].closed
    assert found["crack"].size.U > 0.0


def test_reading_is_asked_for_and_off_the_scale_refused(opened: Window) -> None:
    """A figure beyond the meter's scale is refused in words; a good one stands at the place clicked."""
    opened.choose_tool(BY_KEY["meter_reading"])
    opened.canvas.place(shown(opened, 1500.0, 1200.0))
    field = opened.figure_bar.findChildren(QLineEdit)[-1]
    field.setText("140")
    field.returnPressed.emit()
    assert "0 to 100" in opened.message.findChildren(QLabel)[0].text()
    assert opened.document.job.meter_readings == ()
    field.setText("18,5")
    field.returnPressed.emit()
    (reading,) = opened.document.job.meter_readings
    assert reading.value == 18.5
    assert opened.document.undo_stack.undoText() == "Add meter reading"
    found = dict(chosen_records(opened.document.job, (reading.point,)))
    assert found["meter_readings"] is reading


@pytest.mark.parametrize("text", ["", "wet", "nan", "-1", "100.1"])
def test_figure_that_no_meter_shows_is_refused(text: str) -> None:
    """No number, or off the scale."""
    with pytest.raises(ReadingError):
        meter_figure(text, Meter("meter"))


def condition(qtbot: QtBot, job: Job) -> tuple[ConditionSurvey, Document]:
    document = Document(job)
    dialog = ConditionSurvey(document)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog, document


def test_tool_is_taken_in_hand_from_the_form(qtbot: QtBot) -> None:
    """Its buttons give the window the tool."""
    dialog, _ = condition(qtbot, START)
    with qtbot.waitSignal(dialog.tool_chosen) as told:
        press(dialog, "Damaged area")
    assert told.args == [BY_KEY["area"]]


def test_marks_made_beside_the_form_stand_in_it(qtbot: QtBot) -> None:
    """A sounding clicked on the photo is listed at once, and gone after undo."""
    dialog, document = condition(qtbot, START)
    document.edit("Sound", condition_edits.with_sounding(document.job, Click("photo_1", 5, 5), Sound.DEAD))
    press(dialog, "Remove")
    assert document.job.soundings == ()
    document.undo_stack.undo()
    assert [s.sound for s in document.job.soundings] == [Sound.DEAD]


def test_scale_that_leaves_a_reading_outside_is_refused(qtbot: QtBot) -> None:
    """A job that could not be opened again is never made."""
    dialog, document = condition(qtbot, condition_edits.with_meter_reading(START, Click("photo_1", 5, 5), 80.0))
    before = document.job
    type_in(dialog, "high", "50")
    assert document.job is before
    assert "off the meter's scale" in dialog._complaint.text()


def test_every_field_has_a_name(qtbot: QtBot) -> None:
    """For people who hear the form."""
    job = condition_edits.with_meter_reading(START, Click("photo_1", 5, 5), 80.0)
    dialog, _ = condition(qtbot, condition_edits.with_sounding(job, Click("photo_1", 6, 6), Sound.DULL))
    assert all(line.accessibleName() for line in dialog.findChildren(QLineEdit))


def planning(qtbot: QtBot, job: Job) -> tuple[FlangeAndEngines, Document]:
    document = Document(job)
    dialog = FlangeAndEngines(document)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog, document


def test_flange_and_engines_are_planned_and_undone(qtbot: QtBot) -> None:
    """Each button and field is one step."""
    dialog, document = planning(qtbot, START)
    press(dialog, "Plan a flange")
    type_in(dialog, "width_mm", "820 mm")
    press(dialog, "Plan the holes")
    press(dialog, "State the engines planned")
    job = document.job
    assert job.flange is not None
    assert job.flange.width_mm == 820.0
    assert job.flange.bolts is not None
    assert job.planning is not None
    assert job.planning.engines_planned is not None
    for _ in range(4):
        document.undo_stack.undo()
    assert document.job is START


def test_height_of_a_flange_is_not_called_a_height_off_the_face(qtbot: QtBot) -> None:
    """One name of a field serves several records, where it means the same."""
    dialog, _ = planning(qtbot, replace(START, flange=Flange(900.0, 450.0)))
    assert dialog.findChildren(QLineEdit, "height_mm")[0].accessibleName() == "Height"


def test_holes_that_touch_are_refused(qtbot: QtBot) -> None:
    """In words, and the plan stays."""
    dialog, document = planning(qtbot, replace(START, flange=Flange(900.0, 450.0)))
    press(dialog, "Plan the holes")
    before = document.job
    type_in(dialog, "spacing_mm", "8 mm")
    assert document.job is before
    assert "the holes touch" in dialog._complaint.text()


def test_fit_follows_the_plan(opened: Window) -> None:
    """Every fitting is named with its verdict and its clearance with U once the measurement is in."""
    opened.document.edit("Plan", replace(opened.document.job, flange=Flange(700.0, 300.0)))
    wait_for(lambda: opened.document.is_current)
    survey = opened.document.survey
    assert survey is not None
    assert survey.flange is not None
    lines = list(fit_words(survey, "mm"))
    assert len([line for line in lines if "±" in line]) == len(survey.flange.fittings) > 0
