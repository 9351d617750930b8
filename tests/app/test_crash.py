"""A window killed in the middle of the work: the next one has it all, but for the last moments."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from digitizer.app.desk import Folders
from digitizer.app.window import Window
from digitizer.job.reading import read_job
from digitizer.job.recovery import recoverable
from digitizer.samples import sample_job

_WINDOW = """
import sys
from dataclasses import replace
from pathlib import Path
from PySide6.QtCore import QTimer
from digitizer.app.desk import Folders
from digitizer.app.platform import application
from digitizer.app.window import Window

app = application()
window = Window(Folders(Path(sys.argv[1]) / "state", Path(sys.argv[1]) / "settings"))
window.show()
assert window.desk.open(Path(sys.argv[2]))

def edit(count=[0]):
    count[0] += 1
    job = window.document.job
    marks = (replace(job.marks[0], x_px=job.marks[0].x_px + 1.0), *job.marks[1:])
    window.document.edit(f"Edit {count[0]}", replace(job, title=str(count[0]), marks=marks))
    print(count[0], flush=True)

timer = QTimer(interval=100)
timer.timeout.connect(edit)
timer.start()
app.exec()
"""
_AT_MOST_S = 5.0
"""What "the last few seconds" of work are."""


def test_killed_window_loses_the_last_moments_only(window: Window, tmp_path: Path) -> None:
    """After kill -9 between edits the work of all but the last seconds is offered, and the saved job is untouched."""
    boat = tmp_path / "boat"
    shutil.copytree(sample_job("tape_only").parent, boat)
    saved = (boat / "job.json").read_bytes()
    crashing = subprocess.Popen(
        [sys.executable, "-c", _WINDOW, str(tmp_path / "crash"), str(boat / "job.json")],
        stdout=subprocess.PIPE,
        env=os.environ | {"QT_QPA_PLATFORM": "offscreen"},
    )
    assert crashing.stdout is not None
    when: dict[int, float] = {}
    with crashing.stdout as told:
        while not when or time.monotonic() - when[1] < 4.0:
            line = told.readline()
            assert line, crashing.wait()
            when[int(line)] = time.monotonic()
        crashing.send_signal(signal.SIGKILL)
        killed = time.monotonic()
        crashing.wait(timeout=30)
    (recovery,) = recoverable(Folders(tmp_path / "crash/state", tmp_path).recovery).found
    assert killed - when[int(recovery.job.title)] < _AT_MOST_S
    assert (boat / "job.json").read_bytes() == saved
    window.desk.recover(recovery)
    assert window.document.job.marks[0].x_px == read_job(boat / "job.json").job.marks[0].x_px + int(recovery.job.title)
    assert window.document.path == boat / "job.json"
