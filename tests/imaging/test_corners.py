"""Corners from their two edges, on pictures with exact truth."""

from __future__ import annotations

import numpy as np
import pytest

from digitizer.imaging.corners import CornerSnap, meeting, snap_corner, snap_meeting
from digitizer.imaging.lines import LineKind, snap_line
from digitizer.imaging.not_found import NotFound
from tests.imaging.edge_pictures import Layer, drawn, half_plane, photographed, polygon, string

SIZE = (300, 200)
KEEL = np.array([150.3, 130.7])


def a_photo(*layers: Layer, seed: int = 1, background: float = 190.0, **camera) -> np.ndarray:
    return photographed(
        drawn(SIZE, layers, background), np.random.default_rng(seed), **({"noise": 3.0, "jpeg": 92} | camera)
    )


def arm(deadrise: float, side: int) -> np.ndarray:
    """Direction of a bottom edge from the keel, up and outwards."""
    return np.array([side * np.cos(deadrise), -np.sin(deadrise)])


def a_bottom(deadrise: float = 0.3) -> Layer:
    return Layer(polygon([tuple(KEEL), *(tuple(KEEL + 500 * arm(deadrise, side)) for side in (1, -1))]), 80.0)


def a_plate(corner: np.ndarray, turn: float) -> Layer:
    u = np.array([np.cos(turn), np.sin(turn)])
    v = np.array([-u[1], u[0]])
    return Layer(
        polygon([tuple(p) for p in (corner, corner + 110 * u, corner + 110 * u + 70 * v, corner + 70 * v)]), 80.0
    )


def strokes(deadrise: float = 0.3, seed: int = 0, first: float = 12.0, last: float = 110.0) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    along = np.linspace(first, last, 4)[:, None]
    return [KEEL + along * arm(deadrise, side) + rng.normal(0, 1.5, (4, 2)) for side in (-1, 1)]


def found(corner: CornerSnap | NotFound) -> CornerSnap:
    assert corner, corner
    return corner


@pytest.mark.parametrize("deadrise", [0.1, 0.3, 0.6], ids=["6-deg", "17-deg", "34-deg"])
def test_keel_is_where_the_bottom_edges_meet(deadrise: float):
    """The keel point comes from two strokes along the bottom edges, though nothing is marked near it."""
    corner = found(snap_meeting(a_photo(a_bottom(deadrise)), *strokes(deadrise)))
    away = corner.point - KEEL
    assert abs(away[1]) < 0.12
    assert abs(away[0]) < 0.06 / np.sin(deadrise) + 0.05
    assert corner.angle == pytest.approx(np.pi - 2 * deadrise, abs=0.03)
    assert float(away @ np.linalg.solve(corner.covariance, away)) < 9.2  # chi-square, 1 % beyond


def test_rounded_keel_is_replaced_by_its_sharp_corner():
    """A keel rounded over some pixels is taken where its edges would meet."""
    d = 0.3
    cut = polygon(
        [tuple(KEEL + 8 * arm(d, 1)), tuple(KEEL + 8 * arm(d, -1)), *(tuple(KEEL + 500 * arm(d, s)) for s in (-1, 1))]
    )
    corner = found(snap_meeting(a_photo(Layer(cut, 80.0)), *strokes()))
    assert np.hypot(*(corner.point - KEEL)) < 0.2


def test_shallow_corner_is_less_certain_across_the_boat():
    """With little deadrise, the keel's height is well known and its place sideways less so."""
    corner = found(snap_meeting(a_photo(a_bottom(0.1)), *strokes(0.1)))
    assert corner.covariance[0, 0] > 10 * corner.covariance[1, 1]


@pytest.mark.parametrize("turn", [0.0, 0.3, 0.785])
def test_corner_of_a_plate_from_a_click(turn: float):
    """One click within two pixels of a plate's corner finds both edges and their meeting."""
    corner = np.array([120.4, 60.6])
    click = corner + np.random.default_rng(int(turn * 10)).normal(0, 1.5, 2)
    best = snap_corner(a_photo(a_plate(corner, turn)), click)[0]
    assert np.hypot(*(best.point - corner)) < 0.2
    assert best.angle == pytest.approx(np.pi / 2, abs=0.03)


def test_end_of_a_drawn_line_on_an_edge():
    """A rule's end line meets the rule's edge: one drawn line, one edge."""
    rule = Layer(half_plane((0.0, 90.2), 0.0), 160.0)
    mark = Layer(string((140.6, 90.2), (140.6, 150.0), 2.0), 40.0)
    gray = a_photo(rule, mark, background=230.0)
    line = snap_line(gray, np.array([[139.5, 97.0], [141.5, 140.0]]), kind=LineKind.RIDGE)[0]
    edge = snap_line(gray, np.array([[60.0, 89.0], [130.0, 91.0]]), kind=LineKind.EDGE)[0]
    assert found(meeting(line, edge)).point == pytest.approx([140.6, 90.2], abs=0.15)


def test_three_edges_give_three_corners():
    """Where three edges meet, each two of them make a corner, and all are offered."""
    stem = Layer(half_plane((150.3, 0.0), 1.5708), 120.0)
    gray = a_photo(stem, Layer(half_plane((0.0, 100.4), 0.0), 60.0))
    corners = snap_corner(gray, np.array([151.0, 99.5]))
    assert len(corners) >= 2
    for corner in corners:
        assert np.hypot(*(corner.point - [150.3, 100.4])) < 0.4


def test_stated_covariance_holds_the_truth():
    """Over thirty corners, the squared normalised errors average what two coordinates should, or less."""
    rng = np.random.default_rng(8)
    chi2 = []
    for _run in range(30):
        corner, turn = np.array([70.0, 60.0]) + rng.uniform(-1, 1, 2), rng.uniform(0, 1.5)
        picture = drawn((140, 120), [a_plate(corner, turn)], 190.0)
        gray = photographed(picture, rng, noise=rng.uniform(2, 6), jpeg=92, curve=rng.normal(1.0, 0.2))
        best = snap_corner(gray, corner + rng.normal(0, 1.0, 2))[0]
        away = best.point - corner
        chi2.append(float(away @ np.linalg.solve(best.covariance, away)))
    assert 0.5 < np.mean(chi2) / 2 < 1.5


def test_no_corner_on_a_plain_edge_or_ground():
    """A click on an edge or on nothing is no corner, and the reason says so."""
    edge = a_photo(Layer(half_plane((0.0, 100.4), 0.2), 60.0))
    for gray in (edge, a_photo()):
        corner = snap_corner(gray, np.array([150.0, 131.0]))
        assert not corner
        assert "meet" in corner.reason


def test_parallel_edges_do_not_meet():
    """Two edges of one string have no corner."""
    gray = a_photo(Layer(half_plane((0.0, 60.4), 0.0), 120.0), Layer(half_plane((0.0, 120.4), 0.0), 60.0))
    corner = snap_meeting(gray, np.array([[50.0, 60.0], [200.0, 61.0]]), np.array([[50.0, 120.0], [200.0, 121.0]]))
    assert not corner
    assert "parallel" in corner.reason


def test_missing_edge_is_the_reason():
    """When one stroke finds nothing the corner says why."""
    gray = a_photo(Layer(half_plane((0.0, 60.4), 0.0), 120.0))
    corner = snap_meeting(gray, np.array([[50.0, 60.0], [200.0, 61.0]]), np.array([[150.0, 100.0], [150.0, 180.0]]))
    assert not corner
    assert "Nothing to snap to" in corner.reason


def test_lens_carries_a_corner_back_to_the_photo():
    """With a lens that only scales, the corner and its covariance come out in the photo's own pixels."""
    maps = (lambda p: p / 2.0 + 7.0, lambda p: (p - 7.0) * 2.0)
    gray = a_photo(a_bottom())
    plain, scaled = (found(snap_meeting(gray, *strokes(), straighten=lens)) for lens in (None, maps))
    assert scaled.point == pytest.approx(plain.point, abs=0.1)
    assert scaled.point == pytest.approx(KEEL, abs=0.2)
    assert np.trace(scaled.covariance) == pytest.approx(np.trace(plain.covariance), rel=0.6)
