"""Polygons, with another program's answers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from digitizer.geometry.polygons import area, centroid, distance_to_segment, order_round_centroid, signed_area

L_SHAPE = np.array([[0, 0], [4, 0], [4, 1], [1, 1], [1, 3], [0, 3]], dtype=float)
coordinates = st.integers(-100_000, 100_000).map(lambda hundredths: hundredths / 100)


def test_area_and_centroid_of_an_l() -> None:
    """An L of two rectangles, by hand: 6 and (1.5, 1.0)."""
    assert area(L_SHAPE) == 6.0
    assert centroid(L_SHAPE) == pytest.approx([1.5, 1.0])


def test_area_is_signed_by_the_turn() -> None:
    """Walking round the other way changes the sign and not the centre of area."""
    assert signed_area(L_SHAPE) == 6.0
    assert signed_area(L_SHAPE[::-1]) == -6.0
    assert centroid(L_SHAPE[::-1]) == pytest.approx([1.5, 1.0])


def test_polygon_far_away_keeps_its_area() -> None:
    """Coordinates of millions leave the area of an L as it is."""
    assert area(L_SHAPE + 4e9) == 6.0


@given(st.integers(3, 12), st.integers(0, 10**6))
def test_area_and_centroid_agree_with_shapely(count: int, seed: int) -> None:
    """Star-shaped polygons of any number of corners."""
    random = np.random.default_rng(seed)
    angles = np.sort(random.uniform(-np.pi, np.pi, count))
    corners = random.uniform(1, 9, count)[:, None] * np.column_stack((np.cos(angles), np.sin(angles)))
    second = Polygon(corners)
    if second.is_valid and second.area > 1e-3:
        assert area(corners) == pytest.approx(second.area, rel=1e-10)
        assert centroid(corners) == pytest.approx([second.centroid.x, second.centroid.y], abs=1e-8)


@given(st.lists(coordinates, min_size=6, max_size=6))
def test_distance_to_a_segment_agrees_with_shapely(values: list[float]) -> None:
    """Beside it, beyond its ends, and where its ends coincide."""
    point, a, b = np.array(values).reshape(3, 2)
    assert distance_to_segment(point, a, b) == pytest.approx(LineString([a, b]).distance(Point(point)), abs=1e-9)


@pytest.mark.parametrize(
    ("point", "distance"),
    [
        pytest.param((2.0, 3.0), 3.0, id="beside"),
        pytest.param((-3.0, 4.0), 5.0, id="before-the-start"),
        pytest.param((9.0, 0.0), 5.0, id="past-the-end"),
    ],
)
def test_distance_to_a_segment(point: tuple[float, float], distance: float) -> None:
    """Answers to be seen with the eye."""
    assert distance_to_segment(np.array(point), np.zeros(2), np.array([4.0, 0.0])) == distance


@given(st.permutations(range(7)))
def test_order_round_the_centroid_undoes_a_shuffle(shuffled: list[int]) -> None:
    """Corners of a convex polygon come back in turn, whatever order they were given in."""
    angles = np.array([-3.0, -2.2, -1.1, 0.1, 0.9, 1.9, 2.7])
    ring = np.column_stack((2 * np.cos(angles), np.sin(angles)))
    assert ring[shuffled][order_round_centroid(ring[shuffled])].tolist() == ring.tolist()


def test_centroid_of_a_line_is_refused() -> None:
    """No centre of area without area."""
    with pytest.raises(ValueError, match="without area"):
        centroid(np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]))
