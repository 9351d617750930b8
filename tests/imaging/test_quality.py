"""Sharpness, shake, contrast and clipping, against the blur that was put in."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging.quality import Sharpness, mark_quality, photo_quality
from tests.imaging.edge_pictures import Layer, drawn, ellipse, half_plane, photographed

CENTRE = np.array([100.0, 80.0])
PIXEL = 12.0**-0.5
"""px; spread that a pixel's own size adds."""


def a_disc(**camera) -> np.ndarray:
    picture = drawn((200, 160), [Layer(ellipse((100.0, 80.0), (40, 40)), camera.pop("brightness", 80.0))], 190.0)
    return photographed(picture, np.random.default_rng(1), **({"noise": 3.0} | camera))


@pytest.mark.parametrize("blur", [0.5, 0.8, 1.5, 3.0])
def test_spread_is_the_blur(blur: float):
    """The edge spread of a disc is its blur, with the pixel's own, within a tenth."""
    assert mark_quality(a_disc(blur=blur), CENTRE, 60).spread_px == pytest.approx(np.hypot(blur, PIXEL), rel=0.1)


@pytest.mark.parametrize(
    ("blur", "expected"), [(0.7, Sharpness.SHARP), (1.9, Sharpness.SOFT), (3.5, Sharpness.BLURRED)], ids=str
)
def test_classes_of_sharpness(blur: float, expected: Sharpness):
    """Sharp, soft and blurred pictures are called so, and none of them shaken."""
    quality = mark_quality(a_disc(blur=blur), CENTRE, 60)
    assert quality.sharpness is expected
    assert not quality.is_shaken


@pytest.mark.parametrize(("motion", "direction"), [((2.2, 0.0), 0.0), ((0.0, 2.2), np.pi / 2)], ids=["sideways", "up"])
def test_shake_has_size_and_direction(motion: tuple[float, float], direction: float):
    """A shake of 2.2 px is found to a quarter, in its direction to ten degrees."""
    quality = mark_quality(a_disc(motion=motion), CENTRE, 60)
    assert quality.is_shaken
    assert quality.shake_px == pytest.approx(2.2, rel=0.25)
    assert np.cos(2 * (quality.shake_rad - direction)) > np.cos(np.radians(20))
    assert quality.sharpest_px < 1.3


def test_edges_of_one_direction_tell_no_shake():
    """A single blurred edge may be defocus as well as shake, and is not called shaken."""
    gray = photographed(
        drawn((120, 120), [Layer(half_plane((60, 60), 0.1), 70)], 190), np.random.default_rng(2), blur=2.0
    )
    assert not mark_quality(gray, np.array([60.0, 60.0])).is_shaken


def test_contrast_and_noise_in_grey_levels():
    """Heights of edges to a tenth, noise to a fifth."""
    quality = mark_quality(a_disc(noise=4.0), CENTRE, 60)
    assert quality.contrast == pytest.approx(110.0, rel=0.1)
    assert quality.noise == pytest.approx(4.0, rel=0.2)
    assert not quality.is_faint
    assert not quality.is_clipped


def test_faint_edges_are_called_faint():
    """Ten grey levels are seen and called faint."""
    assert mark_quality(a_disc(brightness=180.0, noise=0.7), CENTRE, 60).is_faint


def test_clipping_is_a_share_of_the_pixels():
    """A sky without tones: the share of white pixels is the sky's."""
    gray = photographed(drawn((100, 100), [Layer(half_plane((0, 60), 0.0), 90.0)], 255.0))
    quality = photo_quality(gray, np.array([[50.0, 50.0]]))
    assert quality.is_clipped
    assert quality.bright_share == pytest.approx(0.58, abs=0.05)
    assert quality.dark_share == 0.0


def test_sharpness_differs_from_place_to_place():
    """One side of the boat in focus and the other not: the marks tell, and so does the mean over both."""
    layers = [Layer(ellipse((x, 80.0), (25, 25)), 80.0) for x in (60.0, 260.0)]
    picture = drawn((320, 160), layers, 190.0)
    sharp, soft = (photographed(picture, np.random.default_rng(3), blur=b) for b in (0.7, 3.0))
    gray = np.hstack([sharp[:, :160], soft[:, 160:]])
    places = np.array([[60.0, 80.0], [260.0, 80.0]])
    assert [mark_quality(gray, p, 40).sharpness for p in places] == [Sharpness.SHARP, Sharpness.BLURRED]
    assert 0.7 < photo_quality(gray, places).spread_px < 3.1


def test_whole_photo_from_tiles():
    """Without places, tiles all over the photo are looked at."""
    rng = np.random.default_rng(4)
    discs = [Layer(ellipse(tuple(rng.uniform((0, 0), (240, 160))), (15, 15)), 70.0) for _ in range(12)]
    quality = photo_quality(photographed(drawn((240, 160), discs, 190.0), rng, blur=1.0))
    assert quality.spread_px == pytest.approx(np.hypot(1.0, PIXEL), rel=0.15)
