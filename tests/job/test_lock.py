"""The lock of an open job: it warns of the living and forgets the dead."""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from digitizer.job.holder import Holder, this_process
from digitizer.job.lock import InUse, JobLock, lock_job
from tests.job.open_jobs import as_if_crashed, dead_process, names


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "boats"
    folder.mkdir()
    return folder / "boat.transom"


@pytest.fixture
def spare(tmp_path: Path) -> Path:
    return tmp_path / "state" / "locks"


def taken(job: Path, spare: Path) -> JobLock:
    lock = lock_job(job, spare)
    assert isinstance(lock, JobLock)
    assert lock.file is not None
    return lock


def test_second_window_hears_of_the_first(job: Path, spare: Path) -> None:
    """Who opens an open job is told the process and since when."""
    taken(job, spare)
    second = lock_job(job, spare)
    assert isinstance(second, InUse)
    assert not second
    assert (second.holder, second.elsewhere) == (this_process(), "")
    assert abs(second.since.timestamp() - time.time()) < 60


def test_released_job_is_free(job: Path, spare: Path) -> None:
    """After a clean close nothing is left beside the job."""
    taken(job, spare).release()
    assert names(job.parent) == set()
    taken(job, spare)


def test_dead_windows_lock_counts_for_nothing(job: Path, spare: Path) -> None:
    """A crash does not bar the job from its owner."""
    lock = taken(job, spare)
    assert lock.file is not None
    as_if_crashed(lock.file, dead_process())
    taken(job, spare)


def test_number_used_again_by_another_program_is_not_the_holder(job: Path, spare: Path) -> None:
    """A process that only has the dead one's number, but began at another time, holds nothing."""
    lock = taken(job, spare)
    assert lock.file is not None
    as_if_crashed(lock.file, replace(this_process(), started=1.0))
    taken(job, spare)


def test_lock_of_another_computer_warns_with_its_name(job: Path, spare: Path) -> None:
    """On a shared disk nobody can tell from here whether the other window lives, so it is named."""
    lock = taken(job, spare)
    assert lock.file is not None
    as_if_crashed(lock.file, replace(this_process(), host="the-yard"))
    second = lock_job(job, spare)
    assert isinstance(second, InUse)
    assert second.elsewhere == "the-yard"


def test_lock_taken_by_force_is_not_released_by_the_first(job: Path, spare: Path) -> None:
    """Who took a lock over keeps it when the former holder closes."""
    first = taken(job, spare)
    second = lock_job(job, spare, by_force=True)
    first.release()
    assert isinstance(lock_job(job, spare), InUse)
    assert isinstance(second, JobLock)
    second.release()
    taken(job, spare)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"pid": "x"}', b"\xff\xfe"], ids=repr)
def test_half_a_lock_counts_for_a_moment_only(job: Path, spare: Path, content: bytes) -> None:
    """A lock being written this second is respected; an old one that can't be read is not."""
    lock = taken(job, spare)
    assert lock.file is not None
    lock.file.write_bytes(content)
    second = lock_job(job, spare)
    assert isinstance(second, InUse)
    assert (second.holder, second.elsewhere) == (None, "")
    os.utime(lock.file, (time.time() - 60,) * 2)
    taken(job, spare)


def test_one_job_by_two_names_is_one_job(job: Path, spare: Path) -> None:
    """A symbolic link to the job finds the same lock."""
    job.write_bytes(b"")
    (job.parent / "link").symlink_to(job)
    taken(job, spare)
    assert isinstance(lock_job(job.parent / "link", spare), InUse)


@pytest.mark.skipif(sys.platform != "linux", reason="needs a folder that takes no files, not even from root")
def test_read_only_folder_is_locked_from_the_users_own(spare: Path) -> None:
    """A job on a disk that can't be written to still warns a second window of the same user."""
    job = Path("/proc/boat.transom")
    lock = taken(job, spare)
    assert lock.file is not None
    assert lock.file.parent == spare
    assert isinstance(lock_job(job, spare), InUse)


@pytest.mark.skipif(sys.platform != "linux", reason="needs a folder that takes no files, not even from root")
def test_nowhere_to_write_still_opens_the_job() -> None:
    """Where no lock can be left the job opens without one."""
    lock = lock_job(Path("/proc/boat.transom"), Path("/proc/locks"))
    assert lock == JobLock(None)
    assert isinstance(lock, JobLock)
    lock.release()


def test_process_of_another_computer_is_neither_alive_nor_dead() -> None:
    """Only this computer's processes can be asked."""
    assert Holder(1, "the-yard", 0.0).is_alive() is None
    assert this_process().is_alive() is True
    assert replace(this_process(), pid=2**40).is_alive() is not True
