"""
The lock of an open job, so that a second window on it can warn before one overwrites the other.

A small file beside the job names who has it open. In a folder where nothing can be written it lies in a folder of
this user's instead. A lock whose program is dead counts for nothing. It warns; it forbids nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from digitizer.job.holder import Holder, holder_from, this_process

_JUST_BEGUN_S = 10.0
_MOST_BYTES = 10_000


@dataclass(frozen=True)
class InUse:
    """Who has the job open, and since when. Falsy, so that ``if lock:`` reads as it should."""

    holder: Holder | None
    """None where the lock can't be read."""
    since: datetime

    def __bool__(self) -> bool:
        return False

    @property
    def elsewhere(self) -> str:
        """Name of the other computer; empty where it is this one."""
        return "" if self.holder is None or self.holder.is_here() else self.holder.host


@dataclass(frozen=True)
class JobLock:
    """The right to the job until it is released; `file` is None where nothing could be written to tell others."""

    file: Path | None
    _text: str = ""

    def release(self) -> None:
        """Let others have the job; a lock that somebody else took over meanwhile is left alone."""
        if self.file is None:
            return
        with suppress(OSError):
            if self.file.read_text(encoding="utf-8") == self._text:
                self.file.unlink()


def lock_job(path: Path, spare_folder: Path, by_force: bool = False) -> JobLock | InUse:
    """
    Take the lock of the job at `path`, or say who has it.

    Parameters
    ----------
    path
        The job's file, which need not exist yet.
    spare_folder
        Where the lock lies if the job's own folder can't be written to, such as ``files.state_folder() / "locks"``.
    by_force
        Take it though somebody has it.
    """
    places = _places(path, spare_folder)
    if not by_force and (users := [user for place in places if (user := _user(place)) is not None]):
        return users[0]
    text = json.dumps(asdict(this_process()) | {"since": time.time_ns()})
    for place in places:
        if _is_written(place, text):
            return JobLock(place, text)
    return JobLock(None)


def _places(path: Path, spare_folder: Path) -> tuple[Path, Path]:
    job = Path(os.path.realpath(path))
    number = hashlib.sha256(str(job).encode(errors="surrogateescape")).hexdigest()[:32]
    return job.with_name(f".{job.name}.lock"), spare_folder / f"{number}.lock"


def _user(lock: Path) -> InUse | None:
    """Who holds the lock; None where there is none, or only what a dead program left."""
    try:
        with lock.open("rb") as stream:
            data = stream.read(_MOST_BYTES)
        changed = lock.stat().st_mtime
    except OSError:
        return None
    try:
        fields = json.loads(data)
        user = InUse(holder_from(fields), datetime.fromtimestamp(int(fields["since"]) / 1e9))
        return None if user.holder and user.holder.is_alive() is False else user
    except (ValueError, KeyError, TypeError, OverflowError, OSError):
        # Half a lock: somebody is writing it this moment, or was killed doing so.
        recent = time.time() - changed < _JUST_BEGUN_S
        return InUse(None, datetime.fromtimestamp(changed)) if recent else None


def _is_written(lock: Path, text: str) -> bool:
    """Put a lock in place of what a dead program left, or of one that is taken over."""
    with suppress(OSError):
        lock.unlink()
    try:
        lock.parent.mkdir(parents=True, exist_ok=True)
        with lock.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except OSError:
        return False
    return True
