"""Outlines from a few clicks: sub-pixel points, corners kept, gaps and rivals owned up to."""

from time import process_time

import numpy as np
import pytest

from digitizer.imaging.not_found import NotFound
from digitizer.imaging.outlines import OutlineSnap, trace_outline
from tests.imaging.edge_pictures import Layer, drawn, ellipse, half_plane, photographed, polygon, string

TRANSOM = np.array([(40.3, 60.2), (360.4, 52.1), (350.2, 180.3), (200.6, 240.4), (52.7, 186.9)])
"""Sheer port and starboard, chine starboard, keel, chine port; px."""
SHAPE = polygon([tuple(p) for p in TRANSOM])


def a_photo(more=(), hull=180.0, behind=90.0, seed=1, **camera):
    return photographed(drawn((400, 280), [Layer(SHAPE, hull), *more], behind), np.random.default_rng(seed), **camera)


def some_clicks(seed=3, careless_px=1.5):
    closed = np.vstack([TRANSOM, TRANSOM[:1]])
    return closed + np.random.default_rng(seed).normal(0.0, careless_px, closed.shape)


def traced(picture, clicks, **options) -> OutlineSnap:
    snap = trace_outline(picture, clicks, **options)
    assert isinstance(snap, OutlineSnap), snap.reason
    return snap


def off(snap: OutlineSnap):
    """Distances of the points between the corners from the true outline, px."""
    return SHAPE(*snap.points[~snap.is_corner].T)


def test_outline_runs_along_the_edge():
    """Points come to a tenth of a pixel, all the way round."""
    snap = traced(a_photo(), some_clicks())
    assert np.sqrt(np.mean(off(snap) ** 2)) < 0.1  # px
    assert np.abs(off(snap)).max() < 0.3
    assert snap.seen > 0.95
    assert 25 <= len(snap.points) <= 60


def test_corners_are_kept():
    """Both chines, the keel point and a sheer corner are points of their own, sharp."""
    snap = traced(a_photo(), some_clicks())
    corners = snap.points[snap.is_corner]
    for true in TRANSOM[1:]:  # the first one is where the tracing begins and ends
        i = np.argmin(np.hypot(*(corners - true).T))
        assert corners[i] == pytest.approx(true, abs=0.3)
        assert np.hypot(*(corners[i] - true)) < 4 * snap.u[snap.is_corner][i]
    assert len(corners) == 4


def test_points_follow_the_clicks_in_order():
    """Points run the way the clicks do."""
    snap = traced(a_photo(), some_clicks()[:4])
    along = [np.argmin(np.hypot(*(snap.points - corner).T)) for corner in TRANSOM[:4]]
    assert along == sorted(along)


def test_curved_top_is_followed_without_corners():
    """A crown is no corner, and bends the points with it."""
    shape = ellipse((200.0, 400.0), (300.0, 320.0))
    gray = photographed(drawn((400, 280), [Layer(shape, 180.0)], 90.0), np.random.default_rng(4))
    x = np.array([60.0, 200.0, 340.0])
    clicks = np.column_stack([x, 400.0 - 320.0 * np.sqrt(1 - ((x - 200.0) / 300.0) ** 2)]) + 1.0
    snap = traced(gray, clicks)
    assert not snap.is_corner.any()
    assert np.sqrt(np.mean(shape(*snap.points.T) ** 2)) < 0.1  # px


def test_trees_behind_change_the_polarity():
    """Where the background turns from dark to light and back, the edge is still followed."""
    layers = [
        Layer(half_plane((200.0, 0.0), np.pi / 2 + 0.4), 235.0),
        Layer(ellipse((90.0, 40.0), (30.0, 30.0)), 40.0),
        Layer(SHAPE, 150.0),
    ]
    gray = photographed(drawn((400, 280), layers, 70.0), np.random.default_rng(5))
    assert np.sqrt(np.mean(off(traced(gray, some_clicks())) ** 2)) < 0.15  # px


def test_bunk_before_the_edge_leaves_a_gap():
    """Behind a bunk of the hull's own tone there are no points, and the share seen says so."""
    bunk = Layer(string((270.0, 190.0), (300.0, 275.0), 46.0), 180.0)
    whole, hidden = traced(a_photo(), some_clicks()), traced(a_photo(more=[bunk]), some_clicks())
    assert hidden.seen <= whole.seen
    good = np.abs(off(hidden)) < 0.5
    assert good.mean() > 0.85


def test_edge_seen_in_colour_only():
    """An edge between things equally bright is traced in the colour that shows it."""
    rng = np.random.default_rng(6)
    channels = [
        photographed(drawn((400, 280), [Layer(SHAPE, hull)], behind), rng)
        for hull, behind in ((150.0, 90.0), (110.0, 120.0), (80.0, 130.0))
    ]
    snap = traced(np.dstack(channels), some_clicks())
    assert np.sqrt(np.mean(off(snap) ** 2)) < 0.15  # px


def test_shadow_line_beside_the_edge_is_owned_up_to():
    """A second edge as clear, a few pixels beside, marks the points as contested."""
    strake = Layer(string((40.0, 66.0), (360.0, 58.0), 5.0), 20.0)
    snap = traced(a_photo(more=[strake]), TRANSOM[:2] + 0.5)
    assert snap.contested.mean() > 0.5
    assert not traced(a_photo(), TRANSOM[:2] + 0.5).contested.any()


def test_errors_are_those_stated():
    """Over 500 points of clear and faint outlines, the camera's tone curve bent to taste, z is near 1."""
    rng, z = np.random.default_rng(8), []
    for seed in range(11):
        behind = 120.0 - rng.uniform(25.0, 90.0)
        jpeg = 95 if seed % 2 else None
        gray = a_photo(hull=120.0, behind=behind, seed=seed, noise=4.0, blur=1.0, jpeg=jpeg, curve=rng.normal(1.0, 0.2))
        snap = traced(gray, some_clicks(seed), spacing_px=12.0)
        z += list(off(snap) / snap.u[~snap.is_corner])
    assert len(z) > 500
    assert 0.8 < np.std(z) < 1.25
    assert np.mean(np.abs(z) > 3.5) < 0.02


@pytest.mark.parametrize(
    ("clicks", "words"),
    [
        pytest.param([(10.0, 10.0), (500.0, 10.0)], "outside", id="outside"),
        pytest.param([(10.0, 10.0), (13.0, 10.0)], "within", id="twice-the-same"),
        pytest.param([(80.0, 90.0), (320.0, 150.0)], "No edge", id="bare-hull"),
    ],
)
def test_refusals(clicks, words):
    """What can't be traced is refused in words."""
    snap = trace_outline(a_photo(noise=1.5), np.array(clicks))
    assert isinstance(snap, NotFound)
    assert words in snap.reason


def test_one_click_is_a_mistake():
    """A single click is a programmer's error."""
    with pytest.raises(ValueError, match="at least 2"):
        trace_outline(a_photo(), np.array([(10.0, 10.0)]))


def test_large_photo_costs_no_more():
    """Only the neighbourhood of the clicks is read."""
    small = a_photo()
    large = np.full((3000, 4000), 90, dtype=np.uint8)
    large[1000:1280, 1500:1900] = small
    times = []
    for gray, shift in ((small, (0, 0)), (large, (1500, 1000))):
        best = []
        for _ in range(3):
            start = process_time()
            traced(gray, some_clicks() + shift)
            best.append(process_time() - start)
        times.append(min(best))
    assert times[1] < 2.5 * times[0] + 0.01
