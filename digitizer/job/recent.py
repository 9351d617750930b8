"""The jobs that were open lately, newest first, kept as a small JSON file among the user's settings."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from digitizer.errors import DigitizerError, JobFileError
from digitizer.files import made_folder, replacing

RECENT_AT_MOST = 12
_MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class RecentJob:
    """A job that was open lately."""

    path: Path
    title: str = ""
    missing: bool = False
    """The file is not there at present: moved, removed, or on a disk that isn't plugged in."""


def recent_jobs(file: Path) -> tuple[RecentJob, ...]:
    """The list in `file`, newest first; a file that can't be read is an empty list."""
    return tuple(RecentJob(path, title, not _is_there(path)) for path, title in _entries(file))


def remember_job(file: Path, path: Path, title: str = "") -> None:
    """Put a job at the head of the list; a list that can't be written is no reason to stop, and stays as it was."""
    path = path.absolute()
    _write(file, [(path, title), *(entry for entry in _entries(file) if entry[0] != path)])


def forget_job(file: Path, path: Path) -> None:
    """Take a job off the list."""
    _write(file, [entry for entry in _entries(file) if entry[0] != path.absolute()])


def _entries(file: Path) -> list[tuple[Path, str]]:
    try:
        with file.open("rb") as stream:
            entries = json.loads(stream.read(_MOST_BYTES))["recent"]
        return [_entry(fields) for fields in entries][:RECENT_AT_MOST]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []


def _entry(fields: Any) -> tuple[Path, str]:
    return Path(fields["path"]), str(fields["title"])


def _write(file: Path, entries: list[tuple[Path, str]]) -> None:
    record = {"recent": [{"path": str(path), "title": title} for path, title in entries[:RECENT_AT_MOST]]}
    with suppress(DigitizerError):
        made_folder(file.parent, _refusal)
        with replacing(file, _refusal) as stream:
            stream.write(json.dumps(record, ensure_ascii=False, indent=1).encode(errors="replace"))


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _refusal(destination: str, reason: str) -> JobFileError:
    return JobFileError(f"{destination}: {reason}")
