"""Bowed faces from several photos, drawn at random: what the survey says of them, whatever the order of the records."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitizer.errors import AdjustmentError
from digitizer.job.model import MarkKind
from digitizer.survey.measure import measure
from digitizer.survey.model import ObservationState
from tests.coverage.trials import survey_of, trials
from tests.simulation.bowed_jobs import SimulatedBow, simulated_bow
from tests.simulation.evidence import REAL

FAULTLESS = 1e-3
"""Part of the clicks' scatter that is left in: none at all would leave the global test nothing to say."""


@pytest.mark.parametrize("name", ["three", "two", "three_hollow", "three_pad", "one_gap"])
def test_faultless_jobs_give_the_truth(name: str) -> None:
    """Without scatter every dimension is the truth; what was assumed of lens and make is drawn far smaller too."""
    job = simulated_bow(77, name, precision=REAL, noise=FAULTLESS)
    beside = [(t.code, t.error, t.u) for t in trials(survey_of(job), job.truth) if abs(t.error) > 3.0 * t.u]
    assert not beside


def test_a_mark_of_the_line_set_aside_still_says_that_the_line_is_bent() -> None:
    """Where one mark of the line is clicked 25 px (28 mm) off, straightness shows it, in millimetres, not in metres."""
    job = simulated_bow(4, "two")
    marks = tuple(replace(m, y_px=m.y_px + 25.0) if m.id == "line_5@1" else m for m in job.job.marks)
    survey = measure(replace(job.job, marks=marks), job.facts, job.sightings)
    aside = {o.subject for o in survey.observations if o.state is ObservationState.REJECTED and o.kind == "mark"}
    assert "line_5@1" in aside
    straightness = next(d for d in survey.dimensions if d.code == "reference_straightness")
    assert 5.0 < straightness.value < 30.0  # mm
    assert straightness.u < 1.0  # mm


def _shuffled(job: SimulatedBow, rng: np.random.Generator) -> SimulatedBow:
    """The same records in another order: photos, marks, sightings."""
    order = [list(rng.permutation(len(records))) for records in (job.job.photos, job.job.marks, job.sightings)]
    photos, marks, sightings = (
        tuple(records[i] for i in numbers)
        for records, numbers in zip((job.job.photos, job.job.marks, job.sightings), order, strict=True)
    )
    return replace(job, job=replace(job.job, photos=photos, marks=marks), sightings=sightings)


@pytest.mark.parametrize("name", ["three_one_board", "two"])
def test_the_order_of_the_records_does_not_matter(name: str) -> None:
    """Photos, marks and sightings in another order give the same figures within a hundredth of their u."""
    job = simulated_bow(31, name)
    found = {d.code: d for d in survey_of(job).dimensions}
    again = {d.code: d for d in survey_of(_shuffled(job, np.random.default_rng(5))).dimensions}
    assert found.keys() == again.keys()
    for code, d in found.items():
        assert abs(again[code].value - d.value) < 0.01 * d.u, code
        assert again[code].u == pytest.approx(d.u, rel=1e-3), code


def test_points_of_pads_stand_off_the_bow() -> None:
    """A bolt on a pad is placed on the pad, and the pad's corners too."""
    job = simulated_bow(12, "three_pad")
    survey = survey_of(job)
    height = next(d for d in survey.dimensions if d.code == "pad_pad_height")
    assert abs(height.value - job.truth["pad_pad_height"]) < 3.0 * height.u
    bow = job.scene.bow(job.scene.theta)
    corners = [p for p in survey.points if p.kind == MarkKind.PAD]
    assert len(corners) == 4
    for p in corners:
        on_face = bow.space(np.array([[bow.girth(np.array([p.x]))[0], p.y, 0.0]]))[0, 2]
        assert p.z - on_face == pytest.approx(height.value, abs=1.5)  # mm: the pad's normal leans with the bow


@pytest.mark.parametrize(
    ("width", "words"),
    [
        pytest.param(400.0, "sits inside", id="inside"),
        pytest.param(620.0, "falls on the edge", id="astride"),
        pytest.param(900.0, "is wider than", id="outside"),
    ],
)
def test_where_a_flange_sits_on_a_pad(width: float, words: str) -> None:
    """A flange of 400 mm fits on a pad of 620 mm, one of 900 mm goes beyond it, one as wide falls on its edges."""
    job = simulated_bow(12, "two_pad_measured")
    settings = replace(job.job.settings, flange_width_mm=width)
    survey = measure(replace(job.job, settings=settings), job.facts, job.sightings)
    (finding,) = [f for f in survey.findings if f.code == "flange_on_pad"]
    assert words in finding.text


@pytest.mark.parametrize(
    ("gap", "words"),
    [pytest.param(400.0, "half of the", id="radius-under-half-the-beam"), pytest.param(800.0, "half circle", id="arc")],
)
def test_a_gap_that_no_transom_can_have_is_refused(gap: float, words: str) -> None:
    """A gap of 400 mm under 1.5 m means a radius of 0.9 m, too small for a beam of 2.3 m; 800 mm is past the half."""
    job = simulated_bow(5, "three_gap_tapes")
    gaps = tuple(replace(g, gap_mm=gap) for g in job.job.gaps)
    with pytest.raises(AdjustmentError, match=f"means a radius of .*{words}.*check the gap, its unit"):
        measure(replace(job.job, gaps=gaps), job.facts, job.sightings)
