"""The flattened view: there and back, and lengths that are true on it."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging.photo import rgb_pixels
from digitizer.job.reading import photo_bytes, read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.flattening import FlatMap, flattened, region_of
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey


@pytest.fixture(scope="module", params=["flat_square_on", "bowed_three"])
def case(request: pytest.FixtureRequest) -> tuple[str, Survey]:
    job_file = read_job(sample_job(request.param))
    evidence = gather(job_file)
    return request.param, measure(job_file.job, evidence.facts, evidence.sightings)


def test_there_and_back(case: tuple[str, Survey]) -> None:
    """A place of the face seen in the photo leads back to itself, on flat and bowed faces."""
    _, survey = case
    left, bottom, right, top = region_of(survey)
    places = np.random.default_rng(3).uniform((left, bottom), (right, top), (200, 2))
    for photo in survey.photos:
        flat = FlatMap(photo, survey.curvature_per_mm)
        assert flat.to_face(flat.to_photo(places)) == pytest.approx(places, abs=1e-3)  # mm


def test_marks_lie_where_the_survey_says(case: tuple[str, Survey]) -> None:
    """A keel point clicked in the photo lies at the origin of the flattened face."""
    name, survey = case
    mark = next(m for m in read_job(sample_job(name)).job.marks if m.kind == "keel")
    photo = next(p for p in survey.photos if p.id == mark.photo)
    place = FlatMap(photo, survey.curvature_per_mm).to_face(np.array([[mark.x_px, mark.y_px]]))
    assert place[0] == pytest.approx((0.0, 0.0), abs=4.0)  # mm, clicks of about a millimetre and their residuals


def test_view_that_passes_the_face_is_nan() -> None:
    """The sky has no place on a transom."""
    job_file = read_job(sample_job("flat_square_on"))
    evidence = gather(job_file)
    survey = measure(job_file.job, evidence.facts, evidence.sightings)
    behind = FlatMap(survey.photos[0]).to_photo(np.array([[0.0, 1e9]]))
    assert behind.shape == (1, 2)


def test_flattened_picture_agrees_with_the_map() -> None:
    """The picture's pixels are those that the map names, to the interpolation of a coarse grid."""
    job_file = read_job(sample_job("flat_square_on"))
    evidence = gather(job_file)
    survey = measure(job_file.job, evidence.facts, evidence.sightings)
    photo = job_file.job.photos[0]
    picture = rgb_pixels(photo_bytes(job_file, photo), photo.file)
    flat, region = FlatMap(survey.photos[0]), region_of(survey)
    view = flattened(picture, flat, region, 2.0)
    rng = np.random.default_rng(1)
    rows, columns = rng.integers(0, view.shape[0], 300), rng.integers(0, view.shape[1], 300)
    face = np.column_stack([region[0] + (columns + 0.5) * 2.0, region[3] - (rows + 0.5) * 2.0])
    seen = np.rint(flat.to_photo(face)).astype(int)
    differ = np.abs(view[rows, columns].astype(int) - picture[seen[:, 1], seen[:, 0]].astype(int)).max(axis=1)
    assert np.mean(differ < 40) > 0.9  # grey levels; edges differ by interpolation
