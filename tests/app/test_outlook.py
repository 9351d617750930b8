"""A photo with a board is in the job: what it can reach is said before anything is marked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.app.window import Window
from digitizer.job import edits
from digitizer.job.edits import Click
from digitizer.job.model import Job, MarkKind, Side
from digitizer.job.reading import read_job
from digitizer.job.shelf import PhotoShelf
from digitizer.samples import sample_job
from tests.app.conftest import wait_for


@pytest.fixture
def unmarked(window: Window) -> Window:
    """The sample's photo and board, nothing marked."""
    job_file = read_job(sample_job("flat_square_on"))
    job = replace(job_file.job, marks=(), fittings=(), lines=(), lengths=())
    window.document.start(job, None, PhotoShelf(job_file))
    for photo in job.photos:
        window.desk._read(photo)
    return window


def said(window: Window) -> str:
    return window.card.outlook().replace("\N{NO-BREAK SPACE}", " ")


def test_card_says_what_the_photo_can_reach(unmarked: Window) -> None:
    """In the step that is open, with figures; no complaint that nothing is marked."""
    wait_for(lambda: bool(said(unmarked)))
    assert said(unmarked).startswith("The board is found. From this photo the chines can come to ± ")
    assert unmarked.document.survey is None
    assert unmarked.document.answer.problem == ""


def test_it_stays_until_the_job_is_measured(unmarked: Window) -> None:
    """A first mark is not enough to measure; the whole sample is."""
    wait_for(lambda: bool(said(unmarked)))
    job = unmarked.document.job
    click = Click(job.photos[0].id, 1960.0, 2040.0, 0.7)
    unmarked.document.edit("Mark", edits.with_marks(job, [click], MarkKind.KEEL, side=Side.CENTRE))
    wait_for(lambda: bool(unmarked.document.answer.problem))
    wait_for(lambda: "transom" in said(unmarked))
    whole = read_job(sample_job("flat_square_on")).job
    unmarked.document.edit("All", whole)
    wait_for(lambda: unmarked.document.survey is not None and not said(unmarked))


def test_photo_alone_says_nothing(unmarked: Window) -> None:
    """Without the board's record there is nothing to say, and what was said goes."""
    wait_for(lambda: bool(said(unmarked)))
    unmarked.document.edit("No board", replace(unmarked.document.job, targets=()))
    assert said(unmarked) == ""


def test_another_jobs_outlook_is_dropped(unmarked: Window) -> None:
    """One that comes late says nothing of the job that is shown."""
    unmarked._take_outlook(Job(title="another"), "The board is found.")
    assert said(unmarked) == ""
