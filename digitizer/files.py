"""
Putting a new file in the place of an old one so that no accident can lose both, and where the program keeps its own.

The bytes go to a file beside the destination, are flushed to the disk, and only then take its name.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from digitizer.errors import DigitizerError

_PROGRAM = "digitizer"
_LEFT_BEHIND_S = 3600.0  # no file takes an hour to write
_NOT_ALLOWED = "writing is not allowed here, so nothing was written: choose a folder of your own"
_DISK_FULL = "the disk is full, so nothing was written: free some space or choose another disk"
_REASONS = {
    errno.ENOSPC: _DISK_FULL,
    errno.EDQUOT: _DISK_FULL,
    errno.EACCES: _NOT_ALLOWED,
    errno.EPERM: _NOT_ALLOWED,
    errno.EROFS: _NOT_ALLOWED,
    errno.ENOENT: "there is no such folder: make it first or choose another",
    errno.ENOTDIR: "part of this path is a file, not a folder: choose another place",
    errno.EISDIR: "this is a folder: give the name of a file in it",
    errno.EEXIST: "this is not an ordinary file, so it was left alone: choose another name",
    errno.ENAMETOOLONG: "the name is too long: choose a shorter one",
}


@contextmanager
def replacing(
    path: Path, refusal: Callable[[str, str], DigitizerError], keep_backup: bool = False
) -> Iterator[BinaryIO]:
    """
    A stream whose bytes become the file `path` when the block ends well.

    When the block or the disk fails, the old file stays as it was and nothing is left beside it. A failure
    of the disk includes any ``OSError`` raised in the block, so read what else you need before opening it.

    Parameters
    ----------
    path
        Destination; a symbolic link keeps pointing to the file that is replaced. Permissions of an old file stay.
    refusal
        Makes the error from the destination and the reason, such as ``errors.ReportError``.
    keep_backup
        Whether the old file remains beside the new one, as ``<name>.bak``.

    Raises
    ------
    DigitizerError
        What `refusal` made: the disk is full, writing isn't allowed, there is no such folder …
    """
    destination = Path(os.path.realpath(path))
    fresh = _beside(destination)
    try:
        _check_replaceable(destination)
        with fresh.open("xb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        if destination.exists():
            shutil.copymode(destination, fresh)
            if keep_backup:
                _back_up(destination)
        fresh.replace(destination)
        _flush_folder(destination.parent)
    except OSError as problem:
        raise refusal(str(path), _reason(problem)) from problem
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def state_folder() -> Path:
    """Where the platform lets a program keep what it must remember between runs, such as unsaved work."""
    from platformdirs import user_state_path  # only the window keeps anything

    return user_state_path(_PROGRAM, appauthor=False)


def settings_folder() -> Path:
    """Where the platform keeps a user's settings for the program."""
    from platformdirs import user_config_path

    return user_config_path(_PROGRAM, appauthor=False)


def made_folder(path: Path, refusal: Callable[[str, str], DigitizerError]) -> Path:
    """
    The folder, made with those above it where it isn't there.

    Raises
    ------
    DigitizerError
        What `refusal` made of the destination and the reason.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise refusal(str(path), _reason(problem)) from problem
    return path


def remove_leftovers(path: Path) -> None:
    """Remove what a write to `path` left beside it when the program was killed in the middle, over an hour ago."""
    destination = Path(os.path.realpath(path))
    for left in destination.parent.glob(f".{_short_name(destination)}-*.part"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _LEFT_BEHIND_S:
                left.unlink()


def _beside(path: Path) -> Path:
    """A name nobody uses in the same folder, hence on the same disk: only there is a rename all or nothing."""
    return path.with_name(f".{_short_name(path)}-{secrets.token_hex(8)}.part")


def _short_name(path: Path) -> str:
    """A few letters that stand for a file's name, however long it is."""
    return hashlib.sha256(path.name.encode(errors="surrogateescape")).hexdigest()[:12]


def _check_replaceable(path: Path) -> None:
    """Refuse what a rename would replace without asking: a device, a pipe, a write-protected file."""
    if path.is_dir():
        raise OSError(errno.EISDIR, os.strerror(errno.EISDIR))
    if path.exists() and not path.is_file():
        raise OSError(errno.EEXIST, os.strerror(errno.EEXIST))
    if path.exists() and not os.access(path, os.W_OK):
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))


def _back_up(path: Path) -> None:
    """Give the old file a second name; copy it where the disk knows no second names, as on memory sticks."""
    spare = _beside(path)
    try:
        try:
            spare.hardlink_to(path)
        except OSError:
            shutil.copy2(path, spare)
        spare.replace(path.with_name(f"{path.name}.bak"))
    finally:
        spare.unlink(missing_ok=True)


def _flush_folder(folder: Path) -> None:
    """Make the rename itself survive a power cut, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _reason(problem: OSError) -> str:
    """The system's complaint in words that say what to do."""
    known = _REASONS.get(problem.errno or 0)
    return known or f"it could not be written ({problem.strerror or problem}), so nothing was changed"
