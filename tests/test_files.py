"""Replacing a file: the new one whole, or the old one as it was."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from digitizer.errors import ReportError
from digitizer.files import replacing


def write(path: Path, content: bytes, keep_backup: bool = False) -> None:
    with replacing(path, ReportError, keep_backup) as stream:
        stream.write(content)


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_new_file_holds_what_was_written(tmp_path: Path) -> None:
    """A file that was not there before appears with its content, alone."""
    write(tmp_path / "sheet.pdf", b"new")
    assert (tmp_path / "sheet.pdf").read_bytes() == b"new"
    assert names(tmp_path) == {"sheet.pdf"}


def test_backup_keeps_the_version_before(tmp_path: Path) -> None:
    """The backup is always the version before the present one."""
    for content in (b"1", b"2", b"3"):
        write(tmp_path / "job", content, keep_backup=True)
    assert (tmp_path / "job").read_bytes() == b"3"
    assert (tmp_path / "job.bak").read_bytes() == b"2"
    assert names(tmp_path) == {"job", "job.bak"}


def test_backup_is_copied_where_links_are_unknown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk without hard links gets a copy as the backup."""

    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    write(tmp_path / "job", b"old")
    monkeypatch.setattr(Path, "hardlink_to", refuse)
    write(tmp_path / "job", b"new", keep_backup=True)
    assert (tmp_path / "job.bak").read_bytes() == b"old"
    assert names(tmp_path) == {"job", "job.bak"}


def test_permissions_of_the_old_file_stay(tmp_path: Path) -> None:
    """A file that only its owner may read stays so."""
    path = tmp_path / "job"
    write(path, b"old")
    path.chmod(0o600)
    write(path, b"new")
    assert path.stat().st_mode & 0o777 == 0o600


def test_link_still_points_to_the_replaced_file(tmp_path: Path) -> None:
    """Writing through a symbolic link replaces the file it points to, not the link."""
    write(tmp_path / "real", b"old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        pytest.param(errno.ENOSPC, "the disk is full", id="disk-full"),
        pytest.param(errno.EROFS, "writing is not allowed", id="read-only-disk"),
        pytest.param(errno.EIO, "could not be written", id="failing-disk"),
    ],
)
@pytest.mark.parametrize("keep_backup", [False, True], ids=["without-backup", "with-backup"])
def test_failing_flush_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, words: str, keep_backup: bool
) -> None:
    """When the disk fails while flushing, the old file is intact and nothing is left beside it."""

    def fail(_: int) -> None:
        raise OSError(code, os.strerror(code))

    path = tmp_path / "sheet.pdf"
    write(path, b"old")
    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(ReportError, match=words) as refused:
        write(path, b"new", keep_backup)
    assert refused.value.destination == str(path)
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"sheet.pdf"}


def test_disk_full_while_writing_leaves_the_old_file(tmp_path: Path) -> None:
    """The system's own full device, met in the middle of writing, costs nothing but the attempt."""
    path = tmp_path / "sheet.pdf"
    write(path, b"old")

    def fill() -> None:
        with replacing(path, ReportError) as stream, Path("/dev/full").open("wb") as full:
            os.dup2(full.fileno(), stream.fileno())
            stream.write(bytes(1_000_000))

    with pytest.raises(ReportError, match="the disk is full"):
        fill()
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"sheet.pdf"}


@pytest.mark.parametrize("failure", [ValueError, KeyboardInterrupt], ids=lambda failure: failure.__name__)
def test_failing_block_leaves_the_old_file(tmp_path: Path, failure: type[BaseException]) -> None:
    """A mistake or an interruption in the block rises as it is, and the old file stays."""
    path = tmp_path / "sheet.pdf"
    write(path, b"old")

    def stop_half_way() -> None:
        with replacing(path, ReportError) as stream:
            stream.write(b"half")
            raise failure

    with pytest.raises(failure):
        stop_half_way()
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"sheet.pdf"}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        pytest.param("missing/sheet.pdf", "there is no such folder", id="missing-folder"),
        pytest.param("a_file/sheet.pdf", "is a file, not a folder", id="file-as-folder"),
        pytest.param("a_folder", "this is a folder", id="folder"),
        pytest.param("a_pipe", "not an ordinary file", id="pipe"),
        pytest.param("n" * 300, "the name is too long", id="long-name"),
    ],
)
def test_impossible_destination_is_refused_in_words(tmp_path: Path, name: str, words: str) -> None:
    """A destination that can't be is refused with the reason, and nothing there changes."""
    (tmp_path / "a_file").write_bytes(b"old")
    (tmp_path / "a_folder").mkdir()
    os.mkfifo(tmp_path / "a_pipe")
    before = names(tmp_path)
    with pytest.raises(ReportError, match=words):
        write(tmp_path / name, b"new")
    assert names(tmp_path) == before


def test_write_protected_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that its owner protected is not replaced behind their back."""
    path = tmp_path / "sheet.pdf"
    write(path, b"old")
    monkeypatch.setattr(os, "access", lambda *_: False)  # the tests may run as root, who may write everything
    with pytest.raises(ReportError, match="writing is not allowed"):
        write(path, b"new")
    assert path.read_bytes() == b"old"
