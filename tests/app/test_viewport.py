"""Pan and zoom: what is under the pointer stays there, and the half pixel is added once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF, QRectF, QSizeF

from digitizer.app.canvas.viewport import Viewport, fitted

PLACES = st.floats(-1e4, 1e4)
VIEWS = st.builds(Viewport, st.floats(0.01, 60.0), PLACES, PLACES)


@given(VIEWS, PLACES, PLACES)
def test_there_and_back(view: Viewport, x: float, y: float) -> None:
    """A mark shown on the screen reads back to itself."""
    assert view.mark(view.screen(x, y)) == pytest.approx((x, y), abs=1e-6)  # px, far below a nudge


@given(VIEWS, st.floats(0.1, 10.0), st.floats(0, 2000), st.floats(0, 2000))
def test_zoom_keeps_what_is_under_the_pointer(view: Viewport, factor: float, x: float, y: float) -> None:
    """The wheel never moves the place it points at."""
    pointer = QPointF(x, y)
    assert view.zoomed(factor, pointer).mark(pointer) == pytest.approx(view.mark(pointer), abs=1e-6)  # px


def test_first_pixel_fills_its_square() -> None:
    """At scale 10 the centre of the first pixel is five screen pixels from the corner."""
    assert Viewport(10.0).screen(0.0, 0.0) == QPointF(5.0, 5.0)


def test_fitted_shows_the_whole_part_in_the_middle() -> None:
    """A wide picture touches left and right, with equal room above and below."""
    view = fitted(QSizeF(400, 300), QRectF(0, 0, 4000, 2000))
    assert view.scale == pytest.approx(0.1)
    part, place = view.visible(QSizeF(400, 300), 4000, 2000)
    assert part == QRectF(0, 0, 4000, 2000)
    assert (place.top(), place.bottom()) == pytest.approx((50.0, 250.0))


def test_panned_by_screen_pixels() -> None:
    """Dragging by ten screen pixels moves the picture by ten."""
    view = Viewport(4.0, 3.0, 5.0)
    assert view.panned(QPointF(10, -6)).screen(1, 1) == view.screen(1, 1) + QPointF(10, -6)
