"""A camera calibrated for the window: worked out off the interface thread, kept, and told in a few sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from digitizer.app.words import tr
from digitizer.errors import PhotoError
from digitizer.job.lenses import KeptLens, keep_lens
from digitizer.job.model import Job, Target, TargetKind
from digitizer.survey.board_photos import CalibratedCamera, calibrated_camera, remarks


def board_of(job: Job) -> Target:
    """The one board that a job describes, or else the one that this program prints on the job's paper."""
    boards = [t for t in job.targets if t.active and t.kind is not TargetKind.ARUCO_MARKER]
    if len(boards) == 1:
        return boards[0]
    from digitizer.reports.target_sheet import job_target  # brings the PDF library

    return job_target(job.settings.paper)


def calibrated_and_kept(
    paths: Sequence[Path], board: Target, kept: Path, tell: Callable[[str], None]
) -> CalibratedCamera:
    """
    The camera's lens, kept in the file `kept` where the photos name what took them.

    Raises
    ------
    DigitizerError
        When the photos calibrate nothing, or it can't be kept.
    """
    camera = calibrated_camera([str(p) for p in paths], _contents, board, date.today().isoformat(), tell)
    if camera.photos.lens is not None:
        keep_lens(KeptLens(camera.photos.lens, camera.record), kept)
    return camera


def told(camera: CalibratedCamera) -> str:
    """The result, and what could be better."""
    c, lens = camera.record, camera.photos.lens
    f = tr("f = {f:.1f} ± {U:.1f} px, {source}.", f=c.f_px, U=2.0 * c.u_f_px, source=c.source)
    if lens is None:
        kept = tr("Not kept: the photos don't say what took them. Use the original files.")
    else:
        kept = tr("Kept for {device}.", device=lens.device)
    return " ".join([kept, f, *remarks(camera)])


def _contents(name: str) -> bytes:
    try:
        return Path(name).read_bytes()
    except OSError as problem:
        raise PhotoError(name, f"it can't be read ({problem.strerror}): check its name") from problem
