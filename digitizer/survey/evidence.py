"""What the photos themselves say: their size and lens, and the corners of the targets in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

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
    """Read the photos of a job from where its file says they are; see `gathered`."""
    return gathered(job_file.job, partial(photo_bytes, job_file), progress)


def gathered(job: Job, read: Callable[[Photo], bytes], progress: Callable[[str], None] | None = None) -> Evidence:
    """
    Read the photos of a job; pixels are decoded only where a target has to be looked for.

    Parameters
    ----------
    read
        Gives the untouched file of a photo.

    Raises
    ------
    PhotoError
        When a photo is missing, can't be read, or isn't the one that was marked.
    """
    stored = {(s.target, s.photo) for s in job.sightings}
    facts: dict[str, PhotoFacts] = {}
    sightings = list(job.sightings)
    for photo in (p for p in job.photos if p.active):
        data = read(photo)
        facts[photo.id] = photo_facts(data, photo.file)
        wanted = [t for t in job.targets if t.active and (t.id, photo.id) not in stored]
        if wanted:
            if progress is not None:
                progress(f"Looking for targets in {photo.file} …")
            sightings += looked_for(photo, data, wanted)
    return Evidence(facts, tuple(sightings))


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
