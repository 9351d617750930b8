"""The jobs that were open lately: newest first, each once, never in the way."""

from __future__ import annotations

from pathlib import Path

import pytest

from digitizer.job.recent import RECENT_AT_MOST, RecentJob, forget_job, recent_jobs, remember_job


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "settings" / "recent.json"


def test_newest_comes_first_and_each_once(tmp_path: Path, file: Path) -> None:
    """A job opened again moves to the head with its new title."""
    for name, title in (("a", "A"), ("b", "B"), ("a", "A again")):
        remember_job(file, tmp_path / name, title)
    assert [(job.path.name, job.title) for job in recent_jobs(file)] == [("a", "A again"), ("b", "B")]


def test_missing_jobs_are_marked(tmp_path: Path, file: Path) -> None:
    """A job on a disk that isn't plugged in stays on the list and says so."""
    (tmp_path / "here").write_bytes(b"")
    remember_job(file, tmp_path / "gone", "Gone")
    remember_job(file, tmp_path / "here", "Here")
    assert recent_jobs(file) == (RecentJob(tmp_path / "here", "Here"), RecentJob(tmp_path / "gone", "Gone", True))


def test_list_stays_short(tmp_path: Path, file: Path) -> None:
    """The oldest job makes room."""
    for i in range(RECENT_AT_MOST + 3):
        remember_job(file, tmp_path / str(i))
    assert [job.path.name for job in recent_jobs(file)] == [str(i) for i in range(RECENT_AT_MOST + 2, 2, -1)]


def test_forgotten_job_is_off_the_list(tmp_path: Path, file: Path) -> None:
    """One job is taken off, the others keep their order."""
    for name in ("a", "b", "c"):
        remember_job(file, tmp_path / name)
    forget_job(file, tmp_path / "b")
    assert [job.path.name for job in recent_jobs(file)] == ["c", "a"]


@pytest.mark.parametrize(
    "content", [b"", b"{}", b'{"recent": [1]}', b'{"recent": 3}', b"\xff", b"[" * 100_000], ids=lambda c: repr(c[:14])
)
def test_spoilt_list_begins_anew(tmp_path: Path, file: Path, content: bytes) -> None:
    """A list that can't be read is empty, and the next job starts a new one."""
    file.parent.mkdir()
    file.write_bytes(content)
    assert recent_jobs(file) == ()
    remember_job(file, tmp_path / "a")
    assert len(recent_jobs(file)) == 1


def test_list_that_cannot_be_written_stops_nobody(tmp_path: Path) -> None:
    """A barred settings folder costs the list only."""
    (tmp_path / "a_file").write_bytes(b"")
    remember_job(tmp_path / "a_file" / "recent.json", tmp_path / "a")
    assert recent_jobs(tmp_path / "a_file" / "recent.json") == ()
