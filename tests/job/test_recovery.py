"""Unsaved work after a crash: found again, whole, and damage is told in a sentence."""

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

from digitizer.errors import JobFileError
from digitizer.job.holder import Holder, this_process
from digitizer.job.reading import read_job
from digitizer.job.recovery import Keeper, recoverable
from digitizer.job.saving import save_job
from digitizer.job.shelf import PhotoShelf
from tests.job.open_jobs import JOB, STERN, as_if_crashed, dead_process, loose_photos, names


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "state" / "recovery"


@pytest.fixture(scope="module")
def dead() -> Holder:
    return dead_process()


def test_work_never_saved_is_found_with_its_photos(tmp_path: Path, folder: Path, dead: Holder) -> None:
    """A job that had no file yet comes back, and its photos from where they lay."""
    keeper = Keeper(folder)
    keeper.keep(JOB, loose_photos(tmp_path / "camera"))
    as_if_crashed(keeper.file, dead)
    (recovery,) = recoverable(folder).found
    assert (recovery.job, recovery.job_path, recovery.host) == (JOB, None, "")
    assert recovery.shelf().data(STERN).startswith(b"DSC_1")
    recovery.discard()
    assert names(folder) == set()


def test_work_on_a_saved_job_knows_its_file(tmp_path: Path, folder: Path, dead: Holder) -> None:
    """Edits since the last save come back, the photos from inside the saved file, which itself is untouched."""
    path = tmp_path / "boat.transom"
    shelf = loose_photos(tmp_path / "camera")
    save_job(JOB, shelf, path)
    before = path.read_bytes()
    keeper = Keeper(folder)
    keeper.keep(replace(JOB, title="Edited"), shelf)
    as_if_crashed(keeper.file, dead)
    (recovery,) = recoverable(folder).found
    assert (recovery.job.title, recovery.job_path, recovery.bundled) == ("Edited", path, True)
    assert recovery.shelf().data(STERN).startswith(b"DSC_1")
    assert path.read_bytes() == before


def test_open_windows_work_is_left_alone(tmp_path: Path, folder: Path) -> None:
    """What a living window keeps is not offered to another one."""
    Keeper(folder).keep(JOB, PhotoShelf())
    assert recoverable(folder).found == ()


def test_work_of_another_computer_is_offered_with_its_name(folder: Path) -> None:
    """A shared home folder may hold another computer's work, whose window may be open."""
    keeper = Keeper(folder)
    keeper.keep(JOB, PhotoShelf())
    as_if_crashed(keeper.file, replace(this_process(), host="the-yard"))
    assert [recovery.host for recovery in recoverable(folder).found] == ["the-yard"]


def test_clean_close_leaves_nothing(folder: Path) -> None:
    """A window that closes takes both kept versions with it, and closing twice is no mistake."""
    keeper = Keeper(folder)
    keeper.keep(JOB, PhotoShelf())
    keeper.keep(JOB, PhotoShelf())
    assert len(names(folder)) == 2
    keeper.close()
    keeper.close()
    assert names(folder) == set()


def kept_twice(folder: Path, dead: Holder) -> Path:
    """A recovery file and the version before it, of a window that died."""
    keeper = Keeper(folder)
    for title in ("first", "second"):
        keeper.keep(replace(JOB, title=title), PhotoShelf())
        as_if_crashed(keeper.file, dead)
    return keeper.file


DAMAGE = {
    "cut short": lambda data: data[: len(data) // 2],
    "empty": lambda _: b"",
    "zeros after a power cut": lambda data: bytes(len(data)),
    "one letter changed": lambda data: data.replace(b"second", b"sEcond"),
    "another program's": lambda _: b'{"hello": [1, 2, 3]}',
    "a list": lambda _: b"[]",
    "deep brackets": lambda _: b"[" * 100_000,
    "a later format": lambda data: data.replace(b'"recovery": 1', b'"recovery": 9'),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damaged_file_gives_way_to_the_version_before(folder: Path, dead: Holder, damage: str) -> None:
    """Of two kept versions the older one is taken when the newer one is spoilt."""
    file = kept_twice(folder, dead)
    file.write_bytes(DAMAGE[damage](file.read_bytes()))
    assert [recovery.job.title for recovery in recoverable(folder).found] == ["first"]


@pytest.mark.parametrize("damage", DAMAGE)
def test_damage_in_both_versions_is_told_and_harms_nothing_else(folder: Path, dead: Holder, damage: str) -> None:
    """A spoilt file is reported in a sentence while the other windows' work is found; it stays until discarded."""
    spoilt, sound = kept_twice(folder, dead), kept_twice(folder, dead)
    spoilt.write_bytes(DAMAGE[damage](spoilt.read_bytes()))
    spoilt.with_name(f"{spoilt.name}.bak").unlink()
    there = recoverable(folder)
    assert [recovery.file for recovery in there.found] == [sound]
    ((file, sentence),) = there.damaged
    assert file == spoilt
    assert "is damaged" in sentence
    assert spoilt.exists()


def test_only_the_older_version_is_left(folder: Path, dead: Holder) -> None:
    """A recovery file that vanished is found by its backup."""
    file = kept_twice(folder, dead)
    file.unlink()
    (recovery,) = recoverable(folder).found
    assert recovery.job.title == "first"
    recovery.discard()
    assert names(folder) == set()


def test_newest_work_comes_first(folder: Path, dead: Holder) -> None:
    """Several crashed windows are listed by time."""
    files = [kept_twice(folder, dead) for _ in range(3)]
    for file, when in zip(files, ("2026-05-02T10:00:00", "2026-05-03T10:00:00", "2026-05-01T10:00:00"), strict=True):
        text = file.read_text()
        stamp = text[text.index('"when": "') + 9 :][:19]
        file.write_text(text.replace(stamp, when))
    assert [recovery.when.day for recovery in recoverable(folder).found] == [3, 2, 1]


@pytest.mark.parametrize("place", ["nowhere", "a_file"], ids=["no-folder", "file-as-folder"])
def test_missing_folder_holds_nothing(tmp_path: Path, place: str) -> None:
    """The first start finds no unsaved work and no fault."""
    (tmp_path / "a_file").write_bytes(b"")
    assert recoverable(tmp_path / place).found == ()


def test_full_disk_keeps_the_earlier_version(folder: Path, dead: Holder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Work that can't be kept is refused in words, and what was kept before is still found."""
    keeper = Keeper(folder)
    keeper.keep(JOB, PhotoShelf())

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(JobFileError, match="the disk is full"):
            keeper.keep(replace(JOB, title="too much"), PhotoShelf())
    as_if_crashed(keeper.file, dead)
    assert [recovery.job for recovery in recoverable(folder).found] == [JOB]


def test_folder_that_cannot_be_made_is_refused_in_words(tmp_path: Path) -> None:
    """A window whose state folder is barred hears why, once, instead of crashing."""
    (tmp_path / "a_file").write_bytes(b"")
    with pytest.raises(JobFileError, match="is a file, not a folder"):
        Keeper(tmp_path / "a_file" / "recovery").keep(JOB, PhotoShelf())


_EDIT_WITHOUT_END = """
import sys
from dataclasses import replace
from pathlib import Path
from digitizer.job.model import Job
from digitizer.job.recovery import Keeper
from digitizer.job.shelf import PhotoShelf

keeper, i = Keeper(Path(sys.argv[1])), 0
while True:
    i += 1
    keeper.keep(Job(title=str(i), note="x" * 3000), PhotoShelf())
    print(i, flush=True)
"""


@pytest.mark.parametrize("edits", [1, 2, 7, 20])
def test_killed_while_editing_loses_at_most_the_last_edit(folder: Path, edits: int) -> None:
    """kill -9 at any moment leaves the last edit that was kept, or the one being kept."""
    editing = subprocess.Popen([sys.executable, "-c", _EDIT_WITHOUT_END, str(folder)], stdout=subprocess.PIPE)
    assert editing.stdout is not None
    with editing.stdout as told:
        for _ in range(edits):
            told.readline()
        time.sleep(0.0007 * edits)  # so that the kill falls into different moments of a write
        editing.send_signal(signal.SIGKILL)
        editing.wait(timeout=30)
        last = edits + len(told.readlines())
    (recovery,) = recoverable(folder).found
    assert int(recovery.job.title) in (last, last + 1)
    assert recoverable(folder).damaged == ()


def test_recovered_work_is_saved_where_it_belongs(tmp_path: Path, folder: Path, dead: Holder) -> None:
    """From crash to file: what was recovered saves like any open job."""
    keeper = Keeper(folder)
    keeper.keep(JOB, loose_photos(tmp_path / "camera"))
    as_if_crashed(keeper.file, dead)
    (recovery,) = recoverable(folder).found
    save_job(recovery.job, recovery.shelf(), tmp_path / "boat.transom")
    assert read_job(tmp_path / "boat.transom").job == JOB
