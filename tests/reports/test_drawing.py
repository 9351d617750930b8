"""The dimension drawing: true to scale, complete, and no text over another."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.reports.drawing import transom_drawing
from digitizer.reports.paper import text_width
from digitizer.reports.sheet import Disc, Label, Sheet, Stroke, disc_box
from digitizer.reports.view import SCALES, fitting_scale, opened_ring
from tests.reports.a_survey import a_survey

MM = 72.0 / 25.4


def drawn(survey=None, unit="mm", width=757.0, height=430.0):
    sheet = Sheet(width, height, text_width)
    scale = transom_drawing(survey or a_survey(), unit, 381.0, sheet)
    return sheet, scale


def labels(sheet):
    return [item for item in sheet.items if isinstance(item, Label)]


def overlap(first, second):
    return first[0] < second[2] and second[0] < first[2] and first[1] < second[3] and second[1] < first[3]


@pytest.mark.parametrize("unit", ["mm", "in", "in/16"])
@pytest.mark.parametrize(("width", "height"), [(757, 430), (707, 440), (1105, 680)], ids=["A4", "Letter", "A3"])
def test_no_text_covers_another(unit, width, height):
    """No two texts share ground, on any paper, in any unit."""
    sheet, _ = drawn(unit=unit, width=width, height=height)
    texts = labels(sheet)
    clashes = [(a.text, b.text) for a, b in combinations(texts, 2) if overlap(sheet.box(a), sheet.box(b))]
    assert clashes == []


@pytest.mark.parametrize("unit", ["mm", "in", "in/16"])
def test_every_text_stands_on_the_sheet(unit):
    """Nothing is cut off at the edge."""
    sheet, _ = drawn(unit=unit)
    boxes = [sheet.box(label) for label in labels(sheet)]
    assert all(b[0] >= 0 and b[1] >= 0 and b[2] <= sheet.width and b[3] <= sheet.height for b in boxes)


def test_no_number_covers_a_fitting():
    """Balloons stand beside the rims."""
    sheet, _ = drawn()
    discs = [item for item in sheet.items if isinstance(item, Disc) and item.radius > 2]
    balloons = [disc for disc in discs if disc.fill == 1.0]
    rims = [disc for disc in discs if disc.fill is None]
    assert len(balloons) == len(a_survey().fittings)
    assert not any(overlap(disc_box(balloon), disc_box(rim)) for balloon in balloons for rim in rims)


@pytest.mark.parametrize(
    "text",
    [
        "2120.2 ± 3.2",
        "1980.4 ± 3.4",
        "2237.4 ± 4.4",
        "A  888.0 ± 2.2",
        "B  760.1 ± 1.8",
        "B  759.4 ± 1.9",
        "℄  1040.3 ± 2.4",
        "328.1 ± 2.8",
        "940.4 ± 3.0",
        "18.42° ± 0.12°",
        "18.79° ± 0.13°",
        "PORT",
        "STARBOARD",
    ],
)
def test_dimension_is_on_the_drawing(text):
    """Every main dimension stands there with its U."""
    assert text in [label.text for label in labels(drawn()[0])]


def test_drawing_is_true_to_scale():
    """The line of the chine beam is 2120 mm long at the scale stated."""
    sheet, scale = drawn()
    levels = [item.points for item in sheet.items if isinstance(item, Stroke) and len(item.points) == 2]
    lengths = [abs(b[0] - a[0]) / MM * scale for a, b in levels if a[1] == b[1]]
    assert min(abs(length - 2120.0) for length in lengths) < 0.1  # mm on the boat, the truth's own rounding


def test_port_is_on_the_left():
    """Seen from astern, starboard is on the right."""
    places = {label.text: label.x for label in labels(drawn()[0])}
    assert places["PORT"] < places["STARBOARD"]


ROUND = [(-1000.0, 900.0), (-900.0, 300.0), (0.0, 0.0), (900.0, 300.0), (1000.0, 900.0), (0.0, 930.0)]


@pytest.mark.parametrize("start", range(6))
def test_outline_marked_all_round_is_closed(start):
    """A ring of marks becomes a closed line wherever its list begins."""
    line = opened_ring([*ROUND[start:], *ROUND[:start]])
    assert line[0] == line[-1]
    assert set(line) == set(ROUND)


@pytest.mark.parametrize("start", range(5))
def test_outline_stays_open_where_nothing_was_marked(start):
    """Without marks on the top edge no line is drawn between the top corners."""
    bottom = ROUND[:5]
    line = opened_ring([*bottom[start:], *bottom[:start]])
    assert {line[0], line[-1]} == {(-1000.0, 900.0), (1000.0, 900.0)}
    assert len(line) == 5


@given(st.floats(50, 9000), st.floats(50, 4000))
def test_scale_is_the_largest_that_fits(wide, high):
    """The drawing fits its room, and would not at the next larger scale."""
    scale = fitting_scale((-wide / 2, 0.0, wide / 2, high), 640.0, 330.0)
    fits = {n: wide * MM / n <= 640.0 and high * MM / n <= 330.0 for n in SCALES}
    assert fits[scale]
    assert not any(fits[n] for n in SCALES if n < scale)


@pytest.mark.parametrize(
    "change",
    [
        pytest.param({"outline": ()}, id="no-outline"),
        pytest.param({"reference_line": None}, id="no-reference-line"),
        pytest.param({"points": ()}, id="no-points"),
        pytest.param({"fittings": ()}, id="no-fittings"),
        pytest.param({"dimensions": ()}, id="no-dimensions"),
        pytest.param({"points": (), "outline": (), "fittings": (), "reference_line": None}, id="nothing"),
    ],
)
def test_drawing_without_some_of_its_parts(change):
    """What was not measured is left out, the rest is drawn."""
    sheet, scale = drawn(replace(a_survey(), **change))
    assert scale in SCALES
    assert "PORT" in [label.text for label in labels(sheet)]
