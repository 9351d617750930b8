"""
Saving an open job: as one file with its photos, or as a job.json with the photos beside it.

A photo that can't be had any more stops nothing: the rest is saved and the photo named.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from digitizer.errors import JobFileError, PhotoError
from digitizer.files import made_folder, remove_leftovers, replacing
from digitizer.job.model import Job, Photo
from digitizer.job.reading import JobFile
from digitizer.job.shelf import PhotoShelf
from digitizer.job.writing import check_job, write_bundle, write_job_json

BUNDLE_SUFFIX = ".transom"


@dataclass(frozen=True)
class Saved:
    """What a save left on the disk, and which photos it had to do without."""

    job_file: JobFile
    lacking: tuple[PhotoError, ...] = ()


def save_job(job: Job, shelf: PhotoShelf, path: Path) -> Saved:
    """
    Save the job to `path`, in place of an older version, which stays beside it as ``.bak``.

    A name ending in ``.json`` gets a plain job with the photos beside it, any other the one-file bundle. The shelf
    knows afterwards where the photos are.

    Raises
    ------
    JobFileError
        If the job isn't sound, the disk is full or writing isn't allowed; the old file is then as it was.
    """
    check_job(job, path)
    remove_leftovers(path)
    plain = path.suffix.lower() == ".json"
    photos, lacking = _gathered(job, shelf)
    if plain:
        lacking |= _laid_beside(job, photos, path)
        write_job_json(job, path)
    else:
        write_bundle(job, lambda photo: photos.get(photo.id), path)
    saved = Saved(JobFile(job, path, bundled=not plain), tuple(lacking.values()))
    shelf.saved_as(saved.job_file, frozenset(lacking))
    return saved


def write_copy(job: Job, shelf: PhotoShelf, path: Path) -> tuple[PhotoError, ...]:
    """
    Write the job and its photos to one file to hand on; the open job keeps its own file.

    Returns
    -------
    tuple of PhotoError
        The photos that it had to do without.

    Raises
    ------
    JobFileError
        If the job isn't sound, the disk is full or writing isn't allowed; an old file is then as it was.
    """
    photos, lacking = _gathered(job, shelf)
    write_bundle(job, lambda photo: photos.get(photo.id), path)
    return tuple(lacking.values())


def _gathered(job: Job, shelf: PhotoShelf) -> tuple[dict[str, bytes], dict[str, PhotoError]]:
    """The photos' files by id, and the reasons of those that can't be had; read before anything is written."""
    photos: dict[str, bytes] = {}
    lacking: dict[str, PhotoError] = {}
    for photo in job.photos:
        try:
            photos[photo.id] = shelf.data(photo)
        except PhotoError as refused:
            lacking[photo.id] = refused
    return photos, lacking


def _laid_beside(job: Job, photos: dict[str, bytes], path: Path) -> dict[str, PhotoError]:
    """Write those photos that don't lie beside the job yet; another file of the same name is never replaced."""
    lacking: dict[str, PhotoError] = {}
    for photo in job.photos:
        if photo.id in photos and (refused := _lay_down(photo, photos[photo.id], path.parent / photo.file)):
            lacking[photo.id] = refused
    return lacking


def _lay_down(photo: Photo, data: bytes, goal: Path) -> PhotoError | None:
    if not goal.exists():
        made_folder(goal.parent, _refusal)
        with replacing(goal, _refusal) as stream:
            stream.write(data)
        return None
    if goal.is_file() and goal.stat().st_size == len(data) and goal.read_bytes() == data:
        return None
    return PhotoError(photo.file, f"another file of that name lies in {goal.parent}: move it away, then save again")


def _refusal(destination: str, reason: str) -> JobFileError:
    return JobFileError(f"{destination}: {reason}")
