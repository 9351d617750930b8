"""The comparison on paper and in the terminal."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from digitizer.cli.main import main
from digitizer.reports.comparison import Surveyed, write_comparison
from digitizer.samples import sample_job
from digitizer.survey.comparison import compared
from tests.reports.a_condition import a_damaged_job, a_damaged_survey


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A comparison in which one fitting moved by 9 mm and the crack grew, as text."""
    job, survey = a_damaged_job(), a_damaged_survey()
    name = survey.fittings[1].id
    fittings = tuple(replace(f, x=replace(f.x, value=f.x.value + 9.0 * (f.id == name))) for f in survey.fittings)
    crack, wet = survey.defects
    grown = replace(crack, size=replace(crack.size, value=crack.size.value + 30.0))
    after = replace(survey, fittings=fittings, defects=(grown, wet))
    found = compared(survey, after, job, job)
    path = tmp_path_factory.mktemp("compared") / "compared.pdf"
    both = Surveyed(job, survey, "before.json"), Surveyed(job, after, "after.json")
    write_comparison(found, *both, "digitizer", path, frozen_date="2025-05-07")
    again = path.with_name("again.pdf")
    write_comparison(found, *both, "digitizer", again, frozen_date="2025-05-07")
    assert path.read_bytes() == again.read_bytes()
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in PdfReader(path).pages))


@pytest.mark.parametrize(
    "words",
    [
        "before.json",
        "after.json",
        "What changed",
        "Two surveys compared, 2025-05-07",
        "+9.0 ± 2.0",
        "+30.0 ± 4.5",
        "Fittings, by best fit",
        "The two over each other",
        "Only in the second",
        "Not compared: A, B",
        "page 1 of",
    ],
)
def test_page_says(text: str, words: str) -> None:
    """Sources, what changed with its U, how the two were laid on each other, and what was left out."""
    assert words in text


def test_verb_compares_two_photos_of_one_boat(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two sample jobs of the same hull, from other places with other lenses: next to nothing changed."""
    jobs = [str(sample_job(name)) for name in ("flat_square_on", "flat_oblique_wide")]
    assert main(["compare", *jobs, "--out", str(tmp_path / "c.pdf")]) == 0
    out = capsys.readouterr().out
    changed, of = map(int, re.findall(r"(\d+) of (\d+) figures changed", out)[0])
    assert of > 30
    assert changed <= 4  # about one in twenty by chance
    assert (tmp_path / "c.pdf").read_bytes().startswith(b"%PDF")


def test_verb_never_writes_over_a_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The destination may not be one of the jobs."""
    jobs = [tmp_path / name for name in ("a.json", "b.json")]
    for job in jobs:
        job.write_text('{"photos": []}')
    assert main(["compare", *map(str, jobs), "--out", str(jobs[0])]) == 1
    assert jobs[0].read_text() == '{"photos": []}'
    assert "give the result another name" in capsys.readouterr().err
