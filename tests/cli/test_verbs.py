"""The verbs on the samples, from the command line to the files they leave."""

import csv
import io
import json
from functools import partial
from pathlib import Path

import pypdf
import pytest

from digitizer.cli.main import main
from digitizer.job.reading import photo_bytes, read_job
from digitizer.job.writing import write_bundle
from digitizer.samples import sample_job

FLAT = sample_job("flat_square_on")
TRUTH = json.loads(FLAT.with_name("truth.json").read_text(encoding="utf-8"))


def text_of(pdf: Path) -> str:
    """All text in a PDF."""
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that the demo leaves."""
    folder = tmp_path_factory.mktemp("demo") / "made" / "here"
    assert main(["demo", "--out", str(folder)]) == 0
    return folder


def test_demo_leaves_three_results(demo: Path) -> None:
    """Report, survey and table are there and nothing else."""
    assert {path.name for path in demo.iterdir()} == {"report.pdf", "survey.json", "dimensions.csv"}
    assert "Pellamere" in text_of(demo / "report.pdf")


def test_demo_says_what_it_is_and_compares_with_the_truth(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The reader learns that the picture is a render, and sees the truth beside each main dimension."""
    assert main(["demo", "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "render" in said
    assert "2120.0" in said  # mm, the true chine beam
    assert str(tmp_path / "report.pdf") in "".join(said.splitlines())


def test_demo_may_be_repeated(demo: Path) -> None:
    """A second demo replaces the results of the first."""
    assert main(["demo", "--out", str(demo)]) == 0


def test_demo_spares_a_strangers_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A report.pdf that is none is left alone, and then nothing else is written either."""
    (tmp_path / "report.pdf").write_text("mine")
    assert main(["demo", "--out", str(tmp_path)]) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["report.pdf"]
    assert "report.pdf" in capsys.readouterr().err


def test_measure_shows_dimensions_and_findings(capsys: pytest.CaptureFixture[str]) -> None:
    """The terminal shows the job's title, deadrise with its U, and the fittings by name."""
    assert main(["measure", str(FLAT)]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert "Pellamere" in said.out
    assert "Deadrise" in said.out
    assert "±" in said.out
    assert "bilge port" in said.out


def test_measure_to_stdout_is_json_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    """--json - leaves stdout to the survey alone."""
    assert main(["measure", str(FLAT), "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["survey"]["title"].startswith("Pellamere")


def test_measure_to_stdout_as_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    """--csv - leaves stdout to the table alone."""
    assert main(["measure", str(FLAT), "--csv", "-"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert {"mm", "deg"} == {row["unit"] for row in rows}


def test_files_of_measure_hold_the_same_numbers_as_those_of_the_demo(demo: Path, tmp_path: Path) -> None:
    """The same job, its marks snapped as the demo does, gives the same survey and table, byte for byte."""
    files = {"survey.json": "--json", "dimensions.csv": "--csv"}
    options = [word for name, option in files.items() for word in (option, str(tmp_path / name))]
    assert main(["measure", str(FLAT), "--snap", *options]) == 0
    for name in files:
        assert (tmp_path / name).read_bytes() == (demo / name).read_bytes()


def test_bundle_gives_the_same_survey_as_its_plain_job(demo: Path, tmp_path: Path) -> None:
    """One file with the photo inside measures like the job.json beside its photo."""
    job_file = read_job(FLAT)
    bundle = tmp_path / "pellamere.transom"
    write_bundle(job_file.job, partial(photo_bytes, job_file), bundle)
    assert main(["measure", str(bundle), "--snap", "--json", str(tmp_path / "survey.json")]) == 0
    assert (tmp_path / "survey.json").read_bytes() == (demo / "survey.json").read_bytes()


def test_chine_beam_of_the_demo_holds_the_truth(demo: Path) -> None:
    """The true chine beam lies within the stated 95 % interval, widened by half for a single sample."""
    table = io.StringIO((demo / "dimensions.csv").read_text(encoding="utf-8"))
    rows = {row["code"]: row for row in csv.DictReader(table)}
    beam = rows["chine_beam"]
    assert float(beam["value"]) == pytest.approx(TRUTH["parameters"]["chine_beam_outer_mm"], abs=1.5 * float(beam["U"]))


def test_report_of_a_sample_without_target(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A job with tape figures only gets its report too, and the terminal says where it is."""
    out = tmp_path / "dorrowick.pdf"
    assert main(["report", str(sample_job("tape_only")), "--out", str(out)]) == 0
    assert "Dorrowick" in text_of(out)
    assert "dorrowick.pdf written" in "".join(capsys.readouterr().out.splitlines())


@pytest.mark.parametrize(("paper", "width_mm"), [("A4", 210.0), ("Letter", 215.9), ("A3", 297.0)])
@pytest.mark.parametrize("options", [pytest.param([], id="board"), pytest.param(["--markers"], id="markers")])
def test_target_is_written_for_each_paper(tmp_path: Path, paper: str, width_mm: float, options: list[str]) -> None:
    """The target's page has the paper's size, upright or lying."""
    out = tmp_path / "target.pdf"
    assert main(["target", "--out", str(out), "--paper", paper, *options]) == 0
    box = pypdf.PdfReader(out).pages[0].mediabox
    sides_mm = [float(side) / 72 * 25.4 for side in (box.width, box.height)]
    assert min(abs(side - width_mm) for side in sides_mm) < 0.1  # mm, PDF points are rounded to hundredths


def test_snapped_job_is_written_and_measures_sharper(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The new job opens, carries its photos, says what moved, and its bottom edges are better known."""
    new = tmp_path / "snapped.transom"
    assert main(["snap", str(FLAT), "--out", str(new)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "marks lie on the edges they mean" in said
    assert "reference line" in said
    old, snapped = read_job(FLAT).job, read_job(new).job
    assert snapped.photos == old.photos
    u = [sorted(m.u_px for m in job.marks if m.kind == "bottom_edge") for job in (old, snapped)]
    assert all(after <= before for before, after in zip(*u, strict=True))
    assert u[1][len(u[1]) // 2] < u[0][0] / 2


def test_plain_snapped_job_must_lie_beside_its_photos(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plain job elsewhere would not find its photos, so it isn't written."""
    assert main(["snap", str(FLAT), "--out", str(tmp_path / "job.json")]) == 1
    assert "beside its photos" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_snap_never_replaces_the_job_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """The clicks are kept."""
    before = FLAT.read_bytes()
    assert main(["snap", str(FLAT), "--out", str(FLAT)]) == 1
    assert "the job itself" in capsys.readouterr().err
    assert FLAT.read_bytes() == before


def test_measuring_with_snapped_marks_leaves_the_job_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--snap gives other figures, and the job keeps its clicks."""
    before = FLAT.read_bytes()
    for words in ([], ["--snap"]):
        assert main(["measure", str(FLAT), *words, "--csv", str(tmp_path / f"d{len(words)}.csv")]) == 0
    capsys.readouterr()
    assert FLAT.read_bytes() == before
    assert (tmp_path / "d0.csv").read_bytes() != (tmp_path / "d1.csv").read_bytes()
