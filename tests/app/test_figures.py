"""Fields for figures: read as people write, refused in a sentence, unrounded unless edited."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.figures import FigureField, angle_field, length_field, small_length, small_length_field
from digitizer.units import format_length, parse_length


def typed(field: FigureField, text: str) -> FigureField:
    field.line.setText(text)
    field.line.textEdited.emit(text)
    return field


@pytest.mark.parametrize(
    ("unit", "text", "mm"),
    [
        pytest.param("mm", "381", 381.0, id="bare-number-in-the-unit"),
        pytest.param("mm", "15 in", 381.0, id="another-unit"),
        pytest.param("in/16", "12 3/16", 309.5625, id="sixteenths"),
        pytest.param("mm", "38,1 cm", 381.0, id="decimal-comma"),
    ],
)
def test_length_is_read_as_written(qtbot: QtBot, unit: str, text: str, mm: float) -> None:
    """Whatever people write on a tape's margin is a length."""
    field = length_field("Length", unit)
    qtbot.addWidget(field)
    assert typed(field, text).value() == pytest.approx(mm)
    assert field.fault() == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("twelve", "no length that I can read", id="words"),
        pytest.param("900 m", "lies between", id="too-long"),
        pytest.param("0", "lies between", id="zero"),
        pytest.param("12 ± 1 mm", "its uncertainty has a field of its own", id="with-uncertainty"),
        pytest.param("  ", "A figure is needed", id="empty"),
    ],
)
def test_unusable_text_is_refused_in_a_sentence(qtbot: QtBot, text: str, words: str) -> None:
    """The sentence stands under the field, and people who can't see it hear it with the field."""
    field = length_field("Length", "mm")
    qtbot.addWidget(field)
    field.show()
    typed(field, text)
    assert field.value() is None
    assert field.insist()
    assert words in field.line.accessibleDescription()
    assert field.line.hasSelectedText() == bool(text)


def test_field_that_may_be_empty_has_no_fault(qtbot: QtBot) -> None:
    """An optional figure left out is no figure and no fault."""
    field = length_field("Length", "mm", needed=False)
    qtbot.addWidget(field)
    assert (field.value(), field.insist()) == (None, False)


def test_figure_stays_unrounded_while_nobody_edits(qtbot: QtBot) -> None:
    """Showing a length in sixteenths and keeping it loses nothing."""
    field = length_field("Length", "in/16")
    qtbot.addWidget(field)
    field.set_value(381.37)
    assert field.line.text() == format_length(381.37, "in/16")
    assert field.value() == 381.37
    assert typed(field, field.line.text() + " ").value() == pytest.approx(381.0)


def test_figure_stays_while_the_unit_changes(qtbot: QtBot) -> None:
    """From millimetres to inches and back the figure is the same to the last bit."""
    field = length_field("Length", "mm")
    qtbot.addWidget(field)
    field.set_value(1 / 3 + 500)
    field.set_form(lambda text: parse_length(text, "in"), lambda mm: format_length(mm, "in"))
    assert field.line.text() == "19.70 in"
    field.set_form(lambda text: parse_length(text, "mm"), lambda mm: format_length(mm, "mm"))
    assert field.value() == 1 / 3 + 500


@pytest.mark.parametrize(
    ("mm", "unit", "text"), [(0.8, "mm", "0.8 mm"), (0.8, "in", "0.031 in"), (0.8, "in/16", "0.031 in")]
)
def test_uncertainty_is_shown_fine_enough(mm: float, unit: str, text: str) -> None:
    """Sixteenths of an inch are too coarse for an uncertainty."""
    assert small_length(0.8, unit) == text


def test_fault_goes_while_the_figure_is_corrected(qtbot: QtBot) -> None:
    """A complaint does not outlive its reason."""
    field = small_length_field("u", "mm")
    qtbot.addWidget(field)
    field.show()
    typed(field, "x")
    assert field.show_fault()
    typed(field, "0.5")
    assert field.line.accessibleDescription() == ""


def test_angle_in_degrees_and_minutes(qtbot: QtBot) -> None:
    """A level that reads minutes is as good as one that reads decimals."""
    field = angle_field("Angle", (-60, 60))
    qtbot.addWidget(field)
    assert typed(field, "18° 36'").value() == pytest.approx(18.6)
