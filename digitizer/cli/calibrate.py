"""``digitizer calibrate``: the lens of a camera, from photos of a printed board."""

from __future__ import annotations

import argparse
import math
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.console import harmless, progress, standard_output

if TYPE_CHECKING:
    from digitizer.job.model import Calibration, Target
    from digitizer.survey.board_photos import BoardPhotos
    from digitizer.survey.calibration import Calibrated

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
_WELL_COVERED = 0.5


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
        from digitizer.survey.board_photos import board_photos, record_to_keep
        from digitizer.survey.calibration import calibrated_lens

        board = _board(arguments.board)
        found = board_photos([str(p) for p in arguments.photos], _contents, board, tell)
        tell("Adjusting …")
        result = calibrated_lens(found.sightings, [board], (found.width_px, found.height_px), found.focal_35mm)
        calibration = record_to_keep(found, result, date.today().isoformat())
        kept = _kept(found, calibration)
    with standard_output():
        _show(found, result, calibration, kept)


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


def _kept(found: BoardPhotos, calibration: Calibration) -> Path | None:
    """Where it was put; none where the photos don't say what took them."""
    from digitizer.job.lenses import KeptLens, keep_lens

    return keep_lens(KeptLens(found.lens, calibration)) if found.lens is not None else None


def _show(found: BoardPhotos, result: Calibrated, c: Calibration, kept: Path | None) -> None:
    """The lens, how the photos fit, and what could be better."""
    from digitizer.cli.new_table import new_table
    from digitizer.cli.tables import results_console

    console = results_console()
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
    for p in result.photos:
        photos.add_row(harmless(Path(p.photo).name), str(p.corners), f"{p.rms_px:.2f} px", f"{p.off_square_deg:.0f}°")
    console.print(photos)
    for line in [*_remarks(found, result), *_where(found, c, kept)]:
        console.print(f"\n{harmless(line)}")


def _remarks(found: BoardPhotos, result: Calibrated) -> list[str]:
    out = []
    if found.without:
        out.append(f"note: the board was not found in {', '.join(Path(name).name for name in found.without)}.")
    if result.covered < _WELL_COVERED:
        out.append(
            f"note: corners lie in {result.covered:.0%} of the picture; beyond them the lens is guessed. Take more "
            "photos with the board near the corners of the picture."
        )
    if result.scaled_by > 1.0:
        out.append(
            f"note: the corners fit {result.scaled_by:.1f} times worse than they were found, so U was widened by that "
            "much. A board that was not flat, or a blurred photo, does this."
        )
    if result.bend_mm > 3.0 * result.flatness_mm:
        out.append(f"warning: the board is bent by {result.bend_mm:.1f} mm: fix it to something flat.")
    if result.set_aside:
        out.append(f"note: {len(result.set_aside)} corners that fit too badly were set aside.")
    return out


def _where(found: BoardPhotos, calibration: Calibration, kept: Path | None) -> list[str]:
    if kept is not None and found.lens is not None:
        return [f"Kept for {found.lens.device} in {kept}. 'digitizer lens JOB --out NEWJOB' puts it into a job."]
    from digitizer.job.model import Camera, Job
    from digitizer.job.writing import job_json

    return [
        "The photos don't say what took them, so this can't be offered again. Put it into the job by hand:",
        *job_json(Job(cameras=(Camera("camera", calibration),))).splitlines()[2:-1],
    ]
