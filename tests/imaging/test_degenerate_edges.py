"""Edges at the limits of what can be snapped: borders, clipping, no noise, no edge, no picture."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging.corners import snap_corner
from digitizer.imaging.lines import LineKind, snap_line
from digitizer.imaging.not_found import NotFound
from digitizer.imaging.quality import Sharpness, mark_quality, photo_quality
from tests.imaging.edge_pictures import Layer, drawn, half_plane, photographed, string

SIZE = (200, 120)
ALONG = np.array([[20.0, 60.0], [100.0, 60.0], [180.0, 60.0]])


def a_photo(*layers: Layer, background: float = 190.0, **camera) -> np.ndarray:
    return photographed(drawn(SIZE, layers, background), np.random.default_rng(1), **({"noise": 2.0} | camera))


def an_edge(y: float = 60.3, brightness: float = 70.0) -> Layer:
    return Layer(half_plane((100.0, y), 0.0), brightness)


def test_edge_close_to_the_border():
    """An edge three pixels from the picture's border is found as well as any."""
    found = snap_line(a_photo(an_edge(3.3)), ALONG * [1, 0] + [0, 4.5])
    assert found
    assert found[0].points[:, 1] == pytest.approx(3.3, abs=0.3)


def test_edge_on_the_border_is_not_invented():
    """The picture's own border is no edge."""
    assert not snap_line(a_photo(), ALONG * [1, 0] + [0, 1.0])


def test_stroke_that_leaves_the_picture():
    """The part inside is snapped, and no point lies outside."""
    found = snap_line(a_photo(an_edge()), np.array([[100.0, 61.0], [170.0, 60.0], [290.0, 59.0]]))
    assert found
    assert found[0].points[:, 0].max() <= SIZE[0] - 1
    assert found[0].points[:, 1] == pytest.approx(60.3, abs=0.3)


@pytest.mark.parametrize(
    "stroke",
    [np.array([[-90.0, -20.0], [-30.0, -25.0]]), np.array([[900.0, 60.0], [2000.0, 60.0]]), np.add(ALONG, [0, 1e7])],
    ids=["above-left", "far-right", "far-below"],
)
def test_stroke_outside_the_picture(stroke: np.ndarray):
    """Nothing is found, and the reason is where the stroke lies."""
    found = snap_line(a_photo(an_edge()), stroke)
    assert isinstance(found, NotFound)
    assert "outside" in found.reason


@pytest.mark.parametrize("level", [0.0, 127.0, 255.0], ids=["black", "grey", "white"])
@pytest.mark.parametrize("noise", [0.0, 2.0])
def test_flat_picture(level: float, noise: float):
    """A picture of one level has nothing to snap to, with noise or without."""
    gray = a_photo(background=level, noise=noise)
    assert not snap_line(gray, ALONG)
    assert not snap_corner(gray, np.array([100.0, 60.0]))
    assert photo_quality(gray).sharpness is Sharpness.UNKNOWN


def test_random_pictures_hardly_ever_give_a_line():
    """Pure noise of any size: at most one stroke of a hundred finds a line."""
    rng = np.random.default_rng(2)
    hits = sum(bool(snap_line(rng.integers(0, 256, (60, 120), dtype=np.uint8), ALONG * 0.6)) for _ in range(100))
    assert hits <= 1


@pytest.mark.parametrize("fraction", [0.0, 0.25, 0.5])
def test_eight_bit_steps_without_noise(fraction: float):
    """A sharp edge with no noise at all, which rounding turns into steps: a twentieth of a pixel, u not zero."""
    found = snap_line(a_photo(an_edge(60.0 + fraction), noise=0.0, blur=0.5), ALONG)
    assert found
    assert found[0].points[:, 1] == pytest.approx(60.0 + fraction, abs=0.06)
    assert found[0].u.min() >= 0.02


def test_faint_edge_in_eight_bit_steps():
    """Four grey levels without noise are still an edge."""
    found = snap_line(a_photo(an_edge(brightness=186.0), noise=0.0), ALONG)
    assert found
    assert found[0].points[:, 1] == pytest.approx(60.3, abs=0.3)


def test_step_from_pixel_to_pixel():
    """Black beside white without any blur, as drawn by a computer: between the two pixels."""
    gray = np.full((120, 200), 20, dtype=np.uint8)
    gray[60:] = 230
    found = snap_line(gray, ALONG)
    assert found
    assert found[0].points[:, 1] == pytest.approx(59.5, abs=0.2)  # px; such an edge tells nothing of a tone curve


@pytest.mark.parametrize(
    ("dark", "bright"), [(0.0, 255.0), (60.0, 255.0), (0.0, 120.0)], ids=["both", "white", "black"]
)
def test_saturated_edge_says_so(dark: float, bright: float):
    """An edge against white or black without tones is found, marked as clipped, and less certain."""
    found = snap_line(a_photo(an_edge(brightness=dark), background=bright), ALONG)
    plain = snap_line(a_photo(an_edge()), ALONG)
    assert found
    assert plain
    assert found[0].clipped
    assert not plain[0].clipped
    assert found[0].points[:, 1] == pytest.approx(60.3, abs=0.4)
    assert found[0].u_common > 1.2 * plain[0].u_common


def test_two_parallel_edges_three_pixels_apart():
    """Two steps down, three pixels from one another: both, each to a fifth of a pixel, and no string."""
    found = snap_line(a_photo(an_edge(59.0, 130.0), an_edge(62.0, 70.0)), ALONG)
    assert found
    assert {snap.kind for snap in found} == {LineKind.EDGE}
    places = sorted(float(np.median(snap.points[:, 1])) for snap in found[:2])
    assert places == pytest.approx([59.0, 62.0], abs=0.2)


def test_two_strings_side_by_side():
    """Two strings twelve pixels apart are two lines, the nearer one first."""
    strings = [Layer(string((-10, y), (300, y), 2.5), 60.0) for y in (54.2, 66.4)]
    found = snap_line(a_photo(*strings), np.add(ALONG, [0, 4.0]), kind=LineKind.RIDGE)
    assert found
    assert np.median(found[0].points[:, 1]) == pytest.approx(66.4, abs=0.1)


def test_hair_line_of_half_a_pixel():
    """A string far thinner than a pixel is found by its middle."""
    hair = drawn(SIZE, [Layer(string((-10, 60.3), (300, 60.3), 0.5), 20.0)], 190.0, optics=0.8)
    found = snap_line(photographed(hair, np.random.default_rng(1), blur=0.0), ALONG, kind=LineKind.RIDGE)
    assert found
    assert np.median(found[0].points[:, 1]) == pytest.approx(60.3, abs=0.1)


def test_stroke_with_places_that_are_no_numbers():
    """NaN in a stroke is answered, not raised."""
    found = snap_line(a_photo(an_edge()), np.array([[20.0, np.nan], [180.0, 60.0]]))
    assert not found
    assert not snap_corner(a_photo(an_edge()), np.array([np.nan, 3.0]))
    assert mark_quality(a_photo(), np.array([np.nan, np.inf])).sharpness is Sharpness.UNKNOWN


def test_picture_with_holes_of_nan():
    """A picture in decimal numbers with a missing patch is snapped beside the patch."""
    gray = a_photo(an_edge()).astype(np.float32)
    gray[:, 80:110] = np.nan
    found = snap_line(gray, ALONG)
    assert found
    x, y = found[0].points.T
    assert y == pytest.approx(60.3, abs=0.3)
    assert not np.any((x > 79) & (x < 110))
    assert not snap_line(np.full((120, 200), np.nan, dtype=np.float32), ALONG)


def test_short_strokes():
    """A dozen pixels are the least that is tried, and twenty suffice."""
    gray = a_photo(an_edge())
    assert "short" in snap_line(gray, np.array([[100.0, 60.0], [105.0, 60.0]])).reason
    assert snap_line(gray, np.array([[100.0, 60.0], [120.0, 60.0]]))


def test_misshapen_stroke_is_a_programming_mistake():
    """One place is no stroke."""
    with pytest.raises(ValueError, match="stroke"):
        snap_line(a_photo(), np.array([3.0, 4.0]))


def test_tiny_pictures():
    """Pictures of a few pixels are answered."""
    for shape in ((1, 1), (3, 40), (40, 2)):
        gray = np.zeros(shape, dtype=np.uint8)
        assert not snap_line(gray, np.array([[0.0, 0.0], [39.0, 1.0]]))
        assert not snap_corner(gray, np.array([0.0, 0.0]))
        assert mark_quality(gray, np.array([0.0, 0.0])).edges == 0


def test_click_outside_is_no_corner():
    """A click beyond the border gets a reason."""
    assert "outside" in snap_corner(a_photo(an_edge()), np.array([300.0, 60.0])).reason


def test_not_found_is_false_and_gives_its_reason():
    """The value reads as no and carries a sentence."""
    assert not NotFound("Nothing here.")
    assert NotFound("Nothing here.").reason == "Nothing here."


def test_size_of_the_photo_does_not_matter():
    """A snap reads only its neighbourhood: the same answer in the middle of sixty times the pixels."""
    small = a_photo(an_edge())
    large = np.zeros((1200, 1300), dtype=np.uint8)
    large[500:620, 600:800] = small
    here, there = snap_line(small, ALONG), snap_line(large, np.add(ALONG, [600, 500]))
    assert there[0].points - [600, 500] == pytest.approx(here[0].points, abs=1e-6)
