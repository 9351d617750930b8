"""The bundled sample jobs: valid, marked as stated, and made anew by their script."""

from __future__ import annotations

import json

import numpy as np
import pytest

from digitizer.job.model import Job, MarkKind
from digitizer.job.reading import photo_bytes, read_job
from tests.samples.clicks import Clicks, rectangle_corners, starboard_word
from tests.samples.mark_samples import SAMPLES, SCENARIOS, marked_job, plain


def stored(name: str) -> Job:
    return read_job(SAMPLES / name / "job.json").job


@pytest.mark.parametrize("name", SCENARIOS)
def test_sample_jobs_read_and_their_photos_are_the_ones_marked(name: str) -> None:
    """Each job passes the program's own checks, the photos' fingerprints included."""
    job_file = read_job(SAMPLES / name / "job.json")
    for photo in job_file.job.photos:
        assert len(photo_bytes(job_file, photo)) > 100_000


@pytest.mark.parametrize("number", range(len(SCENARIOS)), ids=list(SCENARIOS))
def test_sample_jobs_are_what_the_script_writes(number: int) -> None:
    """The stored jobs come from the script with its stated seeds, and from nothing else."""
    name = list(SCENARIOS)[number]
    assert stored(name) == marked_job(name, seed=20250 + number)


@pytest.mark.parametrize("name", SCENARIOS)
def test_marks_are_not_the_truth_itself(name: str) -> None:
    """Marks of named points scatter about the truth by their u, neither more nor less."""
    truth = json.loads((SAMPLES / name / "truth.json").read_text())
    z = []
    for photo in truth["photos"]:
        places = {starboard_word(key): value["uv"] for key, value in photo["pixels"]["points"].items()}
        marks = [m for m in stored(name).marks if m.photo == photo["file"].removesuffix(".jpg")]
        for mark in marks:
            uv = places.get(mark.point or mark.id)
            if uv is not None:
                z += [(mark.x_px - uv[0]) / mark.u_px, (mark.y_px - uv[1]) / mark.u_px]
    if len(z) >= 10:
        assert np.std(z) == pytest.approx(1.0, abs=4 / np.sqrt(2 * len(z)))  # four standard errors
    assert all(abs(value) > 0 for value in z)


def test_hidden_points_are_not_marked() -> None:
    """In the close-up only what is in the picture is marked."""
    close_up = [m for m in stored("damaged_two").marks if m.photo == "photo_2"]
    assert close_up
    assert not [m for m in close_up if m.kind in (MarkKind.KEEL, MarkKind.CHINE)]


def test_one_place_has_one_name_in_all_photos() -> None:
    """The chine seen from three places is one point; places along the string, which can't be told apart, are not."""
    marks = stored("bowed_three").marks
    assert len([m for m in marks if m.point == "chine_port"]) == 3
    assert all(m.point is None for m in marks if m.id.startswith("ref_2"))


def test_own_projection_agrees_with_the_renderer() -> None:
    """Corners that the truth doesn't list are projected by the same camera as those it lists."""
    truth = json.loads((SAMPLES / "flat_oblique_wide" / "truth.json").read_text())
    hand = Clicks(truth, 0, np.random.default_rng(0))
    names = ["chine_outer_port", "sheer_stbd", "rule_end_middle"]
    uv = hand.project(np.array([truth["points"][name] for name in names]))
    stated = [truth["photos"][0]["pixels"]["points"][name]["uv"] for name in names]
    np.testing.assert_allclose(uv, stated, atol=0.02)  # px; the truth is rounded to 1e-4 mm


def test_rectangle_corners_enclose_the_rounded_rim() -> None:
    """The corners of a rounded rectangle are where its edges would meet, in the plane of the rim."""
    truth = json.loads((SAMPLES / "flat_square_on" / "truth.json").read_text())
    record = next(f for f in truth["fittings"] if f["name"] == "transducer")
    np.testing.assert_allclose(
        rectangle_corners(record), [[266, 242, 14], [334, 242, 14], [334, 138, 14], [266, 138, 14]], atol=1e-9
    )


def test_left_out_defaults_are_the_defaults() -> None:
    """A job written without its default fields reads back the same."""
    job = marked_job("tape_only", 1)
    assert plain(job)["lengths"][0]["instrument"] == "tape"
    assert "active" not in plain(job)["lengths"][0]
