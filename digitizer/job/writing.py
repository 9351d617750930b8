"""
Writing a job so that a person can read the file and nothing is ever half written.

What is written can be read again: a job that `read_job` would refuse is refused here, the old file untouched.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from digitizer.errors import JobFileError
from digitizer.files import replacing
from digitizer.job.bundle import JOB_NAME, MAX_BUNDLE_BYTES
from digitizer.job.model import Job, Photo
from digitizer.job.reading import check_fingerprint

_NO_TIME = (1980, 1, 1, 0, 0, 0)
_ORDINARY_FILE = 0o644 << 16


def job_json(job: Job) -> str:
    """
    The job as JSON, one record a line, in the order of the records' fields.

    What has its usual value is left out, except the format. Numbers are written as the shortest text that
    reads back as the same double, so that reading gives an equal job, and equal jobs give the same text.
    """
    entries = {"format": job.format} | _plain(job)
    lines = [f"  {json.dumps(name)}: {_laid_out(value)}" for name, value in entries.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def write_job_json(job: Job, path: Path) -> None:
    """
    Write a plain `job.json`; the previous one stays beside it as ``.bak``.

    Raises
    ------
    JobFileError
        If the job isn't sound, or the disk is full or write-protected; the old file is then as it was.
    """
    text = _checked_text(job, path)
    with replacing(path, _refusal, keep_backup=True) as stream:
        stream.write(text)


def write_bundle(job: Job, photo_bytes: Callable[[Photo], bytes | None], path: Path) -> None:
    """
    Write job and photos as one file; the previous one stays beside it as ``.bak``.

    The same job and photos give the same bytes: no times are recorded and nothing is compressed.

    Parameters
    ----------
    photo_bytes
        Gives the untouched file of each photo, such as ``partial(reading.photo_bytes, job_file)``; None leaves
        the photo out and its record in.

    Raises
    ------
    JobFileError
        If the job isn't sound, or the disk is full or write-protected; the old file is then as it was.
    PhotoError
        If a photo isn't the one whose fingerprint the job has.
    """
    text = _checked_text(job, path)
    with replacing(path, _refusal, keep_backup=True) as stream, zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(_entry(JOB_NAME), text)
        for photo in job.photos:
            data = photo_bytes(photo)
            if data is None:
                continue
            check_fingerprint(photo, data)
            archive.writestr(_entry(photo.file), data)
            if stream.tell() > MAX_BUNDLE_BYTES:
                raise _refusal(str(path), f"the photos exceed {MAX_BUNDLE_BYTES // 1_000_000} MB: leave some out")


def check_job(job: Job, path: Path) -> None:
    """
    Refuse a job that `read_job` would refuse after it had been written to `path`.

    Raises
    ------
    JobFileError
        With all places that need correcting.
    """
    _checked_text(job, path)


def _refusal(destination: str, reason: str) -> JobFileError:
    return JobFileError(f"{destination}: {reason}")


def _checked_text(job: Job, path: Path) -> bytes:
    from digitizer.job.fields import job_from_text  # brings pydantic, which importing this module need not

    text = job_json(job)
    job_from_text(text, f"{path} was not written")
    return text.encode()


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _NO_TIME)
    entry.create_system = 3
    entry.external_attr = _ORDINARY_FILE
    return entry


def _plain(value: Any) -> Any:
    """Records, tuples and enumerations as the objects, lists and words of JSON."""
    if is_dataclass(value):
        return dict(_telling(value))
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    return _number(value) if isinstance(value, float) else value


def _number(value: float) -> float:
    """A whole number without its .0, as people write it, where the text stays short and −0.0 isn't lost."""
    whole = value.is_integer() and abs(value) < 1e15
    return int(value) if whole and repr(value) != "-0.0" else value


def _telling(record: Any) -> Iterator[tuple[str, Any]]:
    """The fields that differ from their defaults, compared as text because −0.0 is not 0.0 to everyone."""
    for field in fields(record):
        value = _plain(getattr(record, field.name))
        if repr(value) != repr(_plain(_default(field))):
            yield field.name, value


def _default(field: Field[Any]) -> Any:
    return field.default_factory() if field.default_factory is not MISSING else field.default


def _laid_out(value: Any) -> str:
    """Lists of records one record a line; everything else on its line."""
    if isinstance(value, list):
        return "[\n" + ",\n".join(f"    {json.dumps(item, ensure_ascii=False)}" for item in value) + "\n  ]"
    return json.dumps(value, ensure_ascii=False)
