"""Profiles across a path, candidates in them, and steps fitted to them, on pictures with exact truth."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging import tone
from digitizer.imaging.profiles import edge_candidates, interpolated, noise_of, normal_profiles, profile_offsets
from digitizer.imaging.steps import fitted_edges, fitted_ridges, fitted_steps
from tests.imaging.edge_pictures import Layer, drawn, gradient, half_plane, photographed, string

DOWN = np.array([0.0, 1.0])


def a_path(count: int = 60, y: float = 50.0, x: float = 30.0) -> tuple[np.ndarray, np.ndarray]:
    points = np.column_stack([x + np.arange(count, dtype=float), np.full(count, y)])
    return points, np.tile(DOWN, (count, 1))


def an_edge(y: float = 50.3, dark: float = 60.0, bright: float = 190.0, turn: float = 0.0, **camera) -> np.ndarray:
    return photographed(drawn((120, 100), [Layer(half_plane((60.0, y), turn), dark)], bright), **camera)


def test_interpolation_reproduces_a_quadratic():
    """Cubic convolution is exact for polynomials up to the second degree."""
    y, x = np.mgrid[0:20, 0:30].astype(float)
    places = np.random.default_rng(1).uniform(2, 17, (50, 2))
    expected = 0.1 * places[:, 0] ** 2 - 0.2 * places[:, 0] * places[:, 1] + places[:, 1]
    assert interpolated(0.1 * x**2 - 0.2 * x * y + y, places) == pytest.approx(expected, abs=1e-9)


def test_places_on_pixels_give_the_pixels():
    """The origin is the centre of the first pixel, x to the right and y down."""
    gray = np.random.default_rng(2).integers(0, 255, (9, 12), dtype=np.uint8)
    places = np.array([[0.0, 0.0], [11.0, 8.0], [3.0, 5.0]])
    assert interpolated(gray, places) == pytest.approx([gray[0, 0], gray[8, 11], gray[5, 3]])


def test_colours_are_read_like_grey():
    """A picture of three channels gives the three pictures' values."""
    picture = np.random.default_rng(3).integers(0, 255, (20, 30, 3), dtype=np.uint8)
    points, normals = a_path(10, y=9.3, x=8.0)
    together = normal_profiles(picture, points, normals, 4.0)
    assert together.shape == (10, 17, 3)
    assert together[..., 1] == pytest.approx(
        normal_profiles(np.ascontiguousarray(picture[..., 1]), points, normals, 4.0)
    )


def test_outside_the_picture_is_nan():
    """Samples beyond the outermost pixels' centres are no numbers, and the others are."""
    points, normals = a_path(3, y=1.0)
    profiles = normal_profiles(np.full((40, 60), 7, dtype=np.uint8), points, normals, 3.0)
    below = profile_offsets(3.0) < -1.0
    assert np.isnan(profiles[:, below]).all()
    assert profiles[:, ~below] == pytest.approx(7.0)


def test_noise_is_estimated_beside_an_edge():
    """The noise of a picture is found to a fifth although an edge crosses every profile."""
    gray = an_edge(rng=np.random.default_rng(4), noise=4.0)
    points, normals = a_path()
    assert noise_of(normal_profiles(gray, points, normals, 12.0)) == pytest.approx(4.0, rel=0.2)


def test_candidate_tells_place_contrast_and_width():
    """One candidate per profile, where the edge is, as high and as wide as it is."""
    points, normals = a_path()
    found = edge_candidates(normal_profiles(an_edge(noise=0.0), points, normals, 8.0))
    assert list(found.profile) == list(range(60))
    assert found.position == pytest.approx(0.3, abs=0.4)  # px; the grey levels' steepest place lies off the light's
    assert found.contrast == pytest.approx(-130.0, rel=0.1)
    assert found.width == pytest.approx(0.85, abs=0.2)  # px; 0.8 of blur and a pixel's own 0.29
    assert (found.polarity == -1).all()


def test_flat_profiles_have_no_candidates():
    """Noise alone passes for an edge in fewer than one profile of a hundred."""
    gray = photographed(drawn((400, 60), [], 120.0), np.random.default_rng(5), noise=3.0)
    points, normals = a_path(340, y=30.0)
    assert len(edge_candidates(normal_profiles(gray, points, normals, 12.0))) <= 3


@pytest.mark.parametrize("turn", [pytest.param(0.0, id="along-the-rows"), pytest.param(0.37, id="oblique")])
@pytest.mark.parametrize("shift", [-0.4, 0.0, 0.13, 0.5])
def test_edge_is_found_to_a_thirtieth_of_a_pixel(shift: float, turn: float):
    """Without noise and with a known tone curve, only rounding and sampling are left."""
    normal = np.array([-np.sin(turn), np.cos(turn)])
    points = np.array([60.0, 50.0]) + np.arange(-20, 20)[:, None] * [np.cos(turn), np.sin(turn)]
    gray = photographed(drawn((120, 100), [Layer(half_plane(tuple(points[20] + shift * normal), turn), 60.0)], 190.0))
    profiles = normal_profiles(gray, points, np.tile(normal, (40, 1)), 6.0)
    fits = fitted_steps(profiles, np.zeros((40, 1)), 4.0, u_exponent=0.0)
    assert fits.found.all()
    assert fits.centre.mean() == pytest.approx(shift, abs=0.03)
    assert fits.spread == pytest.approx(0.85, abs=0.1)


def test_light_and_not_grey_levels_decides_where_an_edge_is():
    """Between black and white the middle of the grey levels lies a quarter of a pixel and more off the edge."""
    gray = an_edge(dark=10.0, bright=240.0, noise=0.0)
    points, normals = a_path()
    profiles = normal_profiles(gray, points, normals, 6.0)
    right, naive = (fitted_steps(profiles, np.zeros((60, 1)), 4.0, encoded=e).centre.mean() for e in (True, False))
    assert right == pytest.approx(50.3 - 50.0, abs=0.03)
    assert abs(naive - 0.3) > 0.25


@pytest.mark.parametrize("exponent", [0.7, 1.0, 1.4])
def test_tone_curve_and_its_slope_agree(exponent: float):
    """The curve's inverse leads back, and its derivative is its difference quotient."""
    light = np.linspace(-2.0, 300.0, 400)
    grey, slope = tone.grey_and_slope(light, exponent)
    assert tone.light(grey, exponent) == pytest.approx(light, abs=1e-3)
    assert tone.grey(light, exponent) == pytest.approx(grey)
    numeric = (tone.grey(light + 1e-5, exponent) - tone.grey(light - 1e-5, exponent)) / 2e-5
    assert slope == pytest.approx(numeric, rel=1e-3)


@pytest.mark.parametrize("exponent", [0.75, 1.3])
def test_a_bent_tone_curve_is_told_from_the_edge_itself(exponent: float):
    """Between black and white the bent curve moves the edge by a sixth of a pixel; the edge's own shape tells of it."""
    turn = 0.37
    normal = np.array([-np.sin(turn), np.cos(turn)])
    points = np.array([60.0, 50.0]) + np.arange(-30, 30)[:, None] * [np.cos(turn), np.sin(turn)]
    light = drawn((120, 100), [Layer(half_plane(tuple(points[30] + 0.2 * normal), turn), 25.0)], 230.0)
    gray = photographed(light, np.random.default_rng(2), noise=1.0, curve=exponent)
    profiles = normal_profiles(gray, points, np.tile(normal, (60, 1)), 6.0)
    told, standard = (fitted_steps(profiles, np.zeros((60, 1)), 4.0, u_exponent=u) for u in (0.2, 0.0))
    assert abs(standard.centre.mean() - 0.2) > 0.12
    assert abs(told.centre.mean() - 0.2) < 0.65 * abs(standard.centre.mean() - 0.2)
    assert abs(told.centre.mean() - 0.2) < 2.0 * np.median(told.u_common) < 0.2


def test_string_is_found_by_its_middle():
    """A string of three pixels: middle to a fiftieth of a pixel, breadth to a tenth or two."""
    gray = photographed(drawn((120, 100), [Layer(string((-50, 50.2), (200, 50.2), 3.0), 70.0)], 190.0))
    points, normals = a_path()
    fits = fitted_ridges(normal_profiles(gray, points, normals, 7.0), np.full(60, -0.3), 2.5, 6.0)
    assert fits.found.all()
    assert fits.centre == pytest.approx(0.2, abs=0.02)
    assert fits.width == pytest.approx(3.0, abs=0.2)


def test_string_on_a_shaded_ground_keeps_its_middle():
    """A gradient of two grey levels per pixel moves a string by less than 0.05 px."""
    shaded = gradient(100.0, (0.0, 2.0))
    gray = photographed(drawn((120, 100), [Layer(string((-50, 50.2), (200, 50.2), 3.0), 60.0)], shaded))
    points, normals = a_path()
    fits = fitted_ridges(normal_profiles(gray, points, normals, 7.0), np.zeros(60), 2.5, 5.0)
    assert fits.centre == pytest.approx(0.2, abs=0.05)


@pytest.mark.parametrize("noise", [1.0, 3.0, 6.0])
def test_stated_u_of_the_noise_is_the_scatter(noise: float):
    """Single profiles three pixels apart scatter by what u_noise says, within a quarter."""
    rng = np.random.default_rng(6)
    z = []
    for _ in range(12):
        turn = rng.uniform(-0.5, 0.5)
        normal, along = np.array([-np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
        points = np.array([60.0, 50.0]) + np.arange(-30, 31, 3)[:, None] * along
        gray = photographed(drawn((120, 100), [Layer(half_plane((60.0, 50.0), turn), 60.0)], 190.0), rng, noise=noise)
        profiles = normal_profiles(gray, points, np.tile(normal, (21, 1)), 5.0)
        fits = fitted_steps(profiles, np.zeros((21, 1)), 4.0, u_exponent=0.0)
        z += list(fits.centre / np.hypot(fits.u_noise, 0.01))
    assert 0.75 < np.std(z) < 1.25


def test_only_some_steps_of_a_fit():
    """The first of two steps has its own place and contrast, and a mean of itself."""
    layers = [Layer(half_plane((60, 48), 0.0), 120.0), Layer(half_plane((60, 51), 0.0), 60.0)]
    gray = photographed(drawn((120, 100), layers, 190.0))
    points, normals = a_path()
    fits = fitted_steps(normal_profiles(gray, points, normals, 7.0), np.tile([-1.8, 1.2], (60, 1)), 6.0)
    assert fits.only(0).centre == pytest.approx(-2.0, abs=0.05)
    assert fits.only(1).centre == pytest.approx(1.0, abs=0.05)
    assert fits.only(1).contrasts == pytest.approx(-60.0, abs=3.0)


def test_no_profiles_no_fits():
    """Nothing in, nothing out."""
    assert len(fitted_edges(np.empty((0, 13)), np.empty(0), 3.0).centre) == 0
