"""
Unsaved work kept aside while a job is open, and found again after a crash.

A recovery file holds the job's records and where its photos lie, not the photos. The last two versions are kept,
each written whole before it takes its name. The window decides when to keep; nothing here runs by itself.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from digitizer.errors import DigitizerError, JobFileError
from digitizer.files import made_folder, remove_leftovers, replacing
from digitizer.job.bundle import MAX_JOB_BYTES
from digitizer.job.holder import Holder, holder_from, this_process
from digitizer.job.model import Job
from digitizer.job.reading import JobFile
from digitizer.job.shelf import PhotoShelf
from digitizer.job.writing import job_json

_T = TypeVar("_T")
_FORMAT = 1
_SUFFIX = ".recovery"
_DAMAGE = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)


class Keeper:
    """
    Keeps the unsaved work of one open job.

    Parameters
    ----------
    folder
        Where recovery files lie, such as ``files.state_folder() / "recovery"``; made if need be.
    """

    def __init__(self, folder: Path) -> None:
        self.file = folder / f"{secrets.token_hex(8)}{_SUFFIX}"

    def keep(self, job: Job, shelf: PhotoShelf) -> None:
        """
        Put the job's records aside, in place of those kept before, which stay as ``.bak``.

        Raises
        ------
        JobFileError
            If the disk is full or writing isn't allowed; what was kept before is then as it was.
        """
        made_folder(self.file.parent, _refusal)
        with replacing(self.file, _refusal, keep_backup=True) as stream:
            stream.write(_text(job, shelf).encode())

    def close(self) -> None:
        """Forget what was kept, because it was saved or is not wanted; never fails."""
        discard(self.file)


@dataclass(frozen=True)
class Recovery:
    """Work that a window did not live to save."""

    file: Path
    when: datetime
    """When it was last put aside, local time."""
    job: Job
    job_path: Path | None
    """The file it was opened from; None for a job never saved."""
    bundled: bool
    loose: dict[str, Path]
    """Where photos lie that were added since the last save, by id."""
    host: str = ""
    """The computer it was kept on, where that is another one: its window may still be open there."""

    def shelf(self) -> PhotoShelf:
        """The photos of the recovered job, as far as they are still where they were."""
        source = JobFile(self.job, self.job_path, self.bundled) if self.job_path else None
        return PhotoShelf(source, self.loose)

    def discard(self) -> None:
        """Remove the recovery file, once its work is saved or not wanted."""
        discard(self.file)


@dataclass(frozen=True)
class Recoverable:
    """What was found in the folder of recovery files."""

    found: tuple[Recovery, ...] = ()
    """Newest first."""
    damaged: tuple[tuple[Path, str], ...] = ()
    """Files that hold nothing readable, each with a sentence."""


def recoverable(folder: Path) -> Recoverable:
    """
    The work of windows that ended without closing; that of windows still open on this computer is left alone.

    Where the last version of a file is damaged, the one before it is taken.
    """
    found: list[Recovery] = []
    damaged: list[tuple[Path, str]] = []
    for file in _files(folder):
        remove_leftovers(file)
        try:
            recovery = _read(file)
        except DigitizerError as refused:
            damaged.append((file, str(refused)))
        else:
            found += [recovery] if recovery else []
    return Recoverable(tuple(sorted(found, key=lambda each: each.when, reverse=True)), tuple(damaged))


def discard(file: Path) -> None:
    """Remove a recovery file and its older version; one that can't be removed stays and is offered again."""
    for each in (file, _older(file)):
        with suppress(OSError):
            each.unlink(missing_ok=True)


def _files(folder: Path) -> list[Path]:
    """Each recovery file once, also where only its older version is left."""
    try:
        names = {path.name.removesuffix(".bak") for path in folder.iterdir()}
    except OSError:
        return []
    return sorted(folder / name for name in names if name.endswith(_SUFFIX) and not name.startswith("."))


def _older(file: Path) -> Path:
    return file.with_name(f"{file.name}.bak")


def _text(job: Job, shelf: PhotoShelf) -> str:
    records = job_json(job)
    source = shelf.job_file
    fields = {
        "recovery": _FORMAT,
        "when": datetime.now().isoformat(timespec="seconds"),
        "holder": asdict(this_process()),
        "job_path": str(source.path.absolute()) if source else None,
        "bundled": source is not None and source.bundled,
        "loose": {photo_id: str(path) for photo_id, path in shelf.loose.items()},
        "sha256": hashlib.sha256(records.encode()).hexdigest(),
        "job": records,
    }
    return json.dumps(fields, ensure_ascii=False, indent=1)


def _read(file: Path) -> Recovery | None:
    """The newer of the two versions that can be read; None where its window is still open."""
    try:
        return _version(file, file)
    except DigitizerError as refused:
        try:
            return _version(_older(file), file)
        except DigitizerError:
            raise refused from None


def _version(path: Path, file: Path) -> Recovery | None:
    fields: dict[str, Any] = _parsed(path, lambda: json.loads(_content(path)))
    holder = _parsed(path, lambda: holder_from(fields["holder"]))
    if holder.is_alive():
        return None
    return _parsed(path, lambda: _recovery(fields, holder, path, file))


def _recovery(fields: dict[str, Any], holder: Holder, path: Path, file: Path) -> Recovery:
    from digitizer.job.fields import job_from_text  # brings pydantic

    records = fields["job"]
    if fields["recovery"] != _FORMAT or hashlib.sha256(records.encode()).hexdigest() != fields["sha256"]:
        raise ValueError
    return Recovery(
        file=file,
        when=datetime.fromisoformat(fields["when"]),
        job=job_from_text(records, str(path)),
        job_path=Path(fields["job_path"]) if fields["job_path"] else None,
        bundled=bool(fields["bundled"]),
        loose={str(photo_id): Path(place) for photo_id, place in fields["loose"].items()},
        host="" if holder.is_here() else holder.host,
    )


def _content(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(2 * MAX_JOB_BYTES)
    except OSError as problem:
        raise _refusal(str(path), f"the recovery file can't be read ({problem.strerror or problem})") from problem


def _parsed(path: Path, read: Callable[[], _T]) -> _T:
    try:
        return read()
    except _DAMAGE:
        raise _refusal(
            str(path),
            "the recovery file is damaged, so the unsaved work in it is lost; the job as last saved is untouched. "
            "Remove the file, or keep it for somebody who can look into it",
        ) from None


def _refusal(destination: str, reason: str) -> JobFileError:
    return JobFileError(f"{destination}: {reason}")
