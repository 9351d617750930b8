"""Lengths, areas and order of marks along damage, against answers worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from digitizer.transom.defects import (
    extents,
    outline_area,
    outline_length,
    polyline_length,
    sideways,
    with_inserted,
)
from digitizer.transom.system import Place
from tests.transom.numbers import assert_sensitivities, flat, numbers, places

L_SHAPE = [(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)]
"""Area 6, by hand: 4 × 1 + 1 × 2."""


def test_length_along_right_angled_legs() -> None:
    """Two legs of Pythagorean triangles, 5 and 13, end to end."""
    assert polyline_length([Place(0.0, 0.0), Place(3.0, 4.0), Place(8.0, 16.0)]) == pytest.approx(18.0, abs=1e-12)


@pytest.mark.parametrize("turn", [1, -1], ids=["anticlockwise", "clockwise"])
def test_area_does_not_depend_on_the_way_round(turn: int) -> None:
    """The L of area 6 and perimeter 14 is the same marked either way round, and far from the origin."""
    corners = [Place(x + 1e4, y - 1e4) for x, y in L_SHAPE[::turn]]
    assert outline_area(corners) == pytest.approx(6.0, abs=1e-6)
    assert outline_length(corners) == pytest.approx(14.0, abs=1e-6)


def test_circle_of_many_marks_has_its_segment_formula() -> None:
    """A regular polygon of n corners has n/2 r² sin(2π/n)."""
    n, r = 24, 100.0
    ring = [Place(r * math.cos(2 * math.pi * i / n), r * math.sin(2 * math.pi * i / n)) for i in range(n)]
    assert outline_area(ring) == pytest.approx(n / 2 * r**2 * math.sin(2 * math.pi / n), rel=1e-12)


def test_extents_are_those_of_the_outermost_places() -> None:
    """Left, right, low and high."""
    assert extents([Place(x, y) for x, y in L_SHAPE]) == (0.0, 4.0, 0.0, 3.0)


@pytest.mark.parametrize("formula", [polyline_length, outline_area, outline_length], ids=lambda f: f.__name__)
def test_sensitivities_are_difference_quotients(formula) -> None:  # type: ignore[no-untyped-def]
    """Each size knows how it follows each coordinate."""
    assert_sensitivities(lambda values: formula(places(values)), flat([(x * 50.0, y * 40.0) for x, y in L_SHAPE]))


def test_sideways_says_what_scatter_adds_to_a_leg() -> None:
    """Simulated: independent scatter s at both ends of a leg lengthens it by 2 s² / (2 leg) on average."""
    s, leg = 1.0, 10.0
    (number, length), *_ = sideways(places(numbers([0.0, 0.0, leg, 0.0])))
    variance = float(np.sum(number.gradient**2)) * s**2  # type: ignore[union-attr]
    ends = np.array([0.0, 0.0, leg, 0.0]) + np.random.default_rng(4).normal(0.0, s, (200_000, 4))
    longer = float(np.mean(np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])) - leg)
    assert variance / (2.0 * length) == pytest.approx(longer, abs=0.02)  # mm; four standard errors are 0.013


def test_points_of_another_photo_go_between_their_neighbours() -> None:
    """A crack marked roughly in one photo takes up the bends that a second photo adds, and its further end."""
    at = {name: np.array(xy) for name, xy in zip("abcde", [(0, 0), (10, 5), (20, 0), (30, 6), (40, 0)], strict=True)}
    assert with_inserted(["a", "c"], ["e", "b", "d"], at, closed=False) == list("abcde")


def test_point_between_last_and_first_of_an_outline() -> None:
    """Round an outline there is a gap between the last mark and the first."""
    at = {name: np.array(xy) for name, xy in zip("abcd", [(0, 0), (10, 0), (10, 10), (0, 9)], strict=True)}
    assert with_inserted(["a", "b", "c"], ["d"], at, closed=True) == list("abcd")
