"""Which sheets a template takes, and what joins what."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.reports.cutting import Circle, LayerName, Line
from digitizer.reports.tiles import MARGINS, OVERLAP_MM, corners, name_of, neighbours, tiling
from tests.reports.for_cutting import a_drawing

A4 = (210.0, 297.0)
BLANK = replace(a_drawing(), lines=(), fittings=(), circles=())


def line(*points):
    return Line(LayerName.OUTLINE, points)


def holding(lines=(), circles=()):
    return replace(BLANK, lines=tuple(lines), circles=tuple(circles))


def dense(a, b):
    return np.linspace(a, b, max(2, math.ceil(math.dist(a, b) / 1.0)))


def together(cells):
    """Whether each sheet can be reached from the first across common edges."""
    reached, waiting = set(), [cells[0]]
    while waiting:
        cell = waiting.pop()
        reached.add(cell)
        waiting += [other for other in neighbours(cell).values() if other in set(cells) - reached]
    return reached == set(cells)


COORDINATE = st.floats(-1500.0, 1500.0)
LINES = st.lists(
    st.tuples(st.tuples(COORDINATE, COORDINATE), st.tuples(COORDINATE, COORDINATE)), min_size=1, max_size=3
)


@given(ends=LINES, page=st.sampled_from([A4, A4[::-1], (297.0, 420.0), (215.9, 279.4)]))
@settings(max_examples=40, deadline=None)
def test_everything_lies_on_a_printed_sheet(ends, page):
    """Every point of every line is in some sheet's window, all sheets hang together, and none is larger than paper."""
    found = tiling(holding([line(*each) for each in ends]), page)
    windows = np.array([found.window(cell) for cell in found.cells])
    for a, b in ends:
        x, y = dense(a, b).T[..., None]
        shown = (windows[:, 0] <= x) & (x <= windows[:, 2]) & (windows[:, 1] <= y) & (y <= windows[:, 3])
        assert shown.any(axis=1).all()
    assert together(found.cells)
    assert windows[0, 2] - windows[0, 0] <= page[0] - MARGINS[0] - MARGINS[2] + 1e-9
    assert windows[0, 3] - windows[0, 1] <= page[1] - MARGINS[1] - MARGINS[3] + 1e-9


def test_hollow_of_the_outline_is_not_printed():
    """A ring of 1 × 1 m on A4 takes fewer sheets than the rectangle it fills."""
    ring = Line(LayerName.OUTLINE, ((0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0)), closed=True)
    found = tiling(holding([ring]), A4)
    columns, rows = (1 + max(cell[axis] for cell in found.cells) for axis in (0, 1))
    assert len(found.cells) == 2 * columns + 2 * rows - 4


def test_lonely_fitting_is_reached_by_sheets_between():
    """A bolt a metre away from everything else is joined to it by connecting sheets."""
    far = Circle(LayerName.FLANGE, (1000.0, 900.0), 10.0)
    found = tiling(holding([line((0.0, 0.0), (100.0, 0.0))], [far]), A4)
    assert together(found.cells)
    assert len(found.cells) > 2


def test_small_thing_takes_one_sheet():
    """What fits on one sheet isn't cut."""
    assert len(tiling(holding([line((-80.0, -100.0), (80.0, 100.0))]), A4).cells) == 1


def test_neighbouring_windows_overlap():
    """Two sheets side by side share a strip, with the registration marks in its middle."""
    found = tiling(holding([line((0.0, 0.0), (300.0, 0.0))]), A4)
    left, right = found.cells
    a, b = found.window(left), found.window(right)
    assert a[2] - b[0] == pytest.approx(OVERLAP_MM)
    shared = set(corners(left)) & set(corners(right))
    assert [found.grid.node(*node)[0] for node in shared] == pytest.approx([(a[2] + b[0]) / 2.0] * 2)


def test_centreline_is_whole_on_one_sheet():
    """A boat alike on both sides is not joined along its centreline where that costs no sheet more."""
    found = tiling(a_drawing(), (420.0, 297.0))
    joins = [found.grid.node(column, 0)[0] for column in range(8)]
    assert min(abs(x) for x in joins) >= OVERLAP_MM


def test_roll_uses_no_more_than_needed():
    """A page of a roll is as long as its content and its margins."""
    found = tiling(holding([line((0.0, 0.0), (2000.0, 500.0))]), (5000.0, 914.0), roll=True)
    assert len(found.cells) == 1
    assert 2000.0 < found.page[0] < 2100.0
    assert found.page[1] == 914.0


def test_witness_lengths_span_the_template():
    """The longest ones across, up and any way are whole numbers of sheets, and Pythagoras holds."""
    ring = Line(LayerName.OUTLINE, ((0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0)), closed=True)
    found = tiling(holding([ring]), A4)
    across, up, diagonal = (witness.length for witness in found.witnesses())
    assert across / found.grid.across == pytest.approx(round(across / found.grid.across))
    assert math.hypot(across, up) == pytest.approx(diagonal)
    assert found.mark_words(found.witnesses()[2].start).endswith("A1")


@pytest.mark.parametrize(("cell", "name"), [((0, 0), "A1"), ((2, 1), "B3"), ((0, 25), "Z1"), ((4, 26), "AA5")])
def test_names(cell, name):
    """Row letter from the top, column number from port."""
    assert name_of(cell) == name
