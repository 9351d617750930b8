"""Photos of a printed board, read for a calibration: where the board is in each, and that one lens took them all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from digitizer.camera.lens import refocus_allowance
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts, photo_facts
from digitizer.job.lenses import CameraAndLens
from digitizer.job.model import Calibration, Photo, Sighting, Target
from digitizer.survey.calibration import FEWEST_CORNERS, FEWEST_PHOTOS, Calibrated, calibrated_lens
from digitizer.survey.evidence import looked_for
from digitizer.survey.lens_offers import lens_of

WELL_COVERED = 0.5
"""Share of the picture's fields with corners in them, under which more photos are asked for."""
NAMED = 3
"""Corners set aside that are named one by one."""


@dataclass(frozen=True)
class BoardPhotos:
    """What the photos of a board hold."""

    sightings: tuple[Sighting, ...]
    width_px: int
    height_px: int
    focal_mm: float | None
    focal_35mm: float | None
    lens: CameraAndLens | None
    """None where the photos don't say what took them."""
    without: tuple[str, ...]
    """Photos in which the board was not found, or hardly."""


@dataclass(frozen=True, eq=False)
class CalibratedCamera:
    """A camera's lens, and what it was made from."""

    photos: BoardPhotos
    result: Calibrated
    record: Calibration
    """As it is kept: with its allowance for another focus, and where it comes from."""


def board_photos(
    files: Sequence[str],
    read: Callable[[str], bytes],
    board: Target,
    progress: Callable[[str], None] | None = None,
) -> BoardPhotos:
    """
    Look for the board in each photo.

    Parameters
    ----------
    files
        Names of the photos.
    read
        Gives the untouched file of a name.

    Raises
    ------
    PhotoError
        When a photo can't be read.
    AdjustmentError
        When the photos are not by one camera and lens at one size, or too few show the board.
    """
    facts: list[PhotoFacts] = []
    seen: list[Sighting] = []
    for number, name in enumerate(files, 1):
        if progress is not None:
            progress(f"Looking for the board in photo {number} of {len(files)} …")
        data = read(name)
        facts.append(photo_facts(data, name))
        _check_alike(facts[0], facts[-1])
        seen += looked_for(Photo(name, name), data, [board])
    useful = [s for s in seen if len(s.corner_ids) >= FEWEST_CORNERS]
    without = tuple(name for name in files if name not in {s.photo for s in useful})
    if len(useful) < FEWEST_PHOTOS:
        raise AdjustmentError(_too_few(len(useful), len(files)))
    f = facts[0]
    return BoardPhotos(tuple(useful), f.width_px, f.height_px, f.focal_mm, f.focal_35mm, lens_of(f), without)


def calibrated_camera(
    files: Sequence[str],
    read: Callable[[str], bytes],
    board: Target,
    day: str,
    progress: Callable[[str], None] | None = None,
) -> CalibratedCamera:
    """
    The lens of a camera from photos of a board; `day` as an ISO date, the rest as `board_photos`.

    Raises
    ------
    PhotoError
        When a photo can't be read.
    AdjustmentError
        When the photos are not by one lens, too few show the board, or they leave the lens undetermined.
    """
    found = board_photos(files, read, board, progress)
    if progress is not None:
        progress("Adjusting …")
    result = calibrated_lens(found.sightings, [board], (found.width_px, found.height_px), found.focal_35mm)
    source = (
        f"calibrated {day} from {len(result.photos)} photos of a board {result.distance_mm / 1000.0:.2g} m away, "
        f"{result.rms_px:.2f} px rms"
    )
    allowance = refocus_allowance(found.focal_mm, result.distance_mm)
    return CalibratedCamera(found, result, replace(result.calibration, u_refocus=allowance, source=source))


def remarks(camera: CalibratedCamera) -> list[str]:
    """What could be better about a calibration, each in a sentence or two."""
    found, result = camera.photos, camera.result
    out = []
    if found.without:
        out.append(f"note: the board was not found in {', '.join(Path(name).name for name in found.without)}.")
    if result.covered < WELL_COVERED:
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
        more = f" and {len(result.set_aside) - NAMED} more" if len(result.set_aside) > NAMED else ""
        out.append(f"note: set aside, because they fit too badly: {', '.join(result.set_aside[:NAMED])}{more}.")
    return out


def _check_alike(first: PhotoFacts, other: PhotoFacts) -> None:
    """Refuse photos by different cameras, at different focal lengths or sizes."""
    what = [
        (f"{other.width_px} × {other.height_px} px", f"{first.width_px} × {first.height_px} px"),
        (other.device or "no camera named", first.device or "no camera named"),
        (_focal(other), _focal(first)),
    ]
    for here, there in what:
        if here != there:
            raise AdjustmentError(
                f"{other.name} ({here}) was not taken like {first.name} ({there}): calibrate one camera at one focal "
                "length, all photos held the same way, none of them cropped."
            )


def _focal(facts: PhotoFacts) -> str:
    focal = facts.focal_mm or facts.focal_35mm
    return f"{focal:.2f} mm" if focal else "no focal length"


def _too_few(useful: int, of: int) -> str:
    how = "take ten: the whole board, sharp, tilted differently in each, and in every corner of the picture"
    if useful == 0:
        return (
            f"The board was found in none of the {of} photos: check that --board names the one that was printed, and "
            "that the photos are sharp and show most of it."
        )
    return f"The board was found in {useful} of {of} photos, and a calibration needs {FEWEST_PHOTOS} at least: {how}."
