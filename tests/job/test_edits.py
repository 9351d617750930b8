"""Edits of a job: what each verb adds, and what goes when something is taken out."""

from __future__ import annotations

import pytest

from digitizer.job.edits import (
    Click,
    fresh_id,
    mark_of,
    with_fitting,
    with_known_length,
    with_mark_moved,
    with_marks,
    with_pad_marks,
    with_photo,
    with_reference_mark,
    with_sheet,
    without_record,
)
from digitizer.job.model import FittingKind, FittingShape, Job, MarkKind, Photo, Side
from digitizer.job.validation import check_references

EMPTY = Job(photos=(Photo("photo_1", "stern.jpg"),))


def click(x: float, y: float) -> Click:
    return Click("photo_1", x, y)


def busy_job() -> Job:
    """One of everything that clicks can make."""
    job = with_reference_mark(EMPTY, [click(10, 10), click(90, 10)])
    job = with_marks(job, [click(50, 80)], MarkKind.KEEL)
    job = with_marks(job, [click(10, 60)], MarkKind.CHINE, side=Side.PORT)
    job = with_known_length(job, (click(20, 30), click(80, 30)), 1000.0, 0.8)
    job = with_sheet(job, (click(1, 1), click(2, 1), click(2, 2), click(1, 2)), 297.0, 210.0)
    job = with_fitting(job, FittingShape.CIRCLE, [click(40, 40), click(44, 40), click(42, 42)], FittingKind.DRAIN)
    return with_pad_marks(job, None, [click(30, 20), click(70, 20), click(50, 50)])


def test_everything_that_clicks_make_fits_together() -> None:
    """A job made by clicks alone has no reference that leads nowhere."""
    assert check_references(busy_job()) == ()


def test_first_reference_mark_brings_its_line() -> None:
    """The line comes into being with its first mark and gathers the next ones."""
    job = with_reference_mark(with_reference_mark(EMPTY, [click(1, 1)]), [click(9, 1)])
    assert [line.reference for line in job.lines] == [True]
    assert {mark.of for mark in job.marks} == {job.lines[0].id}


def test_fresh_id_is_never_taken() -> None:
    """The first free number follows the stem."""
    assert fresh_id([], "keel") == "keel"
    assert fresh_id(["keel", "keel_2", "keel_4"], "keel") == "keel_3"


def test_moved_mark_keeps_its_place_among_the_marks() -> None:
    """Only the position changes; the order of the records stays."""
    job = busy_job()
    moved = with_mark_moved(job, "keel", 51.0, 81.0)
    assert [mark.id for mark in moved.marks] == [mark.id for mark in job.marks]
    assert (mark_of(moved, "keel").x_px, mark_of(moved, "keel").u_px) == (51.0, 0.7)


@pytest.mark.parametrize(
    ("section", "marks_gone"),
    [
        pytest.param("lengths", 2, id="length-takes-its-ends"),
        pytest.param("fittings", 3, id="fitting-takes-its-rim"),
        pytest.param("rectangles", 4, id="sheet-takes-its-corners"),
        pytest.param("lines", 2, id="line-takes-its-marks"),
        pytest.param("pads", 3, id="pad-takes-its-outline"),
    ],
)
def test_removed_record_takes_its_marks(section: str, marks_gone: int) -> None:
    """Marks that meant only the record go with it, and the rest still fits together."""
    job = busy_job()
    fewer = without_record(job, section, getattr(job, section)[0].id)
    assert len(job.marks) - len(fewer.marks) == marks_gone
    assert check_references(fewer) == ()


@pytest.mark.parametrize(
    ("kind", "section"),
    [
        pytest.param(MarkKind.LENGTH_END, "lengths", id="one-end-of-a-length"),
        pytest.param(MarkKind.RECTANGLE_CORNER, "rectangles", id="one-corner-of-a-sheet"),
    ],
)
def test_removed_mark_takes_what_it_held_up(kind: MarkKind, section: str) -> None:
    """A length with one end and a sheet with three corners go whole."""
    job = busy_job()
    mark = next(mark for mark in job.marks if mark.kind is kind)
    fewer = without_record(job, "marks", mark.id)
    assert getattr(fewer, section) == ()
    assert kind not in {mark.kind for mark in fewer.marks}
    assert check_references(fewer) == ()


def test_last_mark_of_a_fitting_takes_the_fitting() -> None:
    """A fitting that nothing shows is not kept."""
    job = with_fitting(EMPTY, FittingShape.POINT, [click(5, 5)])
    assert without_record(job, "marks", job.marks[0].id).fittings == ()


def test_removed_photo_takes_its_marks() -> None:
    """What was seen only in the photo goes with it; other photos keep theirs."""
    job = with_marks(with_photo(busy_job(), Photo("photo_2", "side.jpg")), [Click("photo_2", 5, 5)], MarkKind.KEEL)
    fewer = without_record(job, "photos", "photo_1")
    assert [mark.photo for mark in fewer.marks] == ["photo_2"]
    assert check_references(fewer) == ()


def test_unknown_mark_is_a_key_error() -> None:
    """Asking for a mark that isn't there names it."""
    with pytest.raises(KeyError, match="nowhere"):
        mark_of(EMPTY, "nowhere")
