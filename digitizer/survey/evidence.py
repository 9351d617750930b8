"""What the photos themselves say: their size and lens, and the corners of the targets in them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from digitizer.imaging.photo import PhotoFacts, gray_pixels, photo_facts
from digitizer.imaging.targets import find_targets
from digitizer.job.model import Photo, Sighting
from digitizer.job.reading import JobFile, photo_bytes


@dataclass(frozen=True)
class Evidence:
    """Facts by photo id, and all sightings: those that the job stores, and those found anew."""

    facts: dict[str, PhotoFacts]
    sightings: tuple[Sighting, ...]


def gather(job_file: JobFile, progress: Callable[[str], None] | None = None) -> Evidence:
    """
    Read the photos of a job; pixels are decoded only where a target has to be looked for.

    Raises
    ------
    PhotoError
        When a photo is missing, can't be read, or isn't the one that was marked.
    """
    job = job_file.job
    stored = {(s.target, s.photo) for s in job.sightings}
    facts: dict[str, PhotoFacts] = {}
    sightings = list(job.sightings)
    for photo in (p for p in job.photos if p.active):
        data = photo_bytes(job_file, photo)
        facts[photo.id] = photo_facts(data, photo.file)
        wanted = [t for t in job.targets if t.active and (t.id, photo.id) not in stored]
        if wanted:
            if progress is not None:
                progress(f"Looking for targets in {photo.file} …")
            sightings += _found(photo, [*find_targets(gray_pixels(data, photo.file), wanted)])
    return Evidence(facts, tuple(sightings))


def _found(photo: Photo, detections: list) -> list[Sighting]:  # type: ignore[type-arg]
    return [
        Sighting(
            d.target_id,
            photo.id,
            tuple(d.corner_ids),
            tuple(d.image_points[:, 0].tolist()),
            tuple(d.image_points[:, 1].tolist()),
            tuple(d.u_px.tolist()),
        )
        for d in detections
    ]
