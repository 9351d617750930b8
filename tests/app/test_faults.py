"""Faults of the disk while the window is open: what the person is told, and that nothing is lost."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtWidgets import QLabel

from digitizer.app.window import Window
from digitizer.job.reading import read_job


def test_full_disk_at_save_is_told_and_the_saved_job_stays(
    opened: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bar says that it is not saved, the file is as it was, and the work stays unsaved until there is room."""
    path = tmp_path / "boat.transom"
    assert opened.desk._save(path)
    saved = path.read_bytes()
    opened.document.edit("Rename", replace(opened.document.job, title="Second"))

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        assert not opened.desk.save()
    told = " ".join(label.text() for label in opened.message.findChildren(QLabel))
    assert "Not saved." in told
    assert "the disk is full, so nothing was written: free some space" in told
    assert path.read_bytes() == saved
    assert list(tmp_path.iterdir()) == [path]
    assert not opened.document.is_saved
    assert opened.desk.save()
    assert read_job(path).job.title == "Second"
