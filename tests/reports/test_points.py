"""The open points sheet is one page, whatever there is to say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from digitizer.cli.main import main
from digitizer.errors import ReportError
from digitizer.job.model import Boat, Job, PaperSize, Settings
from digitizer.reports.points import write_points
from digitizer.samples import sample_job
from digitizer.survey.points import OpenPoint, PointKind


def some(count: int, words: str = "Something is missing here.") -> list[OpenPoint]:
    """Points with a number in each."""
    return [
        OpenPoint(PointKind.WEAK, 50.0, f"({n}) {words}", f"Please send ({n}). {words}") for n in range(1, count + 1)
    ]


def read(path: Path) -> tuple[int, str]:
    """Number of pages and all text."""
    reader = PdfReader(path)
    return len(reader.pages), re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize(
    ("count", "words", "paper"),
    [
        pytest.param(1, "Short.", PaperSize.A4, id="one"),
        pytest.param(9, "Short.", PaperSize.LETTER, id="nine-on-letter"),
        pytest.param(60, "Short.", PaperSize.A4, id="sixty-short"),
        pytest.param(60, "A sentence of many words that goes on. " * 40, PaperSize.LETTER, id="sixty-long-on-letter"),
    ],
)
def test_one_page_with_the_rest_counted(tmp_path: Path, count: int, words: str, paper: PaperSize) -> None:
    """Every point is either on the page or in the count."""
    path = tmp_path / "points.pdf"
    job = Job(title="A boat " * 60, boat=Boat("name " * 40, hull_number="H" * 300), settings=Settings(paper=paper))
    write_points(some(count, words), job, "digitizer", path, frozen_date="2025-05-07")
    pages, text = read(path)
    shown = len(re.findall(r"Please send \(\d+\)", text))
    rest = re.search(r"(\d+) more points? stands? behind", text)
    assert pages == 1
    assert shown >= min(count, 4)
    assert shown + (int(rest[1]) if rest else 0) == count


def test_nothing_open_is_said(tmp_path: Path) -> None:
    """An empty list is good news, not an empty page."""
    write_points([], Job(), "digitizer", tmp_path / "points.pdf", frozen_date="2025-05-07")
    assert "Nothing is open" in read(tmp_path / "points.pdf")[1]


def test_same_points_give_the_same_bytes(tmp_path: Path) -> None:
    """With a frozen date the page is the same file each time."""
    for name in ("a.pdf", "b.pdf"):
        write_points(some(3), Job(), "digitizer", tmp_path / name, frozen_date="2025-05-07")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_no_folder_no_file(tmp_path: Path) -> None:
    """A destination that can't be written is a refusal in words."""
    with pytest.raises(ReportError, match="no such folder"):
        write_points(some(1), Job(), "digitizer", tmp_path / "nowhere" / "points.pdf")


def test_verb_writes_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From a job file to the page, by the command."""
    out = tmp_path / "points.pdf"
    assert main(["points", str(sample_job("tape_only")), "--out", str(out)]) == 0
    pages, text = read(out)
    assert pages == 1
    assert "Still needed: Dorrowick" in text
    assert "open points" in capsys.readouterr().out


def test_frozen_date_gives_the_same_bytes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the command as well; a date that is none is refused before anything is done."""
    job = tmp_path / "job.json"
    job.write_text('{"title": "Just begun"}')
    for name in ("a.pdf", "b.pdf"):
        assert main(["points", str(job), "--out", str(tmp_path / name), "--date", "2025-05-04"]) == 0
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert "2025-05-04" in read(tmp_path / "a.pdf")[1]
    with pytest.raises(SystemExit):
        main(["points", str(job), "--out", str(tmp_path / "c.pdf"), "--date", "4th of May"])
    assert "is no date" in capsys.readouterr().err


def test_verb_writes_a_page_for_a_job_that_can_not_be_measured(tmp_path: Path) -> None:
    """A job without photos or marks is where the sheet is needed most."""
    job = tmp_path / "job.json"
    job.write_text('{"title": "Just begun"}')
    assert main(["points", str(job), "--out", str(tmp_path / "points.pdf")]) == 0
    assert "We have no photo" in read(tmp_path / "points.pdf")[1]
