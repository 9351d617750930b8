"""A job written under a new name, by the verbs that change one."""

from __future__ import annotations

from pathlib import Path

from digitizer.errors import ReportError
from digitizer.job.model import Job
from digitizer.job.reading import JobFile, photo_bytes
from digitizer.job.writing import write_bundle, write_job_json
from digitizer.reports.destinations import Kind, check_destination

_BUNDLE = ".transom"


def check_new_job(job_file: JobFile, path: Path) -> None:
    """
    Refuse a place for a new job that would cost something, or where a plain job would not find its photos.

    Raises
    ------
    ReportError
    """
    beside = job_file.path.parent
    sources = (job_file.path, *(beside / photo.file for photo in job_file.job.photos))
    check_destination(path, Kind.BUNDLE if path.suffix == _BUNDLE else Kind.JOB, sources)
    if path.suffix != _BUNDLE and (job_file.bundled or path.resolve().parent != beside.resolve()):
        raise ReportError(
            str(path), f"a plain job must lie beside its photos: write it there, or name it something{_BUNDLE}"
        )


def write_new_job(job_file: JobFile, job: Job, path: Path) -> None:
    """Write `job`, with the photos of the file it came from inside where its name asks for that."""
    if path.suffix == _BUNDLE:
        write_bundle(job, lambda photo: photo_bytes(job_file, photo), path)
    else:
        write_job_json(job, path)
