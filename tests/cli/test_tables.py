"""A survey in the terminal."""

import io
import re
from dataclasses import replace

import pytest

from digitizer.cli.tables import by_severity, show_survey
from digitizer.survey.model import Finding, Severity, Survey
from tests.cli.surveys import ADJUSTMENT, BEAM, DRAIN, FINDINGS, a_survey
from tests.reports.a_condition import a_damaged_survey


def shown(survey: Survey, capsys: pytest.CaptureFixture[str], unit: str = "mm") -> str:
    """What is printed, runs of blanks made one."""
    show_survey(survey, unit)
    return re.sub(r"[ \n]+", " ", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("unit", "beam"),
    [
        pytest.param("mm", "Chine beam 2120.0 ± 3.0 mm", id="millimetres"),
        pytest.param("in", "Chine beam 83.46 ± 0.12 in", id="decimal-inches"),
        pytest.param("in/16", "Chine beam 83 7/16 ± 0.12 in", id="sixteenths"),
    ],
)
def test_lengths_are_shown_in_the_unit_of_the_job(unit: str, beam: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A width stands with its U in the unit asked for, an angle in degrees."""
    text = shown(a_survey(), capsys, unit)
    assert beam in text
    assert "Deadrise port 18.60 ± 0.12 °" in text


def test_fitting_is_shown_by_side_and_size(capsys: pytest.CaptureFixture[str]) -> None:
    """A fitting to port of the centreline says so, and a diameter is marked as one."""
    assert "drain 25.4 ± 2.0 P 700.0 ± 2.0 ⌀ 38.0 ± 1.0 –" in shown(a_survey(), capsys)


def test_note_stands_below_its_dimension(capsys: pytest.CaptureFixture[str]) -> None:
    """A note is printed whole, however long."""
    note = "bottom edge as the line fitted to six marks on the starboard side, between 60 mm and 990 mm out"
    text = shown(a_survey(dimensions=(replace(BEAM, note=note),)), capsys)
    assert f"± 3.0 mm {note}" in text


def test_tape_that_disagrees_is_loud(capsys: pytest.CaptureFixture[str]) -> None:
    """A tape figure kept out stands beside the photo's, with En and the verdict."""
    assert "Top width 2240.0 ± 3.0 mm 2247.0 ± 4.0 mm 1.4 DISAGREES" in shown(a_survey(), capsys)


def test_findings_are_sorted_loudest_first(capsys: pytest.CaptureFixture[str]) -> None:
    """Serious findings come before warnings, and those before notes."""
    assert [finding.code for finding in by_severity(FINDINGS)] == ["b", "c", "a"]
    text = shown(a_survey(), capsys)
    assert text.index("serious: Chine port") < text.index("warning: The board") < text.index("note: Nothing checks")


def test_widened_uncertainty_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """A failed global test is told with its factor."""
    failed = replace(ADJUSTMENT, accepted=False, scaled_by=1.31)
    assert "every U was widened by 1.31" in shown(a_survey(adjustment=failed), capsys)


def test_empty_tables_are_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    """Without fittings or tape figures their headings are not shown."""
    text = shown(a_survey(fittings=(), checks=()), capsys)
    assert "Fittings" not in text
    assert "Tape against photo" not in text


def test_text_of_a_job_is_neither_markup_nor_steering(capsys: pytest.CaptureFixture[str]) -> None:
    """Brackets stay brackets and escape sequences become harmless signs."""
    odd = "[bold]no[/bold] \x1b[2J :boat:"
    fitting = replace(DRAIN, name=odd)
    finding = Finding("x", Severity.NOTE, "x", odd)
    text = shown(a_survey(title=odd, fittings=(fitting,), findings=(finding,)), capsys)
    assert "\x1b" not in text
    assert text.count("[bold]no[/bold]") == 3
    assert ":boat:" in text


def test_reader_that_goes_away_is_left_to_the_front_door(monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken pipe in the middle of a table rises as what it is."""

    class Gone(io.StringIO):
        def write(self, _text: str) -> int:
            raise BrokenPipeError

    monkeypatch.setattr("sys.stdout", Gone())
    with pytest.raises(BrokenPipeError):
        show_survey(a_survey(), "mm")


def test_damage_is_shown_with_length_or_area(capsys: pytest.CaptureFixture[str]) -> None:
    """A crack with its length, an area in square centimetres, each with its U and side."""
    text = shown(a_damaged_survey(), capsys)
    assert "the crack 213.7 ± 3.2 mm" in text
    assert "the wet 312 ± 14 cm²" in text
