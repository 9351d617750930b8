"""
Reading a job and its photos, from a `job.json` beside the photos or from the one-file bundle that holds both.

Which of the two a file is, its first bytes tell, not its name.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from digitizer.errors import JobFileError, PhotoError
from digitizer.job import bundle
from digitizer.job.model import Job, Photo


@dataclass(frozen=True)
class JobFile:
    """A job and where it came from, so that its photos can be found."""

    job: Job
    path: Path
    bundled: bool = False
    """The photos are inside the file at `path`; false: they lie beside it."""


def read_job(path: Path) -> JobFile:
    """
    The job in a file, checked throughout; its photos are left for `photo_bytes`.

    Raises
    ------
    JobFileError
        If there is no such file, it isn't a job, or places in it need correcting; all of them are told.
    NewerJobFileError
        If a later program wrote it.
    """
    try:
        bundled = _is_bundle(path)
        text = _bundled_text(path) if bundled else _plain_text(path)
    except OSError as problem:
        raise JobFileError(f"{path}: it can't be read ({problem.strerror or problem})") from problem
    from digitizer.job.fields import job_from_text  # brings pydantic, which a program that reads no job need not load

    return JobFile(job_from_text(text, str(path)), path, bundled)


def photo_bytes(job_file: JobFile, photo: Photo) -> bytes:
    """
    The untouched file of one photo, proved by its fingerprint where the job has one.

    Raises
    ------
    PhotoError
        If it is missing, too large, damaged, outside the job's folder or another photo than the one marked.
    """
    try:
        data = (_bundled_photo if job_file.bundled else _photo_beside)(job_file.path, photo)
    except OSError as problem:
        raise PhotoError(photo.file, f"it can't be read ({problem.strerror or problem})") from problem
    check_fingerprint(photo, data)
    return data


def check_fingerprint(photo: Photo, data: bytes) -> None:
    """Refuse bytes that aren't the photo that was marked; a photo without a recorded SHA-256 passes."""
    if len(data) > bundle.MAX_PHOTO_BYTES:
        raise PhotoError(photo.file, f"larger than {bundle.MAX_PHOTO_BYTES // 1_000_000} MB: use the camera's own JPEG")
    if photo.sha256 is not None and hashlib.sha256(data).hexdigest() != photo.sha256.lower():
        raise PhotoError(
            photo.file,
            "this is not the photo that was marked (its SHA-256 differs from the one in the job): "
            "put the original back, or mark it anew",
        )


def _is_bundle(path: Path) -> bool:
    if path.is_dir():
        raise JobFileError(f"{path}: this is a folder: give the job file in it, such as {path / bundle.JOB_NAME}")
    if not path.exists():
        raise JobFileError(f"{path}: there is no such file: check the name and the folder")
    if not path.is_file():
        raise JobFileError(f"{path}: this is not an ordinary file: give a job.json or a .transom bundle")
    with path.open("rb") as stream:
        return stream.read(4) in bundle.ZIP_STARTS


def _plain_text(path: Path) -> str:
    return _text(_read_limited(path, bundle.MAX_JOB_BYTES), path)


def _bundled_text(path: Path) -> str:
    with bundle.opened(path) as archive:
        try:
            return _text(bundle.content(archive, bundle.JOB_NAME, bundle.MAX_JOB_BYTES), path)
        except KeyError:
            raise JobFileError(
                f"{path}: this archive has no {bundle.JOB_NAME} at its top: bundle it without a folder round it"
            ) from None


def _read_limited(path: Path, limit: int) -> bytes:
    """The file's bytes, never more than one beyond the limit."""
    with path.open("rb") as stream:
        return stream.read(limit + 1)


def _text(data: bytes, path: Path) -> str:
    if not data.strip():
        raise JobFileError(f"{path}: the file is empty: use its backup (.bak), or ask for it again")
    if len(data) > bundle.MAX_JOB_BYTES:
        raise JobFileError(f"{path}: larger than {bundle.MAX_JOB_BYTES // 1_000_000} MB, so this is no job.json")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise JobFileError(
            f"{path}: neither a job.json (text in UTF-8) nor a .transom bundle: give the job, not a photo of it"
        ) from None


def _photo_beside(path: Path, photo: Photo) -> bytes:
    folder = Path(os.path.realpath(path)).parent
    file = Path(os.path.realpath(folder / photo.file))
    if not file.is_relative_to(folder):
        raise PhotoError(photo.file, f"it lies outside the job's folder {folder}: copy the photo into that folder")
    if not file.is_file():
        raise PhotoError(photo.file, f"no such photo in {folder}: put it there, or correct the name in the job")
    return _read_limited(file, bundle.MAX_PHOTO_BYTES)


def _bundled_photo(path: Path, photo: Photo) -> bytes:
    try:
        with bundle.opened(path) as archive:
            return bundle.content(archive, photo.file, bundle.MAX_PHOTO_BYTES)
    except KeyError:
        raise PhotoError(photo.file, f"no such photo in {path}: bundle the job again with its photos") from None
    except JobFileError as refused:
        raise PhotoError(photo.file, str(refused)) from None
