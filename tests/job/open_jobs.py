"""Jobs as a window has them open: photos on a shelf, a dead window's process to leave things behind."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

from digitizer.job.holder import Holder, this_process
from digitizer.job.model import Job, Photo
from digitizer.job.shelf import PhotoShelf

STERN, SIDE = Photo("stern", "stern.jpg"), Photo("side", "photos/side.jpg")
JOB = Job(title="Invented boat", photos=(STERN, SIDE))


def loose_photos(folder: Path) -> PhotoShelf:
    """The two photos of `JOB` as a camera left them, and the shelf that knows where."""
    folder.mkdir(exist_ok=True)
    for name in ("DSC_1.jpg", "DSC_2.jpg"):
        (folder / name).write_bytes(name.encode() * 1000)
    return PhotoShelf(None, {"stern": folder / "DSC_1.jpg", "side": folder / "DSC_2.jpg"})


def dead_process() -> Holder:
    """A process of this computer that ended."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait(timeout=30)
    return replace(this_process(), pid=process.pid)


def as_if_crashed(file: Path, holder: Holder) -> None:
    """Let a file that a window keeps name another process as the one that wrote it."""
    fields = json.loads(file.read_text())
    if "holder" in fields:
        fields["holder"] = asdict(holder)
    else:
        fields |= asdict(holder)
    file.write_text(json.dumps(fields))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}
