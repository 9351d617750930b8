"""Hostile text in every field of a job and its survey reaches every output harmlessly."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from digitizer.cli.tables import show_survey
from digitizer.job.model import Job, Reader
from digitizer.reports.comparison import Surveyed, write_comparison
from digitizer.reports.pdf import write_report
from digitizer.reports.points import write_points
from digitizer.reports.table import write_dimensions_csv, write_survey_json
from digitizer.survey.comparison import compared
from digitizer.survey.model import Survey
from digitizer.survey.points import open_points
from tests.reports.a_condition import a_damaged_job, a_damaged_survey
from tests.reports.a_survey import a_picture

OVERRIDE = "\N{RIGHT-TO-LEFT OVERRIDE}"
HOSTILE = {
    "markup": "<b>&\"<img src='file:///etc/passwd'/>\x00\x1b[31m</para> ${x} {0} %s \ud800",
    "formula": '=HYPERLINK("http://example.invalid","x")',
    "right-to-left": f"{OVERRIDE}12345 סירה קארב {OVERRIDE}",
    "long": "w" * 10_000,
    "emoji": "⛵🚤👩‍🔧 \U0010ffff",
}
SPOKEN = ("name", "title", "note", "label", "text", "surveyor", "owner", "builder", "place", "hull_number", "date")
SPOKEN += ("number", "revision", "signatory", "conditions", "not_accessible", "limits", "control", "scale", "file")
SPOKEN += ("device", "captured", "lens_source")
"""Fields that hold what people (or their cameras) wrote; ids and kinds lead somewhere and are left as they are."""


def infected(record: Any, text: str) -> Any:
    """The record with the text in each of those fields, at any depth."""
    if isinstance(record, tuple):
        return tuple(infected(each, text) for each in record)
    if not is_dataclass(record):
        return record
    changed = {}
    for field in fields(record):
        value = getattr(record, field.name)
        said = isinstance(value, str) and not isinstance(value, Enum) and field.name in SPOKEN
        changed[field.name] = text if said else infected(value, text)
    return replace(record, **changed)  # type: ignore[type-var]


@pytest.fixture(scope="module", params=HOSTILE.values(), ids=HOSTILE)
def hostile(request: pytest.FixtureRequest) -> tuple[Job, Survey, str]:
    """Job and survey full of one kind of hostile text, of which the survey's lists hold one of each."""
    survey = infected(a_damaged_survey(), request.param)
    few = replace(
        survey,
        readings=survey.readings[:3] + survey.readings[-3:],
        observations=survey.observations[-3:],
        dimensions=survey.dimensions[:5],
        fittings=survey.fittings[:3],
        photos=survey.photos[:1],
    )
    return infected(a_damaged_job(), request.param), few, request.param


def the_record(job: Job, survey: Survey, path: Path) -> None:
    """The survey record, which holds all that the other reports hold."""
    pictures = {"photo_1": a_picture(75, 100)}
    write_report(survey, job, pictures, path, frozen_date="2025-05-07", reader=Reader.SURVEY)


def the_points(job: Job, survey: Survey, path: Path) -> None:
    """The open points sheet."""
    write_points(open_points(job, survey), job, "digitizer", path, frozen_date="2025-05-07")


def the_comparison(job: Job, survey: Survey, path: Path) -> None:
    """The survey against itself, one figure changed."""
    first, *others = survey.dimensions
    after = replace(survey, dimensions=(replace(first, value=first.value + 50.0), *others))
    both = Surveyed(job, survey, job.title), Surveyed(job, after, job.title)
    write_comparison(compared(survey, after, job, job), *both, "digitizer", path, frozen_date="2025-05-07")


PAPERS = {"record": the_record, "points": the_points, "comparison": the_comparison}


@pytest.mark.parametrize("write", PAPERS.values(), ids=PAPERS)
def test_paper_holds_it_as_plain_text(hostile: tuple[Job, Survey, str], tmp_path: Path, write: Any) -> None:
    """The file is whole, carries no link or program, and markup stands on it as typed."""
    job, survey, text = hostile
    path = tmp_path / "out.pdf"
    write(job, survey, path)
    reader = PdfReader(path)
    said = " ".join(page.extract_text() for page in reader.pages)
    raw = path.read_bytes()
    assert not any(word in raw for word in (b"/JavaScript", b"/Launch", b"/URI", b"/EmbeddedFile"))
    assert OVERRIDE not in said
    assert "\x1b" not in said
    if text.startswith("<b>"):
        assert "<b>&" in said
    assert list(tmp_path.iterdir()) == [path]


def test_tables_hold_no_formula(hostile: tuple[Job, Survey, str], tmp_path: Path) -> None:
    """No cell of the CSV begins like a formula, and every line has its columns."""
    _, survey, _ = hostile
    write_dimensions_csv(survey, tmp_path / "d.csv")
    with (tmp_path / "d.csv").open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    assert {len(row) for row in rows} == {len(head)}
    words = [row[place] for row in rows for place in (0, 1, 2, 3, 4, len(head) - 1)]
    assert not [word for word in words if re.match(r"[=+\-@\t\r]", word)]


def test_json_reads_back(hostile: tuple[Job, Survey, str], tmp_path: Path) -> None:
    """The text comes back as it was typed, but for surrogates that no file can hold."""
    _, survey, text = hostile
    write_survey_json(survey, tmp_path / "s.json")
    read = json.loads((tmp_path / "s.json").read_text(encoding="utf-8"))
    assert read["survey"]["title"] == text.replace("\ud800", "?")


def test_terminal_is_not_steered(hostile: tuple[Job, Survey, str], capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing printed holds an escape or turns the direction of what follows."""
    _, survey, _ = hostile
    show_survey(survey, "mm")
    out = capsys.readouterr().out
    assert "\x1b[31m" not in out
    assert OVERRIDE not in out
