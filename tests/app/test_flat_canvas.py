"""The flattened view: marks shown, placed and dragged on it are marks of the photo."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from pytestqt.qtbot import QtBot

from digitizer.app.tools import BY_KEY
from digitizer.app.window import Window
from digitizer.job.model import MarkKind


@pytest.fixture
def flat(opened: Window) -> Iterator[Window]:
    """The sample with the flattened view alone."""
    opened.table.swap_view()
    opened.table.flat.grab()
    yield opened
    opened.table.swap_view()
    opened.table.swap_view()


def test_views_go_round(opened: Window) -> None:
    """Photo, flattened, both, photo."""
    table = opened.table
    seen = []
    for _ in range(3):
        table.swap_view()
        seen.append((not table.canvas.isHidden(), not table.flat.isHidden()))
    assert seen == [(False, True), (True, True), (True, False)]


def test_marks_lie_at_their_figures(flat: Window) -> None:
    """The width of the chine beam on the flattened view is the one on the sheet."""
    canvas = flat.table.flat
    x = {}
    for mark in flat.document.job.marks:
        if mark.kind is MarkKind.CHINE:
            place = canvas.place_of(mark)
            assert place is not None
            x[mark.side] = canvas._face_mm(*place)[0]
    beam = next(d.value for d in flat.document.survey.dimensions if d.code == "chine_beam")
    assert abs(np.ptp(list(x.values()))) == pytest.approx(beam, abs=8.0)  # mm: two clicks as they are, unadjusted


def test_click_on_the_flattened_view_marks_the_photo(flat: Window, qtbot: QtBot) -> None:
    """A click at 300 mm to starboard and 500 mm up is a mark at that place of the photo."""
    canvas = flat.table.flat
    flat.choose_tool(BY_KEY["waterline"])
    screen = canvas._screen(300.0, 500.0)
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, screen.toPoint())
    mark = flat.document.job.marks[-1]
    assert mark.kind is MarkKind.WATERLINE
    place = canvas.place_of(mark)
    assert place is not None
    assert canvas._face_mm(*place) == pytest.approx((300.0, 500.0), abs=6.0)  # mm, two screen pixels of this view


def test_place_outside_the_photo_takes_no_mark(flat: Window) -> None:
    """Far outside there is no pixel to mark."""
    assert flat.table.flat.photo_place(*flat.table.flat.viewport.mark(QPointF(-1e6, 0.0))) is None
