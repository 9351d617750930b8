"""The SVG, parsed by the standard library: true size, layers by name, texts that are only text."""

import xml.etree.ElementTree as ET

import pytest

from digitizer.reports.cutting import LAYERS, LayerName, cutting_drawing
from digitizer.reports.svg import svg_text, write_svg
from tests.reports.for_cutting import (
    BOTTOM_EDGE,
    a_bowed_survey,
    a_drawing,
    a_flat_survey,
    hostile_survey_and_job,
    many_fittings,
)

SVG = "{http://www.w3.org/2000/svg}"


def group(root, layer):
    return next(each for each in root.iter(f"{SVG}g") if each.get("id") == layer)


def points(element):
    return [tuple(float(part) for part in pair.split(",")) for pair in element.get("points").split()]


def keel(root):
    """Where the description says that the keel point lies."""
    words = root.find(f"{SVG}desc").text
    return tuple(float(part) for part in words.split("keel point lies at ")[1].split(". ")[0].split(", "))


def test_one_unit_is_a_millimetre():
    """The picture's size in mm is that of its view box."""
    root = ET.fromstring(svg_text(a_drawing()))
    _, _, wide, high = root.get("viewBox").split()
    assert (root.get("width"), root.get("height")) == (f"{wide}mm", f"{high}mm")


def test_outline_stands_where_it_was_measured():
    """From the keel point, corners lie at their mm, y down."""
    root = ET.fromstring(svg_text(a_drawing()))
    x, y = keel(root)
    (polygon,) = group(root, "OUTLINE").iter(f"{SVG}polygon")
    found = [(a - x, y - b) for a, b in points(polygon)]
    assert found[:3] == [pytest.approx(corner, abs=2e-4) for corner in BOTTOM_EDGE]  # mm, twice its last digit


def test_fittings_have_their_size_and_name():
    """Each rim is a circle of its radius with its name as title."""
    drawing = a_drawing(many_fittings())
    rims = list(group(ET.fromstring(svg_text(drawing)), "FITTINGS").iter(f"{SVG}circle"))
    assert {rim.get("r") for rim in rims} == {"20"}
    assert rims[6].find(f"{SVG}title").text == "7 bolt hole 7"


def test_layers_are_groups_with_their_meaning():
    """Every group is named by a layer and says what it means."""
    root = ET.fromstring(svg_text(a_drawing(a_bowed_survey())))
    groups = {each.get("id"): each.find(f"{SVG}title").text for each in root.iter(f"{SVG}g")}
    assert groups == {str(name): LAYERS[name].meaning for name in LayerName if name in groups}
    assert {"OUTLINE", "BOTTOM_EDGE", "PADS", "FITTINGS", "STATIONS", "NOTES"} <= set(groups)


def test_plane_is_written_on_the_drawing():
    """A bowed one says that it is rolled flat."""
    root = ET.fromstring(svg_text(a_drawing(a_bowed_survey())))
    said = " ".join(text.text for text in root.iter(f"{SVG}text"))
    assert "Rolled flat (girth)" in said


def test_nothing_marked_still_makes_a_picture():
    """Datum lines and the list of what is missing."""
    bare = a_flat_survey(edges=(), offsets=(), points=(), reference_line=None, fittings=())
    root = ET.fromstring(svg_text(a_drawing(bare)))
    assert any("outline is not closed" in (text.text or "") for text in root.iter(f"{SVG}text"))


def test_hostile_texts_are_just_text():
    """Markup arrives as letters: no element stands in the file that the drawing didn't put there."""
    survey, job = hostile_survey_and_job()
    text = svg_text(cutting_drawing(survey, job, "mm"))
    root = ET.fromstring(text)
    known = {"svg", "title", "desc", "rect", "g", "polyline", "polygon", "circle", "text"}
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == known
    assert "\u202e" not in text.decode("utf-8")
    assert any("<b>&amp;</b>" in (each.text or "") for each in root.iter(f"{SVG}text"))


def test_equal_jobs_are_equal_files(tmp_path):
    """Two writings agree byte for byte."""
    write_svg(a_drawing(), tmp_path / "a.svg")
    assert (tmp_path / "a.svg").read_bytes() == svg_text(a_drawing())
