"""Error ellipses on the photo and on the flattened view."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMenu

from digitizer.app.canvas import ellipses, symbols
from digitizer.app.canvas.ellipses import TO_95_PERCENT, ellipse_path
from digitizer.app.window import Window
from tests.app.conftest import wait_for
from tests.app.test_dragging import pixels


@pytest.fixture
def shown(opened: Window) -> Iterator[Window]:
    """The sample with its ellipses, ten times life size."""
    opened.swap_layer("ellipses")
    opened.enlarge(10.0)
    yield opened
    opened.swap_layer("ellipses")
    opened.enlarge(20.0)


def texts(window: Window, monkeypatch: pytest.MonkeyPatch, flat: bool = False) -> list[str]:
    """What is written over the picture."""
    written: list[str] = []
    draw = symbols.draw_text

    def note(painter: QPainter, at: object, text: str) -> None:
        written.append(text)
        draw(painter, at, text)  # type: ignore[arg-type]

    monkeypatch.setattr(symbols, "draw_text", note)
    (window.table.flat if flat else window.canvas).grab()
    return written


@pytest.mark.parametrize("covariance", [(4.0, 0.0, 1.0), (2.0, 1.2, 3.0), (1.0, -0.9, 1.0), (0.0, 0.0, 0.0)])
def test_path_reaches_as_far_as_the_standard_deviations(covariance: tuple[float, float, float]) -> None:
    """An ellipse touches its box at ± the standard deviations times the factor."""
    box = ellipse_path(covariance, 5.0).boundingRect()
    assert box.right() == pytest.approx(5.0 * np.sqrt(covariance[0]), rel=2e-3)  # a Bézier circle
    assert box.bottom() == pytest.approx(5.0 * np.sqrt(covariance[2]), rel=2e-3)


def test_photo_shows_each_marks_own_ellipse(shown: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is drawn is the survey's covariance about the adjusted place, in screen pixels."""
    canvas = shown.canvas
    drawn = []
    monkeypatch.setattr(symbols, "draw_path", lambda painter, path, look: drawn.append(path.boundingRect()))
    canvas.grab()
    live = shown.surveyor.live()
    assert live is not None
    place = live.adjusted_places["chine_port"]
    at = canvas.viewport.screen(place.x_px, place.y_px)
    half = TO_95_PERCENT * 10.0 * canvas.viewport.scale * np.sqrt(place.covariance_px[0])
    fits = [b for b in drawn if abs(b.center().x() - at.x()) < 0.01 and abs(b.width() / 2 - half) < 0.01 * half]
    assert len(fits) == 1


def test_flattened_view_shows_millimetres_on_the_face(shown: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """There the ellipse is the point's covariance on the face, y turned down."""
    flat = shown.table.flat
    shown.swap_view()
    wait_for(lambda: flat.picture() is not None)
    live = shown.surveyor.live()
    assert live is not None
    place = live.adjusted_places["chine_port"]
    _, per_mm = flat.spread_unit()
    xx, xy, yy = flat.spread_of(place)
    assert np.array((xx, -xy, yy)) / per_mm**2 == pytest.approx(np.array(place.covariance_mm))
    written = texts(shown, monkeypatch, flat=True)
    shown.swap_view()
    shown.swap_view()
    assert any("10 × life size" in text and text.endswith("mm") for text in written)


def test_legend_says_what_is_shown(shown: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """Level, enlargement and a bar of known length."""
    written = texts(shown, monkeypatch)
    assert any("95 %" in text for text in written)
    assert any("10 × life size, the bar is" in text and text.endswith("px") for text in written)


def test_before_there_is_a_survey_the_legend_says_so(window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing measured: a sentence, no ellipse."""
    written: list[str] = []
    monkeypatch.setattr(symbols, "draw_text", lambda painter, at, text: written.append(text))
    image = window.canvas.grab().toImage()
    painter = QPainter(image)
    ellipses.paint_ellipses(painter, window.canvas, 10.0, window.canvas.marks())
    ellipses.paint_legend(painter, window.canvas, 10.0)
    painter.end()
    assert any("once the marks of this photo are measured" in text for text in written)


def test_size_is_chosen_in_the_menu_and_kept(shown: Window) -> None:
    """1 ×, 10 × and 100 ×, and the size that the settings hold."""
    assert shown.canvas.layers.magnification == 10.0
    assert shown.desk.preferences.ellipse_magnification == 10.0
    menu = next(m for m in shown.findChildren(QMenu) if "larger than life" in m.title().replace("&", ""))
    menu.aboutToShow.emit()
    assert [(a.text(), a.isChecked()) for a in menu.actions()] == [("1 ×", False), ("10 ×", True), ("100 ×", False)]


def test_held_mark_leaves_the_other_ellipses_alone(shown: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a mark is held only its own ellipse is drawn anew; the picture is the same as drawn from the beginning."""
    canvas = shown.canvas
    wait_for(lambda: shown.document.is_measured)
    mark = next(mark for mark in shown.document.job.marks if mark.id == "chine_port")
    place = canvas.viewport.screen(mark.x_px, mark.y_px).toPoint()
    left, raw = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier
    QTest.mousePress(canvas, left, raw, place)
    QTest.mouseMove(canvas, place + QPoint(5, 3))
    canvas.grab()
    drawn = []
    draw = ellipses.ellipse_path
    monkeypatch.setattr(ellipses, "ellipse_path", lambda *given: drawn.append(given) or draw(*given))
    QTest.mouseMove(canvas, place + QPoint(9, 6))
    kept = pixels(canvas)
    assert len(drawn) <= 2  # one for each time it is painted
    monkeypatch.setattr(type(canvas), "_moving", lambda self: frozenset())
    anew = pixels(canvas)
    monkeypatch.undo()
    QTest.mouseRelease(canvas, left, raw, place + QPoint(9, 6))
    assert np.mean(np.abs(kept.astype(int) - anew) > 8) < 0.004
