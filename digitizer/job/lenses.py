"""
Calibrations kept per camera and lens, so that they can be offered again for photos by the same.

One file in the platform's settings folder. Offering is all it is for: a job that uses a calibration holds its values,
so that it measures the same on another computer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated

from annotated_types import Len

from digitizer.errors import DigitizerError, ReportError
from digitizer.files import made_folder, replacing, settings_folder
from digitizer.job.model import Calibration, Positive

MAX_KEPT = 500
FOCAL_TOLERANCE = 0.005
"""Relative; what EXIF rounds."""


@dataclass(frozen=True)
class CameraAndLens:
    """What a photo says of the lens that took it: one zoom setting of one lens on one camera."""

    device: Annotated[str, Len(1, 400)]
    focal_mm: Positive | None = None
    focal_35mm: Positive | None = None

    def matches(self, other: CameraAndLens) -> bool:
        """Whether both mean one camera, one lens and one focal length."""
        return (
            self.device == other.device
            and _alike(self.focal_mm, other.focal_mm)
            and _alike(self.focal_35mm, other.focal_35mm)
        )


@dataclass(frozen=True)
class KeptLens:
    """A calibration and what it belongs to."""

    lens: CameraAndLens
    calibration: Calibration


def lens_file() -> Path:
    """Where calibrations are kept."""
    return settings_folder() / "lenses.json"


def kept_lenses(path: Path | None = None) -> tuple[KeptLens, ...]:
    """
    All calibrations that are kept; none where none was made.

    Raises
    ------
    DigitizerError
        If the file can't be read or is damaged.
    """
    path = path or lens_file()
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return ()
    except OSError as problem:
        raise ReportError(str(path), f"it can't be read ({problem.strerror})") from problem
    from pydantic import TypeAdapter, ValidationError  # a tenth of a second that only those pay who keep a lens

    from digitizer.job.fields import STRICT

    try:
        return tuple(TypeAdapter(tuple[KeptLens, ...], config=STRICT).validate_json(text))
    except ValidationError as failure:
        raise ReportError(
            str(path), "the file of kept calibrations is damaged: move it away and calibrate again"
        ) from failure


def keep_lens(lens: KeptLens, path: Path | None = None) -> Path:
    """
    Keep a calibration; an older one of the same camera, lens and picture size goes.

    Raises
    ------
    DigitizerError
        If the file can't be written; what was kept is then as it was.
    """
    import json

    path = path or lens_file()
    others = [k for k in kept_lenses(path) if not (k.lens.matches(lens.lens) and _one_size(k, lens))]
    made_folder(path.parent, _refusal)
    text = json.dumps([asdict(k) for k in [*others, lens][-MAX_KEPT:]], indent=1, ensure_ascii=False)
    with replacing(path, _refusal) as stream:
        stream.write(text.encode())
    return path


def offered_lens(kept: Sequence[KeptLens], lens: CameraAndLens, width_px: int, height_px: int) -> Calibration | None:
    """The newest kept calibration for photos by a lens, of the same shape; none where none fits."""
    for k in reversed(kept):
        c = k.calibration
        if k.lens.matches(lens) and abs(c.width_px * height_px - c.height_px * width_px) <= max(width_px, height_px):
            return c
    return None


def _one_size(a: KeptLens, b: KeptLens) -> bool:
    sizes = [(k.calibration.width_px, k.calibration.height_px) for k in (a, b)]
    return sizes[0] == sizes[1]


def _alike(a: float | None, b: float | None) -> bool:
    return a == b if a is None or b is None else abs(a - b) <= FOCAL_TOLERANCE * max(a, b)


def _refusal(destination: str, reason: str) -> DigitizerError:
    return ReportError(destination, reason)
