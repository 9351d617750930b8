"""Photos of a printed board, read for a calibration: where the board is in each, and that one lens took them all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from digitizer.camera.lens import refocus_allowance
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts, photo_facts
from digitizer.job.lenses import CameraAndLens
from digitizer.job.model import Calibration, Photo, Sighting, Target
from digitizer.survey.calibration import FEWEST_CORNERS, FEWEST_PHOTOS, Calibrated
from digitizer.survey.evidence import looked_for
from digitizer.survey.lens_offers import lens_of


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


def record_to_keep(found: BoardPhotos, result: Calibrated, day: str) -> Calibration:
    """The calibration with its allowance for another focus, and where it comes from; `day` as an ISO date."""
    source = (
        f"calibrated {day} from {len(result.photos)} photos of a board {result.distance_mm / 1000.0:.2g} m away, "
        f"{result.rms_px:.2f} px rms"
    )
    allowance = refocus_allowance(found.focal_mm, result.distance_mm)
    return replace(result.calibration, u_refocus=allowance, source=source)


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
