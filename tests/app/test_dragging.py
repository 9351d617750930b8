"""What is painted while a mark is held: the same as ever, with less work."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtCore import QModelIndex, QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from digitizer.app.canvas.canvas import Canvas
from digitizer.app.panels.dimension_table import EXPANDED, VALUE
from digitizer.app.window import Window
from tests.app.conftest import wait_for

LEFT, RAW = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier


def pixels(canvas: Canvas) -> NDArray[np.uint8]:
    image = canvas.grab().toImage()
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine()).copy()


@pytest.fixture(params=["chine_port", "bottom_edge", "rim", "known_length"])
def held(opened: Window, request: pytest.FixtureRequest) -> Iterator[Window]:
    """A mark that is held and has been moved: alone, on a line, on a fitting, at the end of a length."""
    window, canvas = opened, opened.canvas
    wait_for(lambda: window.document.is_measured)
    job = window.document.job
    ends = {end for length in job.lengths for end in (length.from_point, length.to_point)}
    wanted = {
        "chine_port": lambda mark: mark.id == "chine_port",
        "known_length": lambda mark: (mark.point or mark.id) in ends,
    }
    fits = wanted.get(request.param, lambda mark: mark.kind.value == request.param)
    mark = next((mark for mark in job.marks if fits(mark)), None)
    if mark is None:
        pytest.skip("the sample has no such mark")
    place = canvas.viewport.screen(mark.x_px, mark.y_px).toPoint()
    QTest.mousePress(canvas, LEFT, RAW, place)
    QTest.mouseMove(canvas, place + QPoint(3, 2))
    QTest.mouseMove(canvas, place + QPoint(6, -4))
    QApplication.processEvents()
    yield window
    QTest.mouseRelease(canvas, LEFT, RAW, place + QPoint(6, -4))


def test_held_mark_is_painted_as_if_nothing_were_kept(held: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """
    The window looks the same as painted from the beginning.

    But for signs that lie over each other, and a length's name that shows while it is held though others lie near.
    """
    kept = pixels(held.canvas)
    monkeypatch.setattr(type(held.canvas), "_moving", lambda self: frozenset())
    anew = pixels(held.canvas)
    assert np.mean(np.abs(kept.astype(int) - anew) > 8) < 0.004


def test_zooming_while_a_mark_is_held_shows_the_other_view(held: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was kept is painted again where the view, the chosen marks or the layers change."""
    canvas = held.canvas
    pixels(canvas)
    canvas.zoom(1.6, QPointF(200, 200))
    canvas.layers.names = False
    kept = pixels(canvas)
    monkeypatch.setattr(type(canvas), "_moving", lambda self: frozenset())
    anew = pixels(canvas)
    canvas.layers.names = True
    assert np.mean(np.abs(kept.astype(int) - anew) > 8) < 0.002


def test_only_figures_that_change_are_painted_again(opened: Window) -> None:
    """The table tells of single rows while a mark is held, and each of them is the one that the survey gives."""
    window, canvas = opened, opened.canvas
    wait_for(lambda: window.document.is_measured)
    told: list[tuple[QModelIndex, QModelIndex]] = []
    model = window.sheet.model
    before = [row.cells for row in model.rows]
    mark = next(mark for mark in window.document.job.marks if mark.id == "chine_port")
    place = canvas.viewport.screen(mark.x_px, mark.y_px).toPoint()
    QTest.mousePress(canvas, LEFT, RAW, place)
    model.dataChanged.connect(lambda first, last: told.append((first, last)))
    QTest.mouseMove(canvas, place + QPoint(5, 0))
    QApplication.processEvents()
    after = [row.cells for row in model.rows]
    QTest.mouseRelease(canvas, LEFT, RAW, place + QPoint(5, 0))
    changed = {i for i, (old, new) in enumerate(zip(before, after, strict=True)) if old != new}
    rows = {first.row() for first, last in told[: len(changed)]}
    assert changed
    assert changed == rows
    assert len(changed) < len(before)
    assert all(first.column() <= VALUE and last.column() >= EXPANDED for first, last in told)
