"""
How fast the window is: start, a 48-megapixel photo, zooming, and numbers that follow a dragged mark.

Run it on an idle machine, `python -m tests.benchmarks.window`; it drives the real window without a screen and writes
the section of docs/explanation/speed.md between its two comment lines.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PIL import Image
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from digitizer.app.desk import Folders
from digitizer.app.platform import application
from digitizer.app.window import Window
from digitizer.imaging.photo import rgb_pixels
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from tests.benchmarks.speed import with_fewer_marks

PAGE = Path(__file__).parents[2] / "docs/explanation/speed.md"
BEGIN, END = "<!-- window: begin -->", "<!-- window: end -->"
_START = (
    "import time; begun = time.perf_counter()\n"
    "from digitizer.app.platform import application\n"
    "from digitizer.app.window import Window\n"
    "app = application(); window = Window(); window.show()\n"
    "app.processEvents(); window.repaint()\n"
    "print(time.perf_counter() - begun); window.close()\n"
)


def main() -> None:
    """Measure all of it and publish."""
    lines = [*started(), *large_photo(), *dragged()]
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(BEGIN)
    tail = rest.split(END)[1]
    PAGE.write_text(f"{head}{BEGIN}\n" + "\n".join(lines) + f"\n{END}{tail}", encoding="utf-8")
    print("\n".join(lines))


def started() -> list[str]:
    """From the first line of the program to a window that takes a click, in a process of its own."""
    seconds = [float(subprocess.check_output([sys.executable, "-c", _START])) for _ in range(5)]
    return [f"- Start to a usable window: {min(seconds):.2f} s (best of five; the promise is 1.5 s)."]


def large_photo() -> list[str]:
    """A photo of 48 megapixels: until it is shown, what it takes, and how long a repaint lasts."""
    data = _large_jpeg()
    begun = time.perf_counter()
    rgb_pixels(data, "large.jpg")
    bare = time.perf_counter() - begun
    window = _window()
    path = Path(tempfile.mkdtemp()) / "large.jpg"
    path.write_bytes(data)
    before = _resident_mb()
    begun = time.perf_counter()
    window.desk.add_photos([path])
    _wait(lambda: bool(window.document.photos))
    window.canvas.repaint()
    shown = time.perf_counter() - begun
    memory = _resident_mb() - before
    repaints = []
    for factor in [0.8] * 3 + [1.25] * 24 + [0.8] * 24:
        window.canvas.zoom(factor, QPointF(300, 200))
        begun = time.perf_counter()
        window.canvas.repaint()
        repaints.append(1e3 * (time.perf_counter() - begun))
    window.close()
    return [
        f"- A JPEG of 48 megapixels is on the screen after {shown / bare:.2f} times its bare decoding ({shown:.2f} s; "
        "the promise is 1.5 times).",
        f"- It takes {memory / (8000 * 6000 * 3 / 1e6):.2f} times the memory of its pixels (the promise is 3 times).",
        f"- A repaint while zooming lasts {max(repaints):.0f} ms at most, {statistics.median(repaints):.0f} ms "
        "in the middle (the promise is 30 ms).",
    ]


def dragged() -> list[str]:
    """A chine dragged over the sample photo, 12 megapixels: from the pointer's move to the numbers on the sheet."""
    lines = []
    for count in (60, None):
        marks, times = _drag_times(count)
        lines.append(
            f"- While a mark is dragged on a 12-megapixel photo with {marks} marks, the numbers follow in "
            f"{statistics.median(times):.0f} ms, 95 of 100 times in {sorted(times)[int(0.95 * len(times))]:.0f} ms"
            + (" (the promise is 16 and 33 ms)." if count else ".")
        )
    return lines


def _drag_times(count: int | None) -> tuple[int, list[float]]:
    """Number of marks, the sample's or fewer, and the milliseconds that each of 240 movements took."""
    window = _window()
    window.open_sample()
    _wait(lambda: window.document.survey is not None)
    if count is not None:
        window.document.edit("Fewer marks", with_fewer_marks(window.document.job, count))
        _wait(lambda: window.document.is_measured)
    canvas = window.canvas
    chine = next(mark for mark in window.document.job.marks if mark.id == "chine_port")
    place = canvas.viewport.screen(chine.x_px, chine.y_px).toPoint()
    QTest.mousePress(canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, place)
    times = []
    for step in range(240):
        begun = time.perf_counter()
        QTest.mouseMove(canvas, place + QPoint(step % 12 - 6, step % 7 - 3))
        QApplication.processEvents()
        times.append(1e3 * (time.perf_counter() - begun))
        assert window.document.is_current
    QTest.mouseRelease(canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, place)
    window.document.undo_stack.setClean()
    window.close()
    return len(window.document.job.marks), times


def _large_jpeg() -> bytes:
    """The sample photo enlarged to 8000 × 6000 pixels, with noise, so that it decodes like a photo."""
    job = sample_job("flat_square_on")
    small = rgb_pixels(job.with_name(read_job(job).job.photos[0].file).read_bytes(), "sample")
    large = np.repeat(np.repeat(small, 2, axis=0), 2, axis=1)
    noise = np.random.default_rng(5).integers(-4, 5, large.shape[:2], dtype=np.int16)[..., None]
    stream = BytesIO()
    Image.fromarray(np.clip(large.astype(np.int16) + noise, 0, 255).astype(np.uint8)).save(stream, "JPEG", quality=92)
    return stream.getvalue()


def _window() -> Window:
    application()
    folder = Path(tempfile.mkdtemp())
    window = Window(Folders(folder / "state", folder / "settings"))
    window.choose = lambda question, options: 1  # type: ignore[method-assign]
    window.resize(1366, 768)
    window.show()
    QApplication.processEvents()
    return window


def _wait(done: Callable[[], bool]) -> None:
    while not done():
        QApplication.processEvents()
        time.sleep(0.001)


def _resident_mb() -> float:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return next(float(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")) / 1e3


if __name__ == "__main__":
    main()
