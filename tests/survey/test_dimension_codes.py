"""The page of dimensions is kept: every code that a survey can give stands there, with its label, heading and unit."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from digitizer.job.reading import read_job
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, Quantity, Survey
from tests.survey.test_records import a_full_case

TREE = Path(__file__).parents[2]
PAGE = TREE / "docs/reference/dimensions.md"
UNITS = {Quantity.ANGLE: "°", Quantity.LENGTH: "mm", Quantity.AREA: "mm²"}
SAMPLES = ("flat_square_on", "flat_oblique_wide", "tape_only", "padded_two", "damaged_two")
"""Those whose face the job takes as flat, or flat with a pad."""


@dataclass(frozen=True)
class Entry:
    """One line of the page."""

    pattern: str
    label: str
    group: str
    unit: str


def entries() -> list[Entry]:
    found, group = [], ""
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            group = line[3:]
        elif match := re.match(r"\| (`[^|]+`) \| ([^|]*) ?\| ([^|]+) \|", line):
            codes, label, unit = match.groups()
            patterns = [re.sub("FITTING|PAD|DEFECT", ".+", code) for code in re.findall(r"`(\w+)`", codes)]
            found += [Entry(pattern, label, group, unit) for pattern in patterns]
    return found


ENTRIES = entries()


def entry_of(d: Dimension) -> Entry:
    """The one line that speaks of a dimension; the most exact where several patterns hold."""
    matching = [e for e in ENTRIES if re.fullmatch(e.pattern, d.code)]
    assert matching, f"{d.code} is not in {PAGE.name}"
    return min(matching, key=lambda e: e.pattern.count(".+"))


def all_dimensions(survey: Survey) -> list[Dimension]:
    placed = [d for f in survey.fittings for d in vars(f).values() if isinstance(d, Dimension)]
    damage = [d for each in survey.defects for d in vars(each).values() if isinstance(d, Dimension)]
    return [*survey.dimensions, *placed, *damage]


def assert_documented(survey: Survey) -> None:
    """Each dimension stands on the page under its own heading, with its unit and every word of its label."""
    for d in all_dimensions(survey):
        entry = entry_of(d)
        assert d.group == entry.group, d.code
        assert UNITS[d.quantity] in entry.unit.split(" or "), d.code
        words = set(re.findall(r"\w+", d.label.lower()))
        assert set(re.findall(r"\w+", entry.label.lower())) <= words, (d.code, d.label)


@pytest.mark.parametrize("sample", SAMPLES)
def test_codes_of_the_samples_are_documented(sample: str) -> None:
    """Every code that a sample job gives is on the page."""
    job_file = read_job(TREE / "sample_images" / sample / "job.json")
    evidence = gather(job_file)
    assert_documented(measure(job_file.job, evidence.facts, evidence.sightings))


def test_codes_of_a_full_job_are_documented() -> None:
    """So is every code of a job with evidence of every kind."""
    assert_documented(a_full_case().survey())


def test_the_page_names_each_code_once() -> None:
    """No code is explained twice."""
    assert [code for code, count in Counter(e.pattern for e in ENTRIES).items() if count > 1] == []
    assert len(ENTRIES) > 30


def test_codes_of_one_survey_are_different() -> None:
    """A code names one dimension."""
    counts = Counter(d.code for d in all_dimensions(a_full_case().survey()))
    assert [code for code, count in counts.items() if count > 1] == []
