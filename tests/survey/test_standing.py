"""The word beside a dimension: checked, unchecked or contradicted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.job.model import DeadriseReading, Job, KnownLength, Role, Side
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import Evidence, gather
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from digitizer.survey.standing import Standing, standing

FILE = read_job(sample_job("flat_square_on"))


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    return gather(FILE)


def word(evidence: Evidence, job: Job, code: str) -> Standing:
    survey: Survey = measure(job, evidence.facts, evidence.sightings)
    dimension = next(d for d in survey.dimensions if d.code == code)
    return standing(survey, dimension, job)


def with_tape(length_mm: float) -> Job:
    """The sample with the chine beam taped and kept out."""
    tape = KnownLength("beam", "chine_port", "chine_starboard", length_mm, 1.0, role=Role.CHECK)
    return replace(FILE.job, lengths=(*FILE.job.lengths, tape))


def test_agreeing_tape_figure_checks_the_beam(evidence: Evidence) -> None:
    """A tape figure kept out that agrees is the best check there is."""
    assert word(evidence, with_tape(2117.0), "chine_beam") is Standing.CHECKED


def test_disagreeing_tape_figure_contradicts_the_beam(evidence: Evidence) -> None:
    """Forty millimetres more on the tape than in the photo."""
    assert word(evidence, with_tape(2157.0), "chine_beam") is Standing.CONTRADICTED


def test_single_marks_leave_the_beam_unchecked(evidence: Evidence) -> None:
    """Nothing would show that a chine was marked on the wrong place."""
    assert word(evidence, FILE.job, "chine_beam") is Standing.UNCHECKED


def test_marks_that_check_each_other_make_a_figure_checked(evidence: Evidence) -> None:
    """Nine marks along one string would show a stray one."""
    assert word(evidence, FILE.job, "reference_straightness") is Standing.CHECKED


def test_a_and_b_by_tape_speak_of_their_side(evidence: Evidence) -> None:
    """A wrong B to starboard contradicts the starboard deadrise and leaves port alone."""
    reading = DeadriseReading("tape", Side.STARBOARD, 888.0, 700.0)
    job = replace(FILE.job, deadrise_readings=(reading,))
    assert word(evidence, job, "b_starboard") is Standing.CONTRADICTED
    assert word(evidence, job, "b_port") is not Standing.CONTRADICTED
