"""Rectangles by their four edges: corners that are rounded in the picture, and how well they are known."""

import numpy as np
import pytest

from digitizer.imaging.not_found import NotFound
from digitizer.imaging.rectangles import RectangleSnap, snap_rectangle
from tests.imaging.edge_pictures import Layer, drawn, half_plane, photographed, polygon

CENTRE = (150.4, 119.7)


def rounded(corners, radius):
    """A polygon with round corners: shrunk by the radius, and grown again."""
    inner = polygon([tuple(p) for p in _shrunk(corners, radius)])
    return lambda x, y: inner(x, y) + radius


def _shrunk(corners, by):
    middle = corners.mean(axis=0)
    ex, ey = (v / np.hypot(*v) for v in (corners[1] - corners[0], corners[3] - corners[0]))
    return np.array([c - by * (np.sign((c - middle) @ ex) * ex + np.sign((c - middle) @ ey) * ey) for c in corners])


def a_rectangle(width=120.0, height=56.0, turn=0.1, centre=CENTRE):
    c, s = np.cos(turn), np.sin(turn)
    half = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (width / 2, height / 2)
    return np.add(centre, half @ np.array([[c, s], [-s, c]]))


def a_photo(corners, plate=90.0, hull=190.0, radius=5.0, seed=1, more=(), **camera):
    light = drawn((300, 240), [Layer(rounded(corners, radius), plate), *more], hull)
    return photographed(light, np.random.default_rng(seed), **camera)


def snapped(gray, rough) -> RectangleSnap:
    snap = snap_rectangle(gray, rough)
    assert isinstance(snap, RectangleSnap), snap.reason
    return snap


def test_corners_are_where_the_sides_meet():
    """Round corners give the sharp ones that the sides make."""
    true = a_rectangle()
    snap = snapped(a_photo(true), true + np.array([(2, -2), (-2, 1), (2, 2), (-1, -2)]))
    assert snap.points == pytest.approx(true, abs=0.25)  # px
    assert len(snap.sides) == 4


def test_upright_box_by_two_corners():
    """Two opposite corners do for a rectangle that is upright in the photo."""
    true = a_rectangle(turn=0.0)
    assert snapped(a_photo(true), true[[0, 2]] + 1.5).points == pytest.approx(true, abs=0.25)


def test_corners_over_many_rectangles_are_honest():
    """Over 24 plates of all kinds, corners come to a fraction of a pixel and scatter by what is stated."""
    rng = np.random.default_rng(11)
    errors, z = [], []
    for k in range(24):
        true = a_rectangle(rng.uniform(60, 180), rng.uniform(34, 80), rng.uniform(-0.5, 0.5), rng.uniform(118, 152, 2))
        hull = rng.uniform(70, 210)
        plate = hull + (1 if hull < 140 else -1) * rng.uniform(40, 60)
        gray = a_photo(
            true,
            plate,
            hull,
            radius=rng.uniform(0.5, 4.0),
            seed=k,
            blur=rng.uniform(0.6, 1.4),
            noise=rng.uniform(1.5, 4.0),
            curve=rng.normal(1.0, 0.2),
            jpeg=92 if k % 2 else None,
        )
        snap = snapped(gray, true + rng.uniform(-2.5, 2.5, (4, 2)))
        off = snap.points - true
        errors.append(off)
        z.append([e @ np.linalg.solve(c.covariance, e) / 2 for e, c in zip(off, snap.corners, strict=True)])
    assert np.sqrt(np.mean(np.square(errors))) < 0.15  # px
    assert np.abs(errors).max() < 1.0  # at short sides, of which 20 px are straight
    assert 0.8 < np.sqrt(np.mean(z)) < 1.25


def test_other_edges_beside_a_side_are_offered():
    """The glass within the frame shows up beside the frame's own edge."""
    true = a_rectangle(turn=0.0)
    glass = Layer(polygon([tuple(p) for p in _shrunk(true, 6.0)]), 220.0)
    snap = snapped(a_photo(true, more=[glass]), true - 1.0)
    assert snap.points == pytest.approx(true, abs=0.4)
    assert all(len(others) > 0 for others in snap.alternatives)


def test_side_in_shadow_of_the_same_tone_is_named():
    """Where one side can't be seen, it is said which."""
    true = a_rectangle(turn=0.0)
    cover = Layer(half_plane((0.0, CENTRE[1]), 0.0), 90.0)
    snap = snap_rectangle(a_photo(true, more=[cover]), true)
    assert isinstance(snap, NotFound)
    assert "third side" in snap.reason


def test_tiny_rectangle_is_refused():
    """A rectangle of a few pixels has no four edges to see."""
    snap = snap_rectangle(a_photo(a_rectangle()), a_rectangle(30.0, 12.0))
    assert isinstance(snap, NotFound)
    assert "too small" in snap.reason


def test_bare_hull_has_no_rectangle():
    """Noise is no rectangle."""
    gray = photographed(drawn((300, 240), [], 150.0), np.random.default_rng(2))
    assert not snap_rectangle(gray, a_rectangle())


def test_three_corners_are_a_mistake():
    """Anything but four corners or two is a programmer's error."""
    with pytest.raises(ValueError, match="four corners"):
        snap_rectangle(a_photo(a_rectangle()), a_rectangle()[:3])
