"""The verbs for cutting on a sample, from the command line to the files they leave."""

import csv
import xml.etree.ElementTree as ET
from pathlib import Path

import pypdf
import pytest
from ezdxf import recover

from digitizer.cli.main import main
from digitizer.samples import sample_job
from tests.cli.jobs import Record, copied

FLAT = sample_job("flat_square_on")


def test_dxf_of_the_sample(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In inches, as declared: the outline is as wide as the boat, and the terminal says which plane it is in."""
    out = tmp_path / "boat.dxf"
    assert main(["dxf", str(FLAT), "--out", str(out), "--inches"]) == 0
    document, auditor = recover.readfile(out)
    assert not auditor.has_errors
    assert document.header["$INSUNITS"] == 1
    (outline,) = document.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')
    across = [point[0] for point in outline.get_points()]
    assert max(across) - min(across) == pytest.approx(2244.0 / 25.4, abs=0.4)  # in; the sample's U is 10 mm
    assert "in inches. In the face" in " ".join(capsys.readouterr().out.split())


def test_svg_of_the_sample_snapped(tmp_path: Path) -> None:
    """Snapped marks may be drawn from too; the title is the job's."""
    out = tmp_path / "boat.svg"
    assert main(["svg", str(FLAT), "--snap", "--out", str(out)]) == 0
    root = ET.parse(out).getroot()
    title = root.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert "Pellamere" in str(title.text)


def test_offsets_at_chosen_stations(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lengths may name their unit; the table holds the stations asked for, and nothing is printed twice."""
    out = tmp_path / "offsets.csv"
    assert main(["offsets", str(FLAT), "--at", "0, 381, 6in", "--csv", str(out)]) == 0
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert {round(float(row["station_mm"]), 6) for row in rows} == {0.0, 152.4, 381.0}
    said = capsys.readouterr().out
    assert "Heights above the keel point, mm, in the face" in said
    assert "152.4" in said


def without_edges(record: Record) -> None:
    """Nothing of the outline but the keel stays marked."""
    gone = ("bottom_edge", "outline", "top_edge", "top_corner", "chine", "chine_inner")
    record["marks"] = [mark for mark in record["marks"] if mark["kind"] not in gone]


def test_job_without_outline_is_drawn_as_far_as_it_goes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fittings and datum lines are drawn, and the terminal says what is missing."""
    out = tmp_path / "boat.dxf"
    assert main(["dxf", str(copied(tmp_path, without_edges)), "--out", str(out)]) == 0
    document, _ = recover.readfile(out)
    assert len(document.modelspace().query("INSERT")) == 10
    said = capsys.readouterr().out
    assert "outline is not closed" in said
    assert "bottom edge is missing" in said


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        pytest.param(["--every", "1mm"], "from 10 mm", id="too-close"),
        pytest.param(["--every", "often"], "no length", id="no-length"),
        pytest.param(["--at", ",".join("1" for _ in range(201))], "200 or fewer", id="too-many"),
    ],
)
def test_stations_that_make_no_table_are_refused(
    words: list[str], reason: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence says what may be asked for."""
    assert main(["offsets", str(FLAT), *words]) == 1
    assert reason in capsys.readouterr().err


@pytest.mark.parametrize(
    ("verb", "option"),
    [("dxf", "--out"), ("svg", "--out"), ("template", "--out"), ("offsets", "--csv")],
)
def test_a_strangers_file_is_left_alone(
    tmp_path: Path, verb: str, option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A letter of that name is not replaced by a drawing."""
    letter = tmp_path / "letter"
    letter.write_text("Dear owner,")
    assert main([verb, str(FLAT), option, str(letter)]) == 1
    assert letter.read_text() == "Dear owner,"
    assert "choose another name" in capsys.readouterr().err


def test_template_of_the_sample(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On a roll, corrected by a long length: the file is a PDF of that width, and the terminal says how to print it."""
    out = tmp_path / "template.pdf"
    words = ["--paper", "roll", "--roll-width", "914", "--check-bar-x", "2291,3/2288"]
    assert main(["template", str(FLAT), "--out", str(out), *words]) == 0
    pages = pypdf.PdfReader(out).pages
    assert float(pages[-1].mediabox.height) / 72 * 25.4 == pytest.approx(914.0, abs=0.01)  # mm
    said = " ".join(capsys.readouterr().out.split())
    assert "sheets of roll of 914 mm" in said
    assert "they must be 500 mm" in said


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        pytest.param(["--check-bar-x", "140"], "100 %", id="fitted-to-the-page"),
        pytest.param(["--check-bar-y", "long"], "like 149.6", id="no-length"),
        pytest.param(["--check-bar-y", "1/2/3"], "like 149.6", id="too-many-lengths"),
        pytest.param(["--paper", "roll", "--roll-width", "10"], "mm wide", id="no-such-roll"),
    ],
)
def test_template_that_cannot_come_true_is_refused(
    tmp_path: Path, words: list[str], reason: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before anything is measured, one sentence says what is wrong; nothing is written."""
    assert main(["template", str(FLAT), "--out", str(tmp_path / "t.pdf"), *words]) == 1
    assert reason in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
