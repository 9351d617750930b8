"""Texts keep apart: the geometry of covering, and the choice of places."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from digitizer.reports.sheet import Disc, Label, Place, Sheet, Stroke, along, crossing, dimension_line

coordinates = st.integers(-20, 20).map(float)
sizes = st.integers(1, 20).map(float)


def a_sheet():
    return Sheet(100.0, 100.0, lambda text, size, bold: 0.6 * size * len(text))


@settings(deadline=None)
@given(coordinates, coordinates, sizes, sizes, *[coordinates] * 4)
def test_crossing_agrees_with_a_geometry_library(left, bottom, wide, high, x1, y1, x2, y2):
    """A line enters a rectangle exactly when their insides meet, by an independent library."""
    assume((x1, y1) != (x2, y2))
    inside = box(left, bottom, left + wide, bottom + high)
    line = LineString([(x1, y1), (x2, y2)])
    ours = crossing((left, bottom, left + wide, bottom + high), np.array([[x1, y1]]), np.array([[x2, y2]]))[0]
    shared = inside.intersection(line).length
    on_edge = inside.exterior.intersection(line).length
    assert ours == (shared > 1e-9 and on_edge < 1e-9)


def test_text_avoids_text():
    """The second text goes to its second place when the first is taken."""
    sheet = a_sheet()
    sheet.write("first", [Place(50, 50)])
    assert sheet.write("second", [Place(52, 51), Place(50, 80)]).y == 80


def test_text_avoids_discs_before_lines():
    """Crossing a line is better than covering a fitting."""
    sheet = a_sheet()
    sheet.draw(Disc(50, 50, 5), Stroke(((0, 80), (100, 80))))
    assert sheet.write("text", [Place(50, 50), Place(50, 80)]).y == 80


def test_text_stays_on_the_sheet():
    """A place beyond the edge is the worst but one."""
    assert a_sheet().write("text", [Place(99, 50), Place(50, 50)]).x == 50


def test_preferred_place_wins_when_both_are_free():
    """Order of places is order of preference."""
    assert a_sheet().write("text", [Place(50, 50), Place(50, 80)]).y == 50


def test_turned_text_covers_a_turned_box():
    """A text reading upward is as high as it is long."""
    sheet = a_sheet()
    flat, upright = (sheet.box(Label("twelve", 0, 0, angle=angle)) for angle in (0, 90))
    assert upright[3] - upright[1] == pytest.approx(flat[2] - flat[0])


def test_short_dimension_has_its_heads_outside():
    """Under 14 points the heads point inwards from outside."""
    line, *_ = dimension_line((0.0, 0.0), (8.0, 0.0))
    assert line.points == ((-10.0, 0.0), (18.0, 0.0))
    assert dimension_line((0.0, 0.0), (50.0, 0.0))[0].points == ((0.0, 0.0), (50.0, 0.0))


def test_places_along_a_line_read_with_it():
    """Text along a rising line stands on its left and turns with it."""
    place = along((0.0, 0.0), (0.0, 10.0), 3.0)[0]
    assert (place.x, place.y, place.angle) == pytest.approx((-3.0, 5.0, 90.0))
