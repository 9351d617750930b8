"""Kept calibrations offered for the photos of a job, by the camera and lens that they name; nothing is used unasked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.lenses import CameraAndLens, KeptLens, offered_lens
from digitizer.job.model import Calibration, Camera, Job, Photo


def lens_of(facts: PhotoFacts) -> CameraAndLens | None:
    """The camera and lens that a photo names, none where it names no camera."""
    return CameraAndLens(facts.device, facts.focal_mm, facts.focal_35mm) if facts.device else None


def offers(job: Job, facts: Mapping[str, PhotoFacts], kept: Sequence[KeptLens]) -> dict[str, Calibration]:
    """By camera, the kept calibration that fits all its photos, for the cameras of a job that have none."""
    have = {c.id for c in job.cameras if c.calibration is not None}
    out: dict[str, Calibration] = {}
    for camera in dict.fromkeys(p.camera for p in job.photos):
        photos = [p for p in job.photos if p.camera == camera and p.active and p.id in facts]
        found = [_offered(kept, p, facts[p.id]) for p in photos]
        if camera not in have and found and found[0] is not None and all(c == found[0] for c in found):
            out[camera] = found[0]
    return out


def with_offers(job: Job, found: Mapping[str, Calibration]) -> Job:
    """The job with the calibrations copied into its cameras."""
    cameras = [replace(c, calibration=found.get(c.id, c.calibration)) for c in job.cameras]
    known = {c.id for c in cameras}
    return replace(job, cameras=(*cameras, *(Camera(name, c) for name, c in found.items() if name not in known)))


def _offered(kept: Sequence[KeptLens], photo: Photo, facts: PhotoFacts) -> Calibration | None:
    lens = lens_of(facts)
    if lens is None or photo.cropped:
        return None
    return offered_lens(kept, lens, facts.width_px, facts.height_px)
