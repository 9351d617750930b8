"""
Segments of a circle and areas, against printed tables.

Machinery's Handbook, 31st ed., p. 50 and 79, prints chords, arcs and areas of segments with two decimals, chaining
rounded values; the others are exact and were recomputed here.
"""

import math

import numpy as np
import pytest
import shapely

from digitizer.geometry.polygons import area, centroid
from digitizer.transom.surface import girth_of, sagitta


@pytest.mark.parametrize(
    ("radius", "chord", "rise", "places"),
    [
        pytest.param(60.0, 59.86, 8.0, 0.01, id="handbook-p79-radius-60-height-8"),
        pytest.param(25.0 / 3.0, 16.0, 6.0, 1e-9, id="handbook-p79-chord-16-height-6"),
        pytest.param(12.0, 13.27, 2.0, 0.01, id="handbook-p50-radius-12-depth-2"),
        pytest.param(12.1875, 21.0, 6.0, 1e-9, id="chord-21-height-6"),
        pytest.param(1.2732395, 0.97449536, 0.096919589, 1e-6, id="arc-1-angle-45-degrees"),
        *(
            pytest.param(r, 2400.0, h, 1e-6, id=f"2400-over-{h:g}")
            for h, r in ((5.0, 144002.5), (10.0, 72005.0), (20.0, 36010.0), (50.0, 14425.0), (100.0, 7250.0))
        ),
    ],
)
def test_sagitta_of_a_printed_segment(radius, chord, rise, places):
    """The bow over a chord has the printed height."""
    assert sagitta(1.0 / radius, chord) == pytest.approx(rise, abs=places)


@pytest.mark.parametrize(
    ("radius", "chord", "arc", "places"),
    [
        pytest.param(12.0, 13.27, 14.06, 0.01, id="handbook-p50-radius-12-depth-2"),
        pytest.param(12.1875, 21.0, 25.308373, 1e-6, id="chord-21-height-6"),
        pytest.param(1.2732395, 0.97449536, 1.0, 1e-6, id="arc-1-angle-45-degrees"),
    ],
)
def test_girth_of_a_printed_segment(radius, chord, arc, places):
    """Rolled flat, a chord has the length of its printed arc."""
    assert girth_of(chord / 2, 1 / radius) - girth_of(-chord / 2, 1 / radius) == pytest.approx(arc, abs=places)


@pytest.mark.parametrize(
    ("radius", "angle_deg", "printed", "places"),
    [
        pytest.param(12.0, 67.115, 18.01, 0.01, id="handbook-p50-radius-12-depth-2"),
        pytest.param(12.1875, 118.97953, 89.254148, 1e-3, id="chord-21-height-6"),
    ],
)
def test_area_of_a_printed_segment(radius, angle_deg, printed, places):
    """A polygon along the arc, in 2000 pieces, has the printed area of the segment."""
    turns = np.radians(np.linspace(-angle_deg / 2, angle_deg / 2, 2001))
    assert area(radius * np.column_stack([np.cos(turns), np.sin(turns)])) == pytest.approx(printed, abs=places)


def test_area_and_centroid_of_an_l():
    """Two rectangles make an L of area 6 with its centre at (1.5, 1), as by hand and by GEOS."""
    corners = np.array([(0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (0, 3)], dtype=float)
    theirs = shapely.Polygon(corners)
    assert (area(corners), theirs.area) == (6.0, 6.0)
    assert centroid(corners) == pytest.approx([1.5, 1.0])
    assert (theirs.centroid.x, theirs.centroid.y) == pytest.approx((1.5, 1.0))


def test_flat_face_keeps_its_widths():
    """Without curvature, girth is chord."""
    assert girth_of(-777.0, 0.0) == -777.0
    assert math.isclose(girth_of(1000.0, 1e-9), 1000.0, rel_tol=1e-9)
