"""``digitizer calibrate``: the lens of a camera, from photos of a printed board."""

from __future__ import annotations

import argparse
import math
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.console import harmless, progress, standard_output

if TYPE_CHECKING:
    from digitizer.job.model import Target
    from digitizer.survey.board_photos import CalibratedCamera

_PAPERS = ("A4", "Letter", "A3")
_DESCRIPTION = """\
Work out the lens of a camera from photos of the printed board, and keep it for that camera and lens.

Print the board (digitizer target), fix it to something flat, and take about ten photos at the distance and the
zoom that you photograph boats with: the whole board, sharp, tilted by 20 to 40 degrees to another side in each,
and in every corner of the picture. A kept calibration is offered for jobs with photos by the same camera and
lens: 'digitizer lens' puts it into a job.
"""
_EPILOG = """\
examples:
  digitizer calibrate board-photos/*.jpg                        the board printed on A4
  digitizer calibrate board-photos/*.jpg --board A3
  digitizer calibrate board-photos/*.jpg --board boat/job.json  the board that this job describes
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "calibrate",
        help="work out a camera's lens from photos of the printed board",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("photos", type=Path, nargs="+", metavar="PHOTO", help="photos of the board, three at least")
    parser.add_argument(
        "--board",
        default="A4",
        metavar="BOARD",
        help="paper that the board was printed on (A4, Letter, A3), or a job that describes it (A4)",
    )
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Calibrate, keep the result, and show it."""
    with progress() as tell:
        from digitizer.survey.board_photos import calibrated_camera

        board = _board(arguments.board)
        camera = calibrated_camera([str(p) for p in arguments.photos], _contents, board, date.today().isoformat(), tell)
        kept = _kept(camera)
    with standard_output():
        _show(camera, kept)


def _board(name: str) -> Target:
    """The board that was printed."""
    from digitizer.errors import JobFileError
    from digitizer.job.model import PaperSize, TargetKind

    if name in _PAPERS:
        from digitizer.reports.target_sheet import job_target

        return job_target(PaperSize(name))
    from digitizer.job.reading import read_job

    boards = [t for t in read_job(Path(name)).job.targets if t.active and t.kind is not TargetKind.ARUCO_MARKER]
    if len(boards) != 1:
        raise JobFileError(
            f"{name}: describes {len(boards)} boards, and a calibration takes one: name a job with one active board, "
            f"or the paper it was printed on ({', '.join(_PAPERS)})"
        )
    return boards[0]


def _contents(name: str) -> bytes:
    from digitizer.errors import PhotoError

    try:
        return Path(name).read_bytes()
    except OSError as problem:
        raise PhotoError(name, f"it can't be read ({problem.strerror}): check its name") from problem


def _kept(camera: CalibratedCamera) -> Path | None:
    """Where it was put; none where the photos don't say what took them."""
    from digitizer.job.lenses import KeptLens, keep_lens

    lens = camera.photos.lens
    return keep_lens(KeptLens(lens, camera.record)) if lens is not None else None


def _show(camera: CalibratedCamera, kept: Path | None) -> None:
    """The lens, how the photos fit, and what could be better."""
    from digitizer.cli.new_table import new_table
    from digitizer.cli.tables import results_console
    from digitizer.survey.board_photos import remarks

    console, c = results_console(), camera.record
    lens = new_table("Lens", "", "", "U")
    for label, value, u, digits in (
        ("focal length, px", c.f_px, c.u_f_px, 1),
        ("the same at another focus, px", c.f_px, math.hypot(c.u_f_px, c.u_refocus * c.f_px), 1),
        ("middle across, px", c.cx_px, c.u_c_px, 1),
        ("middle down, px", c.cy_px, c.u_c_px, 1),
        ("k1", c.k1, c.u_k1, 4),
        ("k2", c.k2, c.u_k2, 4),
        ("p1", c.p1, c.u_p, 5),
        ("p2", c.p2, c.u_p, 5),
        ("k3", c.k3, c.u_k3, 4),
    ):
        lens.add_row(label, f"{value:.{digits}f}", f"± {2.0 * u:.{digits}f}" if u else "held")
    console.print(lens)
    photos = new_table("Photos", "", "corners", "rms", "tilt")
    for p in camera.result.photos:
        photos.add_row(harmless(Path(p.photo).name), str(p.corners), f"{p.rms_px:.2f} px", f"{p.off_square_deg:.0f}°")
    console.print(photos)
    for line in [*remarks(camera), *_where(camera, kept)]:
        console.print(f"\n{harmless(line)}")


def _where(camera: CalibratedCamera, kept: Path | None) -> list[str]:
    lens = camera.photos.lens
    if kept is not None and lens is not None:
        return [f"Kept for {lens.device} in {kept}. 'digitizer lens JOB --out NEWJOB' puts it into a job."]
    from digitizer.job.model import Camera, Job
    from digitizer.job.writing import job_json

    return [
        "The photos don't say what took them, so this can't be offered again. Put it into the job by hand:",
        *job_json(Job(cameras=(Camera("camera", camera.record),))).splitlines()[2:-1],
    ]
