"""Straight lines."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from odrpack import odr_fit

from digitizer.geometry.lines import fitted_line, intersection, line_through

PEARSON = np.column_stack(
    ([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4], [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
)


def test_line_through_has_unit_direction_towards_the_second_point() -> None:
    """A 3-4-5 triangle."""
    line = line_through(np.array([1.0, 1.0]), np.array([4.0, 5.0]))
    assert line.direction == pytest.approx([0.6, 0.8])
    assert line.normal == pytest.approx([-0.8, 0.6])


def test_distance_is_positive_on_the_left_of_the_direction() -> None:
    """Left in a system with y up."""
    line = line_through(np.zeros(2), np.array([1.0, 0.0]))
    assert line.distances(np.array([[7.0, 2.0], [0.0, -3.0]])).tolist() == [2.0, -3.0]


def test_orthogonal_line_of_pearsons_points() -> None:
    """Pearson's own example of 1901: intercept 5.784, slope −0.54556."""
    line = fitted_line(PEARSON)
    slope = line.direction[1] / line.direction[0]
    assert slope == pytest.approx(-0.54556, abs=5e-6)  # the printed digits
    assert line.point[1] - slope * line.point[0] == pytest.approx(5.784, abs=5e-4)


def test_weighted_line_agrees_with_another_program() -> None:
    """Orthogonal distance regression by odrpack, each point with its own weight."""
    weights = np.array([1.0, 3.0, 2.0, 5.0, 1.0, 0.5, 4.0, 2.0, 2.0, 1.0])
    x, y = PEARSON.T
    second = odr_fit(
        lambda x, beta: beta[0] + beta[1] * x, x, y, beta0=np.array([6.0, -0.5]),
        weight_x=weights, weight_y=weights, sstol=1e-15, partol=1e-15,
    )  # fmt: skip
    line = fitted_line(PEARSON, weights)
    slope = line.direction[1] / line.direction[0]
    assert slope == pytest.approx(second.beta[1], abs=1e-6)  # its derivatives are differences
    assert line.point[1] - slope * line.point[0] == pytest.approx(second.beta[0], abs=1e-5)


@given(st.floats(0, 2 * math.pi), st.floats(-1e4, 1e4), st.integers(2, 9))
def test_line_of_points_on_a_line_is_that_line(angle: float, shift: float, count: int) -> None:
    """Every direction alike, the upright one too, and directed from the first point to the last."""
    direction = np.array([math.cos(angle), math.sin(angle)])
    points = shift + np.linspace(-3.0, 8.0, count)[:, None] * direction
    line = fitted_line(points)
    assert line.direction == pytest.approx(direction, abs=1e-9)  # points are rounded to 1e-12 at most
    assert np.abs(line.distances(points)).max() < 1e-9


def test_lines_meet_where_they_should() -> None:
    """Two diagonals of a rectangle meet in its middle."""
    rising = line_through(np.zeros(2), np.array([4.0, 2.0]))
    falling = line_through(np.array([0.0, 2.0]), np.array([4.0, 0.0]))
    assert intersection(rising, falling) == pytest.approx([2.0, 1.0])


def test_parallel_lines_are_refused() -> None:
    """No point is made up for lines that never meet."""
    a = line_through(np.zeros(2), np.array([1.0, 1.0]))
    b = line_through(np.array([0.0, 1.0]), np.array([-1.0, 0.0]))
    with pytest.raises(ValueError, match="parallel"):
        intersection(a, b)


def test_one_place_is_no_line() -> None:
    """Coinciding points and single points are refused."""
    with pytest.raises(ValueError, match="two different points"):
        line_through(np.ones(2), np.ones(2))
    with pytest.raises(ValueError, match="two different points"):
        fitted_line(np.ones((3, 2)))
    with pytest.raises(ValueError, match="needs two points, got 1"):
        fitted_line(np.ones((1, 2)))
