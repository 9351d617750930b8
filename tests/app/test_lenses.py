"""Calibrations in the window: offered for photos by a known camera, made from photos of a board, never used unasked."""

from __future__ import annotations

from pathlib import Path

import pytest

from digitizer.app.calibrating import board_of
from digitizer.app.window import Window
from digitizer.job.lenses import CameraAndLens, KeptLens, keep_lens, kept_lenses
from digitizer.job.model import Calibration, Job, PaperSize, Settings, Target, TargetKind
from digitizer.reports.target_sheet import job_target
from digitizer.samples import sample_job
from tests.app.conftest import Answers, wait_for
from tests.imaging.printed_board import A4_BOARD, FOCAL_PX, VIEWS, board_photo, saved

PHOTO = sample_job("flat_square_on").with_name("photo_1.jpg")
LENS = CameraAndLens("Hollowell K2, main", 5.1, 25.0)
CALIBRATION = Calibration(4000, 3000, 2946.8, 3.0, 1992.5, 1508.5, 1.5, -0.026, 0.008, source="calibrated today")


def attended(window: Window, *choices: int) -> Answers:
    """The window with somebody who answers from a list."""
    person = Answers(None, *choices)
    window.tell, window.choose = person.tell, person.choose  # type: ignore[method-assign]
    return person


def add(window: Window, *photos: Path) -> None:
    """Add photos and wait until they are in the job."""
    window.desk.add_photos(photos)
    wait_for(lambda: not window.desk.is_reading and len(window.document.job.photos) == len(photos))


def only_calibration(window: Window) -> Calibration | None:
    (camera,) = window.document.job.cameras
    return camera.calibration


def test_kept_calibration_is_offered_for_a_photo_by_that_camera(window: Window) -> None:
    """The question names where it comes from; taken, the job holds the values; undone, it doesn't."""
    keep_lens(KeptLens(LENS, CALIBRATION), window.desk.folders.lenses)
    person = attended(window, 0)
    add(window, PHOTO)
    assert ["calibrated today" in question for question in person.asked] == [True]
    assert only_calibration(window) == CALIBRATION
    window.document.undo_stack.undo()
    assert only_calibration(window) is None


def test_offer_that_is_left_changes_nothing_and_can_be_taken_later(window: Window) -> None:
    """Left, the lens stays unknown; the menu offers it again, and once it is in the job says that there is none."""
    keep_lens(KeptLens(LENS, CALIBRATION), window.desk.folders.lenses)
    person = attended(window, 1, 0)
    add(window, PHOTO)
    assert only_calibration(window) is None
    window.desk.offer_lenses(say_none=True)
    assert only_calibration(window) == CALIBRATION
    window.desk.offer_lenses(say_none=True)
    assert len(person.asked) == 2
    assert "No calibration is kept" in person.told[-1]


@pytest.mark.parametrize(
    "lens",
    [
        pytest.param(CameraAndLens("Hollowell K2, wide", 5.1, 25.0), id="another-lens"),
        pytest.param(CameraAndLens("Marrowby 9, main", 5.1, 25.0), id="another-device"),
        pytest.param(CameraAndLens("Hollowell K2, main", 9.0, 44.0), id="zoomed"),
    ],
)
def test_nothing_is_asked_about_other_cameras(window: Window, lens: CameraAndLens) -> None:
    """A calibration of another device, lens or focal length is not offered."""
    keep_lens(KeptLens(lens, CALIBRATION), window.desk.folders.lenses)
    person = attended(window)
    add(window, PHOTO)
    assert person.asked == []
    assert only_calibration(window) is None


def test_damaged_store_is_told_and_the_photo_added_all_the_same(window: Window) -> None:
    """Garbage in the settings costs the offer only."""
    window.desk.folders.lenses.parent.mkdir(parents=True, exist_ok=True)
    window.desk.folders.lenses.write_text("[{]")
    person = attended(window)
    add(window, PHOTO)
    assert "damaged" in person.told[-1]
    assert len(window.document.job.photos) == 1


def test_camera_is_calibrated_from_photos_of_the_board(window: Window, tmp_path: Path) -> None:
    """Photos of the board give the lens, told with its U and kept; too few are refused in a sentence."""
    photos = [Path(saved(tmp_path, i, board_photo(*view))) for i, view in enumerate(VIEWS[:3])]
    person = attended(window)
    window.desk.calibrate(photos, A4_BOARD)
    wait_for(lambda: bool(person.told), 60.0)
    assert "Kept for Hollowell K2" in person.told[-1]
    (kept,) = kept_lenses(window.desk.folders.lenses)
    assert abs(kept.calibration.f_px - FOCAL_PX) < 3.0 * kept.calibration.u_f_px
    assert kept.calibration.u_refocus > 0.005
    window.desk.calibrate(photos[:2], A4_BOARD)
    wait_for(lambda: len(person.told) == 2, 60.0)
    assert "3 at least" in person.told[-1]


def test_board_is_that_of_the_job_or_of_its_paper() -> None:
    """One board described is meant; without one, or with two, the board printed on the job's paper."""
    own = Target("own", TargetKind.CHARUCO, columns=9, rows=6, square_mm=50.0, marker_mm=38.0)
    letter = Settings(paper=PaperSize.LETTER)
    assert board_of(Job(targets=(own,), settings=letter)) == own
    assert board_of(Job(settings=letter)) == job_target(PaperSize.LETTER)
