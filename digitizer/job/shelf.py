"""The photos of an open job: where they lie, and those already read, so that one deleted meanwhile isn't lost."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from threading import Lock

from digitizer.errors import PhotoError
from digitizer.job import bundle
from digitizer.job.model import Photo
from digitizer.job.reading import JobFile, check_fingerprint, photo_bytes


class PhotoShelf:
    """
    Photo files by the id of their photo; safe to use from several threads.

    Parameters
    ----------
    job_file
        The file the job was read from or last saved to, with its photos; None for a job never saved.
    loose
        Where photos lie that were added since, by id.
    """

    def __init__(self, job_file: JobFile | None = None, loose: Mapping[str, Path] | None = None) -> None:
        self._lock = Lock()
        self._job_file = job_file
        self._loose = dict(loose or {})
        self._kept: dict[str, bytes] = {}

    @property
    def job_file(self) -> JobFile | None:
        """The file that holds or neighbours the photos that aren't loose."""
        return self._job_file

    @property
    def loose(self) -> dict[str, Path]:
        """Where photos lie that are not part of the job's file yet."""
        with self._lock:
            return dict(self._loose)

    def add(self, photo_id: str, path: Path) -> None:
        """Put a photo on the shelf that lies anywhere on the disk."""
        with self._lock:
            self._loose[photo_id] = path.absolute()
            self._kept.pop(photo_id, None)

    def saved_as(self, job_file: JobFile, lacking: frozenset[str] = frozenset()) -> None:
        """Know that the photos are in a new file now, except those that it is `lacking`."""
        with self._lock:
            self._job_file = job_file
            self._loose = {photo_id: path for photo_id, path in self._loose.items() if photo_id in lacking}

    def data(self, photo: Photo) -> bytes:
        """
        The untouched file of a photo: as it was when first read, even if it was deleted since.

        Raises
        ------
        PhotoError
            If it was never read and is missing, too large, damaged or another photo than the one marked.
        """
        with self._lock:
            kept = self._kept.get(photo.id)
        if kept is None:
            kept = self._read(photo)
            with self._lock:
                self._kept[photo.id] = kept
        check_fingerprint(photo, kept)
        return kept

    def _read(self, photo: Photo) -> bytes:
        path = self.loose.get(photo.id)
        if path is not None:
            return _loose_bytes(path, photo)
        if self._job_file is None:
            raise PhotoError(photo.file, "nobody knows where this photo lies: add it to the job again")
        return photo_bytes(self._job_file, photo)


def _loose_bytes(path: Path, photo: Photo) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(bundle.MAX_PHOTO_BYTES + 1)
    except OSError as problem:
        reason = f"it is no longer at {path} ({problem.strerror}): put it back, or add it to the job again"
        raise PhotoError(photo.file, reason) from problem
