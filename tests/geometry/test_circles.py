"""Circles and arcs, also arcs as short and flat as a transom's crown."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.geometry.circles import (
    Circle,
    _Arc,
    arc_angle,
    arc_length,
    chord,
    circle_through,
    fitted_circle,
    radius_from_sagitta,
    sagitta,
    segment_area,
)


def arc(radius: float, extent: float, count: int = 9, centre: tuple[float, float] = (0, 0)) -> np.ndarray:
    """Points on an arc of `extent` radians."""
    angles = 0.3 + np.linspace(-0.5, 0.5, count) * extent
    return np.array(centre) + radius * np.column_stack((np.cos(angles), np.sin(angles)))


@pytest.mark.parametrize("extent", [0.02, 0.2, 1.5, 4.0, 2 * math.pi * 8 / 9], ids=str)
@pytest.mark.parametrize("radius", [1e-3, 1.0, 1e4], ids=str)
def test_points_on_an_arc_give_its_circle(radius: float, extent: float) -> None:
    """Any size, from a hundredth of a radian to all round."""
    centre = (5 * radius, -2 * radius)
    circle = fitted_circle(arc(radius, extent, centre=centre))
    # Rounding of the points, 1e-16 of 5 radii, moves the centre by 16/extent² times as much, and some.
    assert circle.radius == pytest.approx(radius, rel=1e-13 / extent**2 + 1e-12)
    assert circle.centre == pytest.approx(centre, rel=1e-13 / extent**2 + 1e-12)


@given(st.integers(4, 12), st.integers(0, 10**6), st.floats(0.3, 6.0))
def test_no_near_circle_fits_better(count: int, seed: int, extent: float) -> None:
    """The fit is a minimum of the square sum of orthogonal distances."""
    random = np.random.default_rng(seed)
    points = arc(10.0, extent, count) + random.normal(0, 0.02, (count, 2))
    circle = fitted_circle(points)
    best = float(np.sum(circle.distances(points) ** 2))
    for nudge in 1e-4 * np.vstack((np.eye(3), -np.eye(3))):
        other = Circle(circle.centre + nudge[:2], circle.radius + nudge[2])
        assert np.sum(other.distances(points) ** 2) >= best


def test_a_heavy_point_pulls() -> None:
    """With a weight of a million the circle runs through the point."""
    points = arc(10.0, 2.0)
    points[4] *= 1.05
    weights = np.ones(9)
    assert abs(fitted_circle(points, weights).distances(points)[4]) > 0.1
    weights[4] = 1e6
    assert abs(fitted_circle(points, weights).distances(points)[4]) < 1e-4


def test_short_noisy_arcs_keep_their_radius_on_average() -> None:
    """Curvature is unbiased on an arc of a crown's shape, where algebraic fits come out too small."""
    random = np.random.default_rng(7)
    points = arc(10_000.0, 0.24, 25)
    curvatures = [1 / fitted_circle(points + random.normal(0, 1.0, points.shape)).radius for _ in range(200)]
    scatter = np.std(curvatures) / math.sqrt(200)
    assert np.mean(curvatures) == pytest.approx(1e-4, abs=4 * scatter)
    assert scatter < 1e-6


@pytest.mark.parametrize("count", [3, 4, 20])
@pytest.mark.parametrize("turn", [0.0, 0.7, math.pi / 2], ids=["level", "raked", "upright"])
def test_points_on_a_line_are_refused(count: int, turn: float) -> None:
    """No radius is made up from rounding errors."""
    points = 700.0 + np.linspace(0, 3, count)[:, None] * np.array([math.cos(turn), math.sin(turn)])
    with pytest.raises(ValueError, match="straight line"):
        fitted_circle(points)
    with pytest.raises(ValueError, match="straight line"):
        circle_through(points[0], points[1], points[-1])


def test_points_that_bend_to_no_side_are_refused() -> None:
    """A zigzag whose best circle is a line is said to be one."""
    x = np.array([0.0, 10.0, 20.0, 30.0])
    y = np.array([0.1, -0.1, -0.1, 0.1])
    with pytest.raises(ValueError, match="bend to no side"):
        fitted_circle(np.vstack((np.column_stack((x, y)), np.column_stack((x, -y)))))


def test_too_few_and_coinciding_points_are_refused() -> None:
    """Two places have no circle, however often they are given."""
    with pytest.raises(ValueError, match="three points, got 2"):
        fitted_circle(np.eye(2))
    with pytest.raises(ValueError, match="straight line"):
        fitted_circle(np.array([[0.0, 0.0], [1.0, 2.0], [0.0, 0.0], [1.0, 2.0]]))
    with pytest.raises(ValueError, match="straight line"):
        fitted_circle(np.ones((5, 2)))


@given(st.floats(0, 6), st.floats(0.2, 2), st.floats(0.2, 2), st.floats(1e-3, 1e5))
def test_circle_through_three_points_of_a_circle(turn: float, first: float, second: float, radius: float) -> None:
    """Centre and radius come back."""
    angles = np.array([turn, turn + first, turn + first + second])
    points = radius * (np.array([3.0, 4.0]) + np.column_stack((np.cos(angles), np.sin(angles))))
    circle = circle_through(*points)
    assert circle.radius == pytest.approx(radius, rel=1e-11)  # rounding of points 6 radii off, over a rise of 0.02
    assert circle.centre == pytest.approx([3 * radius, 4 * radius], rel=1e-11)


@given(st.floats(1, 1e5), st.floats(1e-6, 1.0))
def test_arc_formulas_undo_each_other(radius: float, part: float) -> None:
    """Radius and chord give the rise, the rise and either give the other back."""
    width = 2 * radius * part
    rise = sagitta(radius, width)
    assert radius_from_sagitta(width, rise) == pytest.approx(radius, rel=1e-9)
    assert chord(radius, rise) == pytest.approx(width, rel=1e-9)
    assert arc_length(width, rise) == pytest.approx(2 * radius * math.asin(part), rel=1e-7)  # asin is steep at 1


@pytest.mark.parametrize("rise", [0.2499, 0.2501, -0.2499, -0.2501])
def test_segment_area_runs_smoothly_into_the_parabola(rise: float) -> None:
    """Both branches agree where they meet, to the parabola's own error."""
    assert segment_area(1000.0, rise) == pytest.approx(2 / 3 * 1000.0 * rise, rel=1e-6)


def test_flat_face_has_infinite_radius() -> None:
    """Nothing is divided by a rise of zero."""
    assert radius_from_sagitta(1000.0, 0.0) == math.inf
    assert arc_length(1000.0, 0.0) == 1000.0
    assert arc_angle(1000.0, 0.0) == 0.0
    assert segment_area(1000.0, 0.0) == 0.0


def test_hollow_face_has_negative_radius() -> None:
    """The sign of the rise stays on radius, angle and area; a length has none."""
    assert radius_from_sagitta(2000.0, -50.0) == -10_025.0
    assert arc_angle(2000.0, -50.0) == -arc_angle(2000.0, 50.0)
    assert segment_area(2000.0, -50.0) == -segment_area(2000.0, 50.0)
    assert arc_length(2000.0, -50.0) == arc_length(2000.0, 50.0)


def test_impossible_arcs_are_refused() -> None:
    """A chord is positive and no longer than the diameter, a rise no higher."""
    with pytest.raises(ValueError, match="chord must be positive, got 0"):
        radius_from_sagitta(0.0, 1.0)
    with pytest.raises(ValueError, match="chord must be positive, got -2"):
        arc_length(-2.0, 1.0)
    with pytest.raises(ValueError, match="no chord of 3"):
        sagitta(1.0, 3.0)
    with pytest.raises(ValueError, match="can't rise by 3"):
        chord(1.0, 3.0)


@pytest.mark.parametrize("curvature", [0.8, 1e-3, 0.0, -0.3])
def test_derivatives_of_the_fit_agree_with_differences(curvature: float) -> None:
    """Also where the arc is all but straight, and where it bends the other way."""
    points = np.random.default_rng(6).uniform(-0.5, 0.5, (7, 2))
    arc_of = _Arc(points, np.linspace(0.5, 1.0, 7))
    parameters = np.array([0.4, 0.1, curvature])
    numeric = [
        (arc_of.residuals(parameters + step) - arc_of.residuals(parameters - step)) / 2e-6 for step in 1e-6 * np.eye(3)
    ]
    assert arc_of.derivatives(parameters) == pytest.approx(np.array(numeric).T, abs=1e-9)
