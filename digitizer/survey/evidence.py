"""What the photos themselves say: their size and lens, and the corners of the targets in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from digitizer.imaging.photo import PhotoFacts, gray_pixels, photo_facts
from digitizer.imaging.targets import find_targets
from digitizer.job.model import Job, Photo, Sighting, Target
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
    facts: dict[str, PhotoFacts] = {}
    sightings = list(job.sightings)
    for photo in (p for p in job.photos if p.active):
        data = photo_bytes(job_file, photo)
        facts[photo.id] = photo_facts(data, photo.file)
        wanted = unseen(job, photo)
        if wanted:
            if progress is not None:
                progress(f"Looking for targets in {photo.file} …")
            sightings += looked_for(photo, data, wanted)
    return Evidence(facts, tuple(sightings))


def unseen(job: Job, photo: Photo) -> tuple[Target, ...]:
    """The targets that have to be looked for in a photo, because the job stores no sighting of them in it."""
    stored = {s.target for s in job.sightings if s.photo == photo.id}
    return tuple(t for t in job.targets if t.active and t.id not in stored)


def looked_for(photo: Photo, data: bytes, targets: Sequence[Target]) -> tuple[Sighting, ...]:
    """
    What is seen of some targets in a photo.

    Raises
    ------
    PhotoError
        If the photo can't be read whole.
    JobFileError
        If two targets share a marker number.
    """
    return tuple(
        Sighting(
            found.target_id,
            photo.id,
            tuple(found.corner_ids),
            tuple(found.image_points[:, 0].tolist()),
            tuple(found.image_points[:, 1].tolist()),
            tuple(found.u_px.tolist()),
        )
        for found in find_targets(gray_pixels(data, photo.file), targets)
    )
