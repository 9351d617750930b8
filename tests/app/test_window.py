"""The window, driven by real clicks and keys: from photo to numbers, and back by undo."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from digitizer.app.tools import BY_KEY
from digitizer.app.window import Window
from digitizer.job.model import MarkKind
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from digitizer.survey.steps import StepName

SAMPLE = sample_job("flat_square_on")
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(scope="module")
def by_command_line() -> Survey:
    """What the command line says of the sample."""
    job_file = read_job(SAMPLE)
    evidence = gather(job_file)
    return measure(job_file.job, evidence.facts, evidence.sightings)


def at(window: Window, x: float, y: float) -> QPoint:
    """Where a place of the photo is on the canvas."""
    return window.canvas.viewport.screen(x, y).toPoint()


def drag(window: Window, qtbot: QtBot, start: QPoint, end: QPoint, modifier: Qt.KeyboardModifier) -> None:
    """Press, move in two steps, let go."""
    canvas = window.canvas
    qtbot.mousePress(canvas, LEFT, modifier, start)
    qtbot.mouseMove(canvas, (start + end) / 2)
    qtbot.mouseMove(canvas, end)
    qtbot.mouseRelease(canvas, LEFT, modifier, end)


def test_empty_window_offers_three_doors(window: Window) -> None:
    """Nothing else is in the way of somebody who opens it for the first time."""
    assert window.pages.currentWidget() is window.welcome


def test_window_says_what_the_command_line_says(opened: Window, by_command_line: Survey) -> None:
    """The sample's dimensions are the same, digit by digit."""
    survey = opened.document.survey
    assert survey is not None
    assert survey.dimensions == by_command_line.dimensions


def test_sample_has_no_file_to_overwrite(opened: Window) -> None:
    """The guided sample is a copy: saving asks for a place."""
    assert opened.document.path is None
    assert opened.document.is_saved


def test_tool_and_click_make_a_mark(opened: Window, qtbot: QtBot) -> None:
    """The outline's button, a click on the photo: one more mark there, and undo takes it back."""
    window = opened
    before = window.document.job
    window.card.tool_chosen.emit(BY_KEY["waterline"])
    qtbot.mouseClick(window.canvas, LEFT, Qt.KeyboardModifier.ControlModifier, at(window, 2000.0, 500.0))
    mark = window.document.job.marks[-1]
    assert mark.kind is MarkKind.WATERLINE
    assert (mark.x_px, mark.y_px) == pytest.approx((2000.0, 500.0), abs=8.0)  # px, one screen pixel of this view
    window.document.undo_stack.undo()
    assert window.document.job is before


def test_dragged_mark_moves_and_numbers_follow(opened: Window, qtbot: QtBot) -> None:
    """A chine pulled outwards widens the beam; one undo brings the old numbers back."""
    window = opened
    chine = next(m for m in window.document.job.marks if m.id == "chine_port")
    beam = lambda: next(d.value for d in window.document.survey.dimensions if d.code == "chine_beam")  # noqa: E731
    before = beam()
    window.canvas.viewport = window.canvas.viewport.zoomed(4.0, window.canvas.viewport.screen(chine.x_px, chine.y_px))
    start = at(window, chine.x_px, chine.y_px)
    drag(window, qtbot, start, start + QPoint(-40, 0), Qt.KeyboardModifier.ControlModifier)
    moved = next(m for m in window.document.job.marks if m.id == "chine_port")
    assert moved.x_px < chine.x_px - 20
    qtbot.waitUntil(lambda: window.document.is_current and beam() > before + 10, timeout=20_000)
    window.document.undo_stack.undo()
    qtbot.waitUntil(lambda: window.document.is_current and beam() == before, timeout=20_000)


def test_arrow_keys_nudge_by_a_tenth_of_a_pixel(opened: Window, qtbot: QtBot) -> None:
    """Right moves by 0.1 px, Shift+Up by 1 px."""
    window = opened
    window.document.select("keel")
    before = next(m for m in window.document.job.marks if m.id == "keel")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    after = next(m for m in window.document.job.marks if m.id == "keel")
    assert after.x_px - before.x_px == pytest.approx(0.1)
    assert after.y_px - before.y_px == pytest.approx(-1.0)


def test_delete_takes_the_chosen_fitting_whole(opened: Window) -> None:
    """A fitting goes with its rim."""
    window = opened
    fitting = window.document.job.fittings[0].id
    window.document.select(fitting)
    window.delete_chosen()
    assert fitting not in {f.id for f in window.document.job.fittings}
    assert fitting not in {m.of for m in window.document.job.marks}


def test_two_clicks_and_a_figure_make_a_known_length(opened: Window, qtbot: QtBot) -> None:
    """After both ends the bar asks how far apart; typed inches arrive in mm."""
    window = opened
    window.card.tool_chosen.emit(BY_KEY["length"])
    for x in (1000.0, 3000.0):
        qtbot.mouseClick(window.canvas, LEFT, Qt.KeyboardModifier.NoModifier, at(window, x, 1500.0))
    assert window.figure_bar.isVisible()
    window.figure_bar._fields[0].setText('60 1/2"')
    qtbot.keyClick(window.figure_bar._fields[0], Qt.Key.Key_Return)
    assert window.document.job.lengths[-1].length_mm == pytest.approx(1536.7)
    assert not window.figure_bar.isVisible()


def test_mistyped_figure_is_refused_with_a_sentence(opened: Window, qtbot: QtBot) -> None:
    """Nothing is taken, and the field keeps what was typed."""
    window = opened
    window.card.tool_chosen.emit(BY_KEY["length"])
    for x in (1000.0, 3000.0):
        qtbot.mouseClick(window.canvas, LEFT, Qt.KeyboardModifier.NoModifier, at(window, x, 1500.0))
    count = len(window.document.job.lengths)
    window.figure_bar._fields[0].setText("about two metres")
    qtbot.keyClick(window.figure_bar._fields[0], Qt.Key.Key_Return)
    assert len(window.document.job.lengths) == count
    assert "about two metres" in window.message.words()


def test_finding_leads_to_its_mark(opened: Window) -> None:
    """Showing a subject chooses its mark and brings it into the middle."""
    window = opened
    window.show_subject("keel")
    assert window.document.selection == ("keel",)
    mark = next(m for m in window.document.job.marks if m.id == "keel")
    middle = QPoint(window.canvas.width() // 2, window.canvas.height() // 2)
    assert (at(window, mark.x_px, mark.y_px) - middle).manhattanLength() <= 2


def test_chosen_dimension_lights_its_marks(opened: Window) -> None:
    """Choosing the chine beam chooses both chines and opens the budget."""
    window = opened
    row = next(i for i, r in enumerate(window.sheet.model.rows) if r.dimension and r.dimension.code == "chine_beam")
    window.sheet.table.selectRow(row)
    assert {"chine_port", "chine_starboard"} <= set(window.document.selection)
    assert window.sheet.below.currentWidget() is window.sheet.made_from


def test_card_says_how_each_step_stands(opened: Window) -> None:
    """The sample has everything but tape figures."""
    states = {step.name: step.state.value for step in opened.card.steps}
    assert states[StepName.BOTTOM] == "enough"
    assert states[StepName.TAPE] == "nothing yet"


def test_narrow_window_folds_into_tabs(opened: Window) -> None:
    """At 200 % on a small screen the regions lie behind each other."""
    opened.resize(683, 384)
    assert opened.regions.currentWidget() is opened.regions._tabs
    opened.resize(1366, 768)
    assert opened.regions.currentWidget() is opened.regions._side_by_side


def test_photos_begin_a_job(window: Window, qtbot: QtBot) -> None:
    """A photo dropped into the empty window becomes the first of a job that is not saved yet."""
    window.desk.add_photos([SAMPLE.with_name("photo_1.jpg")])
    qtbot.waitUntil(lambda: len(window.document.photos) == 1, timeout=20_000)
    assert window.document.job.photos[0].sha256 == read_job(SAMPLE).job.photos[0].sha256
    assert window.pages.currentWidget() is window.regions
    assert not window.document.is_saved


def test_same_photo_twice_is_taken_once(window: Window, qtbot: QtBot) -> None:
    """The second time a sentence says so."""
    for _ in range(2):
        window.desk.add_photos([SAMPLE.with_name("photo_1.jpg")])
        qtbot.waitUntil(lambda: not window.desk.is_reading, timeout=20_000)
    assert len(window.document.job.photos) == 1
    assert "already" in window.message.words()


def test_saved_job_opens_again_as_it_was(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    """Save as one file, open it: the same job, and nothing to save."""
    window.open_sample()
    job = window.document.job
    path = tmp_path / "kept.transom"
    window.place_to_save = lambda suggestion: path  # type: ignore[method-assign]
    assert window.desk.save()
    assert window.desk.open(path)
    assert window.document.job == job
    assert window.document.is_saved
    qtbot.waitUntil(lambda: not window.desk.is_reading, timeout=20_000)


def test_file_that_is_no_job_is_refused(window: Window, tmp_path: Path) -> None:
    """The old job stays, and the bar says what is wrong."""
    wrong = tmp_path / "letter.json"
    wrong.write_text("Dear sirs", encoding="utf-8")
    assert not window.desk.open(wrong)
    assert str(wrong) in window.message.words()
