"""Photos in the report: marks where they were clicked, the face flattened through the whole lens."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitizer.job.model import MarkKind
from digitizer.reports.paper import text_width
from digitizer.reports.plates import (
    _places_on_bow,
    _places_on_flat,
    flattened_photo,
    marked_part,
    marked_photo,
)
from digitizer.reports.sheet import Label, Sheet, Stroke
from digitizer.transom.surface import girth_of
from tests.reports.a_survey import a_job, a_picture, a_survey

AROUND = (-1200.0, -100.0, 1200.0, 1100.0)  # mm
SIZE = (680.4, 340.2)  # points: 2400 × 1200 mm at 1:10


def seen(photo, places):
    """Where points of the face fall in the photo, by OpenCV's own projection."""
    f, cx, cy, *bends = photo.camera_matrix
    lens = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    turn, _ = cv2.Rodrigues(np.array(photo.rotation).reshape(3, 3))
    points, _ = cv2.projectPoints(np.array(places), turn, np.array(photo.translation), lens, np.array(bends))
    return points.reshape(-1, 2)


def dotted(photo, places, shrink=1):
    """A black picture with a white dot of 10 mm at each place of the face."""
    picture = np.zeros((photo.height_px // shrink, photo.width_px // shrink, 3), dtype=np.uint8)
    for x, y in seen(photo, places):
        centre = round(((x + 0.5) / shrink - 0.5) * 16), round(((y + 0.5) / shrink - 0.5) * 16)
        cv2.circle(picture, centre, 16 * 6 // shrink, (255, 255, 255), -1, cv2.LINE_AA, 4)
    return picture


def middles(jpeg, around):
    """Middles of the white dots in a flattened picture, mm in the face."""
    grey = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    count, _, _, places = cv2.connectedComponentsWithStats((grey > 100).astype(np.uint8))
    step = (around[2] - around[0]) / grey.shape[1]
    return np.array([(around[0] + (x + 0.5) * step, around[3] - (y + 0.5) * step) for x, y in places[1:count]])


@pytest.mark.parametrize(
    ("bends", "shrink"),
    [
        pytest.param((-0.026, 0.008, -0.0002, 0.0002, 0.0), 1, id="as-photographed"),
        pytest.param((-0.12, 0.03, 0.001, -0.001, 0.002), 1, id="strong-distortion"),
        pytest.param((-0.026, 0.008, -0.0002, 0.0002, 0.0), 2, id="picture-already-halved"),
    ],
)
def test_flattened_points_fall_on_their_millimetres(bends, shrink):
    """Dots seen through the lens come back to their places in the face."""
    survey = a_survey()
    photo = replace(survey.photos[0], camera_matrix=(*survey.photos[0].camera_matrix[:3], *bends))
    places = [(x, y, 0.0) for x in (-1000.0, -300.0, 0.0, 450.0, 1000.0) for y in (50.0, 500.0, 900.0)]
    plate = flattened_photo(photo, dotted(photo, places, shrink), survey, AROUND, 10, Sheet(*SIZE, text_width))
    found = middles(plate.jpeg, AROUND)
    assert len(found) == len(places)
    off = [np.linalg.norm(found - place[:2], axis=1).min() for place in places]
    assert max(off) < 0.8  # mm: half a pixel of the flattened picture


def test_grid_is_labelled_every_hundred_millimetres():
    """Lines of 100 mm carry their figure from the keel point."""
    survey = a_survey()
    sheet = Sheet(*SIZE, text_width)
    flattened_photo(survey.photos[0], a_picture(), survey, AROUND, 10, sheet)
    texts = [item.text for item in sheet.items if isinstance(item, Label)]
    assert {"−1200", "−100", "0", "100", "1100", "reference line", "centreline"} <= set(texts)


def test_reference_line_lies_at_its_height():
    """The line drawn over the flattened photo is at 888 mm on the grid."""
    survey = a_survey()
    sheet = Sheet(*SIZE, text_width)
    flattened_photo(survey.photos[0], a_picture(), survey, AROUND, 10, sheet)
    dashed = next(item for item in sheet.items if isinstance(item, Stroke) and len(item.dash) == 4)
    heights = [y / SIZE[1] * 1200.0 - 100.0 for _, y in dashed.points]
    assert heights == pytest.approx([888.0, 888.0], abs=0.01)  # mm, float rounding


def a_plate(job=None, survey=None):
    survey = survey or a_survey()
    sheet = Sheet(600.0, 450.0, text_width)
    whole = (0, 0, 4000, 3000)
    return marked_photo(survey.photos[0], a_picture(), whole, survey, job or a_job(), sheet), sheet


def test_mark_is_drawn_on_its_pixel():
    """The keel's triangle is centred on its click: half a pixel in from the corner, y downwards."""
    job = a_job()
    keel = next(mark for mark in job.marks if mark.kind is MarkKind.KEEL)
    _, sheet = a_plate(replace(job, marks=(keel,), lines=(), lengths=()))
    triangle = next(item for item in sheet.items if isinstance(item, Stroke) and item.closed)
    expected = (keel.x_px + 0.5) * 0.15, 450.0 - (keel.y_px + 0.5) * 0.15
    assert triangle.points[0] == pytest.approx((expected[0], expected[1] + 3.0))


def test_shown_part_holds_all_marks():
    """The plate is cut to the marks with 6 % of the width round them, within the photo."""
    job, photo = a_job(), a_survey().photos[0]
    left, top, right, bottom = marked_part(photo, job)
    assert all(left + 239 < mark.x_px < right - 239 for mark in job.marks)
    assert all(top + 239 < mark.y_px < bottom - 239 for mark in job.marks)
    assert marked_part(photo, replace(job, marks=())) == (0, 0, 4000, 3000)


def test_mark_stays_on_its_pixel_in_a_part():
    """Cutting the photo moves its marks with it: the picture's bright cross lies under a mark on it."""
    job = a_job()
    middle = replace(job.marks[0], kind=MarkKind.RIM, x_px=1999.5, y_px=1499.5, of=None)
    survey = a_survey(fittings=())
    sheet = Sheet(400.0, 300.0, text_width)
    part = (1000, 1200, 2600, 2400)
    only = replace(job, marks=(middle,), lines=(), lengths=())
    plate = marked_photo(survey.photos[0], a_picture(), part, survey, only, sheet)
    dot = sheet.items[0]
    grey = cv2.imdecode(np.frombuffer(plate.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    step = sheet.width / grey.shape[1]
    columns, rows = np.nonzero(grey[0] > 200)[0], np.nonzero(grey[:, 0] > 200)[0]
    assert dot.x == pytest.approx((columns.mean() + 0.5) * step, abs=step)
    assert dot.y == pytest.approx(sheet.height - (rows.mean() + 0.5) * step, abs=step)


def test_kinds_differ_by_shape():
    """No two kinds of the legend share a sign, except the rims of round and square fittings."""
    legend = a_plate()[0].legend
    shapes = [shape for shape, _ in legend]
    assert len(shapes) == len(set(shapes))


def test_every_mark_has_a_halo():
    """Signs are read on dark paint: each line of a mark lies on a wider white one."""
    _, sheet = a_plate()
    assert all(item.halo > 0 for item in sheet.items if isinstance(item, Stroke))


def test_rejected_mark_is_crossed_out():
    """The legend explains the sign of a rejected mark where there is one."""
    assert ("rejected", "rejected by the adjustment") in a_plate()[0].legend
    calm = replace(a_survey(), observations=())
    assert "rejected" not in dict(a_plate(survey=calm)[0].legend)


def test_inactive_mark_is_not_drawn():
    """What was switched off leaves no sign."""
    job = a_job()
    off = replace(job, marks=tuple(replace(mark, active=False) for mark in job.marks))
    assert a_plate(off)[0].legend == ()


def test_fittings_carry_the_numbers_of_the_schedule():
    """Each fitting with marks in the photo has its number."""
    _, sheet = a_plate()
    numbers = [item.text for item in sheet.items if isinstance(item, Label) and item.text.isdigit()]
    assert sorted(map(int, numbers)) == list(range(1, 11))


def test_known_length_is_written_on_the_photo():
    """The rule's figure stands beside it, in the job's unit."""
    for unit, text in (("mm", "1500.0 mm"), ("in/16", "59 1/16 in")):
        _, sheet = a_plate(a_job(unit=unit))
        assert text in [item.text for item in sheet.items if isinstance(item, Label)]


def test_hardly_bowed_face_is_looked_up_like_a_flat_one() -> None:
    """Two ways to the same place: a radius of a thousand kilometres against OpenCV's map of the plane."""
    photo = a_survey().photos[0]
    around, step, size = (-1000.0, -50.0, 1000.0, 1050.0), (20.0, 20.0), (100, 55)
    flat, bow = _places_on_flat(photo, around, step, size), _places_on_bow(photo, around, step, size, 1e-9)
    for one, other in zip(flat, bow, strict=True):
        np.testing.assert_allclose(one, other, atol=0.01)  # px


def test_girth_is_the_arc_of_the_half_breadth() -> None:
    """At 1000 mm out on a radius of 2000 mm the surface has gone round 30 degrees."""
    assert girth_of(1000.0, 1.0 / 2000.0) == pytest.approx(2000.0 * math.pi / 6.0)
    assert girth_of(700.0, 0.0) == 700.0
