"""Saving an open job: whole or not at all, and a lost photo costs only itself."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from digitizer.errors import JobFileError, PhotoError
from digitizer.files import remove_leftovers
from digitizer.job.model import Mark, MarkKind, Photo
from digitizer.job.reading import photo_bytes, read_job
from digitizer.job.saving import save_job
from digitizer.job.shelf import PhotoShelf
from tests.job.open_jobs import JOB, SIDE, STERN, loose_photos, names


@pytest.mark.parametrize("name", ["boat.transom", "boat.json"], ids=["one-file", "photos-beside"])
def test_saved_job_reads_back_with_its_photos(tmp_path: Path, name: str) -> None:
    """A job begun from a camera's folder is complete in its new place, whatever becomes of that folder."""
    shelf = loose_photos(tmp_path / "camera")
    saved = save_job(JOB, shelf, tmp_path / name)
    for photo in (tmp_path / "camera").iterdir():
        photo.unlink()
    found = read_job(tmp_path / name)
    assert (found, saved.lacking, shelf.loose) == (saved.job_file, (), {})
    assert [photo_bytes(found, photo)[:5] for photo in found.job.photos] == [b"DSC_1", b"DSC_2"]


def test_photo_deleted_after_it_was_read_is_saved_all_the_same(tmp_path: Path) -> None:
    """What the window once showed it can still save."""
    shelf = loose_photos(tmp_path / "camera")
    seen = shelf.data(STERN)
    (tmp_path / "camera/DSC_1.jpg").unlink()
    saved = save_job(JOB, shelf, tmp_path / "boat.transom")
    assert saved.lacking == ()
    assert photo_bytes(saved.job_file, STERN) == seen


def test_photo_deleted_unread_is_named_and_the_rest_saved(tmp_path: Path) -> None:
    """One lost photo costs neither the records nor the other photo, and can still be put back."""
    shelf = loose_photos(tmp_path / "camera")
    (tmp_path / "camera/DSC_2.jpg").rename(tmp_path / "elsewhere.jpg")
    saved = save_job(JOB, shelf, tmp_path / "boat.transom")
    assert [refused.file for refused in saved.lacking] == ["photos/side.jpg"]
    assert "no longer at" in str(saved.lacking[0])
    found = read_job(tmp_path / "boat.transom")
    assert found.job == JOB
    assert photo_bytes(found, STERN)
    with pytest.raises(PhotoError, match="no such photo"):
        photo_bytes(found, SIDE)
    (tmp_path / "elsewhere.jpg").rename(tmp_path / "camera/DSC_2.jpg")
    assert save_job(JOB, shelf, tmp_path / "boat.transom").lacking == ()


def test_photos_come_out_of_the_bundle_that_is_replaced(tmp_path: Path) -> None:
    """Saving over the file that the photos are in keeps them; the version before stays as the backup."""
    save_job(JOB, loose_photos(tmp_path / "camera"), tmp_path / "boat.transom")
    found = read_job(tmp_path / "boat.transom")
    changed = replace(found.job, title="Renamed")
    assert save_job(changed, PhotoShelf(found), found.path).lacking == ()
    assert read_job(tmp_path / "boat.transom").job.title == "Renamed"
    assert read_job(tmp_path / "boat.transom.bak").job.title == "Invented boat"


def test_file_of_the_same_name_beside_a_plain_job_is_left_alone(tmp_path: Path) -> None:
    """A photo never replaces another file that lies where it should go."""
    (tmp_path / "stern.jpg").write_bytes(b"another boat")
    saved = save_job(JOB, loose_photos(tmp_path / "camera"), tmp_path / "job.json")
    assert "another file of that name" in str(saved.lacking[0])
    assert (tmp_path / "stern.jpg").read_bytes() == b"another boat"


@pytest.mark.parametrize("name", ["boat.transom", "boat.json"], ids=["one-file", "photos-beside"])
def test_full_disk_leaves_the_old_version_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A save that meets a full disk costs nothing, and the next one works."""
    shelf = loose_photos(tmp_path / "camera")
    save_job(JOB, shelf, tmp_path / name)
    before = (tmp_path / name).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(JobFileError, match="the disk is full"):
            save_job(replace(JOB, title="Renamed"), shelf, tmp_path / name)
    assert (tmp_path / name).read_bytes() == before
    assert not [each for each in names(tmp_path) if each.endswith(".part")]
    save_job(replace(JOB, title="Renamed"), shelf, tmp_path / name)
    assert read_job(tmp_path / name).job.title == "Renamed"


def test_unsound_job_writes_nothing(tmp_path: Path) -> None:
    """A job that could not be read again is refused before a single photo is laid down."""
    unsound = replace(JOB, marks=(Mark("keel", "nowhere", MarkKind.KEEL, 1.0, 2.0),))
    shelf = loose_photos(tmp_path / "camera")
    with pytest.raises(JobFileError, match="nowhere"):
        save_job(unsound, shelf, tmp_path / "job.json")
    assert names(tmp_path) == {"camera"}
    assert set(shelf.loose) == {"stern", "side"}


_SAVE_AND_HANG = """
import sys, time
from pathlib import Path
from digitizer.job.reading import read_job
from digitizer.job.writing import write_bundle

def slow(photo):
    if photo.id == "side":
        print("half", flush=True)
        time.sleep(60)
    return b"new" * 100_000

path = Path(sys.argv[1])
write_bundle(read_job(path).job, slow, path)
"""


def test_killed_in_the_middle_of_a_save(tmp_path: Path) -> None:
    """kill -9 while the photos are being written leaves the old file whole; what is left beside it goes later."""
    path = tmp_path / "boat.transom"
    save_job(JOB, loose_photos(tmp_path / "camera"), path)
    before = path.read_bytes()
    saving = subprocess.Popen([sys.executable, "-c", _SAVE_AND_HANG, str(path)], stdout=subprocess.PIPE)
    assert saving.stdout is not None
    with saving.stdout as told:
        assert told.readline() == b"half\n"
    saving.send_signal(signal.SIGKILL)
    saving.wait(timeout=30)
    assert path.read_bytes() == before
    (left,) = tmp_path.glob(".*.part")
    remove_leftovers(path)
    assert left.exists()  # another program might still be writing it
    os.utime(left, (time.time() - 4000,) * 2)
    remove_leftovers(path)
    assert names(tmp_path) == {"boat.transom", "camera"}


def test_photo_that_nobody_placed_is_refused(tmp_path: Path) -> None:
    """A photo record without a file is told apart from a file that went away."""
    with pytest.raises(PhotoError, match="nobody knows where"):
        PhotoShelf().data(Photo("stern", "stern.jpg"))


def test_photo_exchanged_on_disk_is_refused_by_its_fingerprint(tmp_path: Path) -> None:
    """A file of the same name with other content is not taken for the photo that was marked."""
    shelf = loose_photos(tmp_path / "camera")
    with pytest.raises(PhotoError, match="not the photo that was marked"):
        shelf.data(replace(STERN, sha256="0" * 64))
