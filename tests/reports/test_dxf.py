"""The DXF, read back: by the library that wrote it, and by GDAL, which knows nothing of that library."""

import io
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import ezdxf
import numpy as np
import pyogrio.raw
import pytest
import shapely
from ezdxf import recover

from digitizer.errors import ReportError
from digitizer.reports.cutting import Circle, LayerName, Line, cutting_drawing
from digitizer.reports.dxf import dxf_text, plain, write_dxf
from tests.reports.a_survey import a_job
from tests.reports.for_cutting import (
    BOTTOM_EDGE,
    HOSTILE,
    a_bowed_survey,
    a_drawing,
    a_flat_survey,
    hostile_survey_and_job,
    many_fittings,
)
from tests.reports.test_flange_parts import a_survey as a_flanged_survey

CLOSE = 0.01  # mm: what the file must be read back to


def read(text):
    """The file by its own library's strict reader."""
    document = ezdxf.read(io.StringIO(text.decode("utf-8")))
    assert not document.audit().errors
    return document


def by_gdal(path):
    """Layer, geometry and text of every entity, by GDAL."""
    meta, _, shapes, fields = pyogrio.raw.read(path)
    columns = dict(zip(meta["fields"], fields, strict=True))
    return list(zip(columns["Layer"], shapely.from_wkb(shapes), columns["Text"], strict=True))


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "transom.dxf"
    write_dxf(a_drawing(), path)
    return path


@pytest.mark.parametrize(
    "survey",
    [
        pytest.param(a_flat_survey(), id="flat"),
        pytest.param(a_bowed_survey(), id="bowed"),
        pytest.param(many_fittings(), id="thirty-fittings"),
        pytest.param(a_flat_survey(edges=(), offsets=(), points=(), reference_line=None, fittings=()), id="bare"),
    ],
)
def test_auditor_finds_nothing(survey):
    """Neither a fault nor anything that it would repair."""
    document, auditor = recover.read(io.BytesIO(dxf_text(a_drawing(survey))))
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert document.dxfversion == "AC1024"


@pytest.mark.parametrize(
    ("inches", "unit", "measurement", "size"),
    [pytest.param(False, 4, 1, 1.0, id="millimetres"), pytest.param(True, 1, 0, 25.4, id="inches")],
)
def test_units_are_declared_and_kept(inches, unit, measurement, size):
    """The header says which unit, and the outline is in it."""
    document = read(dxf_text(a_drawing(), inches))
    assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (unit, measurement)
    (outline,) = document.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')
    points = np.array([point[:2] for point in outline.get_points()]) * size
    assert points[:3] == pytest.approx(np.array(BOTTOM_EDGE), abs=CLOSE)
    assert outline.closed


def test_gdal_reads_the_outline(written):
    """Corners, area and circumference as GDAL and GEOS have them are those that were drawn."""
    (line,) = [shape for layer, shape, _ in by_gdal(written) if layer == "OUTLINE"]
    polygon = shapely.Polygon(line.coords)
    corners = np.array(line.coords)[:, :2]
    assert corners[:3] == pytest.approx(np.array(BOTTOM_EDGE), abs=CLOSE)
    # Trapezia by hand: bottom triangle 1000·300, sides (2000 + 2200)/2·600, top triangle 2200·60/2.
    assert polygon.area == pytest.approx(300_000.0 + 1_260_000.0 + 66_000.0, abs=1.0)  # mm², of 1.6 million


def test_gdal_reads_the_fittings(written):
    """Each fitting stands at its place with its diameter, once its block is inserted."""
    rims = [shape for layer, shape, _ in by_gdal(written) if layer == "FITTINGS"]
    fittings = a_drawing().fittings
    assert len(rims) == len(fittings)
    for shape, fitting in zip(rims, fittings, strict=True):
        circle = max(shape.geoms, key=lambda part: part.length)
        x, y = shapely.box(*circle.bounds).centroid.coords[0]
        assert (x, y) == pytest.approx(fitting.at, abs=CLOSE)
        if fitting.shape == "circle":
            far = np.hypot(*(np.array(circle.coords)[:, :2] - fitting.at).T)
            assert far == pytest.approx(np.full(len(far), fitting.width / 2), abs=CLOSE)


def test_rectangles_keep_sides_and_turn(tmp_path):
    """A rectangle of 62 × 118 mm turned by 0.2 rad comes back so."""
    survey = a_flat_survey()
    found = next(f for f in survey.fittings if f.width is not None)
    write_dxf(a_drawing(replace(survey, fittings=(replace(found, roll_rad=0.2),))), tmp_path / "r.dxf")
    (shape,) = [shape for layer, shape, _ in by_gdal(tmp_path / "r.dxf") if layer == "FITTINGS"]
    ring = np.array(max(shape.geoms, key=lambda part: part.length).coords)[:4, :2]
    sides = np.diff(ring, axis=0)
    assert np.hypot(*sides[:2].T) == pytest.approx([62.0, 118.0], abs=CLOSE)
    assert np.arctan2(sides[0, 1], sides[0, 0]) == pytest.approx(0.2, abs=1e-6)  # rad


def test_every_layer_has_its_meaning():
    """All layers are listed, each with a description, and nothing lies on a layer that isn't."""
    document = read(dxf_text(a_drawing(a_bowed_survey())))
    names = {str(name) for name in LayerName}
    assert names <= {layer.dxf.name for layer in document.layers}
    assert all(document.layers.get(name).description for name in names)
    assert {entity.dxf.layer for entity in document.modelspace()} <= names


def test_one_block_for_each_kind_and_shape():
    """Fittings alike share a block; each insertion knows its number and name."""
    document = read(dxf_text(a_drawing(many_fittings())))
    inserts = list(document.modelspace().query("INSERT"))
    assert len(inserts) == 30
    assert len({insert.dxf.name for insert in inserts}) == 1
    assert inserts[4].get_attrib_text("NAME") == "bolt hole 5"
    assert inserts[4].get_attrib_text("NUMBER") == "5"


def test_texts_are_single_lines_in_a_common_face():
    """No formatted text and no exotic font; the plane, the caution and U are readable."""
    document = read(dxf_text(a_drawing()))
    assert not document.modelspace().query("MTEXT")
    assert {style.dxf.font for style in document.styles if "DIGITIZER" in style.dxf.name} == {
        "arial.ttf",
        "arialbd.ttf",
    }
    said = " ".join(text.dxf.text for text in document.modelspace().query("TEXT"))
    for words in ("In the face", "Check the dimensions on the boat before cutting.", "± 1.6", "U, 95 %"):
        assert words in said


def test_flange_of_the_job_is_drawn():
    """Flange and margin are closed lines on their layers, its holes circles, where the survey has them."""
    survey = a_flanged_survey()
    space = read(dxf_text(a_drawing(survey))).modelspace()
    for layer, ring in (("FLANGE", survey.flange.outline), ("FLANGE_MARGIN", survey.flange.margin_line)):
        (line,) = space.query(f'LWPOLYLINE[layer=="{layer}"]')
        assert line.closed
        assert np.array([point[:2] for point in line.get_points()]) == pytest.approx(np.array(ring), abs=CLOSE)
    holes = [tuple(circle.dxf.center)[:2] for circle in space.query('CIRCLE[layer=="FLANGE"]')]
    assert np.array(holes) == pytest.approx(np.array(survey.flange.bolts), abs=CLOSE)


def test_further_parts_are_on_their_layer():
    """Lines and circles given beside the survey arrive as they were given."""
    plate = Line(LayerName.FLANGE, ((-400.0, 100.0), (400.0, 100.0), (400.0, 700.0), (-400.0, 700.0)), closed=True)
    bolt = Circle(LayerName.FLANGE, (350.0, 650.0), 7.0)
    space = read(dxf_text(a_drawing(planned=(plate, bolt)))).modelspace()
    (circle,) = space.query('CIRCLE[layer=="FLANGE"]')
    assert (tuple(circle.dxf.center)[:2], circle.dxf.radius) == ((350.0, 650.0), 7.0)
    assert len(space.query('LWPOLYLINE[layer=="FLANGE"]')) == 1


def test_equal_jobs_are_equal_files():
    """Two writings agree byte for byte, in this process and in another."""
    here = dxf_text(a_drawing())
    assert here == dxf_text(a_drawing())
    script = (
        "import sys; from tests.reports.for_cutting import a_drawing; from digitizer.reports.dxf import dxf_text;"
        "sys.stdout.buffer.write(dxf_text(a_drawing()))"
    )
    assert subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, timeout=60).stdout == here


def test_unfrozen_file_carries_its_time():
    """Asked not to freeze, the file has identifiers of its own."""
    assert dxf_text(a_drawing(), frozen=False) != dxf_text(a_drawing())


def test_hostile_texts_are_just_text(tmp_path):
    """Markup, formulas, codes, other directions and 10 000 letters neither break the file nor become codes."""
    survey, job = hostile_survey_and_job()
    path = tmp_path / "hostile.dxf"
    write_dxf(cutting_drawing(survey, job, "mm"), path)
    document, auditor = recover.readfile(path)
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert len(by_gdal(path)) > 100
    texts = [text.dxf.text for text in document.modelspace().query("TEXT")]
    assert not any("\\" in text or "%%" in text for text in texts)
    assert any("Ελλάδα Ђорђе" in text for text in texts)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_plain_text_holds_no_codes(text):
    """No backslash, no doubled percent sign, and no caret that begins a control sign."""
    clean = plain(text)
    assert "\\" not in clean
    assert "%%" not in clean
    assert all(following == " " for sign, following in pairwise(clean) if sign == "^")


def test_old_file_stays_when_the_new_one_fails(tmp_path):
    """A folder that isn't there is refused; a drawing that is there stays whole."""
    with pytest.raises(ReportError, match="no such folder"):
        write_dxf(a_drawing(), tmp_path / "nowhere" / "a.dxf")
    assert list(tmp_path.iterdir()) == []


def test_no_module_option_is_left_switched():
    """Writing leaves the library's switch for frozen files as it was."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    dxf_text(a_drawing())
    assert ezdxf.options.write_fixed_meta_data_for_testing is before
    assert a_job().title
