"""
The one-file bundle seen from outside: a ZIP from a stranger, refused before anything in it can do harm.

Nothing is ever unpacked to disk; entries are read into memory under a limit, whatever their headers claim.
"""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from digitizer.errors import JobFileError
from digitizer.job.validation import name_fault

JOB_NAME = "job.json"
MAX_JOB_BYTES = 20_000_000
MAX_PHOTO_BYTES = 200_000_000
MAX_BUNDLE_BYTES = 2_000_000_000
MAX_ENTRIES = 500
ZIP_STARTS = (b"PK\x03\x04", b"PK\x05\x06")

_MAX_DIRECTORY_BYTES = MAX_ENTRIES * 1000
_END = struct.Struct("<4s4H2LH")
_END_SIGNATURE = b"PK\x05\x06"
_LARGE_LOCATOR_SIGNATURE = b"PK\x06\x07"
_LARGE_LOCATOR_BYTES = 20
_MAX_COMMENT_BYTES = 65_535
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, LookupError, NotImplementedError, RuntimeError, ValueError)
_DAMAGE_IN_HEADERS = (*_DAMAGE, struct.error, OverflowError)


@contextmanager
def opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """
    The bundle, its list of entries checked.

    Raises
    ------
    JobFileError
        If it is damaged or holds what no bundle of ours holds.
    """
    with path.open("rb") as stream:
        _check_directory(stream, str(path))
        try:
            archive = zipfile.ZipFile(stream)
        except _DAMAGE_IN_HEADERS:
            raise _damaged(str(path)) from None
        with archive:
            _check_entries(archive.infolist(), str(path))
            yield archive


def content(archive: zipfile.ZipFile, entry: str, limit: int) -> bytes:
    """
    The bytes of one entry, at most `limit` of them whatever the header says.

    Raises
    ------
    KeyError
        If there is no such entry.
    JobFileError
        If it is damaged, larger than the limit or an archive itself.
    """
    info = archive.getinfo(entry)
    name = str(archive.filename or "the bundle")
    try:
        with archive.open(info) as stream:
            data = stream.read(limit + 1)
    except _DAMAGE_IN_HEADERS:
        raise _damaged(f"{name}: {entry}") from None
    if len(data) > limit:
        raise JobFileError(f"{name}: {entry} is larger than {limit // 1_000_000} MB, so it was not read: leave it out")
    if data.startswith(ZIP_STARTS):
        raise JobFileError(
            f"{name}: {entry} is an archive inside the bundle: unpack it and bundle the photos themselves"
        )
    return data


def _damaged(name: str) -> JobFileError:
    return JobFileError(f"{name}: the archive is damaged: ask for it again, or use its backup (.bak)")


def _check_directory(stream: BinaryIO, name: str) -> None:
    """Refuse a list of entries too long to be held in memory, which `zipfile` would read whole."""
    length = stream.seek(0, 2)
    if length > MAX_BUNDLE_BYTES:
        raise JobFileError(f"{name}: larger than {MAX_BUNDLE_BYTES // 1_000_000} MB: leave some photos out")
    stream.seek(max(0, length - _MAX_COMMENT_BYTES - _END.size - _LARGE_LOCATOR_BYTES))
    tail = stream.read()
    position = _end_record(tail)
    if position is None:
        raise _damaged(name)
    directory_bytes = _END.unpack_from(tail, position)[5]
    large = tail[max(0, position - _LARGE_LOCATOR_BYTES) : position].startswith(_LARGE_LOCATOR_SIGNATURE)
    if large or directory_bytes > _MAX_DIRECTORY_BYTES:
        raise _too_many(name)


def _end_record(tail: bytes) -> int | None:
    """Where the archive's list is described: the very end, or before a comment; `zipfile` looks in the same order."""
    at_end = len(tail) - _END.size
    if at_end >= 0 and tail.startswith(_END_SIGNATURE, at_end) and tail.endswith(b"\0\0"):
        return at_end
    before_comment = tail.rfind(_END_SIGNATURE)
    return before_comment if 0 <= before_comment <= at_end else None


def _too_many(name: str) -> JobFileError:
    return JobFileError(f"{name}: more than {MAX_ENTRIES} entries, or an archive beyond 4 GB: leave some photos out")


def _check_entries(entries: Sequence[zipfile.ZipInfo], name: str) -> None:
    if len(entries) > MAX_ENTRIES:
        raise _too_many(name)
    if sum(entry.file_size for entry in entries) > MAX_BUNDLE_BYTES:
        raise JobFileError(
            f"{name}: unpacked, it would exceed {MAX_BUNDLE_BYTES // 1_000_000} MB: leave some photos out"
        )
    seen: set[str] = set()
    for entry in entries:
        if fault := _fault(entry, seen):
            raise JobFileError(f"{name}: entry {ascii(entry.filename)[:100]}: {fault}")
        seen.add(entry.filename)


def _fault(entry: zipfile.ZipInfo, seen: set[str]) -> str | None:
    if entry.filename in seen:
        return "the name is there twice: keep one of them"
    if entry.flag_bits & 0x1:
        return "it is encrypted: bundle the photos without a password"
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "its compression is not one of the two allowed (stored, deflated): bundle it anew"
    if entry.file_size > MAX_PHOTO_BYTES:
        return f"larger than {MAX_PHOTO_BYTES // 1_000_000} MB: leave it out"
    return name_fault(entry.filename)
