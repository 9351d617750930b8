"""The bowed face as a surface: arc formulas, derivatives, flat as a limit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.transom.surface import Bowed, sagitta

CURVATURES = [0.0, 1e-9, 1.0 / 5200.0, -1.0 / 3000.0]
CHART = np.array(
    [[-1100.0, 400.0, 0.0], [-1e-3, 0.0, 6.0], [0.0, 0.0, 0.0], [350.0, 90.0, -2.0], [1200.0, 1000.0, 14.0]]
)


def bowed(apex: float = 0.0) -> Bowed:
    return Bowed(np.array([0]), apex)


def test_flat_face_leaves_chart_and_space_the_same() -> None:
    """With no curvature the chart is space itself."""
    np.testing.assert_allclose(bowed().space(CHART, np.zeros(1)), CHART, atol=1e-12)


def test_handbook_arc() -> None:
    """Machinery's Handbook, 31st ed., p. 79: chord 16 and rise 6 belong to a radius of 8 1/3."""
    radius = 25.0 / 3.0
    half_girth = radius * np.arcsin(8.0 / radius)
    ends = bowed().space(np.array([[-half_girth, 0, 0], [half_girth, 0, 0]]), np.array([1.0 / radius]))
    assert ends[1, 0] - ends[0, 0] == pytest.approx(16.0, abs=1e-12)
    assert -ends[0, 2] == pytest.approx(6.0, abs=1e-12)
    assert float(sagitta(1.0 / radius, 16.0)) == pytest.approx(6.0, abs=1e-12)


@pytest.mark.parametrize("radius", [2500.0, 4500.0, 12_000.0])
def test_points_lie_on_the_cylinder_and_proud_ones_above_it(radius: float) -> None:
    """Distance from the axis is the radius, plus how far a point stands proud."""
    space = bowed().space(CHART, np.array([1.0 / radius]))
    np.testing.assert_allclose(np.hypot(space[:, 0], space[:, 2] + radius) - radius, CHART[:, 2], atol=1e-8)


@pytest.mark.parametrize("curvature", CURVATURES)
@pytest.mark.parametrize("apex", [0.0, 250.0])
def test_derivatives(curvature: float, apex: float) -> None:
    """Derivatives by chart, by curvature and of the tangent axes equal central differences."""
    surface, parameters = bowed(apex), np.array([curvature])
    by_chart, by_curvature = surface.derivatives(CHART, parameters)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-2
        difference = (surface.space(CHART + step, parameters) - surface.space(CHART - step, parameters)) / 2e-2
        np.testing.assert_allclose(by_chart[:, :, axis], difference, atol=1e-6)
    step = np.array([1e-9])
    difference = (surface.space(CHART, parameters + step) - surface.space(CHART, parameters - step)) / 2e-9
    np.testing.assert_allclose(by_curvature[:, :, 0], difference, rtol=1e-6, atol=1.0)  # mm per 1/mm: of 1e6
    axes, by_girth, by_parameter = surface.frame(400.0, parameters)
    ahead, behind = surface.frame(400.01, parameters)[0], surface.frame(399.99, parameters)[0]
    np.testing.assert_allclose(by_girth, (ahead - behind) / 0.02, atol=1e-9)
    ahead, behind = surface.frame(400.0, parameters + step)[0], surface.frame(400.0, parameters - step)[0]
    np.testing.assert_allclose(by_parameter[0], (ahead - behind) / 2e-9, atol=1e-3)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)


@given(st.floats(-5e-4, 5e-4), st.floats(-1500.0, 1500.0))
def test_girth_is_never_shorter_than_the_chord(curvature: float, girth: float) -> None:
    """A tape along the surface reads at least the straight line."""
    ends = bowed().space(np.array([[0.0, 0.0, 0.0], [girth, 0.0, 0.0]]), np.array([curvature]))
    assert np.linalg.norm(ends[1] - ends[0]) <= abs(girth) + 1e-9
