"""The uncertainty that a mark would have, against that of marks which are there."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.expected import contours, expected_uncertainty
from digitizer.survey.live import Live, started


@pytest.fixture(scope="module")
def live() -> Live:
    job_file = read_job(sample_job("flat_square_on"))
    evidence = gather(job_file)
    found = started(job_file.job, evidence.facts, evidence.sightings)[1]
    assert found is not None
    return found


@pytest.mark.parametrize("name", ["chine_port", "chine_starboard", "sheer_port", "sheer_starboard"])
def test_single_marks_have_the_uncertainty_that_was_to_be_expected(live: Live, name: str) -> None:
    """For a mark that nothing else places, the map and the survey agree, its definition added."""
    mark = next(m for m in live.job.marks if m.id == name)
    point = next(p for p in live.survey.points if p.id == name)
    expected = expected_uncertainty(live, mark.photo, np.array([[point.x, point.y]]), mark.u_px)[0] / 2.0
    definition = 1.0 if name.startswith("chine") else 2.0  # mm, the usual values of these kinds
    assert np.hypot(expected, definition) == pytest.approx((point.u_x, point.u_y), rel=0.02)


def test_a_better_click_is_worth_more_where_the_camera_is_sure(live: Live) -> None:
    """Halving the click's u lowers U everywhere, and never below the camera's part."""
    places = np.array([[x, y] for x in (-900.0, 0.0, 900.0) for y in (100.0, 900.0)])
    coarse, fine, none = (expected_uncertainty(live, "photo_1", places, u) for u in (0.7, 0.35, 1e-9))
    assert np.all(coarse > fine)
    assert np.all(fine > none)
    assert coarse**2 - none**2 == pytest.approx(4.0 * (fine**2 - none**2), rel=1e-6)


def test_photo_that_took_no_part_is_a_key_error(live: Live) -> None:
    """Asking for another photo names it."""
    with pytest.raises(KeyError, match="elsewhere"):
        expected_uncertainty(live, "elsewhere", np.zeros((1, 2)))


def test_map_of_a_thousand_places_is_quick(live: Live) -> None:
    """A grid of 40 × 25 places has a figure everywhere."""
    grid = np.array([[x, y] for x in np.linspace(-1100, 1100, 40) for y in np.linspace(0, 1000, 25)])
    assert np.all(np.isfinite(expected_uncertainty(live, "photo_1", grid)))


def test_contours_run_where_the_map_has_their_level(live: Live) -> None:
    """Each place on a line of ± 3 mm has ± 3 mm, to the grid's interpolation."""
    lines = contours(live, "photo_1", (-1200.0, -100.0, 1200.0, 1150.0))
    assert lines
    for line in lines:
        larger = expected_uncertainty(live, "photo_1", line.places).max(axis=1)
        assert larger == pytest.approx(np.full(len(larger), line.U_mm), rel=0.03)
