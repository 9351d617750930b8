"""The blank tape form: one page, every measurement on it, nothing clipped."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from digitizer.cli.main import main
from digitizer.job.model import LengthUnit, PaperSize
from digitizer.reports.sheet import Label
from digitizer.reports.tape_form import ROWS, write_tape_form
from digitizer.reports.tape_sketches import SKETCHES, fitting


@pytest.mark.parametrize("paper", list(PaperSize))
@pytest.mark.parametrize("unit", [LengthUnit.MILLIMETRE, LengthUnit.INCH_SIXTEENTHS])
def test_form_is_one_page_with_every_row(tmp_path: Path, paper: PaperSize, unit: LengthUnit) -> None:
    """Each measurement and where it goes stands on a single page of any paper, in the unit asked for."""
    write_tape_form(tmp_path / "form.pdf", paper, unit)
    pages = PdfReader(tmp_path / "form.pdf").pages
    assert len(pages) == 1
    text = " ".join(pages[0].extract_text().split())
    for number, words, code in ROWS:
        assert number in text
        assert code in text
        assert words.split(",")[0] in text
    assert ("x, mm" in text) is (unit is LengthUnit.MILLIMETRE)


@pytest.mark.parametrize("draw", [draw for _, draw in SKETCHES] + [fitting], ids=[n for n, _ in SKETCHES] + ["fitting"])
def test_texts_of_a_drawing_stay_on_it_and_off_each_other(draw) -> None:
    """No number of a drawing is clipped or covers another."""
    sheet = draw()
    boxes = [sheet.box(item) for item in sheet.items if isinstance(item, Label)]
    assert boxes
    for n, a in enumerate(boxes):
        assert min(a[0], a[1]) >= -1.0  # points, the air round a text
        assert a[2] <= sheet.width + 1.0
        assert a[3] <= sheet.height + 1.0
        for b in boxes[n + 1 :]:
            assert min(a[2], b[2]) <= max(a[0], b[0]) or min(a[3], b[3]) <= max(a[1], b[1])


def test_form_from_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The verb writes it, and again over itself, but not over another file."""
    goal = tmp_path / "form.pdf"
    for _ in range(2):
        assert main(["form", "--out", str(goal), "--paper", "Letter", "--unit", "in"]) == 0
    assert "Fill it in at the boat" in capsys.readouterr().out
    other = tmp_path / "notes.txt"
    other.write_text("mine")
    assert main(["form", "--out", str(other)]) == 1
    assert other.read_text() == "mine"
