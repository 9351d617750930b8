"""What a calibrated camera does for a job: rendered photos and simulated jobs, measured with it and without."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from digitizer.camera.lens import refocus_allowance
from digitizer.job.model import Camera
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from tests.coverage.calibration_trials import BOARD_MM, WAYS, a_calibration, compared, pooled
from tests.coverage.samples import marked, read, sample_truth

CODES = ("chine_beam", "deadrise_chord_port", "deadrise_chord_starboard")


@dataclass(frozen=True)
class BeforeAfter:
    """One sample without its camera's calibration, and with it."""

    name: str
    before: Survey
    after: Survey


@pytest.fixture(scope="module", params=["flat_square_on", "flat_oblique_wide"])
def sample(request: pytest.FixtureRequest) -> BeforeAfter:
    """
    A rendered photo with the board, without the rule, by a camera calibrated over a sheet of paper.

    The calibration is simulated from the render's true lens, which a thin lens focused near by draws out by f/D.
    """
    name = request.param
    truth, facts, sightings = read(name)
    camera = truth["photos"][0]["camera"]
    lens = np.array([camera[key] for key in ("fx", "cx", "cy", "k1", "k2", "p1", "p2")] + [0.0])
    lens[0] *= 1.0 + camera["exif_focal_mm"] / BOARD_MM
    found = a_calibration(np.random.default_rng(5), lens).calibration
    found = replace(found, u_refocus=refocus_allowance(camera["exif_focal_mm"], BOARD_MM))
    job = marked(name, 1, rule=False)
    known = replace(job, cameras=(Camera("camera", found),))
    return BeforeAfter(name, measure(job, facts, sightings), measure(known, facts, sightings))


def test_calibrated_lens_makes_a_sample_surer(sample: BeforeAfter) -> None:
    """With the calibration U of the chine beam falls by a fifth at least, that of the deadrise does not grow."""
    before, after = ({d.code: d.U for d in s.dimensions} for s in (sample.before, sample.after))
    assert after["chine_beam"] < 0.8 * before["chine_beam"]
    assert all(after[code] <= before[code] for code in CODES)


def test_sample_with_the_calibrated_lens_agrees_with_the_truth(sample: BeforeAfter) -> None:
    """The figures that became surer still hold the truth of the render within U."""
    truth = sample_truth(sample.name)
    values = {d.code: d for d in sample.after.dimensions}
    assert all(abs(values[code].value - truth[code]) <= values[code].U for code in CODES)


@pytest.mark.slow
def test_allowance_keeps_intervals_honest_at_another_focus() -> None:
    """
    Of six jobs by a rule from the side, intervals hold the truth in 90 of 100 with the allowance, and U is smaller.

    All dimensions of one job share its camera, so six jobs tell to about 0.05.
    """
    jobs = [compared(("rule", seed)) for seed in range(50_000, 50_006)]
    inside = {way: np.mean([t.inside for t in pooled(jobs, way)]) for way in WAYS}
    exif, allowed, at_its_word = WAYS
    assert inside[allowed] >= 0.90
    assert inside[at_its_word] < inside[allowed]
    u = {way: np.median([t.u for t in pooled(jobs, way) if t.code == "chine_beam"]) for way in WAYS}
    assert u[allowed] < u[exif]
