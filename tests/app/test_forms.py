"""Forms for records: what is typed becomes a record, and what can't be taken is refused with a sentence."""

from __future__ import annotations

from typing import Any

import pytest
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.records import JobDetails, ShapeAndAngle
from digitizer.app.document import Document
from digitizer.app.panels.inspector import chosen_records
from digitizer.app.panels.record_form import RecordForm
from digitizer.errors import ReadingError
from digitizer.job.checking import editable_fields, with_field
from digitizer.job.edits import Click, with_fitting, with_known_length
from digitizer.job.model import (
    Boat,
    Fitting,
    FittingKind,
    FittingShape,
    Gap,
    Job,
    KnownLength,
    LengthUnit,
    LevelReadings,
    Mark,
    Pad,
    Pattern,
    Photo,
    Plan,
    Settings,
    StraightLine,
    Target,
    TargetKind,
)

START = Job(photos=(Photo("photo_1", "stern.jpg"),))
RECORDS = (
    Fitting("drain"),
    Gap("gap", 2000.0, 12.0),
    KnownLength("rule", "a", "b", 1500.0),
    LevelReadings(13.0, 1.0),
    Settings(),
    Boat(),
    StraightLine("reference"),
    Pad("pad"),
    Photo("photo_1", "a.jpg"),
    Pattern("pattern", "photo_1"),
    Target("board", TargetKind.CHARUCO),
)


def form_of(qtbot: QtBot, record: Any, unit: str = "mm") -> tuple[RecordForm, list[Any], list[str]]:
    form = RecordForm(record, unit, ("pad_1",))
    qtbot.addWidget(form)
    changed: list[Any] = []
    refused: list[str] = []
    form.changed.connect(changed.append)
    form.refused.connect(refused.append)
    return form, changed, refused


def type_in(form: RecordForm, name: str, text: str) -> None:
    line = form.findChild(QLineEdit, name)
    assert line is not None
    line.setText(text)
    line.editingFinished.emit()


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: type(record).__name__)
def test_every_field_is_shown_and_reads_back_unchanged(qtbot: QtBot, record: Any) -> None:
    """Leaving each field as it was changes nothing."""
    form, changed, refused = form_of(qtbot, record)
    for line in form.findChildren(QLineEdit):
        line.editingFinished.emit()
    assert (changed, refused) == ([], [])


def test_inches_typed_arrive_in_millimetres(qtbot: QtBot) -> None:
    """A figure without a unit is in the job's unit."""
    form, changed, _ = form_of(qtbot, KnownLength("rule", "a", "b", 1500.0), "in/16")
    type_in(form, "length_mm", "60 1/2")
    assert changed[-1].length_mm == pytest.approx(1536.7)


def test_negative_gap_is_taken(qtbot: QtBot) -> None:
    """A hollow face has a negative gap."""
    form, changed, _ = form_of(qtbot, Gap("gap", 2000.0, 12.0))
    type_in(form, "gap_mm", "-8 mm")
    assert changed[-1].gap_mm == -8.0


@pytest.mark.parametrize(
    ("name", "text"),
    [
        pytest.param("length_mm", "long", id="no-number"),
        pytest.param("length_mm", "200 m", id="beyond-the-limit"),
        pytest.param("u_mm", "0", id="weighs-infinitely"),
    ],
)
def test_what_the_job_file_would_refuse_is_refused_here(qtbot: QtBot, name: str, text: str) -> None:
    """The same limits hold as on reading a job; the sentence names the field."""
    form, changed, refused = form_of(qtbot, KnownLength("rule", "a", "b", 1500.0))
    type_in(form, name, text)
    assert changed == []
    assert len(refused) == 1


def test_figure_can_be_left_out_again(qtbot: QtBot) -> None:
    """An emptied field that may be missing is missing."""
    form, changed, _ = form_of(qtbot, Fitting("drain", diameter_mm=80.0))
    type_in(form, "diameter_mm", "")
    assert changed[-1].diameter_mm is None


def test_choices_and_ticks(qtbot: QtBot) -> None:
    """A list gives the record's own word, a tick yes or no."""
    form, changed, _ = form_of(qtbot, Fitting("drain"))
    plan = form.findChild(QComboBox, "plan")
    plan.setCurrentIndex(plan.findData(Plan.MOVES))
    plan.activated.emit(plan.currentIndex())
    form.findChild(QCheckBox, "active").setChecked(False)
    assert changed[-1].plan is Plan.MOVES
    assert not changed[-1].active


def test_ids_and_positions_are_not_typed() -> None:
    """What is set by pointing has no field, but is a field of the record."""
    assert {"x_px", "y_px", "photo"} <= set(editable_fields(Mark))


def test_with_field_names_what_was_written() -> None:
    """The refusal holds the value."""
    with pytest.raises(ReadingError, match="-3"):
        with_field(KnownLength("rule", "a", "b", 1500.0), "length_mm", -3.0)


def test_chosen_mark_brings_its_fitting() -> None:
    """The inspector shows the mark and what it belongs to."""
    job = with_fitting(START, FittingShape.POINT, [Click("photo_1", 4, 4)], FittingKind.BOLT)
    shown = chosen_records(job, (job.marks[0].id,))
    assert [section for section, _ in shown] == ["marks", "fittings"]


def test_chosen_end_brings_its_length() -> None:
    """An end of a rule leads to the rule's length."""
    job = with_known_length(START, (Click("photo_1", 4, 4), Click("photo_1", 9, 4)), 1500.0, 0.8)
    shown = chosen_records(job, (job.marks[0].id,))
    assert [section for section, _ in shown] == ["marks", "lengths"]


def test_job_details_change_the_document(qtbot: QtBot) -> None:
    """Inches chosen in the dialog are an undoable step."""
    document = Document(START)
    dialog = JobDetails(document)
    qtbot.addWidget(dialog)
    unit = dialog.findChild(QComboBox, "unit")
    unit.setCurrentIndex(unit.findData(LengthUnit.INCH_SIXTEENTHS))
    unit.activated.emit(unit.currentIndex())
    assert document.job.settings.unit is LengthUnit.INCH_SIXTEENTHS
    document.undo_stack.undo()
    assert document.job is START


def test_shape_dialog_adds_and_removes_a_gap(qtbot: QtBot) -> None:
    """A straightedge's gap comes by a button and goes by another."""
    document = Document(START)
    dialog = ShapeAndAngle(document)
    qtbot.addWidget(dialog)
    press(dialog, "Add a gap")
    assert len(document.job.gaps) == 1
    press(dialog, "Remove")
    assert document.job.gaps == ()


def press(dialog: Any, words: str) -> None:
    from PySide6.QtWidgets import QPushButton

    next(b for b in dialog.findChildren(QPushButton) if b.text() == words).click()
