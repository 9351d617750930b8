"""A job's marks on the edges: nearer the truth than the clicks where one edge answers, untouched where none does."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.job.model import Job, Mark, MarkKind
from digitizer.survey.snapping import FINEST_PX, snapped_job
from tests.coverage.samples import picture, sample_truth
from tests.samples.mark_samples import SAMPLES, marked_job

NAME = "flat_square_on"


@pytest.fixture(scope="module")
def job() -> Job:
    return marked_job(NAME, 3)


@pytest.fixture(scope="module")
def snapped(job: Job) -> Job:
    return snapped_job(job, picture(NAME)).job


@pytest.fixture(scope="module")
def seen() -> dict[str, NDArray[np.float64]]:
    """Where things truly are in the photo, px."""
    pixels = json.loads((SAMPLES / NAME / "truth.json").read_text())["photos"][0]["pixels"]
    return {name: np.array(pixels[name]["uv"]) for name in ("reference_line", "outline")}


def across(marks: list[Mark], line: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distances of marks above a nearly level line, px."""
    order = np.argsort(line[:, 0])
    return np.array([m.y_px - np.interp(m.x_px, line[order, 0], line[order, 1]) for m in marks])


def of_kind(job: Job, kind: MarkKind) -> list[Mark]:
    return [m for m in job.marks if m.kind is kind]


def test_string_is_found_to_a_fraction_of_a_pixel(job: Job, snapped: Job, seen: dict[str, NDArray[np.float64]]) -> None:
    """Marks on the string lie within 0.2 px rms, where the hand left 0.4."""
    by_hand, by_edge = (across(of_kind(j, MarkKind.REFERENCE_LINE), seen["reference_line"]) for j in (job, snapped))
    assert np.sqrt(np.mean(by_edge**2)) < 0.2 < np.sqrt(np.mean(by_hand**2))


def test_bottom_edges_scatter_less(job: Job, snapped: Job, seen: dict[str, NDArray[np.float64]]) -> None:
    """
    On each side the marks agree among themselves to half a pixel.

    Their mean may lie off the sharp edge of the truth: the render's is rounded by 2 mm, about 2 px.
    """
    bottom = seen["outline"][seen["outline"][:, 1] > np.median(seen["outline"][:, 1])]
    for side in ("port", "starboard"):
        marks = [m for m in of_kind(snapped, MarkKind.BOTTOM_EDGE) if m.side == side]
        off = across(marks, bottom)
        assert np.std(off) < 0.5
        assert abs(np.mean(off)) < 2.0
        assert all(m.u_px < old.u_px for m, old in zip(marks, of_kind(job, MarkKind.BOTTOM_EDGE), strict=False))


def test_no_mark_claims_more_than_the_picture_holds(snapped: Job) -> None:
    """No snapped mark is said to be better than a tenth of a pixel."""
    assert min(m.u_px for m in snapped.marks) >= FINEST_PX


def test_chines_stay_as_clicked(job: Job, snapped: Job) -> None:
    """A chine is rounded: the corner of its edges is another point."""
    for kind in (MarkKind.CHINE, MarkKind.CHINE_INNER):
        assert of_kind(snapped, kind) == of_kind(job, kind)


def test_points_that_records_name_are_still_there(job: Job, snapped: Job) -> None:
    """Lengths and pairs find their points after snapping, and every mark has an id of its own."""
    points = {m.point or m.id for m in snapped.marks}
    assert {p for length in job.lengths for p in (length.from_point, length.to_point)} <= points
    assert len({m.id for m in snapped.marks}) == len(snapped.marks)


def test_snapping_twice_changes_next_to_nothing(snapped: Job) -> None:
    """The edge found from marks on the edge is the same edge; rims may be thinned anew."""
    again = {m.id: m for m in snapped_job(snapped, picture(NAME)).job.marks}
    for mark in snapped.marks:
        if mark.kind in (MarkKind.REFERENCE_LINE, MarkKind.BOTTOM_EDGE, MarkKind.KEEL):
            assert np.hypot(again[mark.id].x_px - mark.x_px, again[mark.id].y_px - mark.y_px) < 0.3  # px


def test_marks_in_other_photos_are_untouched(job: Job) -> None:
    """Only photos whose picture is given are looked at."""
    elsewhere = replace(job, marks=tuple(replace(m, photo="another") for m in job.marks))
    assert snapped_job(elsewhere, picture(NAME)).job.marks == elsewhere.marks


def test_nothing_to_snap_to() -> None:
    """In a picture without edges every mark stays where it was clicked, and that is said."""
    job = marked_job(NAME, 3)
    grey = {job.photos[0].id: np.full((3000, 4000, 3), 128, dtype=np.uint8)}
    found = snapped_job(job, grey)
    assert found.moved == 0
    assert found.job.marks == job.marks
    assert {f.code for f in found.findings} == {"not_snapped"}


@pytest.mark.slow
def test_deadrise_of_a_sample_gains() -> None:
    """Measured with snapped marks the deadrise of the sample is within 0.06°, four times its rms there."""
    from tests.coverage.samples import snapped as survey_of

    truth = sample_truth(NAME)
    survey = survey_of(NAME, 5)
    found = {d.code: d.value for d in survey.dimensions}
    for side in ("port", "starboard"):
        assert found[f"deadrise_chord_{side}"] == pytest.approx(truth[f"deadrise_chord_{side}"], abs=0.06)
