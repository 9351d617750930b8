"""What is drawn for cutting: which lines, in which plane, and what is said to be missing."""

import math
from dataclasses import replace

import pytest

from digitizer.reports.cutting import Circle, LayerName, Line, cutting_drawing
from digitizer.reports.cutting_layout import laid_out
from digitizer.reports.paper import text_width
from digitizer.reports.wording import one_line
from digitizer.survey.model import SurveyPoint
from tests.reports.a_survey import a_job
from tests.reports.for_cutting import (
    BOTTOM_EDGE,
    EDGES,
    HOSTILE,
    a_bowed_survey,
    a_drawing,
    a_flat_survey,
    hostile_survey_and_job,
    many_fittings,
)


def on(drawing, layer):
    return [line for line in drawing.lines if line.layer is layer]


def test_outline_is_one_closed_line():
    """Edges that meet all round become one polygon, without its first point repeated."""
    (outline,) = on(a_drawing(), LayerName.OUTLINE)
    assert outline.closed
    assert outline.points == (*BOTTOM_EDGE, (1100.0, 900.0), (0.0, 960.0), (-1100.0, 900.0))


def test_bottom_edge_stands_by_itself_too():
    """The line that a part must fit is there once more on its own layer."""
    (bottom,) = on(a_drawing(), LayerName.BOTTOM_EDGE)
    assert (bottom.points, bottom.closed) == (BOTTOM_EDGE, False)


def test_open_outline_is_drawn_as_far_as_it_goes():
    """Without a top edge there is one open line, and the drawing says what is missing."""
    edges = (EDGES[3], EDGES[0], EDGES[1])
    drawing = a_drawing(a_flat_survey(edges=edges))
    (outline,) = on(drawing, LayerName.OUTLINE)
    assert not outline.closed
    assert outline.points[0] == (-1100.0, 900.0)
    assert outline.points[-1] == (1100.0, 900.0)
    said = " ".join(drawing.missing)
    assert "not closed" in said
    assert "top edge is missing" in said
    assert "bottom edge is missing" not in said


def test_job_without_anything_marked_says_so():
    """Only datum lines and fittings are drawn; everything that lacks is named."""
    survey = a_flat_survey(edges=(), offsets=(), points=(), reference_line=None)
    drawing = a_drawing(survey)
    assert on(drawing, LayerName.OUTLINE) == []
    assert {line.layer for line in drawing.lines} == {LayerName.CENTRELINE, LayerName.BASELINE}
    said = " ".join(drawing.missing)
    assert all(words in said for words in ("outline", "bottom edge", "top edge", "reference line"))


def test_complete_job_misses_nothing():
    """Where all was marked, no list of what is missing."""
    assert a_drawing().missing == ()


def test_fitting_without_size_is_named():
    """It gets a cross, and the drawing says that its size is unknown."""
    survey = a_flat_survey()
    bare = replace(survey.fittings[1], diameter=None, width=None, height=None)
    drawing = a_drawing(replace(survey, fittings=(survey.fittings[0], bare)))
    assert [fitting.shape for fitting in drawing.fittings] == ["circle", "point"]
    assert "fitting 2" in " ".join(drawing.missing)


def test_fitting_without_a_place_is_counted():
    """What can't be placed isn't drawn at some default, and is counted."""
    survey = a_flat_survey()
    lost = replace(survey.fittings[0], x=replace(survey.fittings[0].x, value=math.nan))
    drawing = a_drawing(replace(survey, fittings=(lost, *survey.fittings[1:])))
    assert len(drawing.fittings) == len(survey.fittings) - 1
    assert "not drawn: 1" in " ".join(drawing.missing)


def test_planes_are_labelled():
    """A flat face is in the face, a bowed one rolled flat by girth, and the drawing says which."""
    assert a_drawing().plane.startswith("In the face")
    bowed = a_drawing(a_bowed_survey())
    assert bowed.plane.startswith("Rolled flat (girth)")
    assert {table.title for table in bowed.offsets} == {
        "Heights above the keel point, mm, rolled flat (girth)",
        "Half-breadths, mm, rolled flat (girth)",
    }


def test_bowed_face_is_rolled_flat():
    """Reference line, pad and fittings stand at their girths: R asin(x / R)."""
    survey = a_bowed_survey(radius=2000.0)
    drawing = a_drawing(survey)
    (reference,) = on(drawing, LayerName.REFERENCE_LINE)
    assert [x for x, _ in reference.points] == pytest.approx(
        sorted(2000.0 * math.asin(x / 2000.0) for x, _ in survey.reference_line), abs=1e-9
    )
    (pad,) = on(drawing, LayerName.PADS)
    assert max(x for x, _ in pad.points) == pytest.approx(2000.0 * math.asin(0.1), abs=1e-9)
    assert drawing.fittings[0].at[0] == survey.fittings[0].girth.value


def test_stations_go_from_bottom_to_top():
    """At 500 mm a line goes from 150 to 932.7, with its number."""
    line = next(line for line in on(a_drawing(), LayerName.STATIONS) if line.points[0][0] == 500.0)
    assert line.points == ((500.0, 150.0), (500.0, pytest.approx(960.0 - 60.0 * 500.0 / 1100.0)))
    assert line.name == "500"


def test_planned_parts_join_the_drawing():
    """Lines and circles of a flange keep their layer, and the extent holds them."""
    plate = Line(LayerName.FLANGE, ((-400.0, -300.0), (400.0, -300.0), (400.0, 100.0)), closed=True)
    bolt = Circle(LayerName.FLANGE, (0.0, 1500.0), 7.0)
    drawing = a_drawing(planned=(plate, bolt))
    assert plate in drawing.lines
    assert drawing.circles == (bolt,)
    assert drawing.extent[1] < -300.0
    assert drawing.extent[3] >= 1507.0


def test_marked_waterline_is_drawn():
    """Scum-line marks are joined from port to starboard, rolled flat with everything else."""
    survey = a_bowed_survey(radius=2000.0)
    marks = [SurveyPoint(f"w{x:g}", "waterline", None, x, 410.0, 0.0, 1.0, 1.0) for x in (600.0, -600.0)]
    (line,) = on(a_drawing(replace(survey, points=(*survey.points, *marks))), LayerName.WATERLINE)
    girth = 2000.0 * math.asin(0.3)
    assert line.points == (pytest.approx((-girth, 410.0)), pytest.approx((girth, 410.0)))


def test_uncertainty_of_the_outline_is_said():
    """The largest U of heights and half-breadths stands in the notes."""
    assert any("heights up to ± 1.6 mm, half-breadths up to ± 1.6 mm" in note for note in a_drawing().notes)


def test_figures_may_be_in_inches():
    """Facts and offsets follow the unit asked for."""
    drawing = a_drawing(unit="in")
    assert any("in" in fact and "±" in fact for fact in drawing.facts)
    assert drawing.offsets[0].title == "Heights above the keel point, in, in the face"
    assert drawing.offsets[0].rows[1][:2] == ("19.69", "5.91 ± 0.06")


def boxes(texts):
    """Rectangles that level texts cover, mm."""
    for each in texts:
        wide = text_width(each.text, each.size, each.bold)
        left = each.at[0] - wide / 2 if each.centred else each.at[0]
        low = each.at[1] - 0.36 * each.size if each.centred else each.at[1]
        yield left, low, left + wide, low + 0.72 * each.size


@pytest.mark.parametrize(
    "survey",
    [
        pytest.param(a_flat_survey(), id="flat"),
        pytest.param(a_bowed_survey(), id="bowed"),
        pytest.param(many_fittings(), id="thirty-fittings-close-together"),
    ],
)
def test_no_text_covers_another(survey):
    """Labels, numbers and tables stand clear of each other, and inside the extent."""
    layout = laid_out(a_drawing(survey))
    places = list(boxes([text for text in layout.texts if not text.angle]))
    for i, a in enumerate(places):
        assert layout.extent[0] <= a[0]
        assert a[2] <= layout.extent[2]
        assert layout.extent[1] <= a[1]
        assert a[3] <= layout.extent[3]
        for b in places[:i]:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (layout.texts[i].text, a, b)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_one_line_is_harmless(text):
    """No control, formatting or direction sign stays, and no text is endless."""
    line = one_line(text)
    assert len(line) <= 120
    assert line.isprintable()
    assert not set(line) & set("\u202e\u202c\x00\x07\n\t")


def test_hostile_texts_keep_the_layout_small():
    """Ten thousand letters don't make a drawing that is mostly text."""
    survey, job = hostile_survey_and_job()
    layout = laid_out(cutting_drawing(survey, job, "mm"))
    assert layout.extent[2] - layout.extent[0] < 10_000.0
    assert max(len(text.text) for text in layout.texts) <= 120


def test_lettering_of_every_script_stays():
    """Greek, Cyrillic and Nordic letters and right-to-left words are kept."""
    assert one_line("Ærø Ελλάδα Ђорђе שלום") == "Ærø Ελλάδα Ђорђе שלום"
    assert a_job().title
