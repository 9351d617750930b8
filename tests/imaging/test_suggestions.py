"""Fittings found without a click: which, and how much that is none is offered along."""

import json
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from digitizer.imaging.photo import gray_pixels
from digitizer.imaging.suggestions import fitting_suggestions
from digitizer.job.model import FittingShape
from tests.imaging.edge_pictures import Layer, drawn, fitting, half_plane, photographed, polygon, string

SAMPLES = Path(__file__).parents[2] / "sample_images"
ROUND = [((130.0, 150.0), (34.0, 30.0)), ((480.0, 140.0), (26.0, 22.0)), ((300.0, 330.0), (14.0, 14.0))]
PLATE = [(380.0, 230.0), (500.0, 238.0), (497.0, 286.0), (377.0, 278.0)]


@cache
def a_transom():
    layers = [layer for centre, axes in ROUND for layer in fitting(centre, axes, flange=110.0)]
    layers += [Layer(polygon(PLATE), 60.0), Layer(string((20.0, 60.0), (600.0, 52.0), 3.0), 40.0)]
    return photographed(drawn((640, 420), layers, 190.0), np.random.default_rng(1))


def test_round_fittings_and_a_plate_are_offered():
    """Three through-hulls and a plate are found, with centre and size; a string is not."""
    found = fitting_suggestions(a_transom())
    rounds = [one for one in found if one.shape is FittingShape.CIRCLE]
    plates = [one for one in found if one.shape is FittingShape.RECTANGLE]
    assert len(rounds) == 3
    assert len(plates) == 1
    for centre, axes in ROUND:
        near = min(rounds, key=lambda one: np.hypot(*(one.centre - centre)))
        assert near.centre == pytest.approx(centre, abs=0.3)
        assert near.size == pytest.approx(2 * np.array(axes), abs=0.5)
    assert plates[0].centre == pytest.approx(np.mean(PLATE, axis=0), abs=0.5)


def test_likeliest_first():
    """Scores fall and lie between 0 and 1."""
    scores = [one.score for one in fitting_suggestions(a_transom())]
    assert scores == sorted(scores, reverse=True)
    assert all(0.0 < score <= 1.0 for score in scores)


def test_region_limits_the_search():
    """Only what lies in the region is offered."""
    found = fitting_suggestions(a_transom(), (0.0, 80.0, 250.0, 300.0))
    assert len(found) == 1
    assert found[0].centre == pytest.approx(ROUND[0][0], abs=0.3)


def test_chequered_board_is_not_a_row_of_plates():
    """Squares in a pattern are a printed board."""
    squares = np.kron(np.indices((6, 8)).sum(axis=0) % 2, np.ones((20, 20))) * 170.0 + 20.0
    gray = a_transom().copy()
    gray[80:200, 200:360] = cv2.GaussianBlur(squares, (0, 0), 0.9)
    found = fitting_suggestions(gray)
    assert len(found) == 4
    assert not [one for one in found if 190 < one.centre[0] < 370 and 70 < one.centre[1] < 210]


def test_bare_hull_offers_nothing():
    """Noise and a change of colour are no fittings."""
    gray = photographed(
        drawn((640, 420), [Layer(half_plane((0.0, 300.0), 0.1), 80.0)], 190.0), np.random.default_rng(2)
    )
    assert fitting_suggestions(gray) == ()


def test_tiny_picture_offers_nothing():
    """A picture smaller than the search's own window is no mistake."""
    assert fitting_suggestions(np.full((20, 30), 90, dtype=np.uint8)) == ()


def test_colour_shows_what_is_as_bright_as_the_hull():
    """A red fitting on a green hull of the same brightness is found in colour only."""
    rng = np.random.default_rng(3)

    def channel(hull, disc):
        return photographed(
            drawn((640, 420), [*fitting((300.0, 200.0), (40.0, 40.0), flange=disc, bore=disc)], hull), rng
        )

    picture = np.dstack([channel(90.0, 170.0), channel(140.0, 104.0), channel(120.0, 110.0)])
    assert any(np.hypot(*(one.centre - (300.0, 200.0))) < 3.0 for one in fitting_suggestions(picture))


@pytest.mark.parametrize(
    ("folder", "expected"),
    [
        ("flat_square_on", {"bilge_port", "livewell_stbd", "drain"}),
        ("bowed_three", {"scupper_port", "bilge_stbd", "drain"}),
        ("padded_two", {"scupper_port", "bilge_stbd", "drain"}),
        ("damaged_two", {"bilge_port", "scupper_stbd", "drain"}),
    ],
)
def test_fittings_of_a_sample_photo(folder, expected):
    """On the bundled renders the through-hulls and drains are offered, and little that is no fitting."""
    record = json.loads((SAMPLES / folder / "truth.json").read_text(encoding="utf-8"))["photos"][0]
    file = SAMPLES / folder / record["file"]
    outline = np.array(record["pixels"]["outline"]["uv"], dtype=float)
    found = fitting_suggestions(gray_pixels(file.read_bytes(), file.name), (*outline.min(axis=0), *outline.max(axis=0)))
    rims = {name: np.array(fitting_["rim_uv"]) for name, fitting_ in record["pixels"]["fittings"].items()}
    hits = {
        name
        for name, rim in rims.items()
        for one in found
        if np.hypot(*(one.centre - rim.mean(axis=0))) < 0.3 * np.ptp(rim, axis=0).max()
    }
    assert len(hits & expected) >= len(expected) - 1
    assert len(found) <= len(hits) + 8
